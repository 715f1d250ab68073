"""The pictures of the README: ``python tests/bench/picture.py`` writes SVG files to ``examples/``.

``--all FOLDER`` writes every situation of the snapshot tests there as well, at three sizes and in every theme, to be
looked at.  The situations are made by hand and invented; fonts and outside links are taken out.
"""

from __future__ import annotations

import asyncio
import os
import re
import shutil
import sys
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "app" / "screens"))

import still  # noqa: E402
from test_snapshots import VIEWS  # noqa: E402

from coach.app.screens.asides import review_page  # noqa: E402
from coach.app.screens.home import HomeApp  # noqa: E402
from coach.app.screens.palette import LOOKS  # noqa: E402
from coach.app.screens.reader import Reader  # noqa: E402
from coach.session.profile_files import load_profile  # noqa: E402
from coach.session.settings import Settings  # noqa: E402

SHOWN = {"calm": "roast-calm", "overdue": "roast-now"}
SIZE = (120, 36)


def clean(svg: str) -> str:
    """A picture without outside fonts and links."""
    svg = re.sub(r"@font-face\s*\{.*?\}", "", svg, flags=re.S)
    svg = re.sub(r"<!--.*?-->", "", svg, flags=re.S)
    svg = re.sub(r"Fira Code", "DejaVu Sans Mono", svg)
    svg = svg.replace("font-size: 20px", "font-size: 20.96px")  # rows of blocks without gaps: 24.4 px / 1.164 em
    svg = re.sub(
        r'x="([\d.]+)" y="([\d.]+)" textLength="([\d.]+)"([^>]*)>((?:&#160;)*)(.*?)((?:&#160;)*)</text>', place, svg
    )
    return "\n".join(line.rstrip() for line in svg.splitlines() if line.strip()) + "\n"


def place(match: re.Match[str]) -> str:
    """A run of text without the blanks around it, at its place: not every viewer keeps those."""
    x, y, length, rest, before, text, after = match.groups()
    cells = len(re.sub("&[^;]+;", "x", before + text + after)) or 1
    cell = float(length) / cells
    left, right = len(before) // 6, len(after) // 6
    start, span = float(x) + left * cell, float(length) - (left + right) * cell
    return f'x="{start:g}" y="{y}" textLength="{span:g}"{rest}>{text}</text>'


async def exported(app: Any, size: tuple[int, int], keys: list[str], to: Path) -> None:
    """The screen after some keys, as a picture."""
    async with app.run_test(size=size) as pilot:
        await pilot.press(*keys)
        await pilot.pause()
        to.write_text(clean(app.export_screenshot(title="coach")), encoding="utf-8")


async def home_picture(folder: Path) -> None:
    """The home screen of somebody with the invented roast in the logbook, on the day after it."""
    (folder / "roasts").mkdir(parents=True)
    shutil.copy(ROOT / "examples" / "invented-roast.jsonl", folder / "roasts" / "invented-roast.jsonl")
    os.environ["COACH_HOME"] = str(folder)
    app = HomeApp(now=datetime(2026, 11, 3, 8, 0))
    async with app.run_test(size=SIZE) as pilot:
        while not app.listing.ready():
            await pilot.pause(0.05)
        await app.workers.wait_for_complete()
        await pilot.pause()
        (ROOT / "examples" / "home.svg").write_text(clean(app.export_screenshot(title="coach")), encoding="utf-8")


async def pictures(folder: Path | None) -> None:
    """The README's pictures, and all others where a folder is named."""
    with tempfile.TemporaryDirectory() as home:
        for name, file in SHOWN.items():
            situation, cues, keys = VIEWS[name]
            app = still.app_of(Path(home) / name, situation(), cues())
            await exported(app, SIZE, keys, ROOT / "examples" / f"{file}.svg")
        await home_picture(Path(home) / "coach")
        profile = load_profile("larch-hill")
        page = review_page(ROOT / "examples" / "invented-roast.jsonl", profile, Path(home) / "none")
        await exported(Reader("review", page), (150, 44), [], ROOT / "examples" / "review.svg")
        for name, (situation, cues, keys) in VIEWS.items() if folder else ():
            for size in ((80, 24), (120, 36), (200, 60)):
                for theme in LOOKS:
                    where = Path(home) / f"{name}-{size[0]}-{theme}"
                    app = still.app_of(where, situation(), cues(), settings=Settings(theme=theme))
                    assert folder is not None
                    await exported(app, size, keys, folder / f"{name}-{size[0]}x{size[1]}-{theme}.svg")


if __name__ == "__main__":
    asyncio.run(pictures(Path(sys.argv[2]) if sys.argv[1:2] == ["--all"] else None))
