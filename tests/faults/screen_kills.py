"""The real program in a pseudo-terminal, typed on at random and killed (SIGKILL) at random moments.

An entry counts as confirmed once the screen has shown it as logged or kept, and not merely as being saved.  What was
confirmed must stand in the journal after the kill, once each; the next start must offer the roast, take back the very
last entry by name when asked to, and have the clock where it really is.
"""

from __future__ import annotations

import json
import os
import random
import re
import signal
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import pexpect
import pyte

from coach.roast.entries import Correction
from coach.roast.roast import effective
from coach.roast.units import number
from coach.session.journal import Journal, read_journal
from coach.session.profile_files import load_profile

ROOT: Final = Path(__file__).resolve().parents[2]
EXAMPLE: Final = ROOT / "examples" / "invented-roast.jsonl"
PROFILE: Final = str(ROOT / "profiles" / "larch-hill.toml")
LOGGED: Final = re.compile(r"^\s*logged (\d+:\d\d)  (.*?)\s*$")
KEPT: Final = re.compile(r"^\s*(\S+) looks wrong .*not used")
PATIENCE: Final = 40.0
"""For the program to come up on a busy machine, s."""


@dataclass(frozen=True)
class Sent:
    """One entry that was typed: how the screen names it once it is saved, and what then stands in the journal."""

    text: str
    kind: str
    name: str
    value: object

    def stands_in(self, entry: Any) -> bool:
        """Whether a journal's entry is this one."""
        return bool(entry.kind == self.kind and getattr(entry, self.name) == self.value)


@dataclass
class Tally:
    """What came of all lives."""

    lives: int = 0
    typing: int = 0
    typed: int = 0
    unconfirmed_kept: int = 0
    confirmed: int = 0
    lost: list[str] = field(default_factory=list)
    doubled: list[str] = field(default_factory=list)
    torn: int = 0
    started_again: int = 0
    offered: int = 0
    named: int = 0
    misnamed: list[str] = field(default_factory=list)
    clock_off: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    @property
    def wrong(self) -> int:
        """How much of it must not be."""
        missing = self.started_again - self.offered
        late = sum(abs(d) > 3.0 for d in self.clock_off)
        return len(self.lost) + len(self.doubled) + missing + len(self.misnamed) + late + len(self.faults)

    def said(self) -> str:
        """The figures in words."""
        off = max(map(abs, self.clock_off), default=0.0)
        return "\n".join(
            [
                f"{self.lives} lives killed, {self.typing} of them while typed on, the others while they came up",
                f"  {self.typed} entries typed whole, {self.confirmed} confirmed on the screen, "
                f"{len(self.lost)} of these lost, {len(self.doubled)} there twice",
                f"  {self.typed - self.confirmed} not confirmed when the kill came, {self.unconfirmed_kept} of them "
                "kept",
                f"  {self.torn} journals ended in a torn line",
                f"  {self.started_again} starts with a roast left: {self.offered} offered it; the last entry was named "
                f"right {self.named} times and wrong {len(self.misnamed)} times",
                f"  clock off by {off:.1f} s at most ({len(self.clock_off)} times compared)",
                *(f"  LOST {x}" for x in self.lost),
                *(f"  TWICE {x}" for x in self.doubled),
                *(f"  MISNAMED {x}" for x in self.misnamed),
                *(f"  FAULT {x}" for x in self.faults),
            ]
        )


