"""Bad inputs for the parsers, drawn fast from a seed, and the parsers as functions that take one input each.

What a parser may do with an input: take it, or refuse it with an error of the CoachError family.  Anything else is a
fault.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from coach.logbook.adopt import AdoptOptions, adopt
from coach.logbook.sheets.columns import Columns, known
from coach.logbook.sheets.imported import header_of, roast_of, take
from coach.logbook.sheets.read_sheet import column, read_sheet
from coach.roast.errors import CoachError, EntryError, FileError
from coach.roast.profile import Profile
from coach.roast.typed_line import parse
from coach.session.journal import parse_entry, parse_header, read_journal
from coach.session.profile_files import read_document

ROOT: Final = Path(__file__).parents[2]
ESCAPES: Final = (
    "\x1b]0;owned\x07",
    "\x1b[31m",
    "\x9b31m",
    "\u202e",
    "\x00",
    "\x7f",
    "\u2028",
    "<script>",
    "{{7*7}}",
    "[red]",
    "z" + "\u0335" * 40,
)
"""What must never reach a terminal or a page as it is."""
ODD: Final = (
    "1e400", "-1e400", "NaN", "nan", "inf", "-Infinity", "9" * 400, "0x10", "1_0", "-0", "1e-400",
    "٣", "½", "1,5", "١٢:٣٤",
    "\\ud800", "\ufeff", "\r", "\n", "\t", '"', "'",
    "{", "}", "[", "]", ":", ",", ";", "@", "-", "/", "=", "null", "true",
    "6:20", "@6:20", "-10", "fc", "gas", "/", "charge", "drop", "first crack", "\U0001f600", "a" * 300, "e\u0301" * 9,
    *ESCAPES,
)  # fmt: skip
PROFILE: Final = b"""name = "trial"
batch_kg = 1.0
unit = "C"
charge_temperature = 190
reference = [["0:00", 185], ["1:20", 90], ["4:00", 140], ["6:00", 170], ["8:30", 197], ["10:00", 208]]
band = {drying = 6, browning = 4, development = 3}
notes = ["a note"]
[[milestones]]
event = "first crack"
time = "8:20"
temperature = 195
[[moves]]
control = "gas"
value = 1.2
at_time = "5:00"
[drop]
temperature = 208
[limits]
safety = 235
"""
SHEET: Final = ("time,temperature,event,gas,note\n" + "".join(
    f"{t // 60}:{t % 60:02d},{90 + (t - 80) / 4.5:.1f},{'first crack' if t == 500 else ''},{1.2 if t == 80 else ''},\n"
    for t in range(80, 600, 20)
)).encode()  # fmt: skip
STATED: Final = {n: n for n in ("time", "temperature", "event", "gas", "note")} | {"unit": "C", "time_unit": "m:ss"}
LINES: Final = tuple((ROOT / "examples" / "invented-roast.jsonl").read_text(encoding="utf-8").splitlines())


@dataclass(frozen=True)
class Parser:
    """A parser under test: an input from a random source, and the call that takes it."""

    draw: Callable[[random.Random], bytes]
    call: Callable[[bytes], object]


def mutated(data: bytes, rng: random.Random, most: int = 4) -> bytes:
    """The bytes with a few places changed: bytes and odd pieces put in, put in place of others, cut out, doubled."""
    for _ in range(rng.randint(1, most)):
        at, how = rng.randrange(len(data) + 1), rng.randrange(6)
        end = min(at + rng.choice((1, 1, 2, 5, 20)), len(data))
        if how == 0:
            data = data[:at] + bytes([rng.randrange(256)]) + data[at:]
        elif how == 1:
            data = data[:at] + bytes([rng.randrange(256)]) + data[end:]
        elif how == 2:
            data = data[:at] + rng.choice(ODD).encode("utf-8", "surrogatepass") + data[end:]
        elif how == 3:
            data = data[:at] + data[end:]
        elif how == 4:
            data = data[:at] + data[at:end] * rng.randint(2, 5) + data[end:]
        else:
            data = data[:at] + rng.choice(ODD).encode() + data[at:]
    return data


def _typed(rng: random.Random) -> bytes:
    if rng.random() < 0.4:
        return mutated(
            rng.choice(("198", "164@6:20", "164 -10", "first crack", "gas 1.3", "g.7@6:00", "/note")).encode(), rng
        )
    signs = "0123456789@:-., /gyfcsdart\x00\x1b\xa0²\u0661\u202e"
    return "".join(
        rng.choice(signs) if rng.random() < 0.95 else rng.choice(ODD) for _ in range(rng.randrange(14))
    ).encode()


def _value(rng: random.Random, depth: int = 0) -> object:
    how = rng.randrange(9 if depth < 3 else 7)
    if how == 0:
        return rng.choice((0, -1, 10**30, 10**400, 1e308, -1e-300, 2**63, 1.5, True, False, None))
    if how in (1, 2):
        return rng.uniform(-50, 900)
    if how in (3, 4):
        return rng.choice(ODD)
    if how == 5:
        return rng.choice(("reading", "mark", "first crack", "gas", "seen", "correction", "useful", "C", "kPa"))
    if how == 6:
        return "\ud800" if rng.random() < 0.3 else rng.randrange(2000)
    if how == 7:
        return [_value(rng, depth + 1) for _ in range(rng.randrange(3))]
    return {rng.choice(("kind", "at", "of", "\ud800", "x", "temperature")): _value(rng, depth + 1) for _ in range(2)}


def _line(rng: random.Random) -> bytes:
    text = rng.choice(LINES)
    if rng.random() < 0.5:
        return mutated(text.encode(), rng)
    table = json.loads(text)
    for _ in range(rng.randint(1, 3)):
        name = rng.choice((*table, "kind", "of", "replace", "typed", "extra", "\ud800"))
        table[name] = _value(rng)
    return json.dumps(table, ensure_ascii=rng.random() < 0.7).encode("utf-8", "surrogatepass")


def _journal(rng: random.Random) -> bytes:
    lines = [LINES[0].encode(), *(rng.choice(LINES[1:]).encode() for _ in range(rng.randrange(12)))]
    if rng.random() < 0.4:
        of, field = rng.randrange(12), rng.choice(("at", "temperature", "kind", "event", "\ud800", "extra"))
        lines.append(json.dumps({"kind": "correction", "at": 700, "of": of, "replace": {field: _value(rng)}}).encode())
    if rng.random() < 0.6:
        at = rng.randrange(len(lines))
        lines[at] = _line(rng)
    data = b"\n".join(lines) + b"\n"
    return mutated(data, rng, 2) if rng.random() < 0.5 else data


def _profile(rng: random.Random) -> bytes:
    return mutated(PROFILE, rng)


def _sheet(rng: random.Random) -> bytes:
    return mutated(SHEET, rng) if rng.random() < 0.9 else mutated(SHEET.decode().encode("utf-16"), rng)


def _text(data: bytes) -> str:
    return data.decode("utf-8", "surrogateescape")


def _call_typed(data: bytes) -> object:
    return parse(_text(data))


def _call_line(data: bytes) -> object:
    try:
        return parse_header(_text(data), "roast.jsonl")
    except FileError:
        return parse_entry(_text(data), "roast.jsonl", 2)


def _call_sheet(data: bytes) -> object:
    sheet = read_sheet(data, "sheet.csv")
    for name in ("time", "temperature", "7", "\x1b[31m"):
        try:
            column(sheet, name, "time")
        except CoachError:
            continue
    entries, _ = take(sheet, Columns(**known(sheet, STATED)), {})
    try:
        header = header_of(
            data, "sheet.csv", None, "2026-11-02T08:00:00+00:00", unit="C", pressure_unit="kPa", batch_kg=1.0
        )
        return adopt(roast_of(header, entries), "trial", given=AdoptOptions(charge=200.0, safety=285.0))
    except (EntryError, ValueError) as error:  # the command gives these in words
        return error


def parsers(folder: Path) -> Mapping[str, Parser]:
    """All parsers; those that read files get them through ``folder``."""

    def journal(data: bytes) -> object:
        path = folder / "fuzz.jsonl"
        path.write_bytes(data)
        return read_journal(path)

    def profile(data: bytes) -> object:
        path = folder / "fuzz.toml"
        path.write_bytes(data)
        return Profile(read_document(path))

    return {
        "typed line": Parser(_typed, _call_typed),
        "journal line": Parser(_line, _call_line),
        "journal": Parser(_journal, journal),
        "profile": Parser(_profile, profile),
        "sheet": Parser(_sheet, _call_sheet),
    }


def fault(parser: Parser, data: bytes) -> str:
    """What is wrong with a parser's way with an input; '' when it took it or refused it in words."""
    try:
        parser.call(data)
    except CoachError as error:
        if not error.message or any(ord(c) < 32 or c in "\x7f\x9b" for c in str(error)):
            return f"no clean words: {str(error)!r}"
        return ""
    except BaseException as error:
        return f"{type(error).__name__}: {str(error)[:200]}"
    return ""


