"""Somebody who types on after each crash: ``python tests/bench/bench_impatient.py [KILLS [SEED]]``.

The real program runs in a pseudo-terminal and is killed (SIGKILL) at random moments, KILLS (200) times, ten for a
roast: three of ten while it comes up, the others some moments after it confirmed entries.  It is started again at once,
and from that moment on keys come, whatever stands on the screen: Enter, Enter several times, the next reading, a note
whose letters are keys of the first screen.  After each kill: every line that the screen showed as logged is in the
journal, once; the folder holds one roast; and each start comes to take entries again.  Prints what was counted and what
was found.
"""

from __future__ import annotations

import contextlib
import os
import random
import re
import signal
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pexpect
import pyte
from findings import Findings

from coach.session.journal import read_journal

ROOT: Final = Path(__file__).resolve().parents[2]
SAID: Final = re.compile(r"logged -?\d+:\d\d  (\S.*?)(?:  |\s*$)|^\s*(\S+) looks wrong")
WORDS: Final = ("", "annex ", "running on ", "xx ", "no ", "door ", "unseen ", "ooh ")
"""Notes begin with them: n, x, o and u mean something on the first screen."""
PATIENCE: Final = 120.0
"""For a start on a busy machine, s."""


@dataclass
class Count(Findings):
    """What was counted and found."""

    kills: int = 0
    early: int = 0
    typed: int = 0
    confirmed: int = 0
    reached: int = 0
    roasts: int = 0
    slowest: float = 0.0


