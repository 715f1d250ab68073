"""Provenance of cached and recorded results: a digest of the program."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np

EDGES: Final = ("app", "logbook", "simulator")
"""Rooms that no cached result depends on, but for ``LEARNING``."""
LEARNING: Final = ("logbook", "learning")


@cache
def program() -> str:
    """A digest of the program's sources but for its edges (``EDGES``), and of numpy's version: a change of a screen or
    a command leaves it the same."""
    house = Path(__file__).parent.parent
    digest = hashlib.sha256(np.__version__.encode())
    for path in sorted(house.rglob("*.py")):
        parts = path.relative_to(house).parts
        if parts[0] not in EDGES or parts[:2] == LEARNING:
            digest.update("/".join(parts).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


program()  # now: the files may be other ones when a long roast is over
