"""Readings that jump away from their neighbours, the last one too, are kept out of a reference."""

from __future__ import annotations

import pytest

from coach.roast.reading_checks import plausible
from coach.roast.roast import Probe


def probe(t: float, celsius: float) -> Probe:
    return Probe(t, celsius, 1, t, celsius)


ROAST = [probe(30.0 * i, v) for i, v in enumerate((200, 92, 84, 90, 101, 112, 122, 131, 140, 148, 156, 163, 170))]


def test_a_roast_without_mistakes_is_kept_whole() -> None:
    assert plausible(tuple(ROAST)) == ROAST


@pytest.mark.parametrize("shown", [17.0, 71.0, 270.0, 205.0])
def test_a_mistyped_last_reading_is_left_out(shown: float) -> None:
    assert plausible((*ROAST[:-1], probe(360.0, shown))) == ROAST[:-1]


def test_one_that_follows_a_mistake_stays() -> None:
    spoiled = [*ROAST[:-2], probe(330.0, 63.0), ROAST[-1]]
    assert plausible(tuple(spoiled)) == [*ROAST[:-2], ROAST[-1]]


def test_a_last_one_after_a_gap_or_a_turned_flame_stays() -> None:
    later = [*ROAST, probe(480.0, 190.0)]
    assert plausible(tuple(later)) == later
    stalled = [*ROAST, probe(390.0, 170.0)]
    assert plausible(tuple(stalled)) == stalled
