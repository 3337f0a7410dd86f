"""Fixtures of the page's tests: one browser and one broker for all of them, and a house that publishes."""

from __future__ import annotations

import base64
import hashlib
import subprocess
from typing import TYPE_CHECKING

import pytest

from tests.phone.browser import Browser, chromium
from tests.phone.said import House
from tests.shipped import Shipped

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture(scope="session")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shipped]:
    """The broker as shipped; a test that stops it starts it again."""
    made = Shipped(tmp_path_factory.mktemp("broker"))
    made.start()
    yield made
    made.close()


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory, broker: Shipped) -> Iterator[Browser]:
    """A headless Chromium that trusts the broker's key, as a phone does with the authority installed."""
    if chromium() is None:
        pytest.skip("needs a browser: apt-get install chromium")
    made = Browser(tmp_path_factory.mktemp("profile"), (fingerprint(broker),))
    yield made
    made.close()


@pytest.fixture
def house(broker: Shipped) -> Iterator[House]:
    """The house fellside, online, with a status and a past; the broker forgets it afterwards."""
    made = House(broker)
    made.online()
    made.status()
    made.past()
    yield made
    made.nothing()
    made.close()


def fingerprint(broker: Shipped) -> str:
    """Base64 of the SHA-256 of the broker's public key."""
    certificate = str(broker.etc / "hypocaust" / "broker.crt")
    key = subprocess.check_output(["openssl", "x509", "-in", certificate, "-noout", "-pubkey"])
    der = subprocess.run(
        ["openssl", "pkey", "-pubin", "-outform", "DER"], input=key, capture_output=True, check=True
    ).stdout
    return base64.b64encode(hashlib.sha256(der).digest()).decode()
