"""The trend of a profile, in words and as plots for the terminal."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from browser import faults, fetches, needs_browser, spills
from helpers import EXAMPLE

from coach.app.cli import main
from coach.logbook.index.index import load_summary
from coach.logbook.index.summary import Summary
from coach.logbook.text.picture import Picture, framed
from coach.logbook.trend.text import plot, text
from coach.logbook.trend.trend import trend
from coach.logbook.trend.trend_page import trend_page
from coach.session.profile_files import load_profile


def roasts(count: int, seed: int = 1) -> list[Summary]:
    """Stable invented roasts around the example."""
    rng = np.random.default_rng(seed)
    base = load_summary(EXAMPLE, "x.jsonl")
    out = []
    for i in range(count):
        crack = 487.0 + round(float(rng.normal(0, 6)))
        development = 88.0 + round(float(rng.normal(0, 3)))
        out.append(
            replace(
                base, file=f"r{i:03d}.jsonl", moment=f"2026-{1 + i // 28:02d}-{1 + i % 28:02d}T08:00:00",
                crack_time=crack, development=development, drop_time=crack + development,
                drop_temperature=208.6 + float(rng.normal(0, 0.8)), loss=14.0 + float(rng.normal(0, 0.3)),
                colour=58.0 + float(rng.normal(0, 1)), colour_scale="our meter", cup_score=84 + float(rng.normal(0, 1)),
            )
        )  # fmt: skip
    return out


def test_a_late_crack_is_signalled_and_said() -> None:
    profile = load_profile("larch-hill")
    rows = roasts(30)
    rows[25] = replace(rows[25], crack_time=540.0)
    found = trend(profile, rows)
    crack = next(c for c in found.charts if c.quantity.name == "crack time")
    assert [p.roast.name for p in crack.signals] == ["r025"]
    assert crack.capability is not None
    assert crack.capability.count == 30
    said = "\n".join(text(found))
    assert "crack time 9:00 lies above" in said
    assert "PROVISIONAL" not in said
    assert "about 1 roast in 80" in said


def test_under_twenty_is_provisional_and_none_at_all_is_said() -> None:
    profile = load_profile("larch-hill")
    said = text(trend(profile, roasts(8)))
    assert any(line.startswith("PROVISIONAL") for line in said)
    assert "Nothing to chart yet." in text(trend(profile, []))
    assert len(text(trend(profile, roasts(1)))) > 5


def test_colours_of_another_scale_are_left_out() -> None:
    rows = [*roasts(6), replace(roasts(1)[0], colour=3.0, colour_scale="another")]
    found = trend(load_profile("larch-hill"), rows)
    assert found.scale == "our meter"
    assert len(next(c for c in found.charts if c.quantity.name == "colour").points) == 6


@pytest.mark.parametrize("width", [40, 80, 120])
def test_lines_fit_the_terminal(width: int) -> None:
    lines = text(trend(load_profile("larch-hill"), roasts(50)), width)
    assert all(len(x) <= max(width, 76) for x in lines)
    plain = text(trend(load_profile("larch-hill"), roasts(50)), width, plain=True)
    assert not any("\u2800" <= c <= "\u28ff" or c == "│" for x in plain for c in x)


def test_values_fill_the_chart_though_the_first_limits_are_wide() -> None:
    found = trend(load_profile("larch-hill"), roasts(30))
    spans = []
    for chart in (c for c in found.charts if len({p.value for p in c.points}) > 1):
        drawn = plot(chart, "C", 66, 8)
        rows = [i for i, line in enumerate(drawn[:8]) if "o" in line or "X" in line]
        spans.append(rows[-1] - rows[0])
    assert min(spans) >= 2
    assert sum(spans) / len(spans) >= 3, spans


def test_no_column_is_left_out_where_there_is_little_room() -> None:
    found = trend(load_profile("larch-hill"), roasts(30))
    wide = " ".join(text(found, 120))
    for width in (60, 80):
        lines = text(found, width)
        told = " ".join(lines)
        assert all(name in told for name in ("next", "tolerance", "plan", "Cpk (95 %)"))
        assert all(cell in told for cell in re.findall(r"±\S+", wide))
        table = lines[lines.index("") + 1 :]
        assert max(len(line) for line in table[: table.index("")]) <= width


def test_minus_signs_are_alike() -> None:
    rows = [replace(r, crack_time=(r.crack_time or 0.0) + 60.0) for r in roasts(30)]
    said = "\n".join(text(trend(load_profile("larch-hill"), rows), 120)).split("Flagged:")[0]
    assert "−1." in said
    assert not re.search(r"(^|[ (])-\d", said)


def test_dots() -> None:
    picture = Picture(2, 2, (0, 3), (0, 7))
    picture.line(np.array([7.0, np.nan, np.nan, 0.0]))
    assert picture.text({}).plain == "\u2801 \n \u2880"
    picture.sign(0, 7, "X")
    picture.sign(9, 7, "X")
    assert framed(picture, str, "a", "b") == ["7 │X", "0 │ \u2880", "   a b"]


@needs_browser
def test_the_page_in_a_browser(tmp_path: Path) -> None:
    rows = roasts(60)
    rows[40] = replace(rows[40], crack_time=560.0, file="<script>x</script>.jsonl", colour_scale="our meter")
    html = trend_page(trend(load_profile("larch-hill"), rows))
    assert fetches(html) == []
    assert "<script" not in html
    assert "crack time 9:20 lies above" in html
    assert len(html.encode()) < 500_000
    assert [f["id"] for f in faults(html)] == []
    assert spills(html, 1000) == spills(html, 726, paper=True) == []


def test_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "book"
    assert main(["trend", "larch-hill", "--logbook", str(folder)]) == 2
    folder.mkdir()
    assert main(["trend", "larch-hill", "--logbook", str(folder)]) == 2
    for i in range(3):
        (folder / f"{i}.jsonl").write_text(EXAMPLE.read_text().replace("invented-larch-hill", f"r{i}"))
    assert main(["trend", "larch-hill", "--logbook", str(folder)]) == 0
    assert "3 roasts" in capsys.readouterr().out
    assert main(["trend", "larch-hill", "--logbook", str(folder), "--since", "soon"]) == 2
