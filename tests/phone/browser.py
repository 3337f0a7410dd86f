"""A headless Chromium, driven through its own debugging pipe: no driver program and no package is needed.

Messages of the DevTools protocol go through two file descriptors, each ended by a zero byte.
"""

from __future__ import annotations

import base64
import fcntl
import json
import os
import queue
import shutil
import subprocess
import threading
import time
from typing import TYPE_CHECKING, Any

from tests.broker import LONGEST_WAIT_S

if TYPE_CHECKING:
    from pathlib import Path

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--remote-debugging-pipe",
)


def chromium() -> str | None:
    """Where the browser is, None if there is none."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


class Browser:
    """One browser with its own profile; close it after use.

    Args:
        profile: an empty directory.
        trusted: fingerprints (base64 of SHA-256 over the public key) of certificates to take as good.
    """

    def __init__(self, profile: Path, trusted: tuple[str, ...] = ()) -> None:
        program = chromium()
        assert program is not None
        flags = [*FLAGS, f"--user-data-dir={profile}"]
        if trusted:
            flags.append(f"--ignore-certificate-errors-spki-list={','.join(trusted)}")
        down_read, self._down = _high_pipe()
        self._up, up_write = _high_pipe()
        # The browser reads descriptor 3 and writes 4, whatever ours are called.
        command = ["bash", "-c", f'exec "$@" 3<&{down_read} 4>&{up_write}', "bash", program, *flags]
        self._process = subprocess.Popen(
            command,
            pass_fds=(down_read, up_write),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "HOME": str(profile)},
        )
        os.close(down_read)
        os.close(up_write)
        self._number = 0
        self._answers: dict[int, queue.Queue[Any]] = {}
        self._events: list[dict[str, Any]] = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def call(self, method: str, session: str | None = None, **params: Any) -> Any:
        """One command and its answer."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": params}
        answer = self._answers[self._number] = queue.Queue()
        os.write(
            self._down, json.dumps(message | ({"sessionId": session} if session else {})).encode() + b"\0"
        )
        found = answer.get(timeout=LONGEST_WAIT_S)
        assert "error" not in found, f"{method}: {found}"
        return found["result"]

    def events(self, method: str) -> list[dict[str, Any]]:
        """What the browser has reported so far, of one kind."""
        return [event for event in list(self._events) if event.get("method") == method]

    def page(self, width: int, height: int = 800, *, dark: bool = False) -> Page:
        """A new page of this size."""
        return Page(self, width, height, dark=dark)

    def close(self) -> None:
        """End it."""
        self._process.terminate()
        try:
            self._process.wait(LONGEST_WAIT_S)
        finally:
            self._reader.join(LONGEST_WAIT_S)
            os.close(self._down)
            os.close(self._up)

    def _read(self) -> None:
        rest = b""
        while chunk := os.read(self._up, 1 << 16):
            *whole, rest = (rest + chunk).split(b"\0")
            for text in whole:
                message = json.loads(text)
                if "id" in message:
                    self._answers.pop(message["id"]).put(message)
                else:
                    self._events.append(message)


def _high_pipe() -> tuple[int, int]:
    """A pipe whose two numbers are in the way of nobody."""
    ends = os.pipe()
    high = [fcntl.fcntl(end, fcntl.F_DUPFD_CLOEXEC, 20) for end in ends]
    for end in ends:
        os.close(end)
    return high[0], high[1]


class Page:
    """One page of the browser."""

    def __init__(self, browser: Browser, width: int, height: int, *, dark: bool) -> None:
        self._browser = browser
        self._context = browser.call("Target.createBrowserContext")["browserContextId"]  # remembers nothing
        target = browser.call("Target.createTarget", url="about:blank", browserContextId=self._context)[
            "targetId"
        ]
        self._session = browser.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", features=[scheme])
        self.call("Emulation.setTimezoneOverride", timezoneId="UTC")
        self.resize(width, height)

    def call(self, method: str, **params: Any) -> Any:
        """One command to this page."""
        return self._browser.call(method, self._session, **params)

    def resize(self, width: int, height: int = 800) -> None:
        """Another size of the window, as a phone has it."""
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=width < 600,
        )

    def open(self, url: str) -> None:
        """Go to an address and wait for the page."""
        self.call("Page.navigate", url=url)
        self.until("document.readyState === 'complete'")

    def run(self, script: str) -> Any:
        """What a script gives back; a promise is waited for."""
        found = self.call(
            "Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True, userGesture=True
        )
        assert "exceptionDetails" not in found, found["exceptionDetails"]
        return found["result"].get("value")

    def until(self, condition: str) -> None:
        """Wait until a script gives something true."""
        end_s = time.monotonic() + LONGEST_WAIT_S
        while not self.run(condition):
            assert time.monotonic() < end_s, f"did not happen: {condition}; the page says:\n{self.text()}"
            time.sleep(0.05)

    def until_text(self, words: str) -> None:
        """Wait until the page shows these words."""
        self.until(f"document.body.innerText.includes({json.dumps(words)})")

    def text(self) -> str:
        """All that can be read."""
        return str(self.run("document.body.innerText"))

    def type(self, text: str) -> None:
        """Type into what has the focus."""
        self.call("Input.insertText", text=text)

    def press(self, key: str, code: int) -> None:
        """Press a key, as a person at a keyboard does."""
        text = {"text": "\r"} if key == "Enter" else {}
        for kind in ("keyDown", "keyUp"):
            self.call(
                "Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=code, **text
            )

    def picture(self, file: Path) -> None:
        """The whole page as a PNG file."""
        got = self.call("Page.captureScreenshot", captureBeyondViewport=True)
        file.write_bytes(base64.b64decode(got["data"]))

    def events(self, method: str) -> list[dict[str, Any]]:
        """What has been reported of this page so far, of one kind."""
        return [
            event["params"]
            for event in self._browser.events(method)
            if event.get("sessionId") == self._session
        ]

    def close(self) -> None:
        """Close it and forget what it has kept."""
        self._browser.call("Target.disposeBrowserContext", browserContextId=self._context)

    def complaints(self) -> list[str]:
        """What the browser has logged as an error, and exceptions of scripts."""
        logged = [event["entry"] for event in self.events("Log.entryAdded")]
        thrown = self.events("Runtime.exceptionThrown")
        return [entry["text"] for entry in logged if entry["level"] == "error"] + [str(one) for one in thrown]
