"""A hostile user on the real screen: ``python tests/bench/bench_hostile.py [sequences] [seed]``.

Random keys (marks, digits, moves, refused lines, Backspace, Esc, questions, corrections, taps, pastes, help, glance,
resizing, leaving and resuming) go to the screen as it is; the clock is in the driver's hand.  The oracle looks from
outside, at the painted screen and at the file on disk, after every key:

- the journal, folded anew, is the roast that the screen works with;
- the journal grows only where the screen confirms an entry, and by no more than it names;
- an entry in force vanishes only by a Backspace pressed while the screen named just that entry;
- no two places disagree: every drop time, every safety limit; no time to act by that has passed;
- whatever the keys came to, Esc Esc and a typed reading leads out.

Prints what was tried and what was found.
"""

from __future__ import annotations

import asyncio
import random
import re
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from findings import Findings
from textual.events import Key, Paste

from coach.app.live import LiveRoast
from coach.app.screens.app import RoastApp
from coach.roast.entries import Correction, Mark, Move, Pop, Reading
from coach.roast.roast import effective, fold
from coach.roast.units import clock, number
from coach.session.journal import read_journal
from coach.session.profile_files import load_profile

ROOT: Final = Path(__file__).resolve().parents[2]
SIZES: Final = ((80, 24), (120, 36), (40, 12), (200, 60), (100, 24))
WITHDRAWS: Final = re.compile(r"(?:Backspace again|⌫|<) withdraws: (.*?) at (-?\d+:\d\d)")
CONFIRMED: Final = re.compile(r"logged -?\d+:\d\d|looks wrong|lines? logged|in memory only|saving ")
DROP_AT: Final = re.compile(r"\bdrop (?:at )?(\d+:\d\d)\b(?! ?\(|[-–])")
DROP_IN: Final = re.compile(r"(?:NEXT: drop|\bDROP) +in (\d+:\d\d)")
LIMIT: Final = re.compile(r"limit (\d+)")
BY: Final = re.compile(r"(?i)\bgas (?:[\d.]+ )?to [\d.]+ by (\d+:\d\d)")
OFFERED: Final = re.compile(r"\b(GAS|AIR|DRUM) (?:[\d.]+ → |TO )([\d.]+)\b.* o  done")
"""The move for which the screen offers the key of a move that was made."""
NAMES: Final = {" ": "space", ".": "full_stop", ",": "comma", "-": "minus", "@": "at", ":": "colon", "/": "slash",
                "=": "equals_sign", "?": "question_mark"}  # fmt: skip
KEYS: Final = (
    *["backspace"] * 14, *["escape"] * 4, *["enter"] * 7, *["up"] * 3, *"0123456789" * 2, *"cyfs" * 2, "d",
    *"onmxlkbv?tpj",
    *"garw" * 2, *"@-.:,/=", *[" "] * 8, *"zqhe", "pagedown", "tab", "home",
)  # fmt: skip


@dataclass
class Tally(Findings):
    """What was tried and what was found."""

    sequences: int = 0
    keys: int = 0
    entries: int = 0
    withdrawn: int = 0
    brought_back: int = 0
    refused: int = 0
    resumed: int = 0
    resized: int = 0
    seconds: float = 0.0


class Hand:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