def bombs() -> dict[str, tuple[str, bytes]]:
    """Inputs made to take time or memory: name -> (parser, bytes)."""
    head = LINES[0].encode() + b"\n"
    mb = 1_000_000
    return {
        "number of 5000 digits typed": ("typed line", b"9" * 5000),
        "a line of 1 MB typed": ("typed line", b"1 " * (mb // 2)),
        "spaces and dashes typed": ("typed line", b"1" + b" -" * 30000),
        "commas typed": ("typed line", b"1-" * 29),
        "a note of 1 MB": ("typed line", b"/" + b"x" * mb),
        "nested 40000 deep": ("journal line", b'{"kind":"reading","at":' + b"[" * 40000),
        "nested 800 deep beside the entry": (
            "journal line", b'{"kind":"pop","at":1,"x":' + b"[" * 800 + b"]" * 800 + b"}"),
        "number of 90000 digits": ("journal line", b'{"kind":"pop","at":' + b"9" * 90000 + b"}"),
        "number of 4000 digits": ("journal line", b'{"kind":"pop","at":' + b"9" * 4000 + b"}"),
        "1e400": ("journal line", b'{"kind":"pop","at":1e400}'),
        "NaN": ("journal line", b'{"kind":"pop","at":NaN}'),
        "lone surrogate beside the entry": ("journal line", rb'{"kind":"pop","at":1,"x":"\ud800"}'),
        "lone surrogate in a note": ("journal line", rb'{"kind":"note","at":1,"text":"\ud800"}'),
        "a correction that nests": (
            "journal", head + b'{"kind":"pop","at":1}\n{"kind":"correction","at":2,"of":2,"replace":{"x":'
            + b"[" * 800 + b"]" * 800 + b"}}\n"),
        "two corrections that nest": (
            "journal", head + b'{"kind":"pop","at":1}\n' + 2 * (
                b'{"kind":"correction","at":2,"of":2,"replace":{"x":' + b"[" * 300 + b"]" * 300 + b"}}\n")),
        "20000 pops": ("journal", head + b'{"kind":"pop","at":1}\n' * 19990),
        "7.9 MB of notes": ("journal", head + (b'{"kind":"note","at":1,"text":"' + b"x" * 3990 + b'"}\n') * 1950),
        "60 MB of pops": ("journal", head + b'{"kind":"pop","at":1}\n' * (60 * mb // 22)),
        "7.9 MB of line ends": ("journal", head + b"\n" * (79 * mb // 10)),
        "7.9 MB in one line": ("journal", head + b"x" * (79 * mb // 10)),
        "10000 corrections of one entry": (
            "journal", head + b'{"kind":"pop","at":1}\n' + b"".join(
                b'{"kind":"correction","at":2,"of":2,"replace":{"at":%d}}\n' % (i % 9) for i in range(10000))),
        "0.5 MB of TOML arrays": ("profile", b"x = " + b"[" * (mb // 2)),
        "TOML nested 300 deep": ("profile", b"x = " + b"[" * 300 + b"]" * 300),
        "0.5 MB of one dotted key": ("profile", b".".join([b"a"] * (mb // 4)) + b" = 1\n"),
        "0.5 MB of dotted keys": (
            "profile", b"".join(b"%s.b%d=1\n" % (b".".join([b"a"] * 99), i) for i in range(2400))),
        "0.5 MB under one dotted table": (
            "profile", b"[" + b".".join([b"a"] * 99) + b"]\n" + b"".join(b"%d=1\n" % i for i in range(57000))),
        "0.5 MB of dotted tables": (
            "profile", b"".join(b"[%s.b%d]\n" % (b".".join([b"a"] * 60), i) for i in range(3800))),
        "0.5 MB of quoted keys": ("profile", b".".join([b'"1.1,"'] * 70000) + b" = 1\n"),
        "0.5 MB of one array": ("profile", PROFILE + b"x = [" + b"1," * (mb // 4) + b"]"),
        "0.5 MB of notes": ("profile", PROFILE.replace(b'"a note"', b'"a",' * (mb // 8))),
        "0.5 MB of wrong moves": ("profile", PROFILE + b"[[moves]]\n" * (mb // 21)),
        "a reference of 40000 points": ("profile", PROFILE.replace(b'["1:20", 90],', b'["1:20",90],' * 40000)),
        "4 MB of TOML": ("profile", PROFILE + b"#" * (4 * mb)),
        "TOML number of 5000 digits": ("profile", PROFILE.replace(b"1.0", b"9" * 5000)),
        "TOML inf": ("profile", PROFILE.replace(b"1.0", b"inf")),
        "TOML nan": ("profile", PROFILE.replace(b"90]", b"nan]")),
        "4 MB of one cell": ("sheet", SHEET + b"x" * (39 * mb // 10)),
        "4 MB of rows": ("sheet", SHEET + b"1:00,100,,,\n" * (39 * mb // 120)),
        "a sheet of 400000 columns": ("sheet", b",".join(b"c%d" % i for i in range(4 * mb // 10)) + b"\n" + b"1," * 9),
        "4 MB in an open quote": ("sheet", SHEET + b'"' + b"a\n" * (19 * mb // 10)),
        "4 MB of quotes": ("sheet", b'"' * (39 * mb // 10)),
        "4 MB of line ends, then one row": ("sheet", b"\n" * (4 * mb) + b"a,b\n"),
        "a form feed": ("sheet", b"\x0c"),
        "16 MB": ("sheet", b"a,b\n" * (4 * mb)),
    }  # fmt: skip