class Terminal:
    """The program and what stands on its screen."""

    def __init__(self, args: Sequence[str], home: Path) -> None:
        env = {**os.environ, "COACH_HOME": str(home), "TERM": "xterm-256color", "PYTHONPATH": str(ROOT)}
        self.child: Any = pexpect.spawn(sys.executable, ["-m", "coach", *args], dimensions=(24, 80), env=env, timeout=5)
        self.child.delaybeforesend = None
        self.screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self.screen)
        self.shown: list[str] = []
        """Every message that said that something is saved, in order, each once."""

    def read(self, seconds: float) -> bool:
        """Feed what comes next; whether the program still lives."""
        try:
            data = self.child.read_nonblocking(2048, timeout=seconds)
        except pexpect.TIMEOUT:
            return True
        except pexpect.EOF:
            return False
        self._stream.feed(data)
        for line in self.screen.display[-4:]:
            if (LOGGED.match(line) or KEPT.match(line)) and line.strip() not in self.shown[-1:]:
                self.shown.append(line.strip())
        return True

    @property
    def text(self) -> str:
        return "\n".join(self.screen.display)

    def until(self, pattern: str, end: float) -> bool:
        """Wait until something stands on the screen, or for the moment ``end``."""
        while not re.search(pattern, self.text):
            left = end - time.monotonic()
            if left <= 0 or not self.read(min(0.05, left)):
                return bool(re.search(pattern, self.text))
        return True

    def wait(self, end: float) -> None:
        """Read until ``end``."""
        while (left := end - time.monotonic()) > 0:
            self.read(min(0.02, left))

    def kill(self) -> None:
        """SIGKILL, and read what had been painted by then."""
        os.kill(self.child.pid, signal.SIGKILL)
        end = time.monotonic() + 5.0
        while self.read(0.5) and time.monotonic() < end:
            pass
        self.child.close(force=True)


