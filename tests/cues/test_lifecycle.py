"""States of a cue: every state and every event, and the properties that the table must have.

ANSI/ISA-18.2-2016's figure, as listed for the states of a process module (A normal, B unacknowledged, C acknowledged,
D returned to normal unacknowledged, E shelved, F suppressed by design): A-B condition true, B-C acknowledge, B-D
clears, C-A clears, D-A acknowledge, D-B again, any-E and any-F.
"""

from __future__ import annotations

from itertools import product
from typing import Final, get_args

from coach.cues.situation import CueState
from coach.cues.watch import TRANSITIONS, CueEvent

EVENTS: Final[tuple[CueEvent, ...]] = get_args(CueEvent)


def after(state: CueState, event: CueEvent) -> CueState:
    return TRANSITIONS[state].get(event, state)


def test_every_state_is_there() -> None:
    assert tuple(TRANSITIONS) == get_args(CueState)


def test_the_standards_own_edges() -> None:
    """ISA-18.2's figure, edge by edge."""
    edges: list[tuple[CueState, CueEvent, CueState]] = [
        ("normal", "trips", "unacknowledged"),
        ("unacknowledged", "seen", "acknowledged"),
        ("unacknowledged", "clears", "returned"),
        ("acknowledged", "clears", "normal"),
        ("returned", "seen", "normal"),
        ("returned", "trips", "unacknowledged"),
        *((state, "shelve", "shelved") for state in TRANSITIONS),
        *((state, "suppress", "suppressed") for state in TRANSITIONS if state != "shelved"),
    ]
    assert all(after(a, e) == b for a, e, b in edges)


def test_nothing_latches_and_every_state_can_be_left() -> None:
    """After the condition is over two events lead to normal, without anybody having answered."""
    for state in ("normal", "unacknowledged", "acknowledged", "returned"):
        assert after(after(state, "clears"), "settles") == "normal"
    assert after("suppressed", "release") == "normal"


def test_only_an_answered_cue_comes_back() -> None:
    for event in ("worse", "not enough"):
        assert [s for s in TRANSITIONS if after(s, event) != s] == ["acknowledged"]
    assert [s for s in TRANSITIONS if after(s, "trips") != s] == ["normal", "returned"]


def test_shelved_holds_through_everything() -> None:
    assert {after("shelved", e) for e in EVENTS} == {"shelved"}


def test_once_is_enough() -> None:
    """The same event twice is the same as once."""
    for state, event in product(TRANSITIONS, EVENTS):
        assert after(after(state, event), event) == after(state, event), (state, event)
