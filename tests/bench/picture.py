"""The pictures of the screen: ``python tests/bench/picture.py [FOLDER]`` writes ``screen.svg`` (mid-roast).

With a folder named, ``glance.svg``, ``brief.svg`` and ``crack.svg`` go there too.  The roast is the bundled, invented
one; fonts and outside links are taken out.
"""

from __future__ import annotations

import asyncio
import re
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from coach.entries import Entry, Reading
from coach.journal import read_journal
from coach.library import load_profile
from coach.live import LiveRoast
from coach.screens.app import RoastApp

ROOT = Path(__file__).resolve().parents[2]
SIZE = (100, 34)


def clean(svg: str) -> str:
    """A picture without outside fonts and links."""
    svg = re.sub(r"@font-face\s*\{.*?\}", "", svg, flags=re.S)
    svg = re.sub(r"<!--.*?-->", "", svg, flags=re.S)
    svg = re.sub(r"Fira Code", "DejaVu Sans Mono", svg)
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


async def pictures(folder: Path, target: Path | None) -> None:
    """Play the example and export the screen on the way; the roast is a little hotter than it was, to show a cue."""
    journal = read_journal(ROOT / "examples" / "invented-roast.jsonl")
    now = [0.0]
    with tempfile.TemporaryDirectory() as home:
        live = LiveRoast.open(
            load_profile("larch-hill"), Path(home), lambda: now[0], started=datetime(2026, 11, 2, 8, tzinfo=UTC),
            run="rehearsal",
        )  # fmt: skip
        app = RoastApp(live, tick=1000)
        async with app.run_test(size=SIZE) as pilot:

            def export(name: str) -> None:
                where = ROOT / "examples" / "screen.svg" if name == "screen" else target and target / f"{name}.svg"
                if where:
                    where.write_text(clean(app.export_screenshot(title="coach")), encoding="utf-8")

            await pilot.pause()
            export("brief")
            await pilot.press("enter")
            done = set()
            for entry in (hotter(n.entry) for n in journal.entries):
                for moment, name in ((400.0, "screen"), (400.0, "glance"), (560.0, "crack")):
                    if entry.came > moment and name not in done:
                        done.add(name)
                        now[0] = moment
                        app.pulse()
                        app.view = "glance" if name == "glance" else "roast"
                        app.message = ""
                        app.refresh_all()
                        await pilot.pause()
                        export(name)
                        app.view = "roast"
                now[0] = entry.came
                live.coach.advance(entry.came)
                live.enter(entry)


def hotter(entry: Entry) -> Entry:
    """A reading some degrees above what it was, growing from 3:00 of the journal on."""
    if not isinstance(entry, Reading) or entry.at < 180:
        return entry
    return entry.model_copy(update={"temperature": entry.temperature + min((entry.at - 180) * 0.03, 6.0)})


if __name__ == "__main__":
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else None
    asyncio.run(pictures(ROOT / "examples", out))
