"""What must hold over whole simulated roasts, some of them noisy; tests/bench/bench_cues.py does it over hundreds."""

from __future__ import annotations

import numpy as np
import pytest
from bench_cues import DEVELOPMENT, KINDS, Ear, Seen, breaches, workshop_seen
from scipy.stats import binom

from coach.cues.table import CUES
from coach.roast.entries import Entry, Event, Header, Mark, Move, Pop, Reading, Reply
from coach.roast.roast import Numbered
from coach.session.coach import Coach
from coach.verification.cue_outcomes import judged
from coach.verification.replay import walk
from tests.cues.situations import PROFILE


@pytest.fixture(scope="module")
def roasts() -> list[Seen]:
    """A roast each of two plain, two varied and two noisy workshops."""
    return [s for number in range(6) for s in workshop_seen((DEVELOPMENT, number, 0, 1))]


@pytest.mark.long
def test_there_are_roasts_of_every_kind(roasts: list[Seen]) -> None:
    assert {r.kind for r in roasts} == set(KINDS)
    assert all(r.sounds for r in roasts)


@pytest.mark.long
def test_no_rule_is_broken(roasts: list[Seen]) -> None:
    """Ten in ten minutes, five seconds apart, once a minute, urgent ones heard (see ``bench_cues.breaches``)."""
    assert [b for r in roasts for b in r.breaches] == []


@pytest.mark.long
def test_few_are_unplanned(roasts: list[Seen]) -> None:
    unplanned = sorted(sum(1 for s in r.sounds if s[3] == "alarm") for r in roasts)
    assert unplanned[len(unplanned) // 2] <= 2
    assert all(len(r.sounds) <= 12 for r in roasts)


@pytest.mark.long
def test_most_alarms_are_of_low_priority(roasts: list[Seen]) -> None:
    """High at most 10 %, medium at most 25 % of what is unplanned (ANSI/ISA-18.2-2016, 16.4.8, has 5 and 15 %); so few
    alarms allow for chance.  bench_cues.py tells the shares over hundreds of roasts."""
    alarms = [s[2] for r in roasts for s in r.sounds if s[3] == "alarm"]
    assert len(alarms) >= 3
    for priority, share in (("high", 0.10), ("medium", 0.25)):
        assert alarms.count(priority) <= binom.ppf(0.999, len(alarms), share)
    assert alarms.count("low") >= binom.ppf(0.001, len(alarms), 0.65)


@pytest.mark.long
def test_every_sound_is_in_the_ledger(roasts: list[Seen]) -> None:
    for r in roasts:
        assert sum(x.heard for x in r.ledger) == len(r.sounds)
        assert {x.cue for x in r.ledger} <= set(CUES)


def wild(seed: int) -> list[Entry]:
    """Entries of somebody who types nearly anything at nearly any time."""
    rng = np.random.default_rng(seed)
    out: list[Entry] = [Mark(at=60.0, event="charge")]
    marks: list[Event] = ["yellow", "first crack", "second crack", "drop"]
    times = 60.0 + np.sort(rng.uniform(150, 700, 4))
    out += [Mark(at=round(float(t), 1), event=e) for t, e in zip(times, marks, strict=True)]
    for t in np.arange(80.0, float(times[-1]), float(rng.uniform(8, 40))):
        at, late = round(float(t), 1), round(float(rng.exponential(4)), 1)
        kind = rng.random()
        if kind < 0.6:
            value = PROFILE.curve.value(at - 60) + float(rng.normal(0, (2, 10, 40)[seed % 3]))
            out.append(Reading(at=at, typed=round(at + late, 1), temperature=round(value)))
        elif kind < 0.7:
            out.append(Move(at=at, control="gas", value=round(float(rng.uniform(0, 2)), 1)))
        elif kind < 0.85:
            out += [Pop(at=round(at + 0.4 * k, 1)) for k in range(int(rng.integers(1, 9)))]
        else:
            cue = str(rng.choice(list(CUES)))
            out.append(Reply(at=at, cue=cue, answer=str(rng.choice(["seen", "shelved", "not yet"]))))
    return sorted(out, key=lambda e: e.came)


@pytest.mark.parametrize("seed", [0, *(pytest.param(s, marks=pytest.mark.long) for s in (1, 4, 5))])
def test_whatever_is_typed_the_rules_hold(seed: int) -> None:
    entries = [Numbered(i + 2, e) for i, e in enumerate(wild(seed))]
    header = Header(id="wild", started="2026-01-05T08:00:00+00:00")
    ear = Ear()
    gone = walk(Coach(PROFILE, header), entries, each=ear)
    assert [b for b in breaches(gone, ear.sounds) if "sounds in ten minutes" not in b] == []
    others = [t for t, c in ear.sounds if c.priority != "high"]  # urgent ones are never dropped, so they come on top
    assert all(sum(1 for u in others if t <= u < t + 600) <= 9 for t in others)
    lines = judged(gone.record.episodes, gone.roast, PROFILE)
    assert sum(x.heard for x in lines) == len(ear.sounds)
