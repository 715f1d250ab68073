"""A rehearsal behind the screen: it hears moves, marks and corrections, jumps, pauses and shows the trier."""

from __future__ import annotations

import pytest
from stage import MACHINE, PROFILE, Stage

from coach.roast.entries import Correction, Mark, Move, Note, Reading
from coach.simulator.rehearsal.judged import timing
from coach.simulator.rehearsal.model import drill_names, load_drill
from coach.simulator.rehearsal.rehearsal import HELPER


def test_moves_and_marks_act_on_the_roaster() -> None:
    s = Stage()
    s.wait(60)
    s.enter(Move(at=60.0, control="gas", value=1.2))
    s.enter(Mark(at=60.0, event="charge"))
    s.wait(100)
    assert s.source.roaster.setting("gas") == 1.2
    assert s.source.roaster.loaded
    s.enter(Move(at=160.0, control="gas", value=9.0))
    assert s.source.roaster.setting("gas") == MACHINE.burner.full_pressure
    s.wait(440)
    s.enter(Mark(at=600.0, event="first crack"))
    s.enter(Mark(at=600.0, event="drop"))
    assert not s.source.roaster.loaded


def test_a_withdrawn_charge_never_happened() -> None:
    s, plain = Stage(), Stage()
    s.wait(40)
    s.enter(Mark(at=40.0, event="charge"))
    s.wait(20)
    assert s.source.roaster.display() < 200.0
    s.enter(Correction(at=60.0, of=2, replace=None))
    plain.wait(60)
    assert not s.source.roaster.loaded
    assert s.source.roaster.display() == plain.source.roaster.display()
    assert "charge at 222" in s.source.line(s.coach)
    for stage in (s, plain):
        stage.enter(Mark(at=60.0, event="charge"))
        stage.wait(300)
    assert s.source.roaster.probe == plain.source.roaster.probe


def test_a_withdrawn_drop_leaves_the_beans_in_the_drum() -> None:
    s, plain = Stage(), Stage()
    for stage in (s, plain):
        stage.wait(60)
        stage.enter(Mark(at=60.0, event="charge"))
        stage.wait(500)
    s.enter(Mark(at=560.0, event="first crack"))
    s.enter(Mark(at=560.0, event="drop"))
    assert "charge at" not in s.source.line(s.coach)
    for stage in (s, plain):
        stage.wait(30)
    s.enter(Correction(at=590.0, of=4, replace=None))
    assert s.source.roaster.loaded
    assert s.source.roaster.bean == plain.source.roaster.bean
    assert s.source.roaster.pops == plain.source.roaster.pops


def test_a_charge_told_late_acts_when_it_happened() -> None:
    late, plain = Stage(), Stage()
    plain.wait(50)
    plain.enter(Mark(at=50.0, event="charge"))
    plain.wait(20)
    late.wait(70)
    late.enter(Mark(at=50.0, typed=70.0, event="charge"))
    assert late.source.roaster.probe == plain.source.roaster.probe


def test_a_withdrawn_or_amended_move_sets_the_control_back() -> None:
    s = Stage()
    s.wait(30)
    s.enter(Move(at=30.0, control="gas", value=1.4))
    s.enter(Mark(at=30.0, event="charge"))
    s.wait(100)
    s.enter(Move(at=130.0, control="gas", value=0.3))
    s.wait(10)
    s.enter(Correction(at=140.0, of=4, replace={"value": 1.3}))
    assert s.source.roaster.setting("gas") == 1.3
    s.enter(Correction(at=140.0, of=4, replace=None))
    assert s.source.roaster.setting("gas") == 1.4
    s.enter(Correction(at=140.0, of=2, replace=None))
    assert s.source.roaster.setting("gas") == MACHINE.demo_plan.gas


def test_any_tick_the_same_journal() -> None:
    usual = Stage(auto=True, seed=3)
    usual.wait(700, step=1.0)
    other = Stage(auto=True, seed=3)
    other.wait(130, step=0.3)
    other.wait(570, step=37.0)
    assert [e.model_dump() for e in usual.typed] == [e.model_dump() for e in other.typed]
    assert [e.event for e in usual.typed if isinstance(e, Mark)] == ["charge", "yellow", "first crack", "drop"]
    assert usual.coach.roast.phase == "cooling"


def test_jump_to_a_minute_before_crack_with_an_honest_journal() -> None:
    s = Stage()
    s.wait(60)
    s.enter(Mark(at=60.0, event="charge"))
    s.wait(30)
    assert "minute before" in s.source.do("jump", s.coach)
    s.pulse()
    now = s.clock()
    assert s.source.roaster.time == now
    jumped = [e for e in s.typed if getattr(e, "by", "") == HELPER]
    assert len([e for e in jumped if isinstance(e, Reading)]) > 8
    assert {e.event for e in jumped if isinstance(e, Mark)} == {"yellow"}
    assert {e.value for e in jumped if isinstance(e, Move)} >= {3.0, 1.2}
    assert "less than a minute" in s.source.do("jump", s.coach)
    count = len(s.typed)
    s.wait(75)
    assert len(s.typed) == count
    onset = s.source.roaster.truth.first_crack
    assert onset is not None
    assert onset - now == pytest.approx(60.0, abs=1.5)
    s.enter(Mark(at=s.clock(), event="first crack"))
    assert "past" in s.source.do("jump", s.coach)