class Hostile:
    """One roast under a hostile user's hands."""

    def __init__(self, folder: Path, rng: random.Random, tally: Tally) -> None:
        self.folder, self.rng, self.tally = folder, rng, tally
        self.hand = Hand()
        self.profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
        self.live = LiveRoast.open(self.profile, folder, self.hand, started=datetime(2026, 11, 2, 8, tzinfo=UTC),
                                   run="live")  # fmt: skip
        self.path = self.live.path
        self.trail: list[str] = []
        self.before: dict[int, Any] = {}
        self.lines = 0
        self.named: tuple[str, str] | None = None
        self.offered: tuple[str, float] | None = None

    def begin(self) -> None:
        """Some of a roast on the plan, so that what follows happens anywhere in one."""
        rng, base = self.rng, 10.0
        until = rng.choice((0.0, rng.uniform(60, 300), rng.uniform(300, 480), rng.uniform(480, 600)))
        if not until:
            return
        entries: list[Any] = [Mark(at=base, event="charge")]
        off = rng.uniform(-6, 6)
        every = rng.choice((20, 30, 45))
        for t in range(60, int(until), every):
            entries.append(Reading(at=base + t, temperature=float(round(self.profile.curve.value(t) + off))))
        for step in self.profile.steps:
            if step.time < until and rng.random() < 0.7:
                entries.append(Move(at=base + step.time + 2, control=step.control, value=step.shown))
        for event, at in (("yellow", 244.0), ("first crack", 487.0)):
            if at < until and rng.random() < 0.6:
                entries.append(Mark(at=base + at, event=event))  # type: ignore[arg-type]
        if until > 495 and rng.random() < 0.5:
            entries += [Pop(at=base + 480.0 + x) for x in (0, 4, 6, 7.2, 8.3, 9.4, 10.2, 11)]
        for entry in sorted(entries, key=lambda e: float(e.at)):
            self.live.enter(entry, most=0)
        self.hand.now = round(base + until)
        self.live.coach.advance(self.hand.now, most=0)
        while self.live.coach.behind:
            self.live.coach.catch_up(100)
        journal = read_journal(self.path)
        self.before, self.lines = {n.line: n.entry for n in effective(journal.entries)}, len(journal.entries)

    # -- the screen -------------------------------------------------------------------------------------------------

    def painted(self, app: Any) -> str:
        """The screen as painted, in plain text."""
        return "\n".join(strip.text for strip in app.screen._compositor.render_strips())

    async def settle(self, app: Any, pilot: Any) -> None:
        """Until nothing is left to be entered, folded or painted."""
        await pilot._wait_for_screen()
        end = time.monotonic() + 20.0
        while app.turns.busy and time.monotonic() < end:
            await asyncio.sleep(0.002)
            if not app.turns.busy:
                await pilot._wait_for_screen()
        await asyncio.sleep(0)

    async def press(self, app: Any, pilot: Any, key: str) -> None:
        """Give a key as the terminal would, and wait until all that came of it is done; ``pilot.press`` waits longer
        and works for it."""
        sign = key if len(key) == 1 else None
        event = Key(NAMES.get(key, key), sign)
        event.set_sender(app)
        app._driver.send_message(event)
        self.tally.keys += 1
        await self.settle(app, pilot)

    async def life(self, sequences: int, *, resume: bool) -> None:
        """Some sequences between opening the screen and leaving it."""
        app: Any = RoastApp(self.live, tick=1000)
        app.turns.monotonic = self.hand
        async with app.run_test(size=self.rng.choice(SIZES)) as pilot:
            if resume:
                app.begin(None, True)
            else:
                await pilot.press("enter")
            for _ in range(sequences):
                self.trail = [f"[{clock(self.live.coach.roast.time(self.hand.now))} {self.live.coach.roast.phase}]"]
                for _ in range(self.rng.randint(3, 12)):
                    await self.act(app, pilot)
                await self.out(app, pilot)
                self.tally.sequences += 1

    async def act(self, app: Any, pilot: Any) -> None:
        """One key, line, paste, resize or stretch of time; then the oracle looks."""
        rng, draw = self.rng, self.rng.random()
        self.hand.now = round(self.hand.now + rng.choice((0.03, 0.2, 0.5, 1.2, 3.0, 9.0)), 2)
        if draw < 0.05:
            await pilot.resize_terminal(*rng.choice(SIZES))
            await self.settle(app, pilot)
            self.tally.resized += 1
            await self.look(app, pilot, "resize")
            return
        if draw < 0.13:
            for _ in range(rng.randint(1, 40)):
                self.hand.now = round(self.hand.now + 1.0)
                app.pulse()
            await self.settle(app, pilot)
            await self.look(app, pilot, "time")
            return
        if draw < 0.17:
            text = "\n".join(self.line(app) for _ in range(rng.randint(1, 4))) + rng.choice(("", "\n"))
            app.post_message(Paste(text))
            await asyncio.sleep(0)
            await self.settle(app, pilot)
            await self.look(app, pilot, f"paste {text!r}")
            return
        if draw < 0.24:
            keys = rng.choice((["backspace"] * 2, ["escape", "backspace", "backspace"], [*"redo", "enter"]))
        else:
            keys = [*self.line(app), "enter"] if draw < 0.36 else [rng.choice(KEYS)]
        for key in keys:
            await self.press(app, pilot, key)
            await self.look(app, pilot, key)

    def line(self, app: Any) -> str:
        """A line as somebody might type it, right or wrong."""
        rng = self.rng
        t = max(self.live.coach.roast.time(self.hand.now), 0.0)
        plan = round(self.profile.curve.value(min(t, 600.0))) + rng.randint(-4, 4)
        return rng.choice((
            str(plan), str(plan), str(plan), f"{plan}@{clock(rng.uniform(0, t))}", f"{plan} -{rng.randint(1, 20)}",
            f"g {rng.choice(('1.6', '1.2', '0.8', '9', '1e9'))}", f"a {rng.randint(0, 9)}", "r 100001", "1981985",
            "918", "198,198", "gsa 1.2", "w 1.2", "w", "redo", f"@{clock(rng.uniform(0, t))}", "@-10", "@99:59",
            "/a note", "in 0.8", "out 690g", "colour 58", "y@4:10", "f", "c",
        ))  # fmt: skip

    # -- the oracle -------------------------------------------------------------------------------------------------

    async def look(self, app: Any, pilot: Any, key: str) -> None:
        """What the painted screen and the file say, against what they said before this key."""
        self.trail.append(key)
        if not self.live.scribe.wait(5.0):
            self.tally.fault("an entry is not on disk after 5 s", self.story())
        journal, screen = read_journal(self.path), self.painted(app)
        now = {n.line: n.entry for n in effective(journal.entries)}
        if fold(journal.header, effective(journal.entries)) != app.roast.live.coach.roast:
            self.tally.fault("the journal folded is not the roast on the screen", self.story())
        grown = len(journal.entries) - self.lines
        flat = " ".join(screen.split())
        if grown and key != "time" and not CONFIRMED.search(flat):
            self.tally.fault("an entry was logged that the screen does not confirm", self.story(screen))
        if grown > 1 and not key.startswith("paste") and key not in ("o", "time", "enter"):
            self.tally.fault("one key logged several entries", self.story())
        self.tally.entries += grown
        self.tally.refused += bool(grown == 0 and "Up edits it" in flat)
        self.tally.brought_back += sum(n.entry.brings_back is not None for n in journal.entries[self.lines :])
        gone = [line for line in self.before if line not in now]
        self.tally.withdrawn += len(gone)
        for line in gone:
            named = self.named == self.name(self.before[line])
            if not (key == "backspace" and named):
                self.tally.fault("an entry vanished that was not named", self.story(str(self.before[line])))
        if len(gone) > 1:
            self.tally.fault("one key withdrew several entries", self.story())
        changed = [line for line in self.before if line in now and now[line] != self.before[line]]
        corrections = [n for n in journal.entries[self.lines :] if isinstance(n.entry, Correction)]
        if len(changed) > len(corrections):
            self.tally.fault("an entry changed without a correction", self.story())
        self.before, self.lines = now, len(journal.entries)
        if key == "o" and self.offered is not None:
            logged = [n.entry for n in journal.entries[-grown:]] if grown else []
            first = next((e for e in logged if isinstance(e, Move)), None)
            if first is None or (first.control, float(first.value)) != self.offered:
                self.tally.fault(
                    "the key logs another move than the screen offers", self.story(f"{self.offered} {first}")
                )
        band = OFFERED.search(screen) if app.top.view == "roast" and not app.roast.line.text else None
        self.offered = (band[1].lower(), float(band[2])) if band else None
        found = WITHDRAWS.search(flat)
        self.named = (found[1], found[2]) if found else None
        if app.roast.line.withdraws is not None and self.named is None:
            self.tally.fault("the next Backspace withdraws what the screen does not name", self.story(screen))
        self.agree(app, screen)
        if app.turns.guard.word:
            self.tally.fault(f"fault in the coach: {app.turns.guard.word[:120]}", self.story())
            app.turns.guard.word = ""

    def name(self, entry: Any) -> tuple[str, str]:
        """How the screen names an entry before it withdraws it, said here once more from the glossary of entries."""
        at = clock(self.live.coach.roast.time(entry.at)) if entry.kind != "mark" or entry.event != "charge" else ""
        naming: dict[str, Callable[[], str]] = {
            "reading": lambda: number(entry.temperature),
            "move": lambda: f"{entry.control} {number(entry.value, 2)}",
            "note": lambda: f"note '{entry.text[:20]}'",
            "reply": lambda: f"{entry.answer}: {entry.cue}",
            "result": lambda: "the result typed",
            "mark": lambda: entry.event,
        }
        words = naming.get(entry.kind, lambda: str(entry.kind))()
        if not at:  # a charge that is gone: its time was 0:00
            return words, "0:00"
        return words, self.named[1] if self.named is not None and entry.kind == "mark" else at

    def agree(self, app: Any, screen: str) -> None:
        """No two places on one screen disagree."""
        s = app.roast.live.coach.situation
        if app.top.view != "roast" or s.t is None or s.roast.phase == "cooling":
            return
        if app.roast.live.coach.behind:
            return
        body = [x for x in screen.split("\n") if "can't say" not in x and "WHAT IF" not in x]
        figures = "\n".join(x for x in body if "›" not in x and "logged" not in x and "plan has it" not in x)
        drops = {_seconds(x) for x in DROP_AT.findall(figures)}
        coming = DROP_IN.search(figures)
        if coming:
            drops.add(round(s.t) + _seconds(coming[1]))
        if drops and max(drops) - min(drops) > 1.5:
            self.tally.fault("two drop times on one screen", self.story(screen))
        limits = set(LIMIT.findall(figures))
        if len(limits) > 1:
            self.tally.fault("two safety limits on one screen", self.story(screen))
        for late in BY.findall(figures):
            if _seconds(late) < s.t - 1.5:
                self.tally.fault("a time to act by that has passed", self.story(screen))

    async def out(self, app: Any, pilot: Any) -> None:
        """Esc, Esc and a reading leads out of anything."""
        before = len(self.live.coach.roast.readings) + len(self.live.coach.roast.preheat)
        self.hand.now = round(self.hand.now + 2.0, 1)
        for key in ("escape", "escape", "1", "5", "0", "enter"):
            await self.press(app, pilot, key)
        await self.look(app, pilot, "esc esc 150 enter")
        after = len(self.live.coach.roast.readings) + len(self.live.coach.roast.preheat)
        if after != before + 1:
            self.tally.fault("no way out: a reading after Esc Esc is not taken", self.story(self.painted(app)))

    def story(self, more: str = "") -> str:
        return " ".join(self.trail[-30:]) + (f"\n{more}" if more else "")


