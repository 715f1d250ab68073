"""The clock of a roast across restarts of the program, from the computer's clocks.

The wall clock may be set back or forward, and daylight saving comes in the night.  So the header of a live journal
notes, beside the wall time, the time since the computer was switched on (s) and a name of that start.  As long as the
computer was not switched off that clock is used, and it goes on while the computer sleeps.
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
"""Number of seconds beyond which those that passed at once, as after sleep, are folded in parts."""
_BOOT: Final = Path("/proc/sys/kernel/random/boot_id")


@dataclass(frozen=True)
class Now:
    """One moment on all clocks: wall time, seconds since the computer was switched on (``uptime``), and a name of that
    start (``boot``)."""

    wall: datetime
    uptime: float
    boot: str = ""


def uptime() -> float:
    """Seconds on a clock that nobody sets and that goes on while the computer sleeps, where there is such a clock.

    It is CLOCK_BOOTTIME on Linux, CLOCK_MONOTONIC on macOS (clock_gettime(3) there; ``time.monotonic`` stops with the
    computer), and ``time.monotonic`` on Windows, which has neither.
    """
    source = getattr(time, "CLOCK_BOOTTIME", getattr(time, "CLOCK_MONOTONIC", None))
    return time.monotonic() if source is None else time.clock_gettime(source)


def right_now() -> Now:
    """This moment on all clocks."""
    try:
        boot = _BOOT.read_text(encoding="ascii").strip()[:64]
    except (OSError, ValueError):
        boot = ""
    return Now(datetime.now(UTC), uptime(), boot)


def stopwatch(offset: float = 0.0) -> Callable[[], float]:
    """A clock that counts seconds from ``offset`` (s) at this moment."""
    base = uptime() - offset
    return lambda: uptime() - base


def elapsed(header: Header, last: float, now: Now) -> tuple[float, str]:
    """Seconds since a roast was opened, and a remark where they are uncertain ('' otherwise).

    ``last``: time at which its last entry came in (s since it was opened); the clock is never before that.
    """
    boot, then = getattr(header, "boot", ""), getattr(header, "uptime", None)
    if now.boot and boot == now.boot and isinstance(then, (int, float)) and now.uptime >= then + last - 1.0:
        return now.uptime - then, ""
    wall = (now.wall - header.moment).total_seconds()
    if wall < last:
        return last, "The computer's clock was set back: the roast's clock goes on from the last entry"
    return wall, ""
