"""A browser to look at pages with: Chromium without a window, driven over its own protocol."""

from __future__ import annotations

import base64
import json
import shutil
import subprocess
import time
from contextlib import ExitStack
from pathlib import Path
from typing import Any, Self
from urllib.request import urlopen

from websockets.sync.client import connect

PROGRAM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
"""The browser of this machine; ``None`` where there is none."""
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--remote-debugging-port=0",
)  # fmt: skip
"""No window, and nothing is asked of anybody but what a test serves."""


class Browser:
    """One page of a browser that runs as long as the ``with`` block; ``folder`` holds its fresh profile."""

    def __init__(self, folder: Path) -> None:
        assert PROGRAM is not None
        self._port = folder / "DevToolsActivePort"
        self._process = subprocess.Popen(
            [PROGRAM, *FLAGS, f"--user-data-dir={folder}", "about:blank"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self._held, self._count = ExitStack(), 0

    def __enter__(self) -> Self:
        try:
            for _ in range(600):
                if self._port.exists() and len(self._port.read_text().split()) == 2:
                    break
                time.sleep(0.1)
            address = f"http://127.0.0.1:{self._port.read_text().split()[0]}/json"
            with urlopen(address) as answer:
                targets = json.load(answer)
            page = next(item for item in targets if item["type"] == "page")
            self._socket = self._held.enter_context(connect(page["webSocketDebuggerUrl"], max_size=None))
        except BaseException:
            self._stop()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self._stop()

    def _stop(self) -> None:
        self._held.close()
        self._process.terminate()
        self._process.wait(20)

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Call a method of the browser's protocol."""
        self._count += 1
        self._socket.send(json.dumps({"id": self._count, "method": method, "params": parameters}))
        while True:
            answer = json.loads(self._socket.recv(60))
            if answer.get("id") == self._count:
                assert "error" not in answer, answer
                result: dict[str, Any] = answer["result"]
                return result

    @property
    def version(self) -> str:
        """Name and version of the browser."""
        return str(self.call("Browser.getVersion")["product"])

    def show(self, page: bytes, width: int) -> None:
        """Lay a page out for print, ``width`` CSS pixels wide."""
        self.call("Emulation.setEmulatedMedia", media="print")
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=1000, deviceScaleFactor=1, mobile=False)
        frame = self.call("Page.getFrameTree")["frameTree"]["frame"]["id"]
        self.call("Page.setDocumentContent", frameId=frame, html=page.decode("utf-8"))

    def run(self, script: str) -> Any:
        """Return the value of an expression in the page."""
        answer = self.call("Runtime.evaluate", expression=script, returnByValue=True)
        assert "exceptionDetails" not in answer, answer
        return answer["result"].get("value")

    def pdf(self, width: float, height: float) -> bytes:
        """Print the page on paper of this size in inches."""
        printed = self.call("Page.printToPDF", paperWidth=width, paperHeight=height, preferCSSPageSize=True)
        return base64.b64decode(printed["data"])