class Person:
    """One roast's lives under somebody's fingers."""

    def __init__(self, home: Path, rng: random.Random, count: Count) -> None:
        self.home, self.rng, self.count = home, rng, count
        self.number = 0
        self.shown: set[str] = set()
        self.charged = False

    def text(self) -> str:
        """The next line, unlike all before it."""
        self.number += 1
        n, draw = self.number, self.rng.random()
        if draw < 0.5:
            return f"{100 + n // 10}.{n % 10}"
        if draw < 0.7:
            return f"g{1 + n / 1000:.3f}"
        return f"/{self.rng.choice(WORDS)}k{n}"

    def life(self) -> None:
        """Start, type from the first moment on, be killed; then look at the disk."""
        rng, count = self.rng, self.count
        env = {**os.environ, "COACH_HOME": str(self.home), "TERM": "xterm-256color", "PYTHONPATH": str(ROOT)}
        command = ["-m", "coach", "follow", str(ROOT / "profiles" / "larch-hill.toml")]
        child: Any = pexpect.spawn(sys.executable, command, dimensions=(24, 100), env=env, timeout=5)
        child.delaybeforesend = None
        screen = pyte.Screen(100, 24)
        stream, began = pyte.ByteStream(screen), time.monotonic()
        early = rng.random() < 0.3
        end = began + (rng.uniform(0.02, 2.5) if early else PATIENCE)
        wanted, before = rng.randint(1, 6), len(self.shown)
        keys: list[tuple[float, bytes]] = [
            (0.0, k) for k in rng.choice(((b"\r",), (b"\r",), (b"\r", b"\r", b"\r"), ()))
        ]
        next_key, first, asked = began, 0.0, 0.0
        while time.monotonic() < end:
            now = time.monotonic()
            if now >= next_key:
                if not keys:
                    keys = self.line()
                wait, key = keys.pop(0)
                child.send(key)
                next_key = now + wait
            try:
                stream.feed(child.read_nonblocking(65536, timeout=0.02))
            except pexpect.TIMEOUT:
                pass
            except pexpect.EOF:
                count.fault("the program ended by itself", "\n".join(screen.display))
                break
            self.watch(screen)
            if not self.charged and now > asked + 3.0 and "CHARGE AT" in "\n".join(screen.display):
                child.send(b"\x1b")
                count.typed += 1
                keys, asked, next_key = [(0.5, b"c")], now, now + 0.3
            if not early and len(self.shown) >= before + wanted and end > now + 1.0:
                first = first or now
                end = now + rng.uniform(0.0, 0.6)
        else:
            if not early and not first:
                count.fault("takes no entry any more", "\n".join(screen.display))
        os.kill(child.pid, signal.SIGKILL)
        with contextlib.suppress(pexpect.EOF, pexpect.TIMEOUT):
            while True:
                stream.feed(child.read_nonblocking(65536, timeout=0.5))
                self.watch(screen)
        with contextlib.suppress(pexpect.ExceptionPexpect):  # a busy machine takes its time to bury it
            child.close(force=True)
        count.kills += 1
        count.early += early
        count.confirmed += len(self.shown) - before
        count.reached += len(self.shown) > before
        count.slowest = max(count.slowest, first - began)
        self.look(screen)

    def line(self) -> list[tuple[float, bytes]]:
        """The keys of the next line, each with the wait after it (s); now and then Enter alone."""
        rng = self.rng
        if rng.random() < 0.15:
            return [(rng.uniform(0.05, 0.4), b"\r")]
        pace = rng.choice((0.0, 0.0, 0.03, 0.12))
        self.count.typed += 1
        out = [(pace, c.encode()) for c in self.text()]
        return [*out, (rng.expovariate(3.0), b"\r")]

    def watch(self, screen: Any) -> None:
        """Keep what the screen confirms."""
        for row in screen.display:
            for logged, wrong in SAID.findall(row):
                text = (logged or wrong).strip()
                if text == "charge":
                    self.charged = True
                if re.fullmatch(r"\d{3}\.\d|g\d\.\d{3}|/.*k\d+|charge", text):
                    self.shown.add(text)

    def look(self, screen: Any) -> None:
        """The folder against what was confirmed."""
        painted, folder = "\n".join(screen.display), self.home / "roasts"
        paths = sorted(folder.rglob("*.jsonl")) if folder.is_dir() else []
        held: Counter[str] = Counter()
        begun = 0
        for path in paths:
            if not path.read_bytes().count(b"\n"):
                continue  # its first line was not whole when the kill came
            entries = read_journal(path, check=False).entries
            begun += any(n.entry.kind != "sound check" for n in entries)  # type: ignore[attr-defined]
            for n in entries:
                held[self.typed_as(n.entry)] += 1
        if begun > 1:
            self.count.fault("a second roast was begun", f"{self.home}\n{painted}")
        for text in self.shown:
            if held[text] != 1:
                what = "a confirmed entry is lost" if not held[text] else "a confirmed entry is there twice"
                self.count.fault(what, f"{text} in {self.home}\n{painted}")
        if (self.home / "faults.txt").exists():
            self.count.fault("a fault in the coach", (self.home / "faults.txt").read_text()[-800:])
        if "Traceback" in painted:
            self.count.fault("a traceback", painted)

    @staticmethod
    def typed_as(entry: Any) -> str:
        """The line that makes an entry."""
        if entry.kind == "reading":
            return f"{entry.temperature:.1f}"
        if entry.kind == "move":
            return f"g{entry.value:.3f}"
        if entry.kind == "note":
            return f"/{entry.text}"
        return str(getattr(entry, "event", entry.kind))


def main(argv: list[str]) -> int:
    kills, seed = int(argv[0]) if argv else 200, int(argv[1]) if len(argv) > 1 else 1
    rng, count, began = random.Random(seed), Count(), time.monotonic()
    with tempfile.TemporaryDirectory(prefix="impatient-") as folder:
        os.environ["COACH_CACHE"] = f"{folder}/cache"
        while count.kills < kills:
            person = Person(Path(folder) / f"home-{count.roasts}", rng, count)
            count.roasts += 1
            for _ in range(min(10, kills - count.kills)):
                person.life()
            print(f"  ... {count.kills} kills, {count.confirmed} confirmed, {time.monotonic() - began:.0f} s, "
                  f"found {dict(count.found)}", file=sys.stderr, flush=True)  # fmt: skip
    print(f"{count.kills} kills ({count.early} while coming up) of {count.roasts} roasts: {count.typed} lines typed, "
          f"{count.confirmed} confirmed; {count.reached} lives took entries; slowest from start to a confirmed entry "
          f"{count.slowest:.1f} s; {time.monotonic() - began:.0f} s, load {os.getloadavg()[0]:.1f}")  # fmt: skip
    return count.report()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
