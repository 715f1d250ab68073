"""Sheets out and in: RFC 4180, units, decimal commas, and sheets that can't be taken."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import math
import re
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from helpers import EXAMPLE, example
from hypothesis import given
from hypothesis import strategies as st

from coach.app.cli import main
from coach.logbook.index.index import load_summary
from coach.logbook.sheets.cells import parse_time, pressure_unit_in, temperature_unit_in, time_unit_in
from coach.logbook.sheets.columns import Columns
from coach.logbook.sheets.imported import take
from coach.logbook.sheets.read_sheet import read_sheet
from coach.logbook.sheets.write_sheet import names, safe, sheet
from coach.roast.entries import Correction, Note, Reading, Result
from coach.roast.errors import FileError
from coach.roast.profile import Profile
from coach.roast.roast import Numbered
from coach.session.journal import Journal, line_of, read_journal
from coach.session.profile_files import load_profile
from coach.session.unfinished import unfinished

GOOD = """time,temperature (°C),event,gas (kPa)
0:00,200,charge,1.6
0:30,120,,
1:10,85,,
2:00,100.5,,
3:00,122,,
4:00,145,yellow,
5:00,165,,1.2
6:00,179,,
7:00,189,,
8:00,196.5,first crack,
9:00,204,,
9:30,208,drop,
"""
COMMAS = re.sub(r"(\d)\.(\d)", r"\1,\2", GOOD.replace(",", ";"))
OPTIONS = ["--event", "event", "--gas", "gas (kPa)", "--batch", "0.8", "--date", "2026-10-05"]


def times_of_day(date: str = "") -> str:
    return re.sub(r"^(\d):(\d\d),", rf"{date}8:0\1:\2,", GOOD, flags=re.MULTILINE)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("8:00:30 AM", 28830), ("12:00:05 p.m.", 43205), ("12:10:00 am", 600), ("1:00:00PM", 46800), ("08:00:30", 28830)],
)
def test_a_time_of_day_may_have_am_or_pm(text: str, seconds: float) -> None:
    assert parse_time(text, "m:ss", ".", "sheet.csv", 2, "time") == seconds
    with pytest.raises(FileError, match="is not a time"):
        parse_time("6:20 AM", "m:ss", ".", "sheet.csv", 2, "time")  # hours and minutes, not minutes and seconds


@pytest.fixture(autouse=True)
def _own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    monkeypatch.setattr("sys.stdin", io.StringIO(""))


def take_in(folder: Path, text: str | bytes, *options: str, output: str = "out.jsonl") -> tuple[int, Path]:
    file, out = folder / "sheet.csv", folder / output
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    return main(["import", str(file), "--output", str(out), *options]), out


def test_a_sheet_becomes_a_roast(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out = take_in(tmp_path, GOOD, *OPTIONS)
    assert code == 0
    assert "12 readings, 2 moves, charge" not in capsys.readouterr().out
    s = load_summary(out, "out.jsonl")
    assert (s.yellow_time, s.crack_time, s.drop_time) == (240.0, 480.0, 570.0)
    assert s.drop_temperature == pytest.approx(208.0)
    assert s.day == "2026-10-05"
    assert take_in(tmp_path, GOOD, *OPTIONS)[0] == 2, "nothing is overwritten unasked"


def test_a_sheet_can_count_for_a_profile(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out = take_in(tmp_path, GOOD, *OPTIONS, "--follows", "larch-hill")
    assert code == 0
    header = read_journal(out).header
    assert (header.profile, header.profile_version) == ("Larch Hill everyday (invented)", 1)
    assert header.machine == "Brambleforge 1"
    assert main(["review", str(out)]) == 0
    assert "First crack came within 0:07 of the plan" in capsys.readouterr().out
    code, alone = take_in(tmp_path, GOOD, *OPTIONS, output="alone.jsonl")
    assert main(["review", str(alone)]) == 2
    assert "names no profile" in capsys.readouterr().err


def adopted(roast: Path, name: str) -> Profile:
    """The profile made of a roast by the command."""
    out = roast.with_suffix(".toml")
    assert main(["adopt", str(roast), "--name", name, "--safety", "235", "--output", str(out)]) == 0
    return load_profile(str(out))


def test_a_sheet_becomes_a_profile(tmp_path: Path) -> None:
    code, out = take_in(tmp_path, GOOD, *OPTIONS)
    assert code == 0
    profile = adopted(out, "October sheet")
    assert profile.goals["first crack"].time == 480.0
    assert profile.goals["first crack"].temperature == pytest.approx(196.5, abs=0.7)
    assert [s.value for s in profile.steps] == [1.6, 1.2]
    assert profile.document.batch_kg == 0.8


@pytest.mark.parametrize(
    ("text", "options"),
    [
        (GOOD.replace("\n", "\r\n"), OPTIONS),
        ("\ufeff" + GOOD, OPTIONS),
        (GOOD.replace(",", ";"), OPTIONS),
        (GOOD.replace(",", "\t"), OPTIONS),
        (COMMAS, [*OPTIONS, "--decimal", "comma"]),
        (GOOD.encode("utf-16"), OPTIONS),
        (GOOD.replace("0:30,", '"0:30",').replace("200", '"200"'), OPTIONS),
        (GOOD.rstrip("\n"), OPTIONS),
        (GOOD.replace("3:00", "0:03:00"), OPTIONS),
        (GOOD.replace("time,", "1,").replace("1,temp", "when,temp"), [*OPTIONS, "--time", "1"]),
        (GOOD.replace("first crack", "fc").replace("yellow", "Y"), OPTIONS),
        (GOOD + "\n\n", OPTIONS),
        (GOOD + ",,,\n", OPTIONS),
        ("Tuesday's roast, on the small roaster\nwindow open;rain\n\n" + GOOD, OPTIONS),
        ("Tuesday's roast,,,\n" + GOOD, OPTIONS),
        ("sep=;\r\n" + GOOD.replace(",", ";"), OPTIONS),
        (GOOD, OPTIONS[4:]),
        (times_of_day(), OPTIONS),
    ],
)  # fmt: skip
def test_ways_to_write_the_same_sheet(tmp_path: Path, text: str | bytes, options: list[str]) -> None:
    code, out = take_in(tmp_path, text, *options)
    assert code == 0
    assert take_in(tmp_path, GOOD, *OPTIONS, output="plain.jsonl")[0] == 0
    assert out.read_text().splitlines()[1:] == (tmp_path / "plain.jsonl").read_text().splitlines()[1:]


def times(unit: str) -> str:
    """The good sheet with its times written another way."""
    rows = [r.split(",") for r in GOOD.splitlines()]
    for r in rows[1:]:
        t = parse_time(r[0], "m:ss", ".", "", 0, "")
        r[0] = {"s": f"{t:g}", "min": f"{t / 60:.6f}", "m.ss": r[0].replace(":", ".")}[unit]
    return "\n".join(",".join(r) for r in rows) + "\n"


@pytest.mark.parametrize("unit", ["s", "min", "m.ss"])
def test_ways_to_write_times(tmp_path: Path, unit: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, out = take_in(tmp_path, times(unit), *OPTIONS, "--time-unit", unit)
    assert code == 0
    assert load_summary(out, "x").crack_time == pytest.approx(480.0)
    assert take_in(tmp_path, times(unit), *OPTIONS, output="b.jsonl")[0] == 2, "never guessed"
    assert "how times are written" in capsys.readouterr().err


def rows(*changes: tuple[str, str]) -> str:
    text = GOOD
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def probe(reads: Callable[[float], float]) -> str:
    """The good sheet with its probe reading otherwise, as a function of the time (s)."""
    out = GOOD.splitlines()[:1]
    for row in GOOD.splitlines()[1:]:
        cells = row.split(",")
        cells[1] = f"{reads(parse_time(cells[0], 'm:ss', '.', '', 0, '')):.0f}"
        out.append(",".join(cells))
    return "\n".join(out) + "\n"


AIR = probe(lambda t: 240 - 60 * math.exp(-abs(t - 90) / 60) + t / 60)
STILL = probe(lambda t: 200.0)
FALLS = probe(lambda t: 230 - t / 30)
FLAT = probe(lambda t: max(205 - t, 130 + 41 * t / 570))
NO_CHARGE = ["--event", "none", "--gas", "gas (kPa)", "--batch", "0.8"]
COOLING = "10:00,190,,\n10:30,160,,\n11:00,130,,\n"
LEADING = [
    GOOD.splitlines()[0] + "\n", "0:00,198,,\n", "0:30,200,,\n",
    *(re.sub(r"^(\d+)(:\d\d),(?:200,)?", lambda m: f"{int(m[1]) + 1}{m[2]}," + ("201," if "200" in m[0] else ""), r)
      for r in GOOD.splitlines(keepends=True)[1:]),
]  # fmt: skip
"""The good sheet written from a minute before charge on."""
EVERY_HALF_MINUTE = "time,temperature (°C),event,gas (kPa)\n" + "".join(
    f"{t // 60}.{t % 60:02d},{max(205 - 2.2 * t, 85 if t < 90 else 80 + (t - 60) ** 0.79):.0f},,\n"
    for t in range(0, 571, 30)
)
COLD = re.sub(r",(1[2-9]\d|20[0-9])(\.\d)?,", ",119,", GOOD)
F_ONLY = GOOD.replace(" (°C)", "")
MALFORMED: list[tuple[str, str | bytes, list[str], str]] = [
    ("nothing in it", b"", [], "empty"),
    ("only a mark", b"\xef\xbb\xbf\r\n", [], "empty"),
    ("a picture", b"\x89PNG\r\n\x1a\n\x00\x00\xff", [], "UTF-8"),
    ("another code page", GOOD.encode("latin-1"), OPTIONS, "UTF-8"),
    ("zero bytes", GOOD.replace("120", "1\x0020"), OPTIONS, "line 3: holds a zero byte"),
    ("names only", GOOD.splitlines()[0], OPTIONS, "nothing under them"),
    ("no names", "0:00,200\n0:30,120\n", OPTIONS, "no column names"),
    ("one column", "time\n0:00\n0:30\n", OPTIONS, "only one column"),
    ("two delimiters", GOOD.replace("time,temperature", "time;temperature"), OPTIONS, "comma or semicolon"),
    ("names twice", rows(("event", "time")), ["--batch", "1"], "two columns are named 'time'"),
    ("a quote left open", rows(("120", '"120')), OPTIONS, "quote that is never closed"),
    ("text after a quote", rows(("120", '"12"0')), OPTIONS, "line 3"),
    ("a cell too many", rows(("0:30,120,,", "0:30,120,,,")), OPTIONS, "line 3: 5 cells, but there are 4"),
    ("a decimal comma among commas", rows(("100.5", "100,5")), OPTIONS, "line 5: 5 cells"),
    ("a cell too few", rows(("0:30,120,,", "0:30,120")), OPTIONS, "line 3: 2 cells"),
    ("no such column", GOOD, [*OPTIONS, "--air", "breeze"], "no column 'breeze'"),
    ("one column for two", GOOD, [*OPTIONS, "--air", "event"], "two things"),
    ("no unit", F_ONLY, OPTIONS, "the unit of the temperatures"),
    ("the wrong unit", GOOD, [*OPTIONS, "--unit", "F"], "if this is °F"),
    ("Fahrenheit as Celsius", rows(("208", "406")), OPTIONS, "406 °C is no temperature of a roast"),
    ("a decimal comma", rows(("1.6", '"1,6"')), OPTIONS, "--decimal comma"),
    ("a thousands sign", rows(("122", '"1,122.0"')), OPTIONS, "line 6, temperature (°C): '1,122.0' is not a number"),
    ("a word for a number", rows(("122", "hot")), OPTIONS, "line 6, temperature (°C): 'hot' is not a number"),
    ("not a number", rows(("122", "NaN")), OPTIONS, "'NaN' is not a number"),
    ("infinity", rows(("122", "1e999")), OPTIONS, "'1e999' is not a number"),
    ("other digits", rows(("122", "١٢٢")), OPTIONS, "is not a number"),
    ("no time", rows(("3:00", "")), [*OPTIONS, "--time-unit", "m:ss"], "line 6, time: no time"),
    ("seconds of 75", rows(("3:00", "3:75")), [*OPTIONS, "--time-unit", "m:ss"], "line 6, time: '3:75'"),
    ("a date", rows(("3:00", "2026-10-05")), [*OPTIONS, "--time-unit", "m:ss"], "not a date"),
    ("time runs backwards", rows(("3:00", "1:30")), OPTIONS, "line 6: the time runs backwards"),
    ("two readings at once", rows(("3:00", "2:00")), OPTIONS, "line 6: two readings at 2:00"),
    ("minutes for seconds", times("min"), [*OPTIONS, "--time-unit", "s"], "not a roast"),
    ("seconds for minutes", times("s"), [*OPTIONS, "--time-unit", "min"], "two hours"),
    ("m.ss for minutes", times("min"), [*OPTIONS, "--time-unit", "m.ss"], "is not a time in m.ss"),
    ("milliseconds", times("s").replace("570,", "570000,"), [*OPTIONS, "--time-unit", "s"], "two hours"),
    ("an unknown event", rows(("yellow", "golden")), OPTIONS, "line 7: the event 'golden' is not known"),
    ("a probe in the air", AIR, OPTIONS, "a bean probe falls below 140"),
    ("a probe that stands still", STILL, OPTIONS, "no reading after charge is below 200"),
    ("a curve that only falls", FALLS, OPTIONS, "comes 9:30 after charge"),
    ("no first minutes", "\n".join(r for r in GOOD.splitlines() if not r.startswith(("0:", "1:", "2:", "3:"))), OPTIONS,
     "(145 °C) comes 4:00 after charge"),
    ("charge in the middle, not marked", "".join(LEADING), NO_CHARGE, "line 4: the probe falls from 1:00 on"),
    ("cooling after the drop, not marked", GOOD + COOLING, NO_CHARGE, "fall from 9:30 on (208 °C): was that the drop?"),
    ("m.ss given as minutes", EVERY_HALF_MINUTE, [*OPTIONS, "--time-unit", "min"], "Give --time-unit m.ss"),
    ("minutes given as m.ss", EVERY_HALF_MINUTE.replace(".30,", ".50,"), [*OPTIONS, "--time-unit", "m.ss"],
     "Give --time-unit min"),
    ("hardly a climb", FLAT, OPTIONS, "climb by 36 °C only"),
    ("times of day", times_of_day(), NO_CHARGE, "--mark charge=8:02:00"),
    ("dates and times", times_of_day("2026-10-05 "), OPTIONS, "line 2: '2026-10-05 8:00:00' is a date. Give the time"),
    ("minutes with a point, called minutes", times("m.ss").replace("time,", "time (min),"), OPTIONS, "(or min, m.ss"),
    ("one word among the times", GOOD + "average,150,,\n", OPTIONS, "line 14, time: 'average' is not a time"),
    ("a workbook", b"PK\x03\x04" + bytes(99), OPTIONS, "Save the sheet as 'CSV UTF-8'"),
    ("grouped thousands", rows(("122", '"1,122"')), OPTIONS, "a sign between thousands must go"),
    ("a weight in grams", GOOD, [*OPTIONS, "--batch", "800"], "--batch 800 is not possible. Give it in kg"),
    ("an event twice", rows((",,1.2", ",yellow,1.2")), OPTIONS, "line 8: yellow stands there twice"),
    ("drop before crack", rows((",drop,\n", ",,\n"), ("yellow", "drop")), OPTIONS, "first crack (8:00)"),
    ("crack before yellow", rows(("first crack", "y"), ("yellow", "fc")), OPTIONS, "first crack (4:00)"),
    ("a mistyped reading", rows(("179", "279")), OPTIONS, "line 9: 279 °C at 6:00"),
    ("a digit left out", rows(("189", "19")), OPTIONS, "line 10: 19 °C at 7:00"),
    ("two digits swapped", rows(("189", "198")), OPTIONS, "line 10: 198 °C at 7:00"),
    ("two readings mistyped alike", rows(("165", "170"), ("145", "150")), OPTIONS, ""),
    ("too hot to be", rows(("208", "2008")), OPTIONS, "2008 °C is no temperature"),
    ("too few readings", "\n".join(GOOD.splitlines()[:5]) + "\n", OPTIONS, "readings after charge"),
    ("a cold curve", COLD, OPTIONS, "not that of a roast"),
    ("gas below zero", rows(("1.2", "-1.2")), OPTIONS, "line 8: gas -1.2 is below zero"),
    ("gas of no unit", GOOD.replace("gas (kPa)", "gas"), ["--gas", "gas", "--batch", "0.8"], "the unit of the gas"),
    ("gas of no unit, found by its name", GOOD.replace("gas (kPa)", "gas"), ["--batch", "0.8"], "or --gas none"),
    ("a weight below zero", GOOD, [*OPTIONS, "--batch", "-3"], "--batch -3"),
    ("no such date", GOOD, [*OPTIONS, "--date", "5 May"], "no date"),
    ("no such line", GOOD, [*OPTIONS, "--leave-out", "99"], "no such row"),
    ("an unknown mark", GOOD, [*OPTIONS, "--mark", "smell=3:00"], "not understood"),
    ("a mark given twice over", GOOD, [*OPTIONS, "--mark", "yellow=4:05"], "yellow stands there twice"),
]  # fmt: skip
NOT_TOLD = {"two readings mistyped alike"}
"""A sheet that is wrong in a way that a true roast could also be: it can't be told, and is taken."""


