"""Page and messages over TLS: the web server of ``config/broker/page-over-tls.conf`` beside the broker."""

from __future__ import annotations

import shutil
import socket
import subprocess
from typing import TYPE_CHECKING

import pytest

from tests.broker import LONGEST_WAIT_S, free_port, until
from tests.shipped import ROOT

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.phone.browser import Browser
    from tests.shipped import Shipped

pytestmark = pytest.mark.broker
# What the rest of Debian's lighttpd.conf is needed for here.
MAIN = """\
server.modules = ( "mod_indexfile", "mod_staticfile" )
server.port = {port}
server.bind = "127.0.0.1"
server.document-root = "/nowhere"
index-file.names = ( "index.html" )
mimetype.assign = ( ".html" => "text/html", ".js" => "text/javascript" )
include "{page}"
"""


@pytest.fixture
def web_port(broker: Shipped, tmp_path: Path) -> Iterator[int]:
    """The web server as shipped, with other directories and another port."""
    lighttpd = shutil.which("lighttpd", path="/usr/sbin:/usr/bin")
    if lighttpd is None:
        pytest.skip("needs a web server: apt-get install lighttpd lighttpd-mod-openssl")
    port = free_port()
    shipped = (ROOT / "config" / "broker" / "page-over-tls.conf").read_text(encoding="utf-8")
    shipped = shipped.replace(":443", f":{port}").replace("/etc/mosquitto/", f"{broker.etc}/")
    page = tmp_path / "page.conf"
    page.write_text(shipped.replace("/usr/share/hypocaust/phone", str(ROOT / "config" / "phone")))
    main = tmp_path / "lighttpd.conf"
    main.write_text(MAIN.format(port=free_port(), page=page))
    process = subprocess.Popen([lighttpd, "-D", "-f", str(main)], stderr=subprocess.PIPE)
    until(lambda: accepts(port) or process.poll() is not None, "the web server accepts connections")
    assert process.poll() is None, process.stderr.read().decode() if process.stderr else ""
    yield port
    process.terminate()
    process.communicate(timeout=LONGEST_WAIT_S)


def accepts(port: int) -> bool:
    """Whether somebody listens there."""
    try:
        socket.create_connection(("localhost", port), timeout=1.0).close()
    except OSError:
        return False
    return True


@pytest.mark.usefixtures("house")
def test_page_and_messages_come_encrypted(browser: Browser, broker: Shipped, web_port: int) -> None:
    """The form offers the encrypted port by itself; the browser would install the page on a home screen."""
    page = browser.page(360)
    page.open(f"https://localhost:{web_port}/#fellside")
    assert page.run("document.getElementById('url').value") == "wss://localhost:8443/"
    page.run("document.getElementById('url').select()")
    page.type(f"wss://localhost:{broker.phones}/")
    page.run("document.getElementById('password').focus()")
    page.type(broker.viewer)
    page.press("Enter", 13)
    page.until_text("No alarm calls.")
    found = {error["errorId"] for error in page.call("Page.getInstallabilityErrors")["installabilityErrors"]}
    assert found == {"in-incognito"}  # these tests keep nothing, as a private window
    assert page.complaints() == []
    page.close()
