"""A real headless browser for the tests: what it prints, and what an accessibility checker finds on a page."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from html import unescape
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

BROWSER = next((p for p in map(shutil.which, ("chromium", "chromium-browser", "google-chrome")) if p), None)
needs_browser = pytest.mark.skipif(BROWSER is None, reason="no Chromium on this machine (Debian package: chromium)")
PAPERS = {"A4": (595, 842), "Letter": (612, 792)}
"""Sizes in points, as ISO 216 and ANSI/ASME Y14.1 have them."""


def run(folder: Path, page: Path, *options: str) -> str:
    assert BROWSER is not None
    command = [
        BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
        f"--user-data-dir={folder / 'browser'}", *options, page.as_uri(),
    ]  # fmt: skip
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout


def printed(folder: Path, html: str, paper: str) -> tuple[int, tuple[int, int]]:
    """How many sheets a page takes, and the size of the first in points."""
    from pypdf import PdfReader

    page, out = folder / f"{paper}.html", folder / f"{paper}.pdf"
    page.write_text(html.replace("</head>", f"<style>@page {{ size: {paper}; }}</style></head>"), encoding="utf-8")
    run(folder, page, "--no-pdf-header-footer", f"--print-to-pdf={out}")
    pdf = PdfReader(out)
    box = pdf.pages[0].mediabox
    return len(pdf.pages), (round(float(box.width)), round(float(box.height)))


def faults(folder: Path, html: str) -> list[dict[str, Any]]:
    """What axe-core finds, worst kinds only (serious and critical)."""
    script = resources.files("axe_core_python").joinpath("axe.min.js").read_text(encoding="utf-8")
    runner = (
        "axe.run().then(r => { const p = document.createElement('pre'); p.id = 'axe'; "
        "p.textContent = JSON.stringify({ran: r.passes.length, found: r.violations}); document.body.append(p); });"
    )
    assert "</body>" in html
    checked = re.sub(r"<meta http-equiv=\"Content-Security-Policy\"[^>]*>", "", html)  # or the checker could not run
    page = folder / "axe.html"
    page.write_text(
        checked.replace("</body>", f"<script>{script}</script><script>{runner}</script></body>"), encoding="utf-8"
    )
    dom = run(folder, page, "--virtual-time-budget=20000", "--dump-dom")
    match = re.search(r'<pre id="axe">(.*?)</pre>', dom, re.S)
    assert match, "the checker did not run"
    answer = json.loads(unescape(match[1]))
    assert answer["ran"] > 5, "the checker tried nothing"
    return [v for v in answer["found"] if v["impact"] in ("serious", "critical")]


def spills(folder: Path, html: str, width: int, paper: bool = False) -> list[str]:
    """What is wider than the room it has, at a window's width in px; ``paper``: laid out as it is printed."""
    runner = (
        "const out = []; document.querySelectorAll('table, svg, p, li, figure').forEach(e => { "
        "const room = e.closest('.side > div, .side > figure, main').getBoundingClientRect(); "
        "if (e.getBoundingClientRect().right > room.right + 1) out.push(e.tagName + ' ' + e.textContent.slice(0, 40)); "
        "}); const seen = document.querySelectorAll('table').length; "
        "const p = document.createElement('pre'); p.id = 'spills'; "
        "p.textContent = JSON.stringify({seen, out}); document.body.append(p);"
    )
    laid = html.replace("@media print", "@media all") if paper else html
    open_ = re.sub(r"<meta http-equiv=\"Content-Security-Policy\"[^>]*>", "", laid)
    page = folder / "spills.html"
    page.write_text(open_.replace("</body>", f"<script>{runner}</script></body>"), encoding="utf-8")
    dom = run(folder, page, f"--window-size={width},1400", "--virtual-time-budget=5000", "--dump-dom")
    match = re.search(r'<pre id="spills">(.*?)</pre>', dom, re.S)
    assert match, "the script did not run"
    found = json.loads(unescape(match[1]))
    assert found["seen"] > 0
    return list(found["out"])


def fetches(html: str) -> list[str]:
    """Everything in a page that a browser would fetch or run."""
    found = re.findall(r'(?:src|href|action|data)\s*=\s*"(?!#)([^"]*)"', html)
    found += re.findall(r"url\((?!#|\"#|'#)([^)]*)\)", html)
    return found + re.findall(r"<(?:script|iframe|object|embed|link)\b|@import|<[^>]*(?:javascript:|\son\w+=)", html)