def test_jump_before_the_charge_charges_too() -> None:
    s = Stage()
    s.wait(5)
    s.source.do("jump", s.coach)
    s.pulse()
    assert {e.event for e in s.typed if isinstance(e, Mark)} == {"charge", "yellow"}
    assert all(getattr(e, "by", "") == HELPER for e in s.typed)


def test_pause_stops_clock_and_roaster() -> None:
    s = Stage()
    s.wait(30)
    s.source.do("pause", s.coach)
    assert s.source.paused
    s.wait(100)
    assert s.source.roaster.time == 30.0
    assert "PAUSED" in s.source.line(s.coach)
    s.source.do("pause", s.coach)
    s.wait(10)
    assert s.source.roaster.time == 40.0


def test_the_trier_shows_the_beans() -> None:
    s = Stage()
    assert "empty" in s.source.look().words
    s.wait(60)
    s.enter(Mark(at=60.0, event="charge"))
    s.wait(60)
    assert "green" in s.source.look().words
    assert s.source.look() == s.source.look()
    s.wait(440)
    assert "brown" in s.source.look().words


def test_a_person_beside_the_simulated_one() -> None:
    """What is typed by hand in an automatic rehearsal is not typed again, and nothing is refused."""
    s = Stage(auto=True, seed=5)
    s.wait(20)
    s.enter(Mark(at=20.0, event="charge"))
    s.wait(200)
    s.enter(Mark(at=220.0, event="yellow"))
    s.wait(260)
    s.enter(Mark(at=480.0, event="first crack"))
    s.wait(220)
    assert [e.event for e in s.typed if isinstance(e, Mark)] == ["charge", "yellow", "first crack", "drop"]
    assert {e.value for e in s.typed if isinstance(e, Move)} >= {3.0, 1.2, 0.8}


def test_the_simulated_person_charges_again_when_the_charge_is_withdrawn() -> None:
    s = Stage(auto=True, seed=5)
    s.wait(120)
    line = next(n.line for n in s.coach.entries if isinstance(n.entry, Mark))
    s.enter(Correction(at=120.0, of=line, replace=None))
    s.wait(180)
    assert len([e for e in s.typed if isinstance(e, Mark)]) == 2
    assert s.source.roaster.loaded
    s.wait(700)
    assert s.coach.roast.phase == "cooling"


def test_the_simulated_person_shuts_the_gas_at_the_drop_and_no_danger_follows() -> None:
    s = Stage(auto=True)
    s.wait(900)
    assert s.coach.roast.phase == "cooling"
    assert s.source.roaster.setting("gas") == 0.0
    assert s.source.line(s.coach).endswith("^q: the score"), "the way on"
    assert not [e for e in s.typed if isinstance(e, Reading) and e.temperature >= PROFILE.safety]


def test_an_empty_drum_over_a_gas_left_on_is_read_out_once() -> None:
    s = Stage()
    for at, event in ((60.0, "charge"), (400.0, "drop")):
        s.wait(at - s.real)
        s.enter(Mark(at=at, event=event))  # type: ignore[arg-type]
    s.wait(300)
    assert [e.temperature >= PROFILE.safety for e in s.typed if isinstance(e, Reading) and e.at > 400] == [True]


# ── drills ──────────────────────────────────────────────────────────────────────────────────────────────────────────


def test_a_drill_acts_and_is_not_shown() -> None:
    s = Stage(drill=load_drill("low-gas-supply"), auto=True)
    assert "DRILL: A usual day" in s.source.line(s.coach)
    s.wait(420)
    assert len(s.source.truth.happened) == 1
    assert s.source.roaster.setting("gas supply") == 0.7
    assert "supply" not in s.source.line(s.coach)
    full = MACHINE.burner.full_heat * (s.source.roaster.setting("gas") / MACHINE.burner.full_pressure) ** 0.5
    assert s.source.roaster.conditions.burner_set == pytest.approx(full * 0.7**0.5)


@pytest.mark.parametrize("name", drill_names())
def test_what_is_said_fits_beside_the_dials(name: str) -> None:
    """Two lines of a small terminal."""
    s = Stage(drill=load_drill(name))
    s.wait(1)
    assert "draught" in s.source.line(s.coach)
    assert len(s.source.line(s.coach)) <= 150
    s.enter(Note(at=s.clock(), text="hint"))
    assert load_drill(name).hint in s.source.line(s.coach)
    assert len(s.source.line(s.coach)) <= 150


