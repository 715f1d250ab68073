"""What typing costs, by the keystroke-level model (Card, Moran and Newell 1980, CACM 23:396).

Operators in seconds as published: K 0.20 (average skilled typist) for a single known key, 0.28 (average non-secretary
typist) for each key of a number; H 0.40 to bring the hand to the keyboard and again back to the machine; M 1.35 to
prepare.  The keys are those really sent, and each entry is looked for in the journal.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any, Final

import pytest
from helpers import Hand, live

from coach.app.screens.app import RoastApp
from coach.roast.entries import Mark, Move, Reading
from coach.session.journal import read_journal

SINGLE: Final = 0.20
NUMBER: Final = 0.28
HOME: Final = 0.40
PREPARE: Final = 1.35


def cost(keys: int) -> float:
    """Hands on the machine before and after."""
    return HOME + PREPARE + keys * (SINGLE if keys == 1 else NUMBER) + HOME


class Typist:
    """Presses keys on the real screen and counts them, entry by entry."""

    def __init__(self, folder: Path) -> None:
        self.hand = Hand()
        self.app = RoastApp(live(folder, self.hand), tick=1000)
        self.app.turns.monotonic = self.hand
        self.counts: list[tuple[str, int]] = []
        self.pilot: Any = None

    async def press(self, what: str, *keys: str) -> None:
        before = len(self.app.roast.live.coach.entries)
        await self.pilot.press(*keys)
        assert len(self.app.roast.live.coach.entries) > before, f"{what} was not taken: {self.app.message}"
        self.counts.append((what, len(keys)))

    async def reading(self, value: float) -> None:
        await self.press("reading", *f"{value:.0f}", "enter")

    def of(self, what: str) -> list[float]:
        return [cost(keys) for name, keys in self.counts if name == what]


@pytest.mark.long
def test_a_whole_roast_at_the_default_cadence(tmp_path: Path) -> None:
    t = Typist(tmp_path)
    coach, profile = t.app.roast.live.coach, t.app.roast.live.coach.profile
    charge = 20.0

    async def roast() -> None:
        async with t.app.run_test(size=(80, 24)) as t.pilot:
            await t.pilot.press("enter")
            t.hand.now = charge
            await t.press("event", "c")
            end = profile.drop_time
            marks = {"y": profile.goals["yellow"].time, "f": profile.goals["first crack"].time, "d": end}
            next_reading = profile.curve.turning_point[0]
            for second in range(1, int(end) + 1):
                t.hand.now = charge + second
                if second % 5 == 0:
                    t.app.pulse()
                due = coach.situation.next_move
                if due is not None and due.until <= 0:
                    await t.press("event", "o")
                for key, at in marks.items():
                    if second == int(at):
                        await t.press("event", key)
                if second >= next_reading and second < end:
                    await t.reading(profile.curve.value(second))
                    phase = coach.roast.phase
                    next_reading = second + getattr(profile.document.cadence, phase)

    asyncio.run(roast())
    entries = [n.entry for n in read_journal(t.app.roast.live.path).entries]
    assert sum(isinstance(e, Mark) for e in entries) == 4
    assert sum(isinstance(e, Move) for e in entries) == len(profile.steps)
    readings = sum(isinstance(e, Reading) for e in entries)
    assert readings == len(t.of("reading")) >= 12
    assert max(t.of("event")) <= 2.4
    assert max(t.of("reading")) <= 3.3
    total = sum(t.of("event")) + sum(t.of("reading"))
    print(f"{readings} readings, {len(t.of('event'))} events: {total:.1f} s, {total / 600:.1%} of ten minutes")
    assert total <= 0.125 * 600


def test_published_examples_of_the_model() -> None:
    """K, H and M sum as in the model: one key 2.35 s, three digits and Enter 3.27 s."""
    assert abs(cost(1) - 2.35) < 1e-9
    assert abs(cost(4) - 3.27) < 1e-9
