"""Odd inputs by the million: ``python tests/bench/bench_odd_input.py [COUNT [SEED [KIND ...]]]``.

COUNT (1,000,000) inputs are made of the pieces that each kind is made of, some of them odd, and given in this process:
typed lines (as the entry line takes them in a roast), lines of a journal, journals (read and folded), sheets (read, and
made a roast), profiles, settings, arguments (of every command, and run where a command only prints).  Each is taken or
refused in clean words within 1 s of processor time; all of a kind take less than 200 MB more than there was before.
Prints for each kind: inputs, taken, refused, the slowest, and memory; told to end (SIGTERM), what was done until then.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import re
import resource
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from coach.app.arguments import COMMANDS, parser
from coach.app.cli import main as coach
from coach.app.screens.entryline import EntryLine
from coach.app.screens.keys import KeyMap
from coach.logbook.sheets.columns import Columns, known
from coach.logbook.sheets.imported import header_of, roast_of, take
from coach.logbook.sheets.read_sheet import read_sheet
from coach.roast.entries import Header, Mark, Reading
from coach.roast.errors import CoachError
from coach.roast.profile import Profile
from coach.roast.roast import effective, fold
from coach.session.coach import Coach
from coach.session.journal import parse_entry, parse_header, read_journal
from coach.session.profile_files import load_profile, read_document
from coach.session.settings import Settings, load_settings

ROOT: Final = Path(__file__).resolve().parents[2]
PLAN: Final = (ROOT / "profiles" / "larch-hill.toml").read_text(encoding="utf-8")
SHARES: Final = {"typed": 0.40, "line": 0.22, "journal": 0.08, "sheet": 0.08, "profile": 0.05, "settings": 0.07,
                 "arguments": 0.10}  # fmt: skip
NUMBERS: Final = ("0", "-0", "1", "198", "198.5", "-40", "1e9", "1e400", "-1e400", "9" * 40, "nan", "inf", ".5", "5.",
                  "1,5", "1_000", "0x1f", "٣", "½", "1e-320", "99999999999999999999", "true", "null")  # fmt: skip
WORDS: Final = ("", " ", "a", "gas", "charge", "drop", "first crack", "fc", "é", "\u202e", "\x1b[2J", "\x00", "\x9b",
                "\r", "\ufeff", "z" + "\u0336" * 60, "\U0001f3ff", "'", '"', "\\", "\\u0000", "{}", "[]", "<b>", "%s",
                "{0}", "a" * 500, "../..", "~", "-", "--", "=", ";", ",", "\t", "|", "#", "@", ":", "/")  # fmt: skip
TIMES: Final = ("0:00", "6:20", "99:59", "1:2", ":30", "6:99", "6.20", "380", "-1:00", "1:00:00", "@", "noon", "")
Draw = Callable[[random.Random], Any]


def some(rng: random.Random) -> str:
    return rng.choice(rng.choice((NUMBERS, WORDS, TIMES)))


def value(rng: random.Random, deep: int = 0) -> Any:
    """Any value that JSON has, and some that it has not."""
    how = rng.randrange(9)
    if how < 2:
        return rng.choice((0, -1, 1.5, 1e6, -1e6, 1e300, 10**25, float("nan"), float("inf"), True, False, None))
    if how < 4:
        return round(rng.uniform(-10, 900), 1)
    if how < 6 or deep > 3:
        return some(rng)
    if how == 6:
        return [value(rng, deep + 1) for _ in range(rng.randrange(4))]
    if how == 7:
        return {some(rng): value(rng, deep + 1) for _ in range(rng.randrange(3))}
    return "\ud800"


def typed(rng: random.Random) -> str:
    how = rng.random()
    if how < 0.35:  # nearly right
        line = rng.choice(("198", "198.5", "g 1.3", "gas1.3", "a 4", "r 48", "y", "fc", "drop", "/note", "in 0.8",
                           "out 690g", "colour 58", "w 1.2", "redo", "help", "cup sweet"))  # fmt: skip
        return line + rng.choice(("", "@", " @ ", " -", "-", "@-")) + rng.choice((*TIMES, *NUMBERS, "10", "10s"))
    signs = "0123456789@-. gyafcdw/"
    return "".join(some(rng) if rng.random() < 0.5 else rng.choice(signs) for _ in range(rng.randrange(9)))


def entry_of(rng: random.Random, at: float) -> dict[str, Any]:
    kind = rng.choice(
        ("reading",) * 12 + ("move", "move", "pop", "pop", "note", "reply", "mark", "result", "correction")
    )
    made: dict[str, Any] = {"kind": kind, "at": round(at, 1)}
    fields: dict[str, dict[str, Any]] = {
        "reading": {"temperature": round(rng.uniform(60, 230))},
        "mark": {"event": rng.choice(("charge", "yellow", "first crack", "second crack", "drop", "turning point"))},
        "move": {"control": rng.choice(("gas", "air", "drum")), "value": rng.choice((0.5, 1.3, 4))},
        "note": {"text": some(rng)}, "reply": {"cue": "too hot", "answer": "seen"},
        "result": {"weight_in": 0.8, "colour": 60}, "pop": {},
        "correction": {"of": rng.randrange(1, 30), "replace": rng.choice((None, {"at": at}, {"temperature": 150.0}))},
    }  # fmt: skip
    return made | fields[kind]


def odd(made: dict[str, Any], rng: random.Random) -> dict[str, Any]:
    name = rng.choice((*made, "typed", "extra", "brings_back", "turned", "replace", "\ud800"))
    return made | {name: value(rng)}


def spoilt(text: str, rng: random.Random) -> str:
    at = rng.randrange(len(text) + 1)
    return text[:at] + rng.choice((some(rng), "", "\n")) + text[at + rng.randrange(6) :]


def line(rng: random.Random) -> str:
    made = entry_of(rng, rng.uniform(-100, 900))
    for _ in range(rng.randrange(3)):
        made = odd(made, rng)
    text = json.dumps(made, ensure_ascii=rng.random() < 0.5)
    return spoilt(text, rng) if rng.random() < 0.3 else text


HEAD: Final = {"kind": "roast", "version": 1, "id": "x", "started": "2026-11-02T08:00:00+00:00"}


def journal(rng: random.Random) -> bytes:
    head = HEAD if rng.random() < 0.8 else odd(dict(HEAD), rng)
    at, rows = 6.0, [json.dumps(head)] if rng.random() < 0.97 else []
    if rng.random() < 0.9:
        rows.append('{"kind": "mark", "at": 5, "event": "charge"}')
    for _ in range(rng.randrange(25)):
        at += rng.uniform(-2, 40)
        made = entry_of(rng, at)
        rows.append(json.dumps(odd(made, rng) if rng.random() < 0.04 else made))
    if rng.random() < 0.2:
        rng.shuffle(rows)
    text = rng.choice(("\n", "\n", "\n", "\r\n", "\n\n")).join(rows) + rng.choice(("\n", "\n", ""))
    text = spoilt(text, rng) if rng.random() < 0.2 else text
    data = text.encode("utf-8", "surrogatepass")
    return data[: rng.randrange(len(data) + 1)] if rng.random() < 0.1 else data


def sheet(rng: random.Random) -> bytes:
    names = ["time", "temperature (C)", "event", "gas (kPa)", "note", "air", "turned"][: rng.randint(2, 7)]
    names = [some(rng) if rng.random() < 0.01 else n for n in names]
    by, rows = rng.choice(",,,,;\t|"), []
    for n in range(rng.choice((0, 3, 12, 30, 30, 30, 30))):
        t, hot = n * 20, f"{(200, 140, 105, 90, 88)[n] if n < 5 else 75 + 4 * n}"
        cells = [f"{t // 60}:{t % 60:02d}", hot, "first crack" if n == 25 else "", "1.3" if n == 3 else "", "", "", ""]
        rows.append([some(rng) if rng.random() < 0.003 else c for c in cells[: len(names)]])
    text = "\n".join(by.join(r) for r in ([names, *rows] if rng.random() < 0.95 else rows)) + "\n"
    text = spoilt(text, rng) if rng.random() < 0.2 else text
    return text.encode(rng.choice(("utf-8", "utf-8", "utf-8", "utf-8-sig", "utf-16")), "surrogatepass")


def profile(rng: random.Random) -> bytes:
    rows = PLAN.splitlines()
    for _ in range(rng.randint(1, 3)):
        at, how = rng.randrange(len(rows)), rng.randrange(6)
        if how == 0:
            del rows[at]
        elif how == 1:
            rows.insert(rng.randrange(len(rows) + 1), rows[at])
        elif how == 2:
            rows[at] = re.sub(r"-?\d+(\.\d+)?", lambda m: rng.choice((m[0], m[0], *NUMBERS)), rows[at])
        elif how == 3:
            rows[at] = re.sub(r'"[^"]*"', lambda m: json.dumps(some(rng)), rows[at])
        elif how == 4:
            rows[at] = spoilt(rows[at], rng)
        else:
            rows.insert(at, f"{rng.choice(('x', 'name', 'limits', 'a.b.c'))} = {rng.choice(NUMBERS)}")
    return "\n".join(rows).encode("utf-8", "surrogatepass")


def settings(rng: random.Random) -> bytes:
    names = (*Settings.model_fields, "keys.charge", "keys.help", "cadence.drying", "x")
    rows = []
    for _ in range(rng.randrange(6)):
        right = rng.choice(('"C"', '"F"', "true", "false", '"auto"', '"light"', '"needle"', "30", '"k"', "{}"))
        given = right if rng.random() < 0.6 else rng.choice((json.dumps(some(rng)), rng.choice(NUMBERS), "[[1]]", "{}"))
        rows.append(f"{rng.choice(names)} = {given}")
    text = "\n".join(rows) + "\n"
    return (spoilt(text, rng) if rng.random() < 0.3 else text).encode("utf-8", "surrogatepass")


PRINTING: Final = ("log", "cues", "drills", "close", "progress", "export", "brief", "result", "compare", "merge")
OPTIONS: Final = ("--json", "--limit", "--profile", "--unit", "--last", "--since", "--batch", "--follows", "--name",
                  "--at", "--logbook", "--mark", "--date", "--time", "--word", "--help", "--of")  # fmt: skip


def arguments(rng: random.Random) -> list[str]:
    command = rng.choice(list(COMMANDS)) if rng.random() < 0.5 else rng.choice(PRINTING)
    if rng.random() < 0.05:
        command = some(rng) or "x"
    out = [command]
    for _ in range(rng.randrange(5)):
        word = rng.choice(OPTIONS) if rng.random() < 0.5 else some(rng)
        out.append(f"{word}={some(rng)}" if rng.random() < 0.2 else word)
    return [x.replace("\x00", "") for x in out]


class Kinds:
    """What each kind of input is given to."""

    def __init__(self, place: Path) -> None:
        self.place, self.number = place, 0
        self.plan = load_profile("larch-hill")
        self.typist = self.roast()

    def roast(self) -> EntryLine:
        coach_ = Coach(self.plan, Header(id="x", started="2026-11-02T08:00:00+00:00"))
        coach_.receive(Mark(at=10.0, event="charge"))
        for t in range(60, 300, 30):
            coach_.receive(Reading(at=10.0 + t, temperature=float(round(self.plan.curve.value(t)))))
        if self.number % 2:
            coach_.receive(Mark(at=300.0, event="drop"))
        return EntryLine(KeyMap(Settings()), coach_)

    def typed(self, text: str) -> bool:
        self.number += 1
        if self.number % 5000 == 0:
            self.typist = self.roast()
        entries = self.typist
        step = entries.submit(text, 320.0)
        if re.search(r"[\x00-\x1f\x7f-\x9f]", entries.message) or "validation" in entries.message:
            raise ValueError(f"no clean words: {entries.message!r}")
        return bool(step.log or step.action)

    def line(self, text: str) -> bool:
        try:
            parse_header(text, "roast.jsonl")
        except CoachError:
            parse_entry(text, "roast.jsonl", 2)
        return True

    def file(self, data: bytes, name: str) -> Path:
        path = self.place / name
        path.write_bytes(data)
        return path

    def journal(self, data: bytes) -> bool:
        found = read_journal(self.file(data, "odd.jsonl"), check=False)
        fold(found.header, effective(found.entries))
        return True

    def sheet(self, data: bytes) -> bool:
        found = read_sheet(data, "odd.csv")
        stated: dict[str, str] = {n: n for n in ("event", "note", "air", "turned", "gas (kPa)") if n in found.names}
        stated["gas"] = stated.pop("gas (kPa)", "none")
        columns: dict[str, Any] = known(
            found, stated | {"time": "1", "temperature": "2", "unit": "C", "time_unit": "m:ss"}
        )
        entries, _ = take(found, Columns(**columns), {})
        header = header_of(
            data, "odd.csv", None, "2026-11-02T08:00:00+00:00", unit="C", pressure_unit="kPa", batch_kg=1.0
        )
        roast_of(header, entries)
        return True

    def profile(self, data: bytes) -> bool:
        Profile(read_document(self.file(data, "odd.toml")))
        return True

    def settings(self, data: bytes) -> bool:
        load_settings(self.file(data, "settings.toml")).applied(self.plan)
        return True

    def arguments(self, argv: list[str]) -> bool:
        out, err = io.TextIOWrapper(io.BytesIO(), encoding="utf-8"), io.StringIO()
        code: Any = 0
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            if argv[0] in PRINTING or argv[0] not in COMMANDS:
                code = coach([*argv, "--"] if argv[0].startswith("-") else argv)
            else:
                try:
                    parser().parse_known_args(argv)
                except SystemExit as end:
                    code = end.code
        if code not in (0, 1, 2):
            raise ValueError(f"ends with {code}")
        if code == 2 and not err.getvalue().strip():
            raise ValueError("says nothing")
        if re.search(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202e]", err.getvalue()):
            raise ValueError(f"no clean words: {err.getvalue()!r}")
        return bool(code == 0)


DRAWS: Final[dict[str, Draw]] = {"typed": typed, "line": line, "journal": journal, "sheet": sheet, "profile": profile,
                                 "settings": settings, "arguments": arguments}  # fmt: skip


STOP: Final[list[int]] = []
"""Not empty once the process was told to end (SIGTERM): what was done until then is printed."""


def peak() -> float:
    """Greatest memory of this process so far, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def one(kind: str, count: int, seed: int, kinds: Kinds) -> int:
    """Inputs of one kind; how many were at fault."""
    rng, call, draw = random.Random(f"{kind} {seed}"), getattr(kinds, kind), DRAWS[kind]
    taken = refused = 0
    slowest, worst, before = 0.0, "", 0.0
    found: Counter[str] = Counter()
    began = time.process_time()
    for n in range(count):
        if STOP:
            count = n
            break
        data = draw(rng)
        if n == min(200, count // 2):
            before = peak()  # what is imported and kept once is there by now
        start = time.thread_time()
        try:
            if call(data):
                taken += 1
            else:
                refused += 1
        except CoachError as error:
            refused += 1
            if not error.message or re.search(r"[\x00-\x1f\x7f-\x9f]", str(error)):
                found[f"no clean words: {str(error)!r}"[:150]] += 1
        except (Exception, SystemExit) as error:
            what = f"{type(error).__name__}: {str(error)[:100]}"
            if what not in found:
                print(f"    {what}: {data!r}"[:1500], flush=True)
            found[what] += 1
        took = time.thread_time() - start
        if took > slowest:
            slowest, worst = took, repr(data)[:60]
        if took > 1.0:
            found["over 1 s"] += 1
    more = peak() - before
    if more > 200:
        found["over 200 MB"] += 1
    print(f"{kind:9} {count:8d} inputs  {taken} taken  {refused} refused  {sum(found.values())} at fault  "
          f"{time.process_time() - began:.0f} s  slowest {1000 * slowest:.1f} ms ({worst})  memory +{more:.0f} MB "
          f"(peak {peak():.0f})", flush=True)  # fmt: skip
    for what, times in found.most_common(12):
        print(f"    {times} x {what}", flush=True)
    return sum(found.values())


def main(argv: list[str]) -> int:
    signal.signal(signal.SIGTERM, lambda number, _: STOP.append(number))
    numbers = [int(a) for a in argv if a.isdigit()]
    count, seed = (numbers[:1] or [1_000_000])[0], (numbers[1:2] or [1])[0]
    asked = [a for a in argv if a in SHARES] or list(SHARES)
    whole = sum(SHARES[k] for k in asked)
    with tempfile.TemporaryDirectory(prefix="odd-") as place:
        os.environ["COACH_HOME"], os.environ["COACH_CACHE"] = f"{place}/home", f"{place}/cache"
        os.chdir(place)
        kinds = Kinds(Path(place))
        return int(sum(one(k, round(count * SHARES[k] / whole), seed, kinds) for k in asked) > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
