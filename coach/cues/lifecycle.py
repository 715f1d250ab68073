"""The states of a cue and the transitions between them, after ANSI/ISA-18.2-2016.

Normal (A), unacknowledged (B), acknowledged (C), returned (D), shelved (E), suppressed (F).  Out of service (G) is
not used.  What differs from the standard's figure, for one person with busy hands and a roast of ten minutes: acting
acknowledges; a cue that returned to normal acknowledges itself without a sound; shelving holds for the whole roast;
nothing latches.  A cue left unanswered stays as it is; that it is heard once more is the affair of ``announce``.
"""

from __future__ import annotations

from typing import Final, Literal, get_args

from coach.cues.situation import CueState

CueEvent = Literal[
    "trips", "clears", "seen", "acted", "shelve", "worse", "not enough", "suppress", "release", "settles"
]
STATES: Final[tuple[CueState, ...]] = get_args(CueState)
EVENTS: Final[tuple[CueEvent, ...]] = get_args(CueEvent)

_N: Final[CueState] = "normal"
_U: Final[CueState] = "unacknowledged"
_A: Final[CueState] = "acknowledged"
_R: Final[CueState] = "returned"
_S: Final[CueState] = "shelved"
_F: Final[CueState] = "suppressed"

# fmt: off
_ROWS: Final[dict[CueEvent, tuple[CueState, ...]]] = {
    #                in: _N  _U  _A  _R  _S  _F
    "trips":            (_U, _U, _A, _U, _S, _F),  # the condition begins, and has lasted long enough
    "clears":           (_N, _R, _N, _R, _S, _F),  # it is inside its deadband again
    "seen":             (_N, _A, _A, _N, _S, _F),  # the person acknowledges it
    "acted":            (_N, _A, _A, _N, _S, _F),  # a move that answers it was logged
    "shelve":           (_S, _S, _S, _S, _S, _S),  # not again in this roast
    "worse":            (_N, _U, _U, _R, _S, _F),  # clearly worse than when it was answered
    "not enough":       (_N, _U, _U, _R, _S, _F),  # the move had its time, and it is still forecast
    "suppress":         (_F, _F, _F, _F, _S, _F),  # the phase in which it exists is over
    "release":          (_N, _U, _A, _R, _S, _N),  # the phase in which it exists has come
    "settles":          (_N, _U, _A, _N, _S, _F),  # returned to normal, and nobody needs to acknowledge it
}
# fmt: on

TRANSITIONS: Final[dict[tuple[CueState, CueEvent], CueState]] = {
    (state, event): after for event, row in _ROWS.items() for state, after in zip(STATES, row, strict=True)
}
"""Every state and every event."""
