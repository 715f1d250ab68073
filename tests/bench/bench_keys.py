"""Key to painted screen under load, and over a day: python tests/bench/bench_keys.py [load [MINUTES [CORRECTIONS]]]
[day [ROASTS]]

The real screen, its keys and its painting, without a terminal behind it (bench_screen.py measures one with a terminal).
A key counts from when it reaches the program to when what it changed has been put on the screen.  The clock of the
roast is in the bench's hand; every entry goes through the journal's own writer to disk.

load  a reading a second for MINUTES (20), with CORRECTIONS (300): withdrawn, given another time, typed late
day   ROASTS (8) whole roasts one after another in one process, a reading every 15 s
"""

from __future__ import annotations

import asyncio
import os
import random
import shutil
import sys
import tempfile
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from textual.events import Event, Key
from textual.keys import _character_to_key

from coach.app.live import LiveRoast
from coach.app.screens.app import RoastApp
from coach.roast.entries import Correction
from coach.session.journal import read_journal
from coach.session.profile_files import load_profile

NAMED = {"\n": "enter", "\b": "backspace"}


def p99(values: list[float]) -> float:
    """The value that one of a hundred passes."""
    return sorted(values)[min(int(0.99 * len(values)), len(values) - 1)]


class Watched(RoastApp):
    """The screen, telling when a key was dealt with and when it was painted after that."""

    dealt = 0.0
    painted: asyncio.Event

    async def on_event(self, event: Event) -> None:
        await super().on_event(event)
        if isinstance(event, Key):
            self.dealt = time.perf_counter()

    def _display(self, screen: Any, renderable: Any) -> None:
        super()._display(screen, renderable)
        if self.dealt:
            self.painted.set()


@dataclass
class Costs:
    """ms from key to paint, by what the key was: (roast time s, ms); and how long folds in parts took in all."""

    digit: list[tuple[float, float]] = field(default_factory=list)
    entry: list[tuple[float, float]] = field(default_factory=list)
    correction: list[tuple[float, float]] = field(default_factory=list)
    during: list[tuple[float, float]] = field(default_factory=list)
    settled: list[float] = field(default_factory=list)
    processor: list[float] = field(default_factory=list)


class Fingers:
    """Presses keys on a screen and times them."""

    def __init__(self, app: Watched) -> None:
        self.app = app
        self.processor: list[float] = []
        """ms of processor time of each key until it was painted: what it would take on an idle machine."""

    async def press(self, sign: str) -> float:
        """ms from the key to the painted screen."""
        app = self.app
        app.painted.clear()
        app.dealt = 0.0
        name = NAMED.get(sign) or _character_to_key(sign)
        began, spent = time.perf_counter(), time.thread_time()
        app.post_message(Key(name, None if sign in NAMED else sign))
        await asyncio.wait_for(app.painted.wait(), 10.0)
        self.processor.append(1000 * (time.thread_time() - spent))
        return 1000 * (time.perf_counter() - began)

    async def line(self, text: str, digits: list[tuple[float, float]], now: float) -> float:
        """Type a line; ms from Enter to the painted screen."""
        for sign in text:
            digits.append((now, await self.press(sign)))
        return await self.press("\n")

    async def settle(self) -> float:
        """Wait until a fold in parts is done; ms."""
        began = time.perf_counter()
        while self.app.roast.live.coach.behind:
            await asyncio.sleep(0.003)
        return 1000 * (time.perf_counter() - began)