class Fingers:
    """What is typed on one roast.  Every entry differs from all others of the roast."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.sent: list[Sent] = []
        self._used: set[str] = set()
        self._count = 0
        self._curve = load_profile("larch-hill").curve

    def _fresh(self, draw: Any) -> str:
        while True:
            text = str(draw())
            if text not in self._used:
                self._used.add(text)
                return text

    def one(self, t: float) -> tuple[bytes, Sent]:
        """The keys of one entry at roast time ``t`` (s), and the entry."""
        rng, how = self.rng, self.rng.random()
        self._count += 1
        if how < 0.6:
            near = min(self._curve.value(max(t, 1.0)), 212.0)
            text = self._fresh(lambda: f"{near + rng.uniform(-4, 4):.1f}")
            ago = f" -{rng.randint(1, 9)}" if rng.random() < 0.15 else ""
            return f"{text}{ago}\r".encode(), Sent(text + ago, "reading", "temperature", float(text))
        if how < 0.75:
            text = self._fresh(lambda: f"{rng.uniform(0.3, 2.6):.3f}")
            return f"g{text}\r".encode(), Sent(f"g{text}", "move", "value", float(text))
        if how < 0.8 and t > 150 and "y" not in self._used:
            self._used.add("y")
            return b"y", Sent("yellow", "mark", "event", "yellow")
        return f"/k{self._count}\r".encode(), Sent(f"/k{self._count}", "note", "text", f"k{self._count}")


def seeded(home: Path, into: float) -> int:
    """A roast of the example that was left ``into`` seconds after it was opened, as the journal on disk; its lines."""
    header, *entries = EXAMPLE.read_text(encoding="utf-8").splitlines()
    started = (datetime.now(UTC) - timedelta(seconds=into)).isoformat()
    kept = [e for e in entries if json.loads(e).get("typed", json.loads(e)["at"]) < into - 1]
    (home / "roasts").mkdir(parents=True)
    lines = [json.dumps({**json.loads(header), "id": "left", "started": started}), *kept]
    (home / "roasts" / "left.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return len(lines)


def journals(home: Path) -> list[Journal]:
    """Every journal on disk."""
    return [read_journal(p) for p in sorted((home / "roasts").glob("*.jsonl"))]


def last_name(journal: Journal) -> str:
    """How the newest entry that stands is called when it is taken back."""
    standing = {n.line for n in effective(journal.entries)}
    entry: Any = next(n.entry for n in reversed(journal.entries) if n.line in standing)
    if entry.kind == "reading":
        return number(entry.temperature)
    if entry.kind == "move":
        return f"{entry.control} {number(entry.value, 2)}"
    if entry.kind == "note":
        return f"note '{entry.text[:20]}'"
    return str(getattr(entry, "event", None) or entry.kind)


class Roast:
    """One roast's lives."""

    def __init__(self, home: Path, seed: int, tally: Tally, *, rehearsed: bool = False, into: float = 0.0) -> None:
        self.home, self.rng, self.tally, self.rehearsed = home, random.Random(seed), tally, rehearsed
        self.fingers = Fingers(self.rng)
        self.confirmed: set[Sent] = set()
        self._pastes: list[list[Sent]] = []
        self._probed: float | None = None
        self._kept = seeded(home, into) if into else 0

    def live(self, early: float = 0.2) -> None:
        """Start the program, type, kill it, look at the disk.  ``early``: how often it is killed as it comes up."""
        rng, tally = self.rng, self.tally
        left = self._left()
        args = ["follow", PROFILE]
        if self.rehearsed:
            args = ["rehearse", PROFILE, f"--seed={rng.randrange(1000)}", "--speed=10"]
        self._pastes, self._probed = [], None
        terminal, began = Terminal(args, self.home), time.monotonic()
        up = began + (rng.uniform(0.05, 2.0) if rng.random() < early else PATIENCE)
        before = len(self.fingers.sent)
        tally.lives += 1
        tally.started_again += left is not None and up == began + PATIENCE
        if self._come_up(terminal, left, up):
            tally.typing += 1
            whole = self._type(terminal, left, time.monotonic() + rng.uniform(0.05, 4.5))
            if whole and rng.random() < 0.6:  # while an entry is on its way
                self._send(terminal, [self.fingers.one(60.0)], time.monotonic() + 9.0)
                terminal.wait(time.monotonic() + rng.uniform(0.0, 0.06))
        elif up == began + PATIENCE:
            tally.faults.append(f"did not come up:\n{terminal.text}")
        terminal.kill()
        self.look(terminal.shown, self.fingers.sent[before:])
        if "Traceback" in terminal.text:
            tally.faults.append(terminal.text)

    def _left(self) -> Journal | None:
        """The roast that the next start must offer."""
        if self.rehearsed or not (self.home / "roasts").is_dir():
            return None
        return next((j for j in reversed(journals(self.home)) if j.entries), None)

    def _come_up(self, terminal: Terminal, left: Journal | None, end: float) -> bool:
        """From the start to the roast; whether it was reached before ``end``."""
        if not terminal.until("unfinished roast" if left is not None else "CAUTION", end):
            return False
        self.tally.offered += left is not None and end > time.monotonic() + 3.0
        terminal.child.send(b"\r")
        if not terminal.until("NEXT", end):
            return False
        if left is None:
            charge = Sent("charge", "mark", "event", "charge")
            self.fingers.sent.append(charge)
            self.tally.typed += 1
            terminal.child.send(b"c")
        return True

    def _type(self, terminal: Terminal, left: Journal | None, end: float) -> bool:
        """Type until ``end``, as fast as a quick person or faster, now and then as a paste; whether no line is half
        typed."""
        rng, opened = self.rng, time.monotonic()
        if left is not None and rng.random() < 0.6:
            self._probe(terminal, left, end)
        into = self._into(left)
        while time.monotonic() < end:
            lines = [self.fingers.one(into + time.monotonic() - opened) for _ in range(rng.choice((1, 1, 1, 1, 3)))]
            if not self._send(terminal, lines, end):
                return False
            terminal.wait(min(time.monotonic() + rng.expovariate(6.0), end))
        return True

    def _send(self, terminal: Terminal, lines: list[tuple[bytes, Sent]], end: float) -> bool:
        """Type one entry, or paste several; whether it was typed whole before ``end``."""
        if len(lines) > 1 and all(keys.endswith(b"\r") for keys, _ in lines):
            pasted = b"".join(keys for keys, _ in lines).replace(b"\r", b"\n")
            terminal.child.send(b"\x1b[200~" + pasted + b"\x1b[201~")
            self._pastes.append([s for _, s in lines])
        else:
            del lines[1:]
            keys = lines[0][0]
            for n in range(len(keys)):
                if n:
                    terminal.wait(min(time.monotonic() + self.rng.choice((0.0, 0.0, 0.02, 0.06)), end))
                    if time.monotonic() >= end:
                        return False
                terminal.child.send(keys[n : n + 1])
        self.fingers.sent += [s for _, s in lines]
        self.tally.typed += len(lines)
        return True

    def _into(self, left: Journal | None) -> float:
        """Roast time now, s."""
        if left is None:
            return 0.0
        charge = next((n.entry.at for n in left.entries if getattr(n.entry, "event", "") == "charge"), 0.0)
        return (datetime.now(UTC) - datetime.fromisoformat(left.header.started)).total_seconds() - charge

    def _probe(self, terminal: Terminal, left: Journal, end: float) -> None:
        """Take back the last entry, which must be the one on disk; then see when it came in by the roast's clock."""
        name, gone = last_name(left), time.monotonic()
        terminal.child.send(b"\x1b")
        terminal.wait(min(gone + 0.15, end))
        asked = time.time()
        terminal.child.send(b"\x7f")
        if not terminal.until(r"Backspace again withdraws: ", min(end, gone + 10.0)):
            return
        terminal.child.send(b"\x7f")
        if not terminal.until(r"logged .*withdrawn: ", min(end, gone + 10.0)):
            return
        terminal.wait(min(time.monotonic() + 0.1, end))  # the rest of what is being painted
        self._probed = asked
        found = re.search(r"withdrawn: (.*?) at -?\d+:\d\d", terminal.text, re.MULTILINE)
        if found is None or found[1] != name:
            self.tally.misnamed.append(f"{name!r}: {terminal.text}")
        self.tally.named += found is not None and found[1] == name

    def look(self, shown: list[str], sent: list[Sent]) -> None:
        """After a kill: what was confirmed (messages ``shown``, entries ``sent`` in that life) against what is on
        disk."""
        tally = self.tally
        told = self.confirmed | {s for s in sent if any(self._confirms(x, s) for x in shown)}
        for paste in self._pastes:  # "logged" is said when nothing waits for the disk any more
            if paste[-1] in told:
                told |= set(paste)
        tally.confirmed += len(told) - len(self.confirmed)
        self.confirmed = told
        folder = self.home / "roasts"
        paths = sorted(folder.glob("*.jsonl")) if folder.is_dir() else []
        tally.torn += sum(not p.read_bytes().endswith(b"\n") for p in paths)
        found = [
            n.entry for j in journals(self.home) for n in j.entries if j.header.id != "left" or n.line > self._kept
        ]
        for s in sorted(told, key=lambda s: s.text):
            times = sum(s.stands_in(e) for e in found)
            if not times:
                tally.lost.append(f"{s} in {self.home}")
                self.confirmed = self.confirmed - {s}  # once is enough
            tally.doubled += [f"{s} in {self.home}"] * (times > 1)
        tally.unconfirmed_kept += sum(any(s.stands_in(e) for e in found) for s in sent if s not in told)
        if self._probed is not None:
            self._compare(self._probed)
        faults = self.home / "faults.txt"
        if faults.exists():
            tally.faults.append(faults.read_text()[-600:])
            faults.unlink()

    def _compare(self, asked: float) -> None:
        """The clock of the roast against the wall clock at the moment something was taken back."""
        journal = next(j for j in reversed(journals(self.home)) if j.entries)
        withdrawn = [n.entry.at for n in journal.entries if isinstance(n.entry, Correction)]
        if not withdrawn:
            self.tally.lost.append(f"a withdrawal in {self.home}")
            return
        self.tally.clock_off.append(
            withdrawn[-1] - (asked - datetime.fromisoformat(journal.header.started).timestamp())
        )

    @staticmethod
    def _confirms(shown: str, sent: Sent) -> bool:
        found = LOGGED.match(shown)
        if found is not None:
            return found[2] == sent.text or found[2].startswith(sent.text + "  ")
        kept = KEPT.match(shown)
        return kept is not None and kept[1] == sent.text
