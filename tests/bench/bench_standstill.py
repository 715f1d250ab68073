"""How long the screen stands still when a roast is gone on with, and after sleep:
python tests/bench/bench_standstill.py [terminal] [loop] [MINUTES]

terminal  the real program in a pseudo-terminal goes on with a roast left after MINUTES (12), with a reading every 30 s
          and one every second: how long after the key the roast is there, and how long keys then wait for the screen
loop      the same screen without a terminal: the longest time in which it took no key and painted nothing, when a
          roast is gone on with and when the computer has slept for ten minutes and for an hour
"""

from __future__ import annotations

import asyncio
import os
import random
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[2]))
sys.path.insert(0, str(Path(__file__).parent))

from bench_screen import Terminal, press

from coach.app.live import LiveRoast
from coach.app.screens.app import RoastApp
from coach.app.screens.desk import Desk
from coach.roast.entries import Entry, Header, Mark, Move, Reading
from coach.session.journal import line_of
from coach.session.profile_files import load_profile
from coach.simulator.machine import load_machine
from coach.simulator.rehearsal.clock import RehearsalClock
from coach.simulator.rehearsal.rehearsal import Rehearsal

CHARGED = 10.0
BEAT = 0.004
"""The loop is asked so often whether it is free, s."""


def entries(seconds: float, every: float) -> list[Entry]:
    """A roast of the demo profile drawn out so that it is still under way after ``seconds``."""
    profile, rng = load_profile("larch-hill"), random.Random(5)
    slower = max(seconds / (profile.drop_time - 5.0), 1.0)
    out: list[Entry] = [Mark(at=CHARGED, event="charge")]
    for step in profile.steps:
        at = CHARGED + step.time * slower + 1.0
        if at < seconds:
            out.append(Move(at=round(at, 1), control=step.control, value=step.shown))
    t = every
    while CHARGED + t < seconds - 1.0:
        value = profile.curve.value(t / slower) + rng.uniform(-1, 1)
        out.append(Reading(at=CHARGED + t + 0.3, temperature=float(round(value))))
        t += every
    return sorted(out, key=lambda e: e.at)


def leave(home: Path, seconds: float, every: float) -> Path:
    """The journal of such a roast, left just now."""
    d = load_profile("larch-hill").document
    header = Header(
        id="left", profile=d.name, unit=d.unit, pressure_unit=d.pressure_unit, run="live", machine=d.machine,
        started=(datetime.now(UTC) - timedelta(seconds=seconds + 3.0)).isoformat(), batch_kg=d.batch_kg,
    )  # fmt: skip
    path = home / "roasts" / "left.jsonl"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(line_of(header) + "".join(map(line_of, entries(seconds, every))), encoding="utf-8")
    return path


def in_a_terminal(seconds: float, every: float) -> None:
    """The real program; a digit is typed every 50 ms from the moment the roast is there."""
    with tempfile.TemporaryDirectory() as home:
        leave(Path(home), seconds, every)
        t = Terminal(["follow", "larch-hill"], Path(home))
        t.until("unfinished roast")
        t.settle(2.0)  # what earlier roasts teach is found out meanwhile
        asked = time.perf_counter()
        t.child.send("\r")
        there = t.until("NEXT") - asked
        waits = []
        for n in range(80):
            waits.append(press(t, str(n % 9 + 1)))
            if n % 6 == 5:
                t.child.send("\x1b")
                t.settle(0.3)
            else:
                t.settle(0.045)
        done = "its cues follow" not in " ".join(t.screen.display)
        t.leave()
    first = waits[:20]
    print(
        f"  terminal, a reading every {every:2.0f} s: roast there {there:.2f} s after the key; key to paint of the "
        f"first 20 keys median {median(first):.0f}, most {max(first):.0f} ms, of all 80 most {max(waits):.0f} ms"
        f"{'' if done else '; its cues were not there at the end'}"
    )


@dataclass
class Beats:
    """How long the loop was not free, each time it was asked (ms)."""

    waits: list[float] = field(default_factory=list)
    spent: list[float] = field(default_factory=list)

    async def listen(self) -> None:
        """Until cancelled."""
        while True:
            began, used = time.perf_counter(), time.thread_time()
            await asyncio.sleep(BEAT)
            self.waits.append(1000 * (time.perf_counter() - began - BEAT))
            self.spent.append(1000 * (time.thread_time() - used))

    async def during(self, what: Callable[[], Awaitable[None]]) -> float:
        """Do something; seconds it took."""
        self.waits, self.spent = [], []
        task, began = asyncio.create_task(self.listen()), time.perf_counter()
        await asyncio.sleep(0.05)
        await what()
        took = time.perf_counter() - began
        await asyncio.sleep(0.05)
        task.cancel()
        with suppress(asyncio.CancelledError):
            await task
        return took

    def said(self) -> str:
        """The figures in words."""
        return f"stands still {max(self.waits):.0f} ms at most ({max(self.spent):.0f} ms of processor time)"


