"""First crack from taps: worked vectors, run lengths, and what a person's hands do to them.

Run lengths of a counted-data CUSUM (Lucas 1985, Technometrics 27:129) are those printed for an R package's ``arl``
(IAcsSPCR, read).  They hold the Markov chain here to account; the same chain with fine time steps then says what the
product's continuous form must give.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from coach.cues.first_crack_taps import (
    CUE,
    GROWTH,
    SETTLES,
    Call,
    call_by_taps,
    first_call,
    growth_onset,
    presses,
    sums,
)
from coach.cues.situation import ActiveCue
from coach.roast.entries import Entry, Header, Mark, Pop, Reading, Reply
from coach.roast.profile import Profile, ProfileDocument, Taps
from coach.roast.roast import Numbered, Roast, effective, fold
from coach.session.coach import Coach
from coach.session.journal import read_journal
from coach.session.profile_files import load_profile
from tests.cues.tappers import CAREFUL, Cracking, Hand, crackings
from tests.cues.tappers import USUAL as USUAL_HAND

ROOT = Path(__file__).parents[2]
USUAL = Taps(stray=1.0, cracking=8.0, threshold=5.0, dated="first tap")
FIRST = Taps(dated="first tap")
GROWN = Taps()
USUAL_GROWN = Taps(stray=1.0, cracking=8.0, threshold=5.0)
CRACKING = (0.0, 50.0, 60.0, 66.0, 71.0)
STRAYS = (0.0, 22.0, 48.0, 75.0, 101.0)


# -- worked vectors (computed by hand from S = max(0, S - 7/60 dt) + ln 8) -------------------------------------------


def test_the_sum_of_the_worked_vectors() -> None:
    assert sums(CRACKING, USUAL) == pytest.approx([2.079, 2.079, 2.992, 4.372, 5.868], abs=6e-4)
    assert sums(STRAYS, USUAL) == pytest.approx([2.0794] * 5, abs=1e-4)


def test_cracking_is_called_and_dated_back() -> None:
    assert first_call(CRACKING, USUAL) == Call(at=71.0, onset=50.0)
    assert first_call(CRACKING[:-1], USUAL) is None


def test_strays_are_never_called() -> None:
    assert first_call(STRAYS, USUAL) is None


@pytest.mark.parametrize("first", [0.0, 3.0, 200.0])
def test_five_strays_in_a_minute_are_not_called(first: float) -> None:
    assert first_call([first + 15.0 * k for k in range(5)], Taps()) is None


def test_a_call_stands_when_the_taps_end_and_later_taps_do_not_move_it() -> None:
    assert first_call((*CRACKING, 73.0, 74.0, 300.0, 301.0), USUAL) == Call(71.0, 50.0)


def test_settings_are_the_persons_own_definition() -> None:
    assert first_call(CRACKING, Taps(stray=1.0, cracking=8.0, threshold=6.0)) is None
    assert first_call(CRACKING, Taps(stray=1.0, cracking=8.0, threshold=2.0, dated="first tap")) == Call(0.0, 0.0)
    assert first_call(
        (0, 9, 12, 14, 15.5, 16.5), Taps(stray=4.0, cracking=40.0, threshold=4.0, dated="first tap")
    ) == Call(15.5, 9.0)


@pytest.mark.parametrize("cracking", [1.0, 0.5])
def test_nothing_is_called_when_cracking_is_no_faster_than_strays(cracking: float) -> None:
    assert first_call([k / 2 for k in range(100)], Taps(stray=1.0, cracking=cracking)) is None


def test_a_profile_whose_rates_cannot_be_told_apart_is_refused() -> None:
    table = load_profile(str(ROOT / "profiles" / "larch-hill.toml")).document.model_dump()
    with pytest.raises(ValueError, match="cracking must be faster"):
        ProfileDocument.model_validate({**table, "taps": {"stray": 8.0, "cracking": 8.0, "threshold": 5.0}})


# -- what the hand does ----------------------------------------------------------------------------------------------


def test_a_key_held_down_is_one_tap() -> None:
    held = [100.0 + 0.033 * k for k in range(90)]
    assert presses(held) == (100.0,)
    assert first_call(held, USUAL) is None
    rounded = [round(t, 1) for t in held]
    assert presses(rounded) == (100.0,)


def test_quick_taps_are_all_counted() -> None:
    assert presses([5.0, 5.2, 5.4, 5.6]) == (5.0, 5.2, 5.4, 5.6)


@given(st.lists(st.floats(0, 600, allow_nan=False), max_size=60), st.floats(0, 300, allow_nan=False))
def test_order_does_not_matter_and_later_times_shift_the_call(taps: list[float], by: float) -> None:
    taps = [round(t, 1) for t in taps]
    call = first_call(sorted(taps), USUAL)
    assert first_call(list(reversed(taps)), USUAL) == call
    shifted = first_call([t + round(by, 1) for t in taps], USUAL)
    assert (shifted is None) == (call is None)
    if call is not None and shifted is not None:
        assert shifted.onset - call.onset == pytest.approx(round(by, 1))
        assert call.onset in taps
        assert call.at in taps
        assert call.onset <= call.at


# -- undo, and the mark ----------------------------------------------------------------------------------------------


def roast(*entries: Entry) -> Roast:
    header = Header(id="taps", started=datetime(2026, 1, 5, 8, tzinfo=UTC).isoformat())
    numbered = [Numbered(i + 2, e) for i, e in enumerate(entries)]
    return fold(header, effective(numbered))


def pops(*times: float) -> list[Pop]:
    return [Pop(at=60.0 + t) for t in times]


def called(roast: Roast, planned_yellow: float = 0.0) -> Call | None:
    """The call by the taps of a roast that follows a plan with yellow at some time, s."""
    document = load_profile("larch-hill").document
    marks = [m.model_copy(update={"time": planned_yellow}) if m.event == "yellow" else m for m in document.milestones]
    return call_by_taps(roast, Profile(document.model_copy(update={"taps": USUAL, "milestones": marks})))


def test_not_yet_undoes_and_starts_anew() -> None:
    charge, (one, other) = (
        Mark(at=60.0, event="charge"),
        (Reply(at=60.0 + t, cue=CUE, answer="not yet") for t in (75, 91)),
    )
    first, again = pops(*(t + 1.0 for t in CRACKING)), pops(90.0, 92.0, 94.0)
    assert called(roast(charge, *first)) == Call(72.0, 51.0)
    assert called(roast(charge, *first, one)) is None
    assert called(roast(charge, *first, one, *pops(80.0))) is None  # the taps before count no more
    assert called(roast(charge, *first, one, *again)) == Call(94.0, 90.0)
    assert called(roast(charge, *first, one, *again, other)) is None


def test_taps_of_a_roast_count_from_yellow_on() -> None:
    charge, yellow = Mark(at=60.0, event="charge"), Mark(at=60.0 + 280.0, event="yellow")
    early, late = pops(270, 272, 274, 276), pops(420, 424, 427, 429)
    assert called(roast(charge, *early)) == Call(274.0, 270.0)
    assert called(roast(charge, *early, yellow)) is None
    assert called(roast(charge, yellow, *early, *late)) == Call(427.0, 420.0)
    assert called(roast(charge, *early, *late), planned_yellow=280.0) == Call(274.0, 270.0)
    assert called(roast(charge, *early, *late), planned_yellow=370.0) == Call(427.0, 420.0)
    assert called(roast(charge, yellow, *late), planned_yellow=600.0) == Call(427.0, 420.0)


def test_only_not_yet_to_this_cue_undoes() -> None:
    charge, late = Mark(at=60.0, event="charge"), pops(420, 424, 427, 429)
    seen, other = Reply(at=490.5, cue=CUE, answer="seen"), Reply(at=490.5, cue="move due", answer="not yet")
    assert called(roast(charge, *late, seen, other)) is not None
    undone = Reply(at=490.5, cue=CUE, answer="not yet")
    assert called(roast(charge, *late, undone)) is None
    again = pops(440, 441, 443, 444)
    assert called(roast(charge, *late, undone, *again)) == Call(443.0, 440.0)


# -- run lengths -----------------------------------------------------------------------------------------------------


def chain_arl(mean: float, k: float, h: float, step: float, head: float = 0.0) -> float:
    """Average run length of S = max(0, S + c - k), c Poisson, signal at S >= h: Markov chain (Brook and Evans 1972,
    Biometrika 59:539).  ``step``: lattice on which all of k, h and 1 lie."""
    n = round(h / step)
    p = np.zeros((n, n))
    for i in range(n):
        for c in range(60):
            j = max(0, i + round((c - k) / step))
            if j < n:
                p[i, j] += stats.poisson.pmf(c, mean)
    lengths = np.linalg.solve(np.eye(n) - p, np.ones(n))
    return float(lengths[round(head / step)])


@pytest.mark.parametrize(
    ("mean", "head", "printed"),
    [(1.88, 0.0, 37.20), (1.88, 3.0, 29.19), (3.2, 0.0, 5.49), (3.2, 3.0, 3.33)],
)
def test_the_chain_gives_the_printed_run_lengths(mean: float, head: float, printed: float) -> None:
    """IAcsSPCR's worked example: h 6, k 2, in control 1.88; out of control 3.2; head start 3."""
    assert chain_arl(mean, 2.0, 6.0, 1.0, head) == pytest.approx(printed, abs=0.01)


