"""A long fold done in parts, or from a moment far back, comes to what it comes to at once and in order."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from coach.app.commands.replay import answer
from coach.cues.situation import ActiveCue
from coach.roast.entries import Correction, Entry, Header, Mark, Move, Note, Pop, Reading
from coach.session.coach import Coach
from coach.session.profile_files import load_profile

DRAWN = (Phase.explicit, Phase.reuse, Phase.generate)
"""A seed is not worth shrinking."""
PROFILE = load_profile("larch-hill")
HEADER = Header(id="x", started="2026-11-02T08:00:00+00:00")


def entries_of(seed: int, seconds: float = 170.0) -> list[Entry]:
    """A roast with readings at all sorts of intervals, moves, taps, late entries and corrections, in order of coming
    in."""
    rng = np.random.default_rng(seed)
    out: list[Entry] = [Mark(at=10.0, event="charge")]
    t, off = 12.0, float(rng.normal(0, 4))
    while t < seconds:
        t = round(t + float(rng.choice([0.4, 1.0, 3.0, 15.0, 40.0])), 1)
        what = rng.random()
        value = float(round(PROFILE.curve.value(t - 10.0) + off + float(rng.normal(0, 1))))
        if what < 0.6:
            late = float(rng.choice([0.0, 0.0, 8.0]))
            out.append(Reading(at=max(round(t - late, 1), 10.5), typed=t, temperature=value))
        elif what < 0.7:
            out.append(Move(at=t, control="gas", value=float(rng.choice([0.8, 1.2, 1.6]))))
        elif what < 0.75:
            out.append(Pop(at=t))
        else:
            readings = [i + 2 for i, e in enumerate(out) if isinstance(e, Reading)]
            if readings:
                back = readings[-int(rng.integers(1, min(len(readings), 25) + 1))]
                out.append(Correction(at=t, of=back, replace={"temperature": value}))
    return out


def stands(coach: Coach) -> Any:
    """Everything that follows from the entries, and nothing of what was heard."""
    said = answer(coach, set())
    return {k: v for k, v in said.items() if k != "cues"}, coach.watch


@settings(max_examples=4, deadline=None, phases=DRAWN)
@given(st.integers(0, 10_000))
def test_folding_in_parts_is_folding_at_once(seed: int) -> None:
    rng = np.random.default_rng(seed)
    whole, parts = Coach(PROFILE, HEADER), Coach(PROFILE, HEADER)
    for entry in entries_of(seed, 100.0):
        assert parts.advance(entry.came) == whole.advance(entry.came)
        whole.receive(entry)
        parts.take(parts.prepare(entry), most=int(rng.integers(0, 3)))
        told: tuple[ActiveCue, ...] = ()
        while parts.behind:
            assert not [c for c in parts.cues if c.sounds], "nothing sounds while it is not known what stands"
            told = parts.catch_up(int(rng.integers(1, 20)))
        assert not told or told == tuple(c for c in whole.cues if c.sounds)
        assert parts.cues == whole.cues
        assert stands(parts) == stands(whole)
    assert parts.heard == whole.heard
    assert parts.record.episodes == whole.record.episodes


@settings(max_examples=3, deadline=None, phases=DRAWN)
@given(st.integers(0, 10_000))
@pytest.mark.long
def test_time_may_go_on_while_it_is_folded(seed: int) -> None:
    rng = np.random.default_rng(seed)
    whole, parts = Coach(PROFILE, HEADER), Coach(PROFILE, HEADER)
    for entry in entries_of(seed):
        whole.advance(entry.came)
        whole.receive(entry)
        parts.advance(entry.came, most=0 if parts.behind else None)
        parts.take(parts.prepare(entry), most=0)
        parts.catch_up(int(rng.integers(1, 12)))
        if parts.situation.t is not None and parts.situation.t > 0:
            assert parts.situation.roast is parts.roast, "what is shown is what was entered"
    end = Note(at=whole.at + 3.0, text="the end")
    whole.advance(end.at)
    whole.receive(end)
    parts.advance(end.at, most=0)
    parts.take(parts.prepare(end), most=0)
    while parts.behind:
        parts.catch_up(7)
    assert stands(parts) == stands(whole)


@settings(max_examples=4, deadline=None, phases=DRAWN)
@given(st.integers(0, 10_000))
@pytest.mark.long
def test_a_mistake_mended_far_back_leaves_nothing(seed: int) -> None:
    """Estimate, forecast, advice and every cue's state, however many of the old moments are kept."""
    rng = np.random.default_rng(seed)
    entries = [e for e in entries_of(seed) if not isinstance(e, Correction)]
    good, bad = Coach(PROFILE, HEADER), Coach(PROFILE, HEADER)
    places = [i for i, e in enumerate(entries) if isinstance(e, Reading | Move)]
    wrong = set(rng.choice(places[6:], size=min(3, len(places[6:])), replace=False).tolist())
    fixes: list[Correction] = []
    for i, entry in enumerate(entries):
        good.advance(entry.came)
        good.receive(entry)
        bad.advance(entry.came)
        if i in wrong:
            name = "temperature" if isinstance(entry, Reading) else "value"
            value = getattr(entry, name)
            bad.receive(entry.model_copy(update={name: float(round(value * 1.1))}))
            fixes.append(Correction(at=entries[-1].came + 1.0, of=i + 2, replace={name: value}))
        else:
            bad.receive(entry)
    for fix in fixes:
        bad.receive(fix)
    end = entries[-1].came + 3.0
    good.advance(end)
    bad.advance(end)
    assert stands(bad) == stands(good)


def test_a_correction_of_everything_shows_the_entries_at_once() -> None:
    """The charge given another time after a hundred readings: shown and forecast at once, its cues when folded."""
    coach = Coach(PROFILE, HEADER)
    coach.receive(Mark(at=0.0, event="charge"))
    for t in range(1, 215, 2):
        reading = Reading(at=float(t), temperature=float(round(PROFILE.curve.value(t))))
        coach.take(coach.prepare(reading), most=0)
    coach.advance(214.0, most=0)
    coach.take(coach.prepare(Correction(at=215.0, of=2, replace={"at": -5.0, "typed": 0.0})), most=1)
    assert coach.behind
    assert coach.situation.t == pytest.approx(220.0)
    assert coach.situation.estimate is not None
    assert coach.situation.estimate.t == pytest.approx(220.0)