async def gone_on_with(seconds: float, every: float) -> None:
    """The screen with its brief, its thread and its tick, as ``coach follow`` has it."""
    with tempfile.TemporaryDirectory() as home:
        folder = leave(Path(home), seconds, every).parent
        app = RoastApp(desk=Desk(load_profile("larch-hill"), folder))
        beats, there = Beats(), 0.0
        app.turns.guard.on = True  # as in the program itself
        async with app.run_test(size=(100, 34)) as pilot:
            while app.opening.choosing.offer is None:
                await asyncio.sleep(0.05)
            await asyncio.sleep(1.0)

            async def go() -> None:
                nonlocal there
                began = time.perf_counter()
                await pilot.press("enter")
                while app.top.view == "brief":
                    await asyncio.sleep(0.01)
                there = time.perf_counter() - began
                while app.roast.live.coach.behind:
                    await asyncio.sleep(0.01)

            took = await beats.during(go)
        print(
            f"  gone on with, a reading every {every:2.0f} s: roast there after {there:.2f} s, its cues after "
            f"{took:.2f} s; {beats.said()}"
        )


async def slept(seconds: float, every: float, sleep: float) -> None:
    """The clock of a roast jumps."""
    now = [0.0]
    with tempfile.TemporaryDirectory() as home:
        profile = load_profile("larch-hill")
        live = LiveRoast.open(profile, Path(home), lambda: now[0], started=datetime.now(UTC), run="live")
        app, beats = RoastApp(live, tick=0.25), Beats()
        async with app.run_test(size=(100, 34)) as pilot:
            await pilot.press("enter")
            for entry in entries(seconds, every):
                now[0] = max(now[0], entry.at)
                live.coach.advance(now[0])
                live.enter(entry)

            async def go() -> None:
                now[0] += sleep
                app.pulse()
                while live.coach.behind:
                    await asyncio.sleep(0.01)

            await asyncio.sleep(0.5)
            took = await beats.during(go)
        live.close()
    print(f"  slept {sleep:4.0f} s, a reading every {every:2.0f} s: all there after {took:.2f} s; {beats.said()}")


async def rehearsed(jump: float) -> None:
    """The clock of a rehearsal jumps, a minute after it began; a simulated person charges, types and drops."""
    timer = [0.0]
    with tempfile.TemporaryDirectory() as home:
        profile, clock = load_profile("larch-hill"), RehearsalClock(lambda: timer[0])
        source = Rehearsal(load_machine("brambleforge-1"), profile=profile, seed=4, auto=True, clock=clock)
        live = LiveRoast.open(profile, Path(home), clock, started=datetime.now(UTC), run="rehearsal")
        app, beats = RoastApp(live, source=source, tick=0.2), Beats()
        async with app.run_test(size=(100, 34)) as pilot:
            await pilot.press("enter")
            for timer[0] in range(60):
                app.pulse()

            async def go() -> None:
                timer[0] += jump
                app.pulse()
                while live.coach.at < clock() or live.coach.behind:
                    await asyncio.sleep(0.01)

            await asyncio.sleep(0.5)
            before = len(live.coach.entries)
            took = await beats.during(go)
        live.close()
        count = len(live.coach.entries) - before
    print(f"  rehearsal put forward by {jump:4.0f} s, {count} entries: all there after {took:.2f} s; {beats.said()}")


def main(argv: list[str]) -> int:
    """Measure and print."""
    minutes = next((float(a) for a in argv if a[0].isdigit()), 12.0)
    print(f"a roast of {minutes:g} min; load of the machine (1 min): {os.getloadavg()[0]:.1f}")
    for every in (30.0, 1.0):
        if "loop" not in argv or "terminal" in argv:
            in_a_terminal(60 * minutes, every)
        if "terminal" not in argv or "loop" in argv:
            asyncio.run(gone_on_with(60 * minutes, every))
    if "terminal" not in argv or "loop" in argv:
        asyncio.run(slept(300.0, 30.0, 600.0))
        asyncio.run(slept(300.0, 30.0, 3600.0))
        asyncio.run(slept(300.0, 1.0, 600.0))
        asyncio.run(rehearsed(660.0))
        asyncio.run(rehearsed(3600.0))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
