"""A roast is the fold of its entries: in any order of coming in, and corrected in any way, it is the same roast."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.roast.entries import Correction, Header, Mark, Move, Note, Pop, Reading, Result
from coach.roast.errors import EntryError
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.session.coach import Coach
from coach.session.profile_files import load_profile

HEADER = Header(id="x", started="2026-11-02T08:00:00+00:00")
times = st.floats(20, 600).map(lambda t: round(t, 1))
entry = st.one_of(
    st.builds(Reading, at=times, temperature=st.floats(60, 230).map(lambda v: float(round(v)))),
    st.builds(Move, at=times, control=st.sampled_from(["gas", "air"]), value=st.sampled_from([0.5, 1.0, 1.6])),
    st.builds(Pop, at=times),
    st.builds(Note, at=times, text=st.text(max_size=10)),
)
wrong = st.fixed_dictionaries({"at": times, "temperature": st.floats(0, 400).map(round).map(float)})


def folded(entries: list[Any]) -> Roast:
    return fold(HEADER, effective([Numbered(i + 2, e) for i, e in enumerate(entries)]))


def nameless(roast: Roast) -> Any:
    """A roast without the lines its entries stand in, and without when they came in."""
    plain = [tuple(replace(x, line=0) for x in getattr(roast, k)) for k in ("readings", "preheat", "moves")]
    for k in (0, 1):
        plain[k] = tuple(replace(x, came=0.0) for x in plain[k])
    return plain, roast.marks, sorted(roast.pops), sorted(roast.notes), roast.phase, roast.charge_at


@pytest.mark.parametrize("late", [Reading(at=9e4, temperature=150.0), Mark(at=9e4, event="drop"), Pop(at=9e4)])
def test_nothing_of_a_roast_is_more_than_a_day_after_charge(late: Any) -> None:
    early = [Reading(at=-9e4, temperature=20.0), Mark(at=10.0, event="charge"), Reading(at=70.0, temperature=90.0)]
    with pytest.raises(EntryError, match=r"25 hours after charge \(line 5\) is too late"):
        folded([*early, late])
    assert folded([*early, Note(at=9e5, text="of the cup"), Result(at=9e5, colour=60.0)]).readings


@given(st.lists(entry, max_size=12, unique_by=lambda e: e.at), st.randoms(use_true_random=False))
def test_the_order_in_which_entries_come_in_does_not_matter(entries: list[Any], random: Any) -> None:
    entries = [Mark(at=10.0, event="charge"), *entries]
    shuffled = list(entries)
    random.shuffle(shuffled)
    assert nameless(folded(entries)) == nameless(folded(shuffled))


@given(st.lists(entry, min_size=1, max_size=10, unique_by=lambda e: e.at), wrong, st.data())
def test_a_corrected_entry_is_the_right_entry(entries: list[Any], mistake: dict[str, float], data: Any) -> None:
    right = [Mark(at=10.0, event="charge"), *entries]
    i = data.draw(st.integers(1, len(right) - 1))
    entered = list(right)
    if isinstance(right[i], Reading):
        entered[i] = Reading(**mistake)
        mend = {"at": right[i].at, "temperature": right[i].temperature}
    else:
        entered[i] = right[i].model_copy(update={"at": mistake["at"]})
        mend = {"at": right[i].at}
    entered.append(Correction(at=700.0, of=i + 2, replace=mend))
    assert nameless(folded(entered)) == nameless(folded(right))


@given(st.lists(entry, min_size=1, max_size=10, unique_by=lambda e: e.at), entry)
def test_a_withdrawn_entry_never_was(entries: list[Any], extra: Any) -> None:
    right = [Mark(at=10.0, event="charge"), *entries]
    entered = [*right, extra, Correction(at=700.0, of=len(right) + 2, replace=None)]
    assert nameless(folded(entered)) == nameless(folded(right))


@pytest.mark.parametrize(
    ("corrections", "word"),
    [
        ([Correction(at=50.0, of=9, replace=None)], "holds no entry"),
        ([Correction(at=50.0, of=2, replace=None), Correction(at=51.0, of=2, replace=None)], "holds no entry"),
        ([Correction(at=50.0, of=2, replace=None), Correction(at=51.0, of=3, replace=None)], "is a correction itself"),
        ([Correction(at=50.0, of=2, replace={"at": float("nan")})], "can't be taken"),
        ([Correction(at=50.0, of=2, replace={"kind": "correction", "of": 2})], "make it a correction"),
    ],
)
def test_corrections_that_can_not_be(corrections: list[Correction], word: str) -> None:
    with pytest.raises(EntryError, match=word):
        folded([Reading(at=20.0, temperature=150.0), *corrections])


@settings(max_examples=4, deadline=None)
@given(st.integers(0, 5), st.floats(40, 320).map(round).map(float), st.floats(-20, 20))
def test_the_coach_after_a_correction_is_as_if_entered_right(which: int, typed: float, late: float) -> None:
    """Estimate and forecast too, not the fold alone: a reading mistyped and mistimed, mended 5 s after the last."""
    profile = load_profile("larch-hill")
    right = [Reading(at=70.0 + 30 * n, temperature=float(round(profile.curve.value(60.0 + 30 * n)))) for n in range(6)]
    coaches = []
    for mistaken in (False, True):
        coach = Coach(profile, HEADER)
        coach.receive(Mark(at=10.0, event="charge"))
        for n, reading in enumerate(right):
            wrong_now = mistaken and n == which
            at = max(11.0, reading.at + min(late, 0.0))
            entry = Reading(at=at, typed=reading.at, temperature=typed) if wrong_now else reading
            coach.take(coach.prepare(entry), most=0)  # estimate and forecast are all that is looked at
        if mistaken:
            good = {"at": right[which].at, "typed": right[which].at, "temperature": right[which].temperature}
            coach.take(coach.prepare(Correction(at=225.0, of=3 + which, replace=good)), most=0)
        coach.advance(240.0, most=0)
        coaches.append(coach.situation)
    a, b = coaches
    assert a.estimate is not None
    assert b.estimate is not None
    assert b.estimate.temperature == pytest.approx(a.estimate.temperature, abs=1e-9)
    assert b.estimate.rate == pytest.approx(a.estimate.rate, abs=1e-12)
    assert (a.forecast.first_crack is None) == (b.forecast.first_crack is None)
    if a.forecast.first_crack is not None and b.forecast.first_crack is not None:
        assert b.forecast.first_crack.time.median == pytest.approx(a.forecast.first_crack.time.median, abs=1e-6)