def test_hints_at_the_first_stage_only() -> None:
    for stage, given in (("rehearse", True), ("", True), ("guided", False), ("cues only", False)):
        s = Stage(drill=load_drill("wet-lot"), stage=stage)
        s.wait(60)
        assert "DRILL" not in s.source.line(s.coach), "what was told before is gone"
        s.enter(Note(at=60.0, text=" Hint "))
        assert (load_drill("wet-lot").hint in s.source.line(s.coach)) is given


def test_a_handover_comes_all_at_once_and_then_it_is_ones_own() -> None:
    s = Stage(drill=load_drill("missed-move"))
    s.wait(1, step=0.2)
    charge = s.coach.roast.charge_at
    assert charge is not None
    assert s.clock() - charge == pytest.approx(385.0, abs=2.0)
    assert "yellow" in s.coach.roast.marks
    assert all(getattr(e, "by", "") == "simulated colleague" for e in s.typed)
    assert s.source.roaster.setting("gas") == 1.6
    assert "YOU TAKE OVER. simulated colleague: Nothing special" in s.source.line(s.coach)
    count = len(s.typed)
    s.wait(30)
    assert len(s.typed) == count
    s.enter(Move(at=s.clock(), control="gas", value=1.2))
    assert s.source.roaster.setting("gas") == 1.2


def test_stopping_ends_a_safety_drill_and_names_whose_plan_counts() -> None:
    s = Stage(drill=load_drill("smoulder-alarm"), auto=False)
    s.wait(60)
    s.enter(Mark(at=60.0, event="charge"))
    s.wait(490)
    assert "SMOKE ALARM" in s.source.line(s.coach)
    assert s.source.look().smell == "acrid smoke"
    s.enter(Move(at=s.clock(), control="gas", value=0.0))
    assert s.source.stopped
    line = s.source.line(s.coach)
    assert "your own emergency plan" in line
    now = s.clock()
    s.real += 50
    s.source.do("pause", s.coach)
    assert s.clock() == now
    assert "stopped" in s.source.do("jump", s.coach)


def test_stopping_elsewhere_is_a_move_like_any_other() -> None:
    s = Stage(drill=load_drill("wet-lot"))
    s.wait(10)
    s.enter(Move(at=10.0, control="gas", value=0.0))
    s.enter(Note(at=10.0, text="stop the fan? no"))
    assert not s.source.stopped
    assert s.source.roaster.setting("gas") == 0.0


def test_an_injection_into_a_charge_that_is_withdrawn_comes_again() -> None:
    s = Stage(drill=load_drill("no-sound").model_copy(update={"inject": load_drill("probe-offset").inject}))
    s.wait(30)
    s.enter(Mark(at=30.0, event="charge"))
    s.wait(250)
    assert len(s.source.truth.happened) == 1
    s.enter(Correction(at=280.0, of=2, replace=None))
    assert s.source.truth.happened == ()
    assert abs(s.source.roaster.indicated - s.source.roaster.probe) < 1.0
    s.enter(Mark(at=280.0, event="charge"))
    s.wait(215)
    assert len(s.source.truth.happened) == 1
    assert s.source.roaster.indicated - s.source.roaster.probe > 4.0


def test_pops_are_shown_only_when_nobody_takes_the_sound() -> None:
    s = Stage(auto=True)
    s.wait(570)
    assert s.source.roaster.pops
    lines = []
    for _ in range(20):
        lines.append(s.source.line(s.coach))
    assert "pops *" in lines[-1]
    s.source.sound(0.0, 512)
    assert "pops" not in s.source.line(s.coach)


def test_pops_sound_once_and_the_fan_is_heard() -> None:
    s = Stage(auto=True)
    s.wait(540)
    seen: list[float] = []
    hear = s.source.sound.hear
    s.source.sound.hear = lambda pops, **kw: (seen.extend(p.time for p in pops), hear(pops, **kw))[1]  # type: ignore
    s.wait(40, step=0.5)
    wanted = [p.time for p in s.source.roaster.pops if p.time > 540]
    assert wanted
    assert seen == wanted
    assert 0.5 < s.source.sound.air < 1.0


def test_its_dial_turns_over_and_a_press_is_scored_by_it() -> None:
    s = Stage()
    s.wait(60)
    s.enter(Mark(at=60.0, event="charge"))
    s.wait(240)
    s.wait(30, step=0.1)
    turned = [(t, n) for t, n in s.source.turns if t > 300.0]
    shown = [n for _, n in turned]
    assert shown == [shown[0] + i for i in range(len(shown))], "one degree after the other"
    assert str(int(turned[-1][1])) in s.source.line(s.coach)
    (t, n), (late, m) = turned[1], turned[3]
    s.enter(Reading(at=t + 0.4, temperature=n, turned=True))
    s.enter(Reading(at=late + 2.5, temperature=m, turned=True))
    s.enter(Reading(at=late + 3.0, temperature=m + 40, turned=True))
    lines = [r.line for r in s.coach.roast.readings]
    found = timing(s.coach.roast, s.source.turns, lines)
    assert found is not None
    assert found.late == pytest.approx((0.4, 2.5), abs=0.01)
    assert found.wrong == 1
