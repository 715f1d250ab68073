"""A real headless browser for the tests: what it prints, and what an accessibility checker finds on a page.

One browser is started for all tests of a process and asked over pipes (Chrome DevTools Protocol).
"""

from __future__ import annotations

import atexit
import base64
import fcntl
import io
import json
import os
import re
import select
import shutil
import subprocess
import tempfile
from functools import cache, partial
from importlib import resources
from typing import Any

import pytest

BROWSER = next((p for p in map(shutil.which, ("chromium", "chromium-browser", "google-chrome")) if p), None)
needs_browser = pytest.mark.skipif(BROWSER is None, reason="no Chromium on this machine (Debian package: chromium)")
PAPERS = {"A4": (595, 842), "Letter": (612, 792)}
"""Sizes in points, as ISO 216 and ANSI/ASME Y14.1 have them."""
LONGEST = 60.0
"""How long an answer may take, s."""


def _as_it_wants(asked: int, answered: int) -> None:
    """Give the pipes the numbers at which the browser reads and writes."""
    os.dup2(asked, 3)
    os.dup2(answered, 4)


class Browser:
    """A browser with one empty page."""

    def __init__(self) -> None:
        assert BROWSER is not None
        self._folder = tempfile.mkdtemp()
        asked, self._ask = os.pipe()
        self._answers, answered = os.pipe()
        high = [fcntl.fcntl(fd, fcntl.F_DUPFD_CLOEXEC, 20) for fd in (asked, answered)]  # not 3 or 4
        self._process = subprocess.Popen(
            [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
             f"--user-data-dir={self._folder}", "--remote-debugging-pipe"],
            close_fds=False, preexec_fn=partial(_as_it_wants, *high),
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        for fd in (asked, answered, *high):
            os.close(fd)
        self._count, self._read = 0, b""
        self._session: dict[str, str] = {}
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = {"sessionId": self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]}
        self.call("Page.setBypassCSP", enabled=True)  # or the checkers could not run

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        """Ask for one thing and wait for the answer."""
        self._count += 1
        question = {"id": self._count, "method": method, "params": params, **self._session}
        os.write(self._ask, json.dumps(question).encode() + b"\0")
        while True:
            while b"\0" not in self._read:
                assert select.select([self._answers], [], [], LONGEST)[0], f"no answer to {method}"
                more = os.read(self._answers, 1 << 20)
                assert more, "the browser is gone"
                self._read += more
            one, _, self._read = self._read.partition(b"\0")
            answer = json.loads(one)
            if answer.get("id") == self._count:
                assert "error" not in answer, answer
                return dict(answer["result"])

    def show(self, html: str, *, width: int = 1280, media: str = "") -> None:
        """Lay out a page in a window of a width in px, for the screen or for a medium."""
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=1400, deviceScaleFactor=1, mobile=False)
        self.call("Emulation.setEmulatedMedia", media=media)
        frame = self.call("Page.getFrameTree")["frameTree"]["frame"]["id"]
        self.call("Page.setDocumentContent", frameId=frame, html=html)

    def run(self, script: str) -> Any:
        """The value of a script, or what its promise comes to."""
        found = self.call("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def close(self) -> None:
        os.close(self._ask)  # it ends when nobody can ask any more
        self._process.wait(LONGEST)
        os.close(self._answers)
        shutil.rmtree(self._folder, ignore_errors=True)


@cache
def browser() -> Browser:
    """The browser of this process."""
    found = Browser()
    atexit.register(found.close)
    return found


def printed(html: str, paper: str) -> tuple[int, tuple[int, int]]:
    """How many sheets a page takes, and the size of the first in points."""
    from pypdf import PdfReader

    browser().show(html.replace("</head>", f"<style>@page {{ size: {paper}; }}</style></head>"))
    data = browser().call("Page.printToPDF", preferCSSPageSize=True, printBackground=True)["data"]
    pdf = PdfReader(io.BytesIO(base64.b64decode(data)))
    box = pdf.pages[0].mediabox
    return len(pdf.pages), (round(float(box.width)), round(float(box.height)))


def faults(html: str) -> list[dict[str, Any]]:
    """What axe-core finds, worst kinds only (serious and critical)."""
    browser().show(html)
    browser().run(resources.files("axe_core_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    answer = browser().run("axe.run().then(r => ({ran: r.passes.length, found: r.violations}))")
    assert answer["ran"] > 5, "the checker tried nothing"
    return [v for v in answer["found"] if v["impact"] in ("serious", "critical")]


def spills(html: str, width: int, paper: bool = False) -> list[str]:
    """What is wider than the room it has, at a window's width in px; ``paper``: laid out as it is printed."""
    browser().show(html, width=width, media="print" if paper else "")
    found = browser().run(
        "(() => { const out = []; document.querySelectorAll('table, svg, p, li, figure').forEach(e => { "
        "const room = e.closest('.side > div, .side > figure, main').getBoundingClientRect(); "
        "if (e.getBoundingClientRect().right > room.right + 1) out.push(e.tagName + ' ' + e.textContent.slice(0, 40)); "
        "}); return {seen: document.querySelectorAll('table').length, mode: document.compatMode, out}; })()"
    )
    assert found["seen"] > 0
    assert found["mode"] == "CSS1Compat"
    return list(found["out"])


def fetches(html: str) -> list[str]:
    """Everything in a page that a browser would fetch or run."""
    found = re.findall(r'(?:src|href|action|data)\s*=\s*"(?!#)([^"]*)"', html)
    found += re.findall(r"url\((?!#|\"#|'#)([^)]*)\)", html)
    return found + re.findall(r"<(?:script|iframe|object|embed|link)\b|@import|<[^>]*(?:javascript:|\son\w+=)", html)
