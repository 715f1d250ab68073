"""Provenance of cached and recorded results, as digests: of a journal's content, and of the program."""

from __future__ import annotations

import ast
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
FORECASTS: Final = ("coach.forecast.learning", "coach.verification.hindcast", "coach.logbook.learning.lessons")
"""The modules that compute evidence and hindcasts."""
EDGES: Final = ("app", "logbook", "simulator")
"""Rooms that no cached result depends on, but for ``LEARNING``."""
LEARNING: Final = ("logbook", "learning")
HOUSE: Final = Path(__file__).parent.parent


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


def program() -> str:
    """A digest of the whole program but for its edges (``EDGES``), and of numpy's version.  The sources are read once,
    at the first call of this or of ``forecaster``."""
    return _sign(frozenset(_sources()))


def forecaster() -> str:
    """A digest of the sources that evidence and forecasts depend on: the modules ``FORECASTS`` and all that they
    import.  A change elsewhere (a screen, a cue, a command) leaves it the same."""
    return _sign(_closure(FORECASTS))


@cache
def _sources() -> dict[str, bytes]:
    """Sources by module name: read once, since the files may be replaced while the program runs."""
    parts = {p: p.relative_to(HOUSE).parts for p in sorted(HOUSE.rglob("*.py"))}
    files = [p for p, x in parts.items() if x[0] not in EDGES or x[:2] == LEARNING]
    return {".".join(("coach", *p.relative_to(HOUSE).with_suffix("").parts)): p.read_bytes() for p in files}


def _imported(source: bytes) -> set[str]:
    """The names that a module imports, as modules or from one."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{a.name}" for a in node.names)}
    return found


@cache
def _closure(roots: tuple[str, ...]) -> frozenset[str]:
    """``roots`` and all that they import; KeyError where a root is no module, for then the digest would miss it."""
    sources, found, todo = _sources(), set[str](), [*roots]
    for root in roots:
        _ = sources[root]
    while todo:
        name = todo.pop()
        if name in sources and name not in found:
            found.add(name)
            todo += _imported(sources[name])
    return frozenset(found)


@cache
def _sign(names: frozenset[str]) -> str:
    digest = hashlib.sha256(np.__version__.encode())
    for name in sorted(names):
        digest.update(name.encode() + b"\0" + _sources()[name])
    return digest.hexdigest()


forecaster()  # now: the files may be other ones when a long roast is over