def simulated(rate: float, length: float, runs: int, seed: int) -> list[Call | None]:
    """Calls from taps at a steady rate (a minute) over ``length`` s."""
    rng = np.random.default_rng(seed)
    out = []
    for _ in range(runs):
        taps = np.sort(rng.uniform(0, length, rng.poisson(rate * length / 60)))
        out.append(first_call(taps.tolist(), USUAL))
    return out


def fine_chain(rate: float) -> float:
    """The chain with time steps of about a third of a second: the continuous form's mean time to a call, s.

    In units of one tap's gain the sum falls by ``fall`` a second.
    """
    fall = (USUAL.cracking - USUAL.stray) / 60 / math.log(USUAL.cracking / USUAL.stray)
    step = 1 / 50
    dt = step / fall
    n = math.ceil(USUAL.threshold / math.log(8.0) / step)
    p = np.zeros((n, n))
    for i in range(n):
        for c in range(6):
            j = max(0, i - 1) + 50 * c
            if j < n:
                p[i, j] += stats.poisson.pmf(c, rate / 60 * dt)
    return float(dt * np.linalg.solve(np.eye(n) - p, np.ones(n))[0])


def test_run_lengths_of_the_continuous_form() -> None:
    """Against the chain: time to a call when it cracks (8 a minute)."""
    delays = [c.at for c in simulated(8.0, 600.0, 3000, seed=1) if c is not None]
    assert len(delays) == 3000
    expected = fine_chain(8.0)
    assert expected == pytest.approx(30.0, abs=1.5)  # computed earlier by simulation: 30 s
    assert np.mean(delays) == pytest.approx(expected, abs=float(4 * np.std(delays) / math.sqrt(3000) + 0.3))
    assert fine_chain(1.0) / 60 == pytest.approx(57.0, abs=3.0)  # likewise: 57 minutes


