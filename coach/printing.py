"""How wide and with which signs a page is printed on this terminal, and how far long work has come."""

from __future__ import annotations

import os
import shutil
import sys
from typing import Final

WIDEST: Final = 110
"""Lines are not made longer than this, however wide the terminal is."""


def width(usual: int = 80) -> int:
    """How many cells a line may take; ``usual`` where it can't be told."""
    return min(shutil.get_terminal_size((usual, 24)).columns, WIDEST)


def plainly(wanted: bool = False) -> bool:
    """Whether plots are drawn without braille dots: as wanted, or since the terminal can't show them."""
    return wanted or os.environ.get("TERM") == "dumb" or "utf" not in (sys.stdout.encoding or "").lower()


def progress(done: int, of: int) -> None:
    """On a terminal, which roast of a logbook is gone through; wiped once it is the last."""
    if sys.stderr.isatty():
        print(f"\rgoing through roast {done} of {of} ...", end="", file=sys.stderr, flush=True)
        if done == of:
            print("\r" + " " * 40 + "\r", end="", file=sys.stderr, flush=True)