def _seconds(text: str) -> int:
    minutes, seconds = text.split(":")
    return int(minutes) * 60 + int(seconds)


async def one_roast(rng: random.Random, tally: Tally, sequences: int) -> None:
    """A roast of some sequences, left and resumed on its way."""
    with tempfile.TemporaryDirectory() as folder:
        h = Hostile(Path(folder), rng, tally)
        h.begin()
        left, again = sequences, False
        while left > 0:
            part = min(left, rng.randint(3, 8))
            await h.life(part, resume=again)
            left -= part
            h.live.close()
            if h.live.coach.roast.phase == "cooling" and rng.random() < 0.7:
                return
            if left > 0:
                at = h.hand.now
                h.live = LiveRoast.resume(h.path, h.profile)
                h.live.clock = h.hand
                h.hand.now = max(at, h.live.coach.at)
                tally.resumed += 1
                again = True


def try_out(sequences: int, seed: int, each: int = 20, progress: bool = False) -> Tally:
    """So many random sequences on roasts of ``each``."""
    rng, tally, started = random.Random(seed), Tally(), time.monotonic()
    while tally.sequences < sequences:
        asyncio.run(one_roast(rng, tally, min(each, sequences - tally.sequences)))
        if progress:
            print(
                f"{tally.sequences} sequences, {tally.keys} keys, found {dict(tally.found)}",
                file=sys.stderr,
                flush=True,
            )
    tally.seconds = time.monotonic() - started
    return tally


def main() -> None:
    sequences = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    t = try_out(sequences, seed, progress=True)
    print(f"{t.sequences} sequences, {t.keys} keys, {t.entries} entries, {t.withdrawn} withdrawn, {t.brought_back}"
          f" brought back, {t.refused} looks at a refused line, {t.resized} resizes, {t.resumed} resumptions,"
          f" {t.seconds:.0f} s")  # fmt: skip
    t.report()


if __name__ == "__main__":
    main()