def test_false_calls_in_six_minutes_of_strays() -> None:
    """9.8 % ± 1 over 10 000 runs at one stray a minute (computed earlier with another program)."""
    false = sum(c is not None for c in simulated(1.0, 360.0, 10_000, seed=2)) / 10_000
    assert false == pytest.approx(0.098, abs=0.01)


def test_five_strays_at_random_in_a_minute_are_hardly_ever_called() -> None:
    """With the defaults; with 1 and 8 a minute, which the worked vectors use, four minutes in five would be."""
    rng = np.random.default_rng(3)
    false = sum(first_call(rng.uniform(0, 60, 5).tolist(), Taps()) is not None for _ in range(4000))
    assert false / 4000 < 0.005


# -- two people, the same pops ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def cracked() -> list[Cracking]:
    return list(crackings(60, 11))


def agreement(roasts: list[Cracking], hand: Hand, settings: Taps) -> tuple[float, NDArray[np.float64]]:
    """Share of roasts in which two such people's onsets differ by 5 s or less, and the errors of the onset, s."""
    alike, error = 0, []
    for i, r in enumerate(roasts):
        a, b = (first_call(hand.tap(r, np.random.default_rng([i, k])), settings) for k in range(2))
        assert a is not None
        assert b is not None
        alike += abs(a.onset - b.onset) <= 5.0
        error.append(a.onset - r.onset)
    return alike / len(roasts), np.array(error)


def test_two_people_call_alike(cracked: list[Cracking]) -> None:
    """About nine in ten where both hear every pop, with unsteady hands and false taps; dated by growth, more.

    Whoever misses pops dates another moment more often: at the slow start of a crack a single pop decides where it
    began (figures: tests/bench/bench_taps.py).
    """
    alike, error = agreement(cracked, CAREFUL, FIRST)
    assert alike >= 0.86
    assert abs(np.median(error)) < 12.0
    alike, error = agreement(cracked, USUAL_HAND, FIRST)
    assert alike >= 0.72
    assert abs(np.median(error)) < 12.0


def test_dated_by_growth_two_people_call_alike_more_often(cracked: list[Cracking]) -> None:
    """Both pairs of people together: of 60 roasts one pair's share is known to 4 points only (three times 60: 0.88 by
    growth, 0.85 by the first tap)."""
    hands = (CAREFUL, USUAL_HAND)
    grown, by_tap = ([agreement(cracked, hand, settings) for hand in hands] for settings in (GROWN, FIRST))
    alike, alike_by_tap = (float(np.mean([share for share, _ in x])) for x in (grown, by_tap))
    error, error_by_tap = (np.concatenate([e for _, e in x]) for x in (grown, by_tap))
    assert alike >= 0.8
    assert alike >= alike_by_tap
    assert np.std(error) < 0.8 * np.std(error_by_tap)
    assert all(abs(np.median(e)) < 12.0 for _, e in grown)


# -- dated by growth ---------------------------------------------------------------------------------------------------


