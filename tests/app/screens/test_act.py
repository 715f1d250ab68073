"""What the action band shows, and that the key for a move that was made logs what is shown, and nothing else."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
import still

from coach.advice.advice_values import Advice
from coach.app.screens.act import Act, act, logged, missed_line
from coach.cues.evidence import drop_due
from coach.cues.situation import ActiveCue, NextMove, Situation
from coach.roast.units import clock, number

STEPS = still.profile().steps
GAS, AIR = STEPS[-2], next(s for s in STEPS if s.control == "air")
ADVICE = Advice("gas 1.6 to 1.4", "gas", 1.4, shown=1.4, kind="move", deadline=377.0)


def name(action: str) -> str:
    return f"<{action}>"


def moment(
    due: float | None = None, advice: Advice | None = None, missed: bool = False, tapped: bool = False
) -> Situation:
    """A moment in browning, with a planned move due in so many seconds."""
    s = still.near_plan()
    assert s.t is not None
    found = s.next_move
    assert found is not None
    move = None if due is None else replace(found, due=s.t + due, until=due)
    return replace(
        s, next_move=move, due_moves=() if move is None else (move,), advice=advice,
        missed=(NextMove(AIR, s.t - 90.0, -90.0),) if missed else (), tapped_onset=s.t - 10.0 if tapped else None,
    )  # fmt: skip


def late() -> tuple[ActiveCue, ...]:
    return still.cue("crack late", "alarm", "medium", "crack 8:20 to 8:50, plan 8:07", "more heat now")


def shown(s: Situation, cues: tuple[ActiveCue, ...] = ()) -> Act:
    return act(s, cues, name)


def test_where_advice_stands_before_a_planned_move_the_key_logs_the_advised_one() -> None:
    s = moment(20.0, ADVICE)
    found = shown(s, still.early())
    assert found.what == "gas 1.6 → 1.4"
    assert found.key == "<made>"
    assert logged(s, found) == ((("gas", 1.4),), "gas to 1.4, as advised")


def test_advice_that_no_cue_asks_for_stands_in_the_band_with_its_key() -> None:
    s = moment(68.0, ADVICE)
    found = shown(s)
    assert (found.what, found.key, found.urgency) == ("gas 1.6 → 1.4", "<made>", "soon")
    assert logged(s, found)[0] == (("gas", 1.4),)


def test_a_move_that_is_due_under_another_cue_is_named_with_its_key() -> None:
    s = moment(12.0, Advice("too late for crack", kind="too late"))
    found = shown(s, late())
    assert found.what == "more heat now"
    assert f"→ {number(GAS.shown, 2)} in 0:12  (<made> done)" in found.more
    assert logged(s, found)[0] == (("gas", GAS.shown),)


def test_moves_that_are_due_together_are_all_named() -> None:
    s = moment(12.0)
    s = replace(s, due_moves=(*s.due_moves, NextMove(AIR, s.due_moves[0].due, 12.0)))
    found = shown(s)
    assert f"air to {number(AIR.shown, 2)}" in found.what or f"→ {number(AIR.shown, 2)}" in found.what
    assert [c for c, _ in logged(s, found)[0]] == ["gas", "air"]


@pytest.mark.parametrize("cues", [still.too_hot(), still.drop_now()], ids=["danger", "drop"])
def test_the_key_logs_no_plan_while_the_band_says_something_else_at_once(cues: tuple[ActiveCue, ...]) -> None:
    s = moment(3.0, ADVICE, missed=True)
    assert logged(s, shown(s, cues)) == ((), "")
    assert "type it once made" in missed_line(s, shown(s, cues), "o", "l")


def test_a_missed_move_is_logged_where_nothing_else_is_shown() -> None:
    s = moment(68.0, missed=True)
    assert logged(s, shown(s))[0] == (("air", AIR.shown),)
    assert "o made now" in missed_line(s, shown(s), "o", "l")
    s = moment(12.0, missed=True)
    assert logged(s, shown(s))[0] == (("gas", GAS.shown),)
    assert "o made now" not in missed_line(s, shown(s), "o", "l")


def test_a_danger_comes_first_in_every_phase() -> None:
    for s in (still.cooling(), still.waiting(), still.crack()):
        found = shown(s, still.too_hot())
        assert (found.urgency, found.what) == ("danger", "heat off")


def test_after_the_drop_nothing_of_the_plan_is_left_in_the_band() -> None:
    s = still.near_plan()
    s = replace(still.cooling(), next_move=s.next_move, due_moves=s.due_moves, advice=ADVICE,
                missed=(NextMove(AIR, 260.0, -90.0),))  # fmt: skip
    found = shown(s, late())
    assert found.what == "cool the beans, then weigh"
    assert (found.left, logged(s, found), missed_line(s, found, "o", "l")) == ("", ((), ""), "")


def test_a_drop_that_is_late_is_overdue_and_one_to_come_says_how_hot() -> None:
    s = replace(still.crack(), next_move=None)
    due = drop_due(s)
    assert due is not None
    assert (shown(s).what, shown(s).left) == ("drop", f"in {clock(due.time - 500.0)}")
    assert shown(s).more.startswith("at about 2")
    s = replace(s, t=due.time + 40.0, at=due.time + 40.0)
    assert shown(s, still.drop_now()).left == "overdue"


CASES = tuple(
    product(
        (None, -12.0, 4.0, 20.0, 68.0),
        (None, ADVICE, Advice("on plan")),
        (False, True),
        (False, True),
        ((), late(), still.early(), still.too_hot(), still.drop_now(), still.reading_due()),
    )
)


def test_what_the_key_would_log_stands_on_the_screen_beside_the_key() -> None:
    for case in CASES:
        *of, cues = case
        s = moment(*of)
        found = shown(s, cues)
        moves, words = logged(s, found)
        band = f"{found.what} {found.more} {found.key}"
        missed = missed_line(s, found, "<made>", "<leave_out>")
        assert ("<made>" in band) == bool(found.moves), case
        for control, value in found.moves:
            assert control in band, case
            assert number(value, 2) in band, case
        if moves and not found.moves:
            assert "<made> made now" in missed, case
            assert words.endswith("made late"), case
