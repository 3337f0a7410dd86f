"""The files of the page: small, closed, and with nothing in them that writes."""

from __future__ import annotations

import base64
import hashlib
import re
from pathlib import Path

import pytest

PAGE = Path(__file__).parents[2] / "config" / "phone"
OURS = sorted(path for path in PAGE.iterdir() if path.suffix in {".html", ".js"} and path.name != "mqtt.js")
LARGEST_BYTES = 60_000


def test_the_page_is_small() -> None:
    """All that a phone fetches but the library, uncompressed, stays below 60 kB."""
    assert sum(path.stat().st_size for path in OURS) <= LARGEST_BYTES


def test_the_library_is_the_one_that_was_looked_at() -> None:
    """Its text is pinned, and it carries its name, its release and its licence."""
    text = (PAGE / "mqtt.js").read_bytes()
    assert hashlib.sha256(text).hexdigest() == LIBRARY
    assert b"u8-mqtt 0.6.7" in text
    assert b"BSD 2-Clause License" in text


LIBRARY = "3e8df7a8314ee76f1ce4981b3a4b8f618e116f89516ee4505d6a5493714317db"


@pytest.mark.parametrize("path", OURS, ids=lambda path: path.name)
def test_words_become_text_and_nothing_is_sent(path: Path) -> None:
    """No file writes HTML from words, runs words as a script, or calls what the library publishes with."""
    text = path.read_text(encoding="utf-8")
    html = r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function"
    assert re.findall(html, text) == []
    assert re.findall(r"\.(?:pub|publish|post|send|store|\w+_(?:post|send|store))\(", text) == []


def test_the_browser_is_ordered_to_keep_the_page_closed() -> None:
    """The policy allows the files beside the page and this very style, and no address but a broker's."""
    text = (PAGE / "index.html").read_text(encoding="utf-8")
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]+)"', text)
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)
    assert policy
    assert style
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert dict(part.strip().split(" ", 1) for part in policy[1].split(";")) == {
        "default-src": "'none'",
        "script-src": "'self'",
        "style-src": f"'sha256-{digest}'",
        "connect-src": "ws: wss:",
        "img-src": "data:",
        "manifest-src": "data:",
        "base-uri": "'none'",
        "form-action": "'none'",
    }
    assert set(re.findall(r'<script defer src="([^"]+)">', text)) == {path.name for path in PAGE.glob("*.js")}
    assert not re.search(r"<script>|\son\w+=|\sstyle=", text)
