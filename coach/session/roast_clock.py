"""The clock of a roast across restarts: what the computer's clocks say, and how a new start goes on from it.

The wall clock may be set back or forward, and daylight saving comes in the night.  So the header of a live journal
notes, beside the wall time, the time since the computer was switched on and which start of the computer that was.
As long as it was not switched off that clock is believed, and it goes on while the computer sleeps.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from coach.roast.entries import Header

AT_A_TIME: Final = 6
"""When more seconds than this have passed at once, as after sleep, they are folded in parts."""
_BOOT: Final = Path("/proc/sys/kernel/random/boot_id")


@dataclass(frozen=True)
class Now:
    """One moment on all clocks: wall time, seconds since the computer was switched on, and a name of that start."""

    wall: datetime
    uptime: float
    boot: str = ""


def uptime() -> float:
    """Seconds on a clock that nobody sets and that goes on while the computer sleeps, where there is such a clock.

    That is CLOCK_BOOTTIME on Linux, CLOCK_MONOTONIC on macOS (clock_gettime(3) there; ``time.monotonic`` stops with the
    computer), and on Windows, which has neither, what ``time.monotonic`` reads.
    """
    source = getattr(time, "CLOCK_BOOTTIME", getattr(time, "CLOCK_MONOTONIC", None))
    return time.monotonic() if source is None else time.clock_gettime(source)


def right_now() -> Now:
    """This moment."""
    try:
        boot = _BOOT.read_text(encoding="ascii").strip()[:64]
    except (OSError, ValueError):
        boot = ""
    return Now(datetime.now(UTC), uptime(), boot)


def stopwatch(offset: float = 0.0) -> Callable[[], float]:
    """A clock that stands at ``offset`` (s) now."""
    base = uptime() - offset
    return lambda: uptime() - base


def elapsed(header: Header, last: float, now: Now) -> tuple[float, str]:
    """Seconds since a roast was opened, and a word where they can't be sure ('' otherwise).

    ``last`` is when its last entry came in (s since it was opened): the clock never stands before that.
    Raises ValueError when the header's start is no time with a zone.
    """
    boot, then = getattr(header, "boot", ""), getattr(header, "uptime", None)
    if now.boot and boot == now.boot and isinstance(then, (int, float)) and now.uptime >= then + last - 1.0:
        return now.uptime - then, ""
    started = datetime.fromisoformat(header.started)
    if started.tzinfo is None:
        raise ValueError("no zone")
    wall = (now.wall - started).total_seconds()
    if wall < last:
        return last, "The computer's clock was set back: the roast's clock goes on from the last entry"
    return wall, ""