@pytest.mark.parametrize(("name", "text", "options", "says"), MALFORMED, ids=[m[0] for m in MALFORMED])
def test_malformed_sheets(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, text: str | bytes, options: list[str], says: str
) -> None:
    code, out = take_in(tmp_path, text, *options)
    error = capsys.readouterr().err
    if name in NOT_TOLD:
        assert code == 0
        return
    assert code == 2
    assert not out.exists()
    assert says in error
    assert error.count("\n") == 1
    assert re.search(r"[.:?,)] [A-Z].{6,}$", error.rstrip()), "it says what to do"


def mistypes(text: str) -> set[str]:
    """What clumsy fingers make of a number: a digit wrong, doubled, left out, or swapped with the next."""
    out = set()
    for i in (i for i, c in enumerate(text) if c.isdigit()):
        out |= {text[:i] + d + text[i + 1 :] for d in "0123456789"}
        out |= {text[:i] + text[i] + text[i:], text[:i] + text[i + 1 :]}
        if text[i + 1 : i + 2].isdigit():
            out.add(text[:i] + text[i + 1] + text[i] + text[i + 2 :])
    return out - {text, ""}


def test_no_single_mistyped_reading_moves_the_curve_far() -> None:
    """Every single mistype of a reading is refused, or is off by no more than 10 °C; in the first two minutes, where a
    probe may stand anywhere, only what can't be is refused."""
    lines = GOOD.splitlines()
    columns = Columns(0, 1, "C", "m:ss", "kPa", event=2, gas=3)
    refused = 0
    for k, row in enumerate(lines[1:], 1):
        cells = row.split(",")
        for wrong in mistypes(cells[1]):
            changed = [*lines[:k], ",".join([cells[0], wrong, *cells[2:]]), *lines[k + 1 :]]
            try:
                take(read_sheet("\n".join(changed).encode(), "x"), columns, {})
            except FileError:
                refused += 1
                continue
            assert k <= 3 or abs(float(wrong) - float(cells[1])) <= 10, (row, wrong)
    assert refused > 200


