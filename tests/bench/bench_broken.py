"""A logbook full of broken journals: ``python tests/bench/bench_broken.py [JOURNALS [SEED]]``.

JOURNALS (500) journals are broken in forty ways and more, and put, fifty to a logbook, beside five good ones.  Each
command that reads a folder of journals runs on each logbook, in this process.  Found is: an exception; another exit
code than with the good ones alone; a journal that must be refused and is not named, or in more than one line of a
command; more than 2 s of processor time beyond what good journals cost.  Each journal is then given by its name to
commands that take one: 0 or 2 is right, 2 comes with one line, and what must be refused is.  Those of the first logbook
follow the profile that is asked about; in the others those that can be read follow another one.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final, Literal

from findings import Findings

from coach.app.cli import main as coach

ROOT: Final = Path(__file__).resolve().parents[2]
EXAMPLE: Final = (ROOT / "examples" / "invented-roast.jsonl").read_text(encoding="utf-8").splitlines()
ACCEPTED: Final = '{"kind": "result", "at": 900, "accepted": true, "colour": 60}'
EACH: Final = 50
GOOD: Final = 5
LIMIT: Final = 2.0
"""Seconds of processor time for one command, beside what each journal that can be read costs."""
Must = Literal["be named", "be read", "either"]
Make = Callable[[Path, list[str], random.Random], object]


def lines_of(number: int, profile: str = "") -> list[str]:
    """A good journal, unlike the others."""
    head = json.loads(EXAMPLE[0])
    started = datetime(2026, 3, 1, 8, tzinfo=UTC) + timedelta(hours=number)
    head |= {"id": f"roast-{number}", "started": started.isoformat()}
    if profile:
        head["profile"] = profile
    return [json.dumps(head), *EXAMPLE[1:]]


def put(data: bytes) -> Make:
    return lambda path, lines, rng: path.write_bytes(data)


def text(change: Callable[[str, random.Random], str]) -> Make:
    """The whole text changed."""
    return lambda path, lines, rng: path.write_bytes(
        change("\n".join(lines) + "\n", rng).encode("utf-8", "surrogatepass")
    )


def rows(change: Callable[[list[str], random.Random], list[str]]) -> Make:
    """The lines changed."""
    return lambda path, lines, rng: path.write_bytes(
        ("\n".join(change(lines, rng)) + "\n").encode("utf-8", "surrogatepass")
    )


def header(**changes: Any) -> Make:
    return rows(lambda lines, rng: [json.dumps(json.loads(lines[0]) | changes), *lines[1:]])


def entry(change: Callable[[dict[str, Any], random.Random], dict[str, Any]]) -> Make:
    """One entry changed."""

    def changed(lines: list[str], rng: random.Random) -> list[str]:
        at = rng.randrange(1, len(lines))
        return [*lines[:at], json.dumps(change(json.loads(lines[at]), rng)), *lines[at + 1 :]]

    return rows(changed)


def raw(line: str) -> Make:
    """One more line as it is, somewhere."""

    def changed(lines: list[str], rng: random.Random) -> list[str]:
        at = rng.randrange(1, len(lines))
        return [*lines[:at], line, *lines[at:]]

    return rows(changed)


def closed_to_all(path: Path, lines: list[str], rng: random.Random) -> None:
    """A file that nobody may read."""
    path.write_bytes(b"x")
    path.chmod(0)


def link(to: str) -> Make:
    return lambda path, lines, rng: path.symlink_to(path if to == "itself" else path.parent / to)


def bigger(path: Path, lines: list[str], rng: random.Random) -> None:
    path.write_bytes(("\n".join(lines) + "\n").encode() + b"\n" * 9_000_000)


WAYS: Final[dict[str, tuple[Must, Make]]] = {
    "cut-in-the-header": ("be named", text(lambda t, r: t[: r.randrange(5, 60)])),
    "torn": ("be read", text(lambda t, r: t[: r.randrange(len(t) // 2, len(t))])),
    "empty": ("be named", put(b"")),
    "only-line-ends": ("be named", put(b"\n" * 30)),
    "zero-bytes": ("be named", put(b"\0" * 4096)),
    "zero-in-a-line": ("be named", rows(lambda x, r: [*x[:4], x[4][:9] + "\0\0" + x[4][9:], *x[5:]])),
    "byte-order-mark": ("be read", text(lambda t, r: "\ufeff" + t)),
    "crlf": ("be read", text(lambda t, r: t.replace("\n", "\r\n"))),
    "cr-alone": ("either", text(lambda t, r: t.replace("\n", "\r"))),
    "utf-16": ("be named", lambda p, x, r: p.write_bytes("\n".join(x).encode("utf-16"))),
    "latin-1": ("be named", lambda p, x, r: p.write_bytes("\n".join(x).encode() + "\né\n".encode("latin-1") * 3)),
    "doubled-header": ("either", rows(lambda x, r: [x[0], *x])),
    "doubled-lines": ("either", rows(lambda x, r: [x[0], *(y for y in x[1:] for _ in range(2))])),
    "doubled-journal": ("either", rows(lambda x, r: x + x)),
    "no-header": ("be named", rows(lambda x, r: x[1:])),
    "header-last": ("be named", rows(lambda x, r: [*x[1:], x[0]])),
    "reversed": ("either", rows(lambda x, r: [x[0], *reversed(x[1:])])),
    "blank-lines": ("either", rows(lambda x, r: [y for z in x for y in (z, "", "   ")])),
    "started-never": ("be named", header(started="yesterday")),
    "started-in-9999": ("either", header(started="9999-12-31T23:59:59+00:00")),
    "started-in-year-1": ("either", header(started="0001-01-01T00:00:00+14:00")),
    "started-a-number": ("be named", header(started=1e300)),
    "version-99": ("be named", header(version=99)),
    "id-missing": ("be named", rows(lambda x, r: [x[0].replace('"id"', '"no"'), *x[1:]])),
    "id-of-escapes": ("either", header(id="\x1b]0;owned\x07" + "z\u0335" * 40)),
    "id-of-surrogates": ("either", header(id="\ud800")),
    "header-a-list": ("be named", rows(lambda x, r: ["[1, 2, 3]", *x[1:]])),
    "at-1e400": ("be named", raw('{"kind": "pop", "at": 1e400}')),
    "at-of-4000-digits": ("be named", raw('{"kind": "pop", "at": ' + "9" * 4000 + "}")),
    "hotter-than-the-sun": ("be named", entry(lambda e, r: {"kind": "reading", "at": e["at"], "temperature": 1e9})),
    "at-a-word": ("be named", entry(lambda e, r: e | {"at": r.choice(("x", None, [], {}, True))})),
    "typed-before-it-happened": ("be named", entry(lambda e, r: e | {"typed": e["at"] - 500})),
    "typed-days-later": ("either", entry(lambda e, r: e | {"typed": e["at"] + 900_000})),
    "at-the-ends-of-time": ("either", entry(lambda e, r: e | {"at": r.choice((-1e6, 1e6)), "typed": 1e6})),
    "kind-unknown": ("either", entry(lambda e, r: e | {"kind": "dance"})),
    "nested-900-deep": ("either", raw('{"kind": "pop", "at": 1, "x": ' + "[" * 900 + "]" * 900 + "}")),
    "nested-90000-deep": ("be named", raw("[" * 90_000)),
    "corrections-of-nothing": ("either", raw('{"kind": "correction", "at": 9, "of": 9999, "replace": null}')),
    "corrections-of-corrections": (
        "either", raw('{"kind": "correction", "at": 9, "of": 2, "replace": {"kind": "correction", "of": 2}}')),
    "a-page": ("be named", put(b"<!DOCTYPE html><html><body>404</body></html>\n")),
    "an-archive": ("be named", put(b"PK\x03\x04" + bytes(range(256)) * 9)),
    "larger-than-8-mb": ("be named", bigger),
    "a-link-to-nowhere": ("be named", link("gone.jsonl")),
    "a-link-in-a-circle": ("be named", link("itself")),
    "a-link-to-a-good-one": ("either", link("good-0.jsonl")),
    "a-folder": ("be named", lambda p, x, r: p.mkdir()),
    "a-pipe": ("be named", lambda p, x, r: os.mkfifo(p)),
    "not-to-be-opened": ("either", closed_to_all),
}  # fmt: skip
PROFILE: Final = str(ROOT / "profiles" / "larch-hill.toml")
FOLDERS: Final = (
    ("log",), ("log", "--json"), ("trend", PROFILE), ("accuracy", PROFILE), ("accuracy", PROFILE, "--of", "forecasts"),
    ("accuracy", PROFILE, "--of", "cues"), ("accuracy", PROFILE, "--of", "advice"), ("accuracy", PROFILE),
    ("learnt", PROFILE), ("fit", "--overwrite"),
    ("brief", PROFILE), ("merge", PROFILE, "--show"), ("close",), ("review", "last", "--profile", PROFILE),
    ("log", "last"), ("export", "last"), ("progress",),
)  # fmt: skip
ONE: Final = (("log",), ("export",), ("replay",))
REMARKS: Final = ("progress", "export", "brief")
"""Commands that need not look at all journals."""


def run(argv: tuple[str, ...]) -> tuple[object, str, str, float]:
    """Exit code (or the exception), both outputs, and seconds of processor time."""
    out, err, began = io.TextIOWrapper(io.BytesIO(), encoding="utf-8"), io.StringIO(), time.process_time()
    code: object
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code = coach(list(argv))
        except SystemExit as end:
            code = end.code
        except BaseException as error:
            code = repr(error)[:300]
    took = time.process_time() - began
    out.flush()
    return code, out.buffer.getvalue().decode(), err.getvalue(), took


class Bench(Findings):
    """What was tried and found."""

    def __init__(self, place: Path, seed: int) -> None:
        super().__init__()
        self.place, self.rng = place, random.Random(seed)
        self.journals, self.runs, self.slowest, self.slow = 0, 0, 0.0, ""
        self.said: Counter[str] = Counter()

    def tried(self, argv: tuple[str, ...], limit: float = LIMIT) -> tuple[object, str, str]:
        code, out, err, took = run(argv)
        self.runs += 1
        if took > self.slowest:
            self.slowest, self.slow = took, " ".join(argv)
        if took > limit:
            self.fault(f"too slow: {argv[0]}", f"{took:.1f} s, not {limit:.1f}: {argv}")
        if code not in (0, 1, 2):
            self.fault(f"{argv[0]} ends with {code}", f"{argv}\n{out[-300:]}\n{err[-600:]}")
        return code, out, err

    def logbook(self, number: int, many: int) -> None:
        """One logbook: alone with good journals, then with ``many`` broken ones beside them."""
        home = self.place / f"home-{number}"
        folder = home / "roasts"
        folder.mkdir(parents=True)
        os.environ["COACH_HOME"], os.environ["COACH_CACHE"] = str(home), str(home / "cache")
        for n in range(GOOD):
            (folder / f"good-{n}.jsonl").write_text("\n".join([*lines_of(n), ACCEPTED]) + "\n")
        usual, cost = {}, {}
        for argv in FOLDERS:
            usual[argv], _, _, cost[argv] = run(argv)
        broken: dict[str, str] = {}
        names = sorted(WAYS)
        for n in range(many):
            way = names[(self.journals + n) % len(names)]
            name = f"b{n:03d}-{way}.jsonl"
            other = number and WAYS[way][0] != "be named"  # replaying all is slow
            lines = lines_of(100 + n, "Another plan (invented)" if other else "")
            WAYS[way][1](folder / name, lines, self.rng)
            broken[name] = way
        self.journals += many
        for argv in FOLDERS:
            readable = sum(WAYS[way][0] != "be named" for way in broken.values())
            readable *= number == 0 or argv[0] == "fit"  # it asks for a machine, not for a plan
            code, out, err = self.tried(argv, LIMIT + readable * cost[argv] / GOOD)
            if code != usual[argv] and argv != ("close",):  # some of them are unfinished roasts
                self.fault(f"another exit code: {argv[0]}", f"{argv}: {code}, not {usual[argv]}\n{err[-600:]}")
            if argv[0] in REMARKS or argv[-1] == "last" or "last" in argv or argv == ("close",):
                continue
            lines = (out + err).splitlines()
            for name, way in broken.items():
                times = sum(name[:4] in line for line in lines if "passed over" in line or "can't be read" in line)
                must = WAYS[way][0]
                self.said[f"{way} ({must}): {'named' if times else 'read'}"] += 1
                if must == "be named" and times != 1:
                    self.fault(f"{way} is named {times} times by {argv[0]}", f"{argv}\n{err[-3000:]}")
                if must == "be read" and times:
                    self.fault(f"{way} is not read by {argv[0]}", f"{argv}\n{err[-3000:]}")
        for name, way in broken.items():
            for words in ONE:
                more = ("--profile", PROFILE, "--text") if words == ("replay",) else ()
                code, _, err = self.tried((*words, str(folder / name), *more))
                if code == 2 and (len(err.splitlines()) != 1 or not err.startswith("coach: ")):
                    self.fault(f"{words[0]} refuses {way} in other than one line", err[-500:])
                if code == 0 and WAYS[way][0] == "be named":
                    self.fault(f"{words[0]} takes {way}", name)


def main(argv: list[str]) -> int:
    many, seed = int(argv[0]) if argv else 500, int(argv[1]) if len(argv) > 1 else 1
    with tempfile.TemporaryDirectory(prefix="broken-") as place:
        bench, number = Bench(Path(place), seed), 0
        while bench.journals < many:
            bench.logbook(number, min(EACH, many - bench.journals))
            number += 1
            print(
                f"  ... {bench.journals} journals, {bench.runs} runs, {dict(bench.found)}", file=sys.stderr, flush=True
            )
    print(f"{bench.journals} journals broken in {len(WAYS)} ways, {number} logbooks, {bench.runs} commands run; "
          f"slowest {bench.slowest:.2f} s of processor time ({bench.slow})")  # fmt: skip
    for what, times in sorted(bench.said.items()):
        print(f"  {what}: {times}")
    return bench.report()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
