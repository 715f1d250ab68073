"""Provenance of cached and recorded results, as digests: of a journal's content, and of the program."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np

from coach.roast.entries import OUTCOMES, Header
from coach.roast.roast import Numbered
from coach.session.journal import line_of

ASIDE: Final = frozenset({"note", "reply", "result", "sound check"})
"""Kinds of entries that neither evidence nor forecasts depend on."""
EDGES: Final = ("app", "logbook", "simulator")
"""Rooms that no cached result depends on, but for ``LEARNING``."""
LEARNING: Final = ("logbook", "learning")


def content(header: Header, entries: Sequence[Numbered]) -> str:
    """A digest of a journal's content, as far as evidence and forecasts depend on it."""
    digest = hashlib.sha256(f"{header.unit} {header.pressure_unit}\n".encode())
    for n in entries:
        if getattr(n.entry, "kind", "") not in ASIDE:
            digest.update(f"{n.line} {line_of(n.entry)}".encode())
    return digest.hexdigest()


def replayed(header: Header, entries: Sequence[Numbered]) -> str:
    """A digest of a journal's content, as far as a replay's cues and advice depend on it.  A person's word on a cue,
    given afterwards, changes neither."""
    digest = hashlib.sha256(header.model_dump_json().encode())
    for n in entries:
        kind, answer = getattr(n.entry, "kind", ""), getattr(n.entry, "answer", "")
        if kind not in ASIDE or (kind == "reply" and answer not in OUTCOMES):
            digest.update(f"{n.line} {line_of(n.entry)}".encode())
    return digest.hexdigest()


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