class Hand:
    """A clock that stands until it is moved."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


async def roast(folder: Path, seconds: int, every: float, corrections: int, seed: int, costs: Costs) -> LiveRoast:
    """A roast typed on the screen."""
    profile, rng, hand = load_profile("larch-hill"), random.Random(seed), Hand()
    live = LiveRoast.open(profile, folder, hand, started=datetime.now(UTC), run="live")
    app = Watched(live, tick=1000)
    app.painted = asyncio.Event()
    fingers, stretch = Fingers(app), max(seconds / (profile.curve.end + 30.0), 1.0)
    due = set(rng.sample(range(40, seconds), min(corrections, seconds - 40)))
    steps = sorted(profile.steps, key=lambda s: s.time)
    async with app.run_test(size=(100, 34)) as pilot:
        await pilot.press("enter")
        hand.now = 10.0
        await pilot.press("c")
        for t in range(1, seconds):
            hand.now = 10.0 + t
            app.pulse()
            await asyncio.sleep(0)
            hand.now += 0.3  # readings don't fall on whole seconds
            while steps and steps[0].time * stretch <= t:
                step = steps.pop(0)
                await fingers.line(f"{step.control} {step.shown:g}", costs.digit, t)
            value = round(min(profile.curve.value(t / stretch), 215.0) + rng.uniform(-1, 1))
            if t % every < 1:
                costs.entry.append((t, await fingers.line(str(value), costs.digit, t)))
            if t in due:
                how = rng.randrange(3)
                if how == 0:
                    costs.correction.append((t, await fingers.press("\b")))
                else:
                    text = f"@-{rng.randrange(1, 30)}" if how == 1 else f"{value} -{rng.randrange(2, 30)}"
                    costs.correction.append((t, await fingers.line(text, costs.digit, t)))
                if app.roast.live.coach.behind:
                    costs.during.append((t, await fingers.press("7")))
                    await pilot.press("escape")
            costs.settled.append(await fingers.settle())
    costs.processor += fingers.processor
    live.close()
    return live


def said(name: str, values: list[tuple[float, float]], seconds: float) -> None:
    """A line of figures by quarter."""
    for quarter in range(4):
        part = [c for t, c in values if quarter <= 4 * t / seconds < quarter + 1]
        if part:
            print(
                f"  {name:24} quarter {quarter + 1}: {len(part):5d}  median {median(part):6.1f}  p99 {p99(part):6.1f}  "
                f"most {max(part):6.1f} ms"
            )


def load(minutes: float, corrections: int, folder: Path) -> Costs:
    """A reading a second."""
    costs, seconds = Costs(), int(minutes * 60)
    live = asyncio.run(roast(folder, seconds, 1.0, corrections, 3, costs))
    entries = read_journal(live.path).entries
    fixed = sum(isinstance(n.entry, Correction) for n in entries)
    late = sum(n.entry.came - n.entry.at > 1.0 for n in entries)
    print(f"a reading a second for {minutes:g} min: {len(entries)} lines, {fixed} corrections, {late} typed late")
    said("digit", costs.digit, seconds)
    said("entry (Enter)", costs.entry, seconds)
    said("correction", costs.correction, seconds)
    said("digit during a fold", costs.during, seconds)
    every = [c for x in (costs.digit, costs.entry, costs.correction, costs.during) for _, c in x]
    print(f"  all {len(every)} keys: median {median(every):.1f} (goal < 30), p99 {p99(every):.1f} (goal < 80) ms")
    print(
        f"  processor time of these (without the disk): median {median(costs.processor):.1f}, "
        f"p99 {p99(costs.processor):.1f}, most {max(costs.processor):.1f} ms"
    )
    print(f"  a fold in parts is done after {p99(costs.settled):.0f} ms (p99), {max(costs.settled):.0f} at most")
    return costs


def day(roasts: int, folder: Path) -> list[tuple[float, float]]:
    """Median and p99 of key to paint for each roast of a day."""
    seconds, out = int(load_profile("larch-hill").drop_time), []
    for n in range(roasts):
        costs = Costs()
        asyncio.run(roast(folder, seconds, 15.0, 5, n, costs))
        every = [c for x in (costs.digit, costs.entry, costs.correction) for _, c in x]
        out.append((median(every), p99(every)))
        print(
            f"  roast {n + 1}: {len(every)} keys, median {out[-1][0]:.1f}, p99 {out[-1][1]:.1f} ms; processor time "
            f"median {median(costs.processor):.1f}, p99 {p99(costs.processor):.1f} ms",
            flush=True,
        )
    return out


def main(argv: list[str]) -> int:
    """Measure and print."""
    folder = Path(tempfile.mkdtemp(prefix="keys-"))
    numbers = [float(a) for a in argv if a[0].isdigit()]
    print(f"load of the machine (1 min): {os.getloadavg()[0]:.1f}")
    try:
        if "day" in argv:
            day(int(numbers[0]) if numbers else 8, folder)
        else:
            load(numbers[0] if numbers else 20.0, int(numbers[1]) if len(numbers) > 1 else 300, folder)
    finally:
        shutil.rmtree(folder)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