def test_there_are_more_than_thirty_malformed_sheets() -> None:
    assert len([m for m in MALFORMED if m[0] not in NOT_TOLD]) >= 50


def test_a_line_can_be_left_out_and_marks_given(tmp_path: Path) -> None:
    text = rows(("179", "279"), ("first crack", ""))
    code, out = take_in(tmp_path, text, *OPTIONS, "--leave-out", "9", "--mark", "first crack=8:02")
    assert code == 0
    s = load_summary(out, "x")
    assert (s.crack_time, s.readings) == (482.0, 11)


@given(st.lists(st.sampled_from('0123456789:.,;"\n\r\tabC°-x '), max_size=120).map("".join))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    with contextlib.suppress(FileError):  # any other exception fails
        assert len(read_sheet(text.encode(), "x.csv").names) >= 2


# RFC 4180, section 2, rules 1 to 7: what is written is read back by another reader, cell for cell.
@given(st.lists(st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=30), max_size=5))
def test_notes_survive_rfc_4180(notes: list[str]) -> None:
    base = example()
    entries = (*base.entries, *(Numbered(100 + i, Note(at=700.0, text=t)) for i, t in enumerate(notes)))
    text = sheet(Journal(base.header, entries))
    assert text.endswith("\r\n")
    read = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert {len(r) for r in read} == {len(names(base.header))}
    assert [r[-1] for r in read[len(base.entries) + 1 :]] == [safe(t) for t in notes]


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1", "=cmd|' /C calc'!A0"])
def test_texts_are_no_formulas(text: str) -> None:
    assert safe(text) == "'" + text
    assert safe("plum, and -1") == "plum, and -1"


