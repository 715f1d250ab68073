"""The crack called from taps, on the real screen: what the key that confirms marks, and how that settles."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from helpers import Hand, live

from coach.app.screens.app import RoastApp
from coach.cues.first_crack_taps import first_call
from coach.roast.roast import effective, fold
from coach.session.journal import read_journal

CHARGE = 10.0
EARLY = (480.0, 484.0, 486.0, 487.2, 488.3, 489.4, 490.2, 491.0)
"""Taps (roast time, s) that amount to a call."""
LATE = (494.0, 495.1, 496.0, 496.8, 497.5, 498.3, 499.0, 499.8, 501.0, 502.0, 503.0, 504.0, 505.5, 507.0, 508.0)


class Roaster:
    """The screen on a roast that is charged and yellow; ``acts`` are keys with the roast times (s) of pressing them."""

    def __init__(self, folder: Path) -> None:
        self.hand = Hand()
        self.app = RoastApp(live(folder, self.hand), tick=1000)
        self.app.turns.monotonic = self.hand
        self.coach = self.app.roast.live.coach
        self.said: list[str] = []

    def go(self, acts: Sequence[tuple[float, str]]) -> None:
        async def whole() -> None:
            async with self.app.run_test(size=(100, 24)) as pilot:
                await pilot.press("enter")
                self.hand.now = CHARGE
                await pilot.press("c")
                for t, key in [(270.0, "y"), *acts]:
                    self.hand.now = CHARGE + t
                    self.app.pulse()
                    if key:
                        await pilot.press(key)
                    self.said.append(self.app.message)

        asyncio.run(whole())

    @property
    def crack(self) -> float | None:
        found: float | None = self.coach.roast.marks.get("first crack")
        return found


def taps(times: Sequence[float]) -> list[tuple[float, str]]:
    return [(t, "space") for t in times]


def by_taps(roaster: Roaster, times: Sequence[float]) -> float:
    call = first_call(times, roaster.coach.profile.document.taps)
    assert call is not None
    return call.onset


def test_confirming_marks_the_crack_where_the_taps_put_it_and_not_now(tmp_path: Path) -> None:
    roaster = Roaster(tmp_path)
    roaster.go([*taps(EARLY), (515.0, "f")])
    assert roaster.crack == pytest.approx(by_taps(roaster, EARLY))
    assert roaster.crack is not None
    assert roaster.crack < 490.0
    assert "as tapped" in roaster.said[-1]
    read = read_journal(roaster.app.roast.live.path)
    assert fold(read.header, effective(read.entries)).marks["first crack"] == roaster.crack
    assert read.entries[-1].entry.came == CHARGE + 515.0


@pytest.mark.long
def test_taps_after_it_was_confirmed_settle_the_time_half_a_minute_after_the_call(tmp_path: Path) -> None:
    roaster = Roaster(tmp_path)
    roaster.go([*taps(EARLY), (493.0, "f"), *taps(LATE), (518.0, "")])
    first, last = by_taps(roaster, EARLY), by_taps(roaster, (*EARLY, *LATE))
    assert abs(last - first) >= 1.0, "these taps tell the two apart"
    assert roaster.crack == pytest.approx(first)
    again = Roaster(tmp_path / "again")
    again.go([*taps(EARLY), (493.0, "f"), *taps(LATE), (523.0, ""), (540.0, "space"), (560.0, "")])
    assert again.crack == pytest.approx(last), "and later taps move nothing"
    assert any("by all taps" in said for said in again.said)
    assert [n.entry.kind for n in again.coach.entries].count("correction") == 1


@pytest.mark.long
@pytest.mark.parametrize("undone", ["withdrawn", "retimed"])
def test_what_the_person_did_with_the_mark_since_stands(tmp_path: Path, undone: str) -> None:
    roaster = Roaster(tmp_path)
    acts: list[tuple[float, str]] = [*taps(EARLY), (493.0, "f")]
    acts += (
        [(494.0, "backspace"), (494.5, "backspace")]
        if undone == "withdrawn"
        else [(494.0, k) for k in ("at", "minus", "8", "enter")]
    )
    roaster.go([*acts, *([] if undone == "withdrawn" else taps(LATE[1:])), (530.0, "")])
    assert roaster.crack == (None if undone == "withdrawn" else pytest.approx(486.0))


def test_without_a_call_from_taps_the_key_marks_now(tmp_path: Path) -> None:
    roaster = Roaster(tmp_path)
    roaster.go([*taps(EARLY[:3]), (490.0, "f"), (530.0, "")])
    assert roaster.crack == pytest.approx(490.0)
    denied = Roaster(tmp_path / "denied")
    denied.go([*taps(EARLY), (493.0, "x"), (500.0, "f"), (530.0, "")])
    assert denied.crack == pytest.approx(500.0), "after 'not yet' the crack is now"


def test_without_further_taps_nothing_is_corrected(tmp_path: Path) -> None:
    roaster: Any = Roaster(tmp_path)
    roaster.go([*taps(EARLY), (493.0, "f"), (530.0, "")])
    assert [n.entry.kind for n in roaster.coach.entries].count("correction") == 0
