"""How wide and with which signs a page is printed on this terminal."""

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