def test_export_shows_both_clocks_raw_and_corrected(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    base = example()
    target = next(n for n in base.entries if isinstance(n.entry, Reading) and n.entry.at > 300)
    other = next(n for n in base.entries if isinstance(n.entry, Reading) and n.entry.at > 400)
    late = Reading(at=320.0, typed=340.0, temperature=151.0)
    entries = (
        *base.entries, Numbered(50, Correction(at=640.0, of=target.line, replace={"temperature": 149.5})),
        Numbered(51, Correction(at=641.0, of=other.line, replace=None)), Numbered(52, late),
    )  # fmt: skip
    table = list(csv.DictReader(io.StringIO(sheet(Journal(base.header, entries)), newline="")))
    by_line = {int(r["line"]): r for r in table}
    fixed, gone, came_late = by_line[target.line], by_line[other.line], by_line[52]
    assert (fixed["status"], fixed["temperature_C"]) == ("corrected", "149.5")
    assert fixed["value_as_typed"] == f"{target.entry.temperature:g}"  # type: ignore[attr-defined]
    assert (gone["status"], gone["temperature_C"], gone["wall_clock"]) == ("withdrawn", "", "")
    assert (came_late["roast_time_s"], came_late["typed_s"]) == ("260", "280")
    assert came_late["wall_clock"] == "2026-11-02T08:05:20+00:00"
    assert by_line[50]["status"] == "correction"
    assert main(["export", str(EXAMPLE), "--output", str(tmp_path / "x.csv")]) == 0
    assert main(["export", str(EXAMPLE), "--output", str(tmp_path / "x.csv")]) == 2
    assert "exists already" in capsys.readouterr().err


def test_what_was_exported_comes_in_again(tmp_path: Path) -> None:
    out = tmp_path / "x.csv"
    assert main(["export", str(EXAMPLE), "--output", str(out)]) == 0
    options = ["--event", "event", "--gas", "gas_kPa", "--air", "air", "--note", "text", "--batch", "0.8"]
    assert main(["import", str(out), "--output", str(tmp_path / "y.jsonl"), *options]) == 0
    a, b = load_summary(EXAMPLE, "x"), load_summary(tmp_path / "y.jsonl", "x")
    for name in (
        "charge_temperature",
        "turning_time",
        "yellow_temperature",
        "crack_time",
        "drop_temperature",
    ):
        assert getattr(a, name) == getattr(b, name)
    header = json.loads((tmp_path / "y.jsonl").read_text().splitlines()[0])
    assert header["imported_from"] == "x.csv"
    assert read_journal(tmp_path / "y.jsonl").header.run == "live"


def test_turns_go_out_with_a_sheet_and_come_in_again(tmp_path: Path) -> None:
    base = example()
    timed = [n for n in base.entries if isinstance(n.entry, Reading)][5::3]
    entries = tuple(
        replace(n, entry=n.entry.model_copy(update={"turned": True})) if n in timed else n for n in base.entries
    )
    out = tmp_path / "x.csv"
    out.write_text(sheet(Journal(base.header, entries)), newline="")
    assert sum(r["turned"] == "yes" for r in csv.DictReader(io.StringIO(out.read_text(), newline=""))) == len(timed)
    options = ["--event", "event", "--gas", "gas_kPa", "--air", "air", "--note", "text", "--batch", "0.8"]
    assert main(["import", str(out), "--output", str(tmp_path / "y.jsonl"), *options]) == 0
    back = read_journal(tmp_path / "y.jsonl")
    assert sum(isinstance(n.entry, Reading) and n.entry.turned is True for n in back.entries) == len(timed)


def test_it_is_said_which_column_was_taken_as_what(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = GOOD.replace("\n", ",5\n").replace("kPa),5", "kPa),rate (C)")
    assert take_in(tmp_path, text, "--batch", "0.8", "--gas", "none")[0] == 0
    said = capsys.readouterr().out
    assert "12 readings, 0 moves, yellow 4:00, first crack 8:00, drop 9:30" in said
    assert "Taken: 'time' as time (m:ss), 'temperature (°C)' as temperature (°C), 'event' as event." in said
    assert "Not taken: 'gas (kPa)', 'rate (C)'." in said


def test_what_comes_after_the_drop_is_passed_over_and_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert take_in(tmp_path, GOOD + COOLING, *OPTIONS)[0] == 0
    assert "3 reading(s) after the drop were passed over." in capsys.readouterr().out
    assert take_in(tmp_path, GOOD, *OPTIONS, output="plain.jsonl")[0] == 0
    out = (tmp_path / "out.jsonl").read_text().splitlines()
    assert out[1:] == (tmp_path / "plain.jsonl").read_text().splitlines()[1:]


def test_a_sheet_without_a_drop_is_no_roast_that_runs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    options = [o for o in OPTIONS if o not in ("--date", "2026-10-05")]
    code, out = take_in(tmp_path, rows(("drop", "")), *options)
    said = capsys.readouterr().out
    assert code == 0
    assert unfinished(tmp_path) == ()
    assert load_summary(out, "x").ended == "no drop"
    assert "coach adopt" not in said
    assert "--mark drop=9:35 --overwrite" in said
    assert "No date is given: it counts as roasted now" in said


def test_a_charge_within_the_sheet_can_be_said(tmp_path: Path) -> None:
    code, out = take_in(tmp_path, "".join(LEADING), *NO_CHARGE, "--mark", "charge=1:00", "--mark", "drop=10:30")
    assert code == 0
    assert load_summary(out, "x").drop_time == 570.0


def test_half_minutes_come_in_as_they_are_written(tmp_path: Path) -> None:
    written = {"m.ss": EVERY_HALF_MINUTE, "min": EVERY_HALF_MINUTE.replace(".30,", ".50,")}
    for unit, text in written.items():
        code, out = take_in(tmp_path, text, *OPTIONS, "--time-unit", unit, output=f"{unit}.jsonl")
        assert code == 0
        ats = [json.loads(x)["at"] for x in out.read_text().splitlines()[1:] if '"reading"' in x]
        assert {b - a for a, b in pairwise(ats)} == {30.0}


def test_times_of_day_count_from_the_charge_that_is_given(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    given = ["--mark", "charge=8:00:00", "--mark", "drop=8:09:30"]
    code, out = take_in(tmp_path, times_of_day(), *NO_CHARGE, *given)
    assert code == 0
    s = load_summary(out, "x")
    assert "Charge stands at 8:00:00 in the sheet" in capsys.readouterr().out
    assert (s.readings, s.drop_time, s.drop_temperature) == (12, 570.0, 208.0)


def test_a_roast_with_results_from_later_comes_in_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    journal = tmp_path / "r.jsonl"
    later = [Result(at=9e5, weight_out=0.69), Note(at=9e5, text="doubt: the valve sticks")]
    journal.write_text(EXAMPLE.read_text() + "".join(map(line_of, later)))
    assert main(["export", str(journal), "--output", str(tmp_path / "x.csv")]) == 0
    for more in ([], ["--note", "text"]):
        options = ["--batch", "0.8", "--output", str(tmp_path / f"y{len(more)}.jsonl"), *more]
        assert main(["import", str(tmp_path / "x.csv"), *options]) == 0
    assert "2 note(s) from long before or after the roast were passed over." in capsys.readouterr().out, (
        "and the result"
    )
    assert load_summary(tmp_path / "y2.jsonl", "x").drop_time == load_summary(EXAMPLE, "x").drop_time


class Typist(io.StringIO):
    """Somebody at a terminal who types these lines."""

    def isatty(self) -> bool:
        return True


def test_what_the_sheet_does_not_say_is_asked_until_it_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    text = GOOD.replace("time,temperature (°C)", "Zeit,Bohne").replace("gas (kPa)", "gas")
    monkeypatch.setattr("sys.stdin", Typist("Uhr\nzeit\n2\nK\nc\nbar\nKPA\n"))
    assert take_in(tmp_path, text, "--batch", "0.8")[0] == 0
    said = capsys.readouterr().out
    assert said.count("Which column is the time?") == 2
    assert said.count("Unit of the temperatures, C or F?") == 2
    assert "'K' is not one of them." in said
    assert "'bar' is not one of them." in said
    assert "Taken: 'Zeit' as time (m:ss), 'Bohne' as temperature (°C)" in said
    monkeypatch.setattr("sys.stdin", Typist("\n"))
    assert take_in(tmp_path, text, "--batch", "0.8", output="none.jsonl")[0] == 2
    assert "it does not say which column is the time nor " in capsys.readouterr().err


def test_units_in_names() -> None:
    for name in ("bean (°C)", "temperature_C", "probe [degC]", "Bean Celsius", "bt °C"):
        assert temperature_unit_in(name) == "C"
    assert temperature_unit_in("probe (F)") == "F"
    assert [temperature_unit_in(n) for n in ("half", "basic", "temp", "c")] == [None, None, None, None]
    assert [time_unit_in(n) for n in ("time (m:ss)", "roast_time_s", "Zeit [min]")] == ["m:ss", "s", "min"]
    assert [time_unit_in(n) for n in ("times", "time", "minutes ago x")] == [None, None, None]
    assert (pressure_unit_in("gas (mbar)"), pressure_unit_in("gas")) == ("mbar", None)


def test_what_hands_write_is_taken_without_options(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Title lines, units in brackets, a column of seconds, a decimal comma, and weight and date in the title."""
    assert take_in(tmp_path, GOOD, *OPTIONS, output="plain.jsonl")[0] == 0
    text = times("s").replace("time,temperature (°C)", "seconds,bean probe [°C]").replace("gas (kPa)", "gas [kPa]")
    text = re.sub(r"(\d)\.(\d)", r"\1,\2", text.replace(",", ";"))
    code, out = take_in(tmp_path, "Roast of the small drum\n0,8 kg on 2026-10-05\n" + text)
    assert code == 0
    assert read_journal(out).header.batch_kg == 0.8
    assert out.read_text().splitlines()[1:] == (tmp_path / "plain.jsonl").read_text().splitlines()[1:]
    said = capsys.readouterr().out
    assert "Read: line 4: 0:00  200 °C  event charge  gas 1,6" in said
    assert "Numbers with a decimal comma." in said
    assert "Above the columns: Roast of the small drum; 0,8 kg on 2026-10-05." in said


def test_own_words_for_events_can_be_given(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = rows(("first crack", "pops!"), ("yellow", "hay smell"), ("0:30,120,,", "0:30,120,door shut,"))
    words = ["--word", "pops!=first crack", "--word", "Hay Smell=yellow", "--word", "door shut=none"]
    code, out = take_in(tmp_path, text, *OPTIONS, *words)
    assert code == 0
    s = load_summary(out, "x")
    assert (s.yellow_time, s.crack_time) == (240.0, 480.0)
    assert take_in(tmp_path, text, *OPTIONS, output="b.jsonl")[0] == 2
    err = capsys.readouterr().err
    assert all(f"--word '{w}=EVENT'" in err for w in ("door shut", "hay smell", "pops!")), "all of them at once"
    assert take_in(tmp_path, text, *OPTIONS, "--word", "pops!=frist crack", output="b.jsonl")[0] == 2
    assert "Did you mean 'first crack'?" in capsys.readouterr().err


def test_all_that_a_sheet_does_not_say_is_asked_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    text = GOOD.replace("temperature (°C)", "hot").replace("gas (kPa)", "gas")
    assert take_in(tmp_path, text)[0] == 2
    missing = "which column is the temperature nor the unit of the temperatures nor the unit of the gas"
    assert f"it does not say {missing}. Give --temperature COLUMN --unit C" in capsys.readouterr().err
    monkeypatch.setattr("sys.stdin", Typist("hot\nC\nkPa\n"))
    assert take_in(tmp_path, text)[0] == 0
    said = capsys.readouterr().out
    assert said.index(f"It does not say {missing}.") < said.index("Which column is the temperature?")
    assert re.search(r"2 hot +200 +120 +85", said)


def test_the_example_sheet_comes_in_as_shipped(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["import", str(EXAMPLE.parent / "invented-sheet.csv"), "--output", str(tmp_path / "o.jsonl")]) == 0
    s = load_summary(tmp_path / "o.jsonl", "x")
    assert (s.crack_time, s.drop_time, s.readings) == (490.0, 575.0, 16)
    assert "The weight of the batch is not known: coach result ROAST in=0.8 adds it." in capsys.readouterr().out


def test_the_example_sheet_becomes_a_profile(tmp_path: Path) -> None:
    source = EXAMPLE.parent / "invented-sheet.csv"
    out = tmp_path / "p.jsonl"
    options = ["--time", "1", "--temperature", "2", "--event", "event", "--gas", "gas (mbar)", "--note", "note"]
    more = ["--decimal", "comma", "--batch", "0.8", "--output", str(out)]
    assert main(["import", str(source), *options, *more]) == 0
    profile = adopted(out, "October")
    assert profile.goals["first crack"].time == 490.0
    assert [s.value for s in profile.steps] == pytest.approx([1.6, 1.2, 0.9]), "mbar to kPa"


def test_sheets_as_people_write_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    rows = GOOD.replace("first crack", "1st Crack").splitlines()[1:]
    (tmp_path / "a.csv").write_text("\n".join(["Time,BT,Remarks,Gas %", *rows]).replace("yellow", "nearly yellow"))
    argv = ["import", str(tmp_path / "a.csv"), "--unit", "C", "--gas", "none", "--date", "2026-10-05"]
    assert main(argv) == 0
    assert "'Remarks' names events: to take them, import it again with  --event 'Remarks'" in capsys.readouterr().out
    assert main([*argv, "--event", "Remarks", "--overwrite"]) == 2, "a stated column is no other thing by its name"
    assert "--word 'nearly yellow=EVENT'" in capsys.readouterr().err
    assert main([*argv, "--event", "Remarks", "--word", "nearly yellow=none", "--overwrite"]) == 0
    assert "first crack 8:00, drop 9:30; make it a profile with  coach adopt 2026" in capsys.readouterr().out
    (file,) = (tmp_path / "roasts").glob("*.jsonl")
    assert read_journal(file).roast.notes == ((240.0, "nearly yellow"),), "a word that is no event stays as a note"
    assert main(["result", file.stem, "score", "85"]) == 0
    assert main([*argv, "--event", "Remarks", "--word", "nearly yellow=yellow", "--overwrite"]) == 0
    assert "Kept of what was added to it since: 1 line." in capsys.readouterr().out
    roast = read_journal(file).roast
    assert roast.result is not None
    assert (roast.marks["yellow"], roast.result.cup_score) == (240.0, 85.0)
    assert main([*argv[:-1], "2026-10-06", "--event", "Remarks", "--word", "nearly yellow=none"]) == 0
    assert f"The same sheet is there as {file.stem}" in capsys.readouterr().out


def test_decimal_minutes_may_have_commas(tmp_path: Path) -> None:
    def row(line: str) -> str:
        time, hot, event, _ = line.split(",")
        minutes = int(time[0]) + int(time[2:]) / 60
        return f"{minutes:.3f};{round(float(hot))};{event}".replace(".", ",")

    text = "\n".join(["min;temp C;event", *(row(x) for x in GOOD.splitlines()[1:])])
    code, out = take_in(tmp_path, text, "--time-unit", "min")
    assert code == 0
    assert load_summary(out, "out.jsonl").crack_time == 480.0
