"""What must hold over whole simulated roasts, some of them noisy; tests/bench/bench_cues.py does it over hundreds."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))

from bench_cues import KINDS, Seen, workshop_seen

from coach.cues import CUES


@pytest.fixture(scope="module")
def roasts() -> list[Seen]:
    """Two roasts each of a plain, a varied and a noisy workshop."""
    return [s for number in range(3) for s in workshop_seen((number, 0, 2))]


def test_there_are_roasts_of_every_kind(roasts: list[Seen]) -> None:
    assert {r.kind for r in roasts} == set(KINDS)
    assert all(r.sounds for r in roasts)


def test_no_rule_is_broken(roasts: list[Seen]) -> None:
    """Ten in ten minutes, five seconds apart, once a minute, urgent ones heard (see ``bench_cues.breaches``)."""
    assert [b for r in roasts for b in r.breaches] == []


def test_few_are_unplanned(roasts: list[Seen]) -> None:
    unplanned = sorted(sum(1 for s in r.sounds if s[3] == "alarm") for r in roasts)
    assert unplanned[len(unplanned) // 2] <= 3  # 2 is the limit for the median of 200
    assert all(len(r.sounds) <= 12 for r in roasts)


def test_every_sound_is_in_the_ledger(roasts: list[Seen]) -> None:
    for r in roasts:
        assert sum(x.heard for x in r.ledger) == len(r.sounds)
        assert {x.cue for x in r.ledger} <= set(CUES)
