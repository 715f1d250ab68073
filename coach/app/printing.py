"""Width and characters of a page on this terminal, and progress of long work."""

from __future__ import annotations

import json
import os
import re
import shutil
import sys
import textwrap
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from math import isfinite
from typing import Any, Final

from coach.roast.errors import printable

Lines = Callable[[int, bool], Sequence[str]]
"""Function that gives a page for a width in cells, in plain characters alone or not."""
WIDEST: Final = 110
"""Longest line on any terminal, cells."""
WIDEST_SCREEN: Final = 220
"""Widest page on a full screen, cells."""


def page_width(columns: int) -> int:
    """Width of a page on a full screen of so many columns, beside its scroll bar, cells."""
    return min(max(columns - 3, 30), WIDEST_SCREEN)


def width(usual: int = 80) -> int:
    """Width of a line, cells; ``usual`` where the terminal's is unknown."""
    return min(shutil.get_terminal_size((usual, 24)).columns, WIDEST)


def plainly() -> bool:
    """True if plots are drawn without braille dots: as the settings say, or since the terminal can't show them."""
    from coach.app.screens.signs import plain
    from coach.session.settings import load_settings

    return plain(load_settings().signs, sys.stdout.encoding, os.environ)


def in_utf() -> bool:
    """True if every character can be printed."""
    return "utf" in (sys.stdout.encoding or "").lower()


def hanging(line: str, wide: int) -> list[str]:
    """Break a line longer than ``wide`` cells at words; the rest hangs under its text, right of a first label."""
    if len(line) <= wide:
        return [line]
    label = re.match(r" *\S.{0,22}?   +(?=\S)|( *)", line)
    assert label is not None
    indent = label.end() if label[1] is None and label.end() < wide // 2 else len(line) - len(line.lstrip()) + 2
    return textwrap.wrap(
        line, wide, subsequent_indent=" " * indent, break_long_words=False, break_on_hyphens=False
    ) or [""]  # fmt: skip


def hung(lines: Iterable[str], wide: int) -> list[str]:
    """Lines with the long ones broken as by ``hanging``."""
    return [row for line in lines for row in hanging(line, wide)]


class _AtWords:
    """A terminal's stream that breaks long lines at words, at the terminal's width; JSON and colours are left alone."""

    def __init__(self, stream: Any) -> None:
        self._stream = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        """Write a text, broken where it is too wide."""
        wide = shutil.get_terminal_size().columns
        rows = [
            [x] if x.lstrip().startswith(tuple('{["}]')) or "\x1b" in x else hanging(x, wide) for x in text.split("\n")
        ]
        return int(self._stream.write("\n".join(x for row in rows for x in row)))


def print_page(lines: Iterable[str]) -> None:
    """Print the lines of a page, on a terminal in colours (its own; none where NO_COLOR is set)."""
    text = "\n".join(map(printable, lines))
    if not sys.stdout.isatty():
        print(text)
        return
    from rich.console import Console

    from coach.app.screens.ink import inked
    from coach.app.screens.palette import LOOKS, Sketch

    rows = hung(text.split("\n"), shutil.get_terminal_size().columns)
    Console(soft_wrap=True).print(inked("\n".join(rows), Sketch(LOOKS["terminal"])))


@contextmanager
def at_words() -> Iterator[None]:
    """Break long lines at words meanwhile, on the standard streams that are terminals."""
    before = sys.stdout, sys.stderr
    wrapped = [_AtWords(s) if s.isatty() and not isinstance(s, _AtWords) else s for s in before]
    sys.stdout, sys.stderr = wrapped
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


SOON: Final = 0.5
"""Time below which work is not reported, s."""
MANY: Final = 2000
"""Number of items after which a line is written where there is no terminal."""


def progress(what: str = "going through the roasts") -> Callable[[int, int], None]:
    """Report progress on standard error: on a terminal in one line, wiped at the end; else a line each ``MANY``."""
    begun, shown = time.monotonic(), False

    def told(done: int, of: int) -> None:
        nonlocal shown
        if not sys.stderr.isatty():
            if of >= MANY and (done == of or done % MANY == 0):
                print(f"{what}: {done} of {of}", file=sys.stderr, flush=True)
        elif done < of and (shown or time.monotonic() - begun > SOON):
            shown = True
            print(f"\r{what}: {done} of {of}", end="", file=sys.stderr, flush=True)
        elif shown:
            _wipe()

    return told


@contextmanager
def patience(what: str = "looking back, some seconds the first time") -> Iterator[None]:
    """Show on a terminal what is being done, as long as it is done."""
    if sys.stderr.isatty():
        print(f"{what} …", end="", file=sys.stderr, flush=True)
    try:
        yield
    finally:
        if sys.stderr.isatty():
            _wipe()


def _wipe() -> None:
    print("\r" + " " * 75 + "\r", end="", file=sys.stderr, flush=True)


def in_words(json: bool) -> Callable[[str], None]:
    """Printer of a command's remarks: at once, or not at all where it answers as JSON."""
    return (lambda text: None) if json else (lambda text: print(text, flush=True))


def ask(question: str) -> str:
    """Return the answer typed after a printed question.  Raises EOFError.

    Not by ``input(question)``: on a terminal that writes to C's stderr, which the sound device silences.
    """
    print(question, end=" ", flush=True)
    return input()


def print_json(thing: Any) -> None:
    """Print values as JSON (RFC 8259: no NaN, no infinity; those are null)."""
    print(json.dumps(plain_values(thing), allow_nan=False, ensure_ascii=not in_utf(), indent=1))


def plain_values(thing: Any) -> Any:
    """Values for JSON: the fields of dataclasses and models, name and version of a profile, the id of a roast, numbers
    to six places."""
    from coach.roast.profile import Profile
    from coach.roast.roast import Roast

    if thing is None or isinstance(thing, str | bool | int):
        return thing
    if isinstance(thing, float):
        return round(float(thing), 6) if isfinite(thing) else None
    if isinstance(thing, Profile):
        return {"name": thing.name, "version": thing.document.version}
    if isinstance(thing, Roast):
        return thing.header.id
    if hasattr(thing, "model_dump"):
        return plain_values(thing.model_dump(mode="json"))
    if is_dataclass(thing):
        found = {f.name: getattr(thing, f.name) for f in fields(thing) if not f.name.startswith("_")}
        return {name: plain_values(value) for name, value in found.items() if not callable(value)}
    if isinstance(thing, Mapping):
        return {str(k): plain_values(v) for k, v in thing.items()}
    if hasattr(thing, "tolist"):
        return plain_values(thing.tolist())
    if isinstance(thing, set | frozenset):
        return sorted(plain_values(x) for x in thing)
    if isinstance(thing, list | tuple):
        return [plain_values(x) for x in thing]
    return str(thing)
