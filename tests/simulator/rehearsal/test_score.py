"""The score: pure, and each part falls when what it measures gets worse."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from headless_drill import Done, run_drill
from helpers import ROOT

from coach.roast.entries import Entry, Header, Mark, Move, Note, Outcome, Reading
from coach.roast.roast import Numbered, effective, fold
from coach.session.profile_files import load_profile
from coach.simulator.machine import load_machine
from coach.simulator.rehearsal.inject import Truth
from coach.simulator.rehearsal.model import Drill, load_drill
from coach.simulator.rehearsal.score import Score, fall, lines_of, score
from coach.verification.cue_outcomes import OutcomeLine

PROFILE = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
CHARGE = 60.0


def perfect() -> list[Entry]:
    """Everything as planned, a reading every 20 s, the crack called 2 s late."""
    out: list[Entry] = [Mark(at=CHARGE, event="charge")]
    t = 20.0
    while t < 575.0:
        out.append(Reading(at=CHARGE + t, temperature=round(PROFILE.curve.value(t))))
        t += 20.0
    out += [Move(at=CHARGE + s.time, control=s.control, value=s.shown) for s in PROFILE.steps]
    marks = [("yellow", 245.0), ("first crack", 489.0), ("drop", 575.0)]
    return [*out, *(Mark(at=CHARGE + t, event=e) for e, t in marks)]  # type: ignore[arg-type]


def truth(change: Callable[[np.ndarray], np.ndarray] = lambda t: 0.0 * t, **kw: object) -> Truth:
    t = np.arange(0.0, 660.0)
    probe = PROFILE.curve.at(t - CHARGE) + change(t - CHARGE)
    plain = Truth(
        charge=CHARGE, yellow=CHARGE + 243.0, first_crack=CHARGE + 487.0, drop=CHARGE + 575.0, times=t, probe=probe,
        mass_loss=0.14,
    )  # fmt: skip
    return replace(plain, **kw)  # type: ignore[arg-type]


def scored(entries: list[Entry], true: Truth, drill: Drill | None = None, cues: tuple[OutcomeLine, ...] = (),
           own: list[int] | None = None) -> Score:  # fmt: skip
    numbered = effective(Numbered(i + 2, e) for i, e in enumerate(sorted(entries, key=lambda e: e.at)))
    header = Header(id="x", started="2026-01-01T00:00:00+00:00")
    return score(fold(header, numbered), numbered, true, PROFILE, drill, cues, own)


def share(s: Score, name: str) -> float:
    return next(p.share for p in s.parts if p.name == name)


def test_a_perfect_roast() -> None:
    s = scored(perfect(), truth())
    assert s.points == pytest.approx(100.0, abs=0.5)
    assert s.call_off == pytest.approx(2.0)
    assert s.crack_off == pytest.approx(0.0, abs=0.2)
    assert s.inside == 1.0
    assert s.hints == 0


@pytest.mark.parametrize(
    ("part", "true"),
    [
        ("first crack", truth(first_crack=CHARGE + 530.0)),
        ("call of crack", truth(first_crack=CHARGE + 470.0)),
        ("call of yellow", truth(yellow=CHARGE + 210.0)),
        ("development", truth(first_crack=CHARGE + 460.0)),
        ("drop temperature", truth(lambda t: np.where(t > 550, -5.0, 0.0))),
        ("inside the band", truth(lambda t: np.where(t < 300, 9.0, 0.0))),
    ],
)
def test_each_part_falls_on_its_own_grounds(part: str, true: Truth) -> None:
    s = scored(perfect(), true)
    assert share(s, part) < 0.7
    assert s.points < 98.0


def test_few_readings_cost() -> None:
    few = [e for e in perfect() if not isinstance(e, Reading) or (e.at - CHARGE) % 100.0 == 0.0]
    s = scored(few, truth())
    assert 0.2 < share(s, "readings") < 0.75
    assert s.readings == 5


def test_hints_and_needless_moves_cost() -> None:
    hinted = scored([*perfect(), Note(at=300.0, text="Hint")], truth())
    assert hinted.hints == 1
    assert scored(perfect(), truth()).points - hinted.points == pytest.approx(5.0)
    fuss = [Move(at=CHARGE + 200.0 + 11 * i, control="gas", value=1.6) for i in range(7)]
    restless = scored([*perfect(), *fuss], truth())
    assert scored(perfect(), truth()).points - restless.points == pytest.approx(3.0)


def test_a_roast_without_crack_or_drop_scores_low_and_does_not_fail() -> None:
    entries = [e for e in perfect() if not isinstance(e, Mark) or e.event == "charge"]
    s = scored(entries, truth(first_crack=None, drop=None, yellow=None))
    assert s.points < 60.0
    assert s.call_off is None
    assert scored([], truth(charge=None, first_crack=None, drop=None, yellow=None)).points == 0.0


def test_noticing_counts_from_the_injection() -> None:
    drill = load_drill("sticking-probe")
    happened = (CHARGE + 200.0,)
    true = truth(happened=happened)

    def after(*notes: float) -> Score:
        return scored([*perfect(), *(Note(at=CHARGE + t, text="odd") for t in notes)], true, drill)

    assert after(230.0).notice == pytest.approx(30.0)
    assert after(230.0).points > after(300.0).points > after().points
    assert after(150.0).notice is None  # a guess before it happened is none
    assert after(150.0, 260.0).notice == pytest.approx(60.0)


def test_a_planned_move_is_no_sign_of_noticing() -> None:
    drill = load_drill("unlogged-move")
    happened = (CHARGE + 250.0,)
    assert scored(perfect(), truth(happened=happened), drill).notice is None
    set_right = [*perfect(), Move(at=CHARGE + 280.0, control="gas", value=1.5)]
    assert scored(set_right, truth(happened=happened), drill).notice == pytest.approx(30.0)


def test_a_colleagues_entries_are_not_ones_own() -> None:
    entries = sorted([*perfect(), Note(at=CHARGE + 300.0, text="odd")], key=lambda e: e.at)
    drill = load_drill("sticking-probe")
    happened = (CHARGE + 200.0,)
    lines = [i + 2 for i, e in enumerate(entries) if e.at > CHARGE + 400.0]
    s = scored(entries, truth(happened=happened), drill, own=lines)
    assert s.notice is None
    assert s.readings < 10
    assert scored(entries, truth(happened=happened), drill).notice == pytest.approx(100.0)


def test_safety_is_about_stopping_alone() -> None:
    drill = load_drill("smoulder-alarm")
    happened = (CHARGE + 300.0,)
    true = truth(happened=happened, drop=None)
    early = [e for e in perfect() if e.at < CHARGE + 320.0]
    assert scored(early, true, drill).points == 0.0
    stopped = scored([*early, Move(at=CHARGE + 308.0, control="gas", value=0.0)], true, drill)
    assert stopped.points == 100.0
    assert stopped.notice == pytest.approx(8.0)
    said = scored([*early, Note(at=CHARGE + 370.0, text="STOP and out")], true, drill)
    assert 0.0 < said.points < 100.0
    assert [p.name for p in said.parts] == ["stopping"]


def cue(outcome: Outcome = "useful", acted: float | None = None, name: str = "drop now", heard: int = 1) -> OutcomeLine:
    return OutcomeLine(name, "prompt", "high", 525.0, "drop", heard, False, outcome, "drop 9:35", acted=acted)


def test_cues_count_by_their_answers_as_the_review_judges_them() -> None:
    plain = scored(perfect(), truth())
    said = {"1 answered in time": cue(acted=9.0), "1 late": cue(acted=98.0), "1 not answered": cue("unknown")}
    shares = []
    for text, one in said.items():
        found = scored(perfect(), truth(), cues=(one,))
        assert [p.text for p in found.parts if p.name == "cues"] == [text]
        shares.append(share(found, "cues"))
    assert shares == [1.0, 0.5, 0.0]
    assert scored(perfect(), truth(), cues=(cue("already acting"), cue(acted=1.0))).points == plain.points
    nothing = (cue(name="drop near"), cue(name="reading doubtful"), cue(heard=0))
    left_out = (cue("false"), cue("false", 5.0), cue("late"), *nothing)
    assert scored(perfect(), truth(), cues=left_out) == plain, "no cue asked for anything in vain"


def test_fall() -> None:
    assert [fall(x, 5.0, 15.0) for x in (0.0, 5.0, -10.0, 15.0, 99.0)] == [1.0, 1.0, 0.5, 0.0, 0.0]
    assert fall(None, 5.0, 15.0) == 0.0


def test_same_seed_same_entries_same_score() -> None:
    drill, machine = load_drill("unlogged-move"), load_machine("brambleforge-1")

    def once() -> Done:
        return run_drill(drill, PROFILE, machine, "novice", 7)

    a, b = once(), once()
    assert a.entries == b.entries
    assert a.score == b.score
    assert "\n".join(lines_of(a.score, a.truth, drill)).startswith("SCORE ")
