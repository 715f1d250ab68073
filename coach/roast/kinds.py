"""Kinds that entries, profiles and settings share: the events of a roast, the dials of a probe."""

from __future__ import annotations

from typing import Final, Literal, get_args

Event = Literal["charge", "turning point", "yellow", "first crack", "second crack", "drop"]
EVENTS: Final[tuple[Event, ...]] = get_args(Event)
"""The marks, in the order in which a roast passes them."""
Dial = Literal["whole", "half", "tenths", "needle"]
"""Resolution of the probe's dial: whole degrees, half degrees or tenths in digits, or a needle over marks."""
