"""The broker of ``config/broker/`` as it is shipped, with the real Mosquitto."""

from __future__ import annotations

import base64
import contextlib
import getpass
import hashlib
import os
import pty
import re
import shutil
import socket
import ssl
import stat
import subprocess
from typing import TYPE_CHECKING

import pytest

from tests.broker import LONGEST_WAIT_S, program, run
from tests.shipped import SCRIPT, make_accounts

if TYPE_CHECKING:
    from pathlib import Path

    from tests.shipped import Shipped

pytestmark = pytest.mark.broker


def test_a_house_writes_its_own_topics_and_nothing_else(shipped: Shipped) -> None:
    """A phone hears the house's own messages and none that another house, a phone or a stranger forges."""
    house, topic = ("hypocaust-fellside", shipped.password("fellside")), "hypocaust/fellside/online"
    forged = {
        "another house": shipped.publish(*house, "hypocaust/lowfield/online", "forged"),
        "the broker's own topics": shipped.publish(*house, "$SYS/forged", "forged"),
        "a phone": shipped.publish("viewer", shipped.viewer, topic, "forged"),
        "a phone, elsewhere": shipped.publish("viewer", shipped.viewer, "anything", "forged"),
        "a wrong password": shipped.publish("hypocaust-fellside", "wrong", topic, "forged"),
        "nobody": shipped.publish("", "", topic, "forged"),
    }
    assert shipped.publish(*house, topic, "{}")
    phone = shipped.recorder("viewer", shipped.viewer)
    assert phone.wait(topic).payload == b"{}"
    assert phone.topics() == {topic}
    assert not any(forged.values()), forged


def test_a_house_reads_nothing(shipped: Shipped) -> None:
    """Not even what it has written itself: a stolen password shows nothing of the houses."""
    house = ("hypocaust-fellside", shipped.password("fellside"))
    thief = shipped.recorder(*house)
    assert shipped.publish(*house, "hypocaust/fellside/online", "{}")
    phone = shipped.recorder("viewer", shipped.viewer)
    phone.wait("hypocaust/fellside/online")
    assert thief.topics() == set()


def test_what_is_retained_outlives_a_restart_of_the_broker(shipped: Shipped) -> None:
    """A phone that connects after it finds the last status at once."""
    shipped.publish("hypocaust-lowfield", shipped.password("lowfield"), "hypocaust/lowfield/status", "{}")
    shipped.stop()
    shipped.start()
    assert shipped.recorder("viewer", shipped.viewer).wait("hypocaust/lowfield/status").retain


def test_a_client_trusts_the_broker_by_our_authority_only(shipped: Shipped) -> None:
    """Both TLS listeners show a certificate for this machine; without the authority there is no talk."""
    ours, others = ssl.create_default_context(cafile=shipped.authority), ssl.create_default_context()
    for port in (shipped.tls, shipped.phones):
        for trust, refusal in ((ours, None), (others, "certificate")):
            with socket.create_connection(("localhost", port), timeout=60) as raw:
                if refusal is None:
                    with trust.wrap_socket(raw, server_hostname="localhost") as safe:
                        assert safe.version() in ("TLSv1.2", "TLSv1.3")
                else:
                    with pytest.raises(ssl.SSLError, match=refusal):
                        trust.wrap_socket(raw, server_hostname="localhost")
    where = ("-h", "localhost", "-p", str(shipped.tls), "-u", "viewer", "-P", shipped.viewer, "-q", "1")
    run(program("mosquitto_sub"), *where, "--cafile", shipped.authority, "-t", "hypocaust/#", "-E")


def test_the_page_server_gives_out_the_page_and_nothing_beside_it(shipped: Shipped) -> None:
    """Nothing can be fetched by climbing out of the page's directory; the page itself can."""

    def fetched(path: str) -> bytes:
        with socket.create_connection((shipped.host, shipped.page), timeout=60) as raw:
            raw.sendall(f"GET {path} HTTP/1.1\r\nHost: localhost\r\n\r\n".encode())
            return raw.recv(4096) or b"nothing"

    assert b" 200 OK" in fetched("/index.html").splitlines()[0]
    for path in ("/../acl", "/%2e%2e/broker/acl", "/../broker/acl", "//etc/hostname"):
        assert b" 200 " not in fetched(path).splitlines()[0], path


def test_the_authority_signs_for_home_networks_only(tmp_path: Path) -> None:
    """Its key is no use to pose as a bank to phones that trust it; the script says why it refuses."""
    with pytest.raises(AssertionError, match="home networks only"):
        make_accounts(tmp_path, "--site", "fellside", "--name", "bank.example.com")
    make_accounts(tmp_path, "--site", "fellside", "--name", "greenhouse.lan", "--name", "192.168.7.20")
    text = subprocess.check_output(
        ["openssl", "x509", "-in", str(tmp_path / "hypocaust" / "broker.crt"), "-noout", "-text"], text=True
    )
    assert "DNS:greenhouse.lan" in text
    assert "IP Address:192.168.7.20" in text