def test_growth_finds_the_onset_that_made_the_taps() -> None:
    """Taps drawn from the process itself, by thinning: the median is right on average, and half of it above, half below
    within what 300 runs can tell."""
    rng, found = np.random.default_rng(4), []
    for _ in range(300):
        t = np.sort(rng.uniform(-60, 30, rng.poisson(90 * 1.5)))
        rate = (4 + 6 * np.exp(t / GROWTH)) / 60
        assert rate.max() < 1.5
        taps = t[rng.random(len(t)) < rate / 1.5]
        found.append(growth_onset(tuple(taps.tolist()), -60.0, 4.0, 12.0))
    assert np.mean(found) == pytest.approx(0.0, abs=1.5)
    assert np.mean(np.array(found) > 0) == pytest.approx(0.5, abs=0.1)


def test_growth_changes_the_date_and_not_the_call() -> None:
    for taps in (CRACKING, (*CRACKING, 73.0, 75.0, 76.0, 200.0), (0.0, 9.0, 12.0, 14.0, 15.5, 16.5)):
        call, grown = (first_call(taps, USUAL.model_copy(update={"dated": d})) for d in ("first tap", "growth"))
        assert call is not None
        assert grown is not None
        assert grown.at == call.at
        assert grown.onset <= grown.at
    assert first_call(STRAYS, GROWN) is None


def test_growth_settles_half_a_minute_after_the_call() -> None:
    taps = [*CRACKING, *np.arange(74.0, 71.0 + SETTLES, 2.0).tolist()]
    settled = first_call(taps, USUAL_GROWN)
    assert first_call([*taps, 101.5, 102.0, 150.0], USUAL_GROWN) == settled
    assert first_call(taps[:-3], USUAL_GROWN) != settled


@given(st.floats(-300, 300, allow_nan=False))
def test_growth_moves_with_the_taps(by: float) -> None:
    by = round(by, 1)
    call = first_call([t + 500.0 for t in CRACKING], USUAL_GROWN)
    moved = first_call([t + 500.0 + by for t in CRACKING], USUAL_GROWN)
    assert call is not None
    assert moved is not None
    assert moved.onset - call.onset == pytest.approx(by, abs=0.11)


# -- through the coach -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("dated", ["first tap", "growth"])
def test_taps_in_a_whole_roast(dated: str) -> None:
    """The example roast, its crack not marked but tapped: called, undone by 'not yet', called again, then marked.

    Dated by growth the onset still moves after the call, and nothing sounds again for that.
    """
    journal = read_journal(ROOT / "examples" / "invented-roast.jsonl")
    document = load_profile(str(ROOT / "profiles" / "larch-hill.toml")).document
    taps = document.taps.model_copy(update={"dated": dated})
    profile = Profile(document.model_copy(update={"taps": taps}))
    charge = next(n.entry.at for n in journal.entries if getattr(n.entry, "event", "") == "charge")
    told: list[Entry] = [
        n.entry for n in journal.entries if getattr(n.entry, "event", "") not in ("first crack", "drop")
    ]
    told = [e for e in told if e.at < charge + 520]
    told += [Pop(at=charge + t) for t in (430.0, 446.0, 452.0, 452.9, 453.8, 454.7, 455.6)]  # a false run
    told.append(Reply(at=charge + 459.0, cue=CUE, answer="not yet"))
    told += [Pop(at=charge + t) for t in (470.0, 484.0, 488.0, 490.5, 492.0, 493.1, 494.0, 494.6, 495.3)]
    told.append(Mark(at=charge + 484.0, typed=charge + 530.0, event="first crack"))
    coach = Coach(profile, journal.header)
    at = 0.0
    heard: list[tuple[int, str]] = []
    stood: dict[int, list[ActiveCue]] = {}
    for entry in [*sorted(told, key=lambda e: e.came), Reading(at=charge + 545.0, temperature=204.0)]:
        while at + 1 <= entry.came:
            at += 1.0
            heard += [(round(at - charge), c.name) for c in coach.advance(at)]
            stood[round(at - charge)] = [c for c in coach.cues if c.name == CUE]
        coach.receive(entry)
        heard += [(round(entry.came - charge), c.name) for c in coach.cues if c.sounds]
    first, second = (t for t, n in heard if n == CUE)
    assert 455 <= first <= 459  # at once, or 5 s after another sound
    assert 59 <= second - first <= 61  # once a minute
    assert stood[458]
    assert not stood[462]  # undone
    if dated == "first tap":
        assert "8:04" in stood[500][0].text  # dated back to 484 s
    else:
        standing = [c for t in range(470, 529) for c in stood[t]]
        assert len({c.text for c in standing}) > 1
        assert len({c.since for c in standing}) == 1
    assert stood[529]
    assert not stood[531]  # the mark overrides
