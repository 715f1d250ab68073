"""States of a cue: every state and every event, and the properties that the table must have.

ANSI/ISA-18.2-2016's figure, as listed for the states of a process module (A normal, B unacknowledged, C acknowledged,
D returned to normal unacknowledged, E shelved, F suppressed by design): A-B condition true, B-C acknowledge, B-D
clears, C-A clears, D-A acknowledge, D-B again, any-E and any-F.
"""

from __future__ import annotations

from itertools import product

import pytest

from coach.cues.lifecycle import EVENTS, STATES, TRANSITIONS, CueEvent
from coach.cues.situation import CueState

A, B, C, D, E, F = "normal", "unacknowledged", "acknowledged", "returned", "shelved", "suppressed"

EXPECTED: dict[str, dict[str, str]] = {
    A: {"trips": B, "shelve": E, "suppress": F},
    B: {"clears": D, "seen": C, "acted": C, "shelve": E, "suppress": F},
    C: {"clears": A, "worse": B, "not enough": B, "shelve": E, "suppress": F},
    D: {"trips": B, "seen": A, "acted": A, "settles": A, "shelve": E, "suppress": F},
    E: {},
    F: {"release": A, "shelve": E},
}
"""Written down by hand; where nothing stands the state stays."""


def test_every_pair_is_there() -> None:
    assert set(TRANSITIONS) == set(product(STATES, EVENTS))
    assert set(EXPECTED) == set(STATES)
    assert {e for row in EXPECTED.values() for e in row} <= set(EVENTS)


@pytest.mark.parametrize("event", EVENTS)
@pytest.mark.parametrize("state", STATES)
def test_transition(state: CueState, event: CueEvent) -> None:
    assert TRANSITIONS[state, event] == EXPECTED[state].get(event, state)


def test_the_standards_own_edges() -> None:
    """ISA-18.2's figure, edge by edge."""
    edges: list[tuple[CueState, CueEvent, CueState]] = [
        ("normal", "trips", "unacknowledged"),
        ("unacknowledged", "seen", "acknowledged"),
        ("unacknowledged", "clears", "returned"),
        ("acknowledged", "clears", "normal"),
        ("returned", "seen", "normal"),
        ("returned", "trips", "unacknowledged"),
    ]
    assert all(TRANSITIONS[a, e] == b for a, e, b in edges)


def test_nothing_latches_and_every_state_can_be_left() -> None:
    """After the condition is over two events lead to normal, without anybody having answered."""
    for state in STATES[:4]:
        assert TRANSITIONS[TRANSITIONS[state, "clears"], "settles"] == "normal"
    assert TRANSITIONS["suppressed", "release"] == "normal"


def test_shelved_holds_through_everything() -> None:
    assert {TRANSITIONS["shelved", e] for e in EVENTS} == {"shelved"}
    assert {TRANSITIONS[s, "shelve"] for s in STATES} == {"shelved"}


def test_once_is_enough() -> None:
    """The same event twice is the same as once."""
    for state, event in TRANSITIONS:
        after = TRANSITIONS[state, event]
        assert TRANSITIONS[after, event] == after, (state, event)
