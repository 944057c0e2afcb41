"""A headless Chromium driven over a pipe: JSON messages, each ended by a zero byte."""

from __future__ import annotations

import base64
import json
import os
import select
import subprocess
import time
from pathlib import Path

CHROMIUM = Path("/usr/bin/chromium")
_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
)
_PATIENCE = 60.0


class Browser:
    """One tab; ``events`` keeps all that it reported since the last page was opened."""

    def __init__(self, folder: Path) -> None:
        to_browser, self._to = os.pipe()
        self._from, from_browser = os.pipe()
        # The protocol is spoken on the descriptors 3 and 4.
        self._process = subprocess.Popen(
            [
                "/bin/bash",
                "-c",
                f'exec "$@" 3<&{to_browser} 4>&{from_browser}',
                "bash",
                str(CHROMIUM),
                *_FLAGS,
                f"--user-data-dir={folder}",
                "about:blank",
            ],
            pass_fds=(to_browser, from_browser),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_browser)
        os.close(from_browser)
        self._number = 0
        self._buffer = b""
        self._session: str | None = None
        self.events: list[dict] = []
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        attached = self.ask("Target.attachToTarget", targetId=target, flatten=True)
        self._session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.ask(f"{domain}.enable")

    def close(self) -> None:
        """End the browser and wait for its end."""
        self._session = None
        try:
            self.ask("Browser.close")
            self._process.wait(_PATIENCE)
        finally:
            self._process.kill()
            self._process.wait()
            os.close(self._to)
            os.close(self._from)

    def ask(self, method: str, **params: object) -> dict:
        """Send one command and return its result; events that come meanwhile are kept."""
        self._number += 1
        message: dict[str, object] = {"id": self._number, "method": method, "params": params}
        if self._session is not None:
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                assert "error" not in answer, f"{method}: {answer['error']}"
                return answer["result"]
            self.events.append(answer)

    def _next(self) -> dict:
        end = time.monotonic() + _PATIENCE
        while b"\0" not in self._buffer:
            ready, _, _ = select.select([self._from], [], [], max(0.0, end - time.monotonic()))
            assert ready, "the browser does not answer"
            part = os.read(self._from, 1 << 16)
            assert part, "the browser has ended"
            self._buffer += part
        message, _, self._buffer = self._buffer.partition(b"\0")
        return json.loads(message)

    def open(self, path: Path, width: int, height: int = 800, *, phone: bool = False) -> None:
        """Open a file in a window of this size and wait until it is loaded."""
        self.ask(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=phone,
        )
        self.events.clear()
        self.ask("Page.navigate", url=path.as_uri())
        while not self.happened("Page.loadEventFired"):
            self.events.append(self._next())

    def happened(self, method: str) -> list[dict]:
        """Return what was reported under this name."""
        return [event["params"] for event in self.events if event.get("method") == method]

    def evaluate(self, expression: str) -> object:
        """Return the value of an expression on the page."""
        found = self.ask("Runtime.evaluate", expression=expression, returnByValue=True)
        assert "exceptionDetails" not in found, found
        return found["result"]["value"]

    def pdf(self) -> bytes:
        """Return the page printed as it asks to be."""
        found = self.ask("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
        return base64.b64decode(found["data"])

    def picture(self) -> bytes:
        """Return the whole page as PNG."""
        found = self.ask("Page.captureScreenshot", captureBeyondViewport=True)
        return base64.b64decode(found["data"])