def test_a_certificate_of_another_authority_is_taken_over_and_kept(tmp_path: Path) -> None:
    """Given once, it stays when the script runs again without it, and our own authority is gone."""
    make_accounts(tmp_path, "--site", "fellside")
    own = tmp_path / "hypocaust"
    given = [shutil.copy(own / name, tmp_path / f"given-{name}") for name in ("broker.crt", "broker.key")]
    make_accounts(tmp_path, "--cert", given[0], "--key", given[1])
    make_accounts(tmp_path)
    assert (own / "broker.key").read_bytes() == (tmp_path / "given-broker.key").read_bytes()
    assert not (own / "ca.key").exists()


def test_running_the_script_again_changes_only_what_was_asked(tmp_path: Path) -> None:
    """The same call changes no byte, another house adds its account, a new password replaces one."""

    def files() -> dict[str, bytes]:
        return {
            str(path.relative_to(tmp_path)): path.read_bytes()
            for path in tmp_path.rglob("*")
            if path.is_file()
        }

    def accounts() -> dict[str, str]:
        lines = (tmp_path / "hypocaust" / "passwords").read_text().splitlines()
        return dict(line.split(":", 1) for line in lines)

    make_accounts(tmp_path, "--site", "fellside")
    first, people = files(), accounts()
    assert set(people) == {"viewer", "hypocaust-fellside"}
    assert "password is" not in make_accounts(tmp_path, "--site", "fellside")
    assert files() == first
    make_accounts(tmp_path, "--site", "lowfield")
    assert accounts() == {**people, "hypocaust-lowfield": accounts()["hypocaust-lowfield"]}
    people = accounts()
    make_accounts(tmp_path, "--new-password", "viewer")
    changed = {user for user, password in accounts().items() if password != people[user]}
    assert changed == {"viewer"}
    assert not list(tmp_path.rglob("work.*"))


def test_secrets_are_closed_to_others(tmp_path: Path) -> None:
    """Passwords, rules and keys are readable for their owner only, as the controller demands."""
    make_accounts(tmp_path, "--site", "fellside")
    secret = [tmp_path / "hypocaust" / name for name in ("passwords", "acl", "broker.key", "ca.key")]
    for path in (*secret, tmp_path / "house" / "mqtt-password-fellside"):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path


PROGRAMS = (
    "openssl",
    "mosquitto_passwd",
    "grep",
    "cat",
    "cp",
    "mv",
    "chown",
    "chmod",
    "install",
    "sed",
    "od",
)


def test_no_password_is_ever_a_word_of_a_command(tmp_path: Path) -> None:
    """Every program the script starts is called through a witness that writes down its words."""
    witnesses, heard = tmp_path / "bin", tmp_path / "heard"
    witnesses.mkdir()
    for name in PROGRAMS:
        witness = witnesses / name
        witness.write_text(f'#!/bin/sh\necho "$0 $@" >>{heard}\nexec {program(name)} "$@"\n')
        witness.chmod(0o755)
    said = make_accounts(
        tmp_path / "etc", "--site", "fellside", env={"PATH": f"{witnesses}:/usr/bin:/bin:/usr/sbin"}
    )
    viewer = re.search(r"its password is (\S+-\S+-\S+) ", said)
    house = (tmp_path / "etc" / "house" / "mqtt-password-fellside").read_text().strip()
    words = heard.read_text()
    assert viewer
    assert all(f"/{name} " in words for name in ("openssl", "mosquitto_passwd", "mv"))
    assert viewer[1] not in words
    assert house not in words


def test_a_password_of_ones_own_is_typed_unseen(tmp_path: Path) -> None:
    """Asked twice on the terminal and never shown there; the broker's own program knows it afterwards."""
    (tmp_path / "etc" / "conf.d").mkdir(parents=True)
    where = ("--etc", str(tmp_path / "etc"), "--house", str(tmp_path), "--owner", getpass.getuser())
    terminal, inner = pty.openpty()
    child = subprocess.Popen(
        ["setsid", "--ctty", "--wait", str(SCRIPT), "--ask", "--site", "fellside", *where],
        stdin=inner,
        stdout=inner,
        stderr=inner,
        env={**os.environ, "PATH": f"{os.environ['PATH']}:/usr/sbin"},
    )
    os.close(inner)
    shown = b""
    for asked in (b"Password for viewer: ", b"The same again: "):
        while asked not in shown:
            shown += os.read(terminal, 4096)
        os.write(terminal, b"quince and medlar\n")
    with contextlib.suppress(OSError):  # a terminal ends with an error
        while chunk := os.read(terminal, 4096):
            shown += chunk
    os.close(terminal)
    assert child.wait(LONGEST_WAIT_S) == 0, shown
    assert b"quince" not in shown
    line = next(x for x in (tmp_path / "etc/hypocaust/passwords").read_text().splitlines() if "viewer" in x)
    kind, rounds, salt, digest = line.split("$")[1:]
    assert kind == "7"  # PBKDF2 with SHA-512
    made = hashlib.pbkdf2_hmac("sha512", b"quince and medlar", base64.b64decode(salt), int(rounds))
    assert made == base64.b64decode(digest)


def test_the_script_is_sound_by_shellcheck() -> None:
    """No unquoted word, no unused variable."""
    if not (checker := shutil.which("shellcheck")):
        pytest.skip("needs the shellcheck program: apt-get install shellcheck")
    run(checker, str(SCRIPT))
