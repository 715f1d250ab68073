"""Results that come after drop: ``out=0.69 score=85`` is one more line of the journal."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from itertools import zip_longest
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from coach.roast.entries import Entry, Note, Result
from coach.roast.errors import CoachError, FileError, did_you_mean, reason_of
from coach.roast.roast import explain
from coach.roast.units import clock
from coach.session.journal import Journal, JournalWriter, line_of, read_journal
from coach.session.offers import RESUMABLE

WEIGHTS: Final = {"kg": 1.0, "g": 0.001, "lb": 0.45359237, "oz": 0.028349523125}
"""kg per unit (international avoirdupois pound and ounce: NIST Special Publication 811, Appendix B.8)."""
WORDS: Final = {
    "in": "weight_in",
    "out": "weight_out",
    "moisture": "moisture",
    "colour": "colour",
    "color": "colour",
    "scale": "colour_scale",
    "score": "cup_score",
    "cup": "cup_score",
    "notes": "cup_notes",
    "note": "cup_notes",
    "person": "person",
    "accepted": "accepted",
    "learn": "learn",
    "doubt": "doubt",
    "profile": "profile",
}
FREE: Final = ("cup_notes", "cup_score", "person", "colour_scale", "doubt")
"""Fields that take free text (``cup`` does, unless a number follows)."""
NUMBER: Final = re.compile(r"-?\d+([.,]\d+)?", re.ASCII)
HEAVIEST: Final = 120.0
"""Limit on the weight of a batch, kg."""
BEST: Final = 100.0
"""Highest cup score (SCA cupping form: a hundred points; from memory)."""
USUAL: Final = (8.0, 25.0)
"""Range of loss of weight outside which a remark is made, percent (common practice, no source)."""
POSSIBLE: Final = (1.0, 30.0)
"""Possible range of green coffee's moisture, percent, wet basis (common practice, no source)."""
TRADED: Final = (8.0, 12.5)
"""Moisture of green coffee by ISO 6673, percent, wet basis: target of the International Coffee Organization, Resolution
407 (2002) as amended by 420 (2004)."""
WASHED: Final = (10.0, 12.0)
"""Moisture of washed arabica at import, percent: standard of the Specialty Coffee Association (defect poster, 2018)."""
_WEIGHT = (1e-6, HEAVIEST, " would be {:g} kg.", "Give it in kg, or with its unit: out=690g.")
RANGES: Final = {
    "weight_in": _WEIGHT,
    "weight_out": _WEIGHT,
    "moisture": (*POSSIBLE, ": no green coffee holds {:g} % of water.",
                 "Give percent of the weight as it is: moisture=11.2."),
    "cup_score": (0.0, BEST, f": a cup score goes from 0 to {BEST:g}.", "Correct it."),
    "colour": (-1000.0, 1000.0, " is no colour.", "Give the number that the meter shows."),
}  # fmt: skip
"""Possible range of each number, what is wrong outside of it, and what to do."""
FURTHEST: Final = 1e6
"""End of the format's clock, s."""
EXAMPLE: Final = (
    "for example: in=0.8 out=0.69 moisture=11.2 colour=58 scale='our meter' score=85 notes='plum' accepted=yes"
)


def parse_results(words: Sequence[str]) -> tuple[dict[str, Any], list[str]]:
    """The fields of a Result, and doubts to be handed over, from words like ``out=0.69`` or, as on the screen, ``out
    690g``.  Raises CoachError."""
    given: dict[str, Any] = {}
    doubts: list[str] = []
    for name, text in named_values(words):
        field = WORDS[name]
        if name == "cup" and not NUMBER.fullmatch(text):
            field = "cup_notes"
        if field == "colour" and " " in text:
            text, _, scale = text.partition(" ")
            given["colour_scale"] = scale.strip()[:100]
        if not text:
            raise CoachError(f"{name}= has no value.", EXAMPLE[0].upper() + EXAMPLE[1:])
        if field == "doubt":
            doubts.append(text)
            continue
        if field in given:
            raise CoachError(f"{name} is given twice.", "Give it once.")
        given[field] = value_of(name, field, text)
    return given, doubts


def named_values(words: Sequence[str]) -> list[tuple[str, str]]:
    """Names and values: ``out=690g``, ``"out 690g"`` and ``out 690g`` are the same; free text reaches to the next
    ``name=``, or a name before a value of its kind, as ``accepted no``.  Raises CoachError on an unknown name."""
    out: list[tuple[str, str]] = []
    going_on = False
    for word, following in zip_longest(words, words[1:], fillvalue=""):
        name, equals, text = word.partition("=")
        head, _, rest = word.strip().partition(" ")
        last, so_far = out[-1] if out else ("", "")
        free = going_on and WORDS[last] in FREE and not NUMBER.fullmatch(so_far)
        if equals and name.strip().lower() in WORDS:
            out.append((name.strip().lower(), text.strip()))
            going_on = False
        elif free and so_far and not _begins(head.lower(), rest or following):
            out[-1] = (last, f"{so_far} {word}")
        elif head.lower() in WORDS:
            out.append((head.lower(), rest.strip()))
            going_on = True
        elif going_on:
            out[-1] = (last, f"{so_far} {word}".strip())
        else:
            known = ", ".join(w for w in WORDS if w not in ("color", "note"))
            close = did_you_mean(name or head, WORDS)
            raise CoachError(
                f"'{word[:40]}' is not understood.", f"{close}Give name=value with one of {known}; {EXAMPLE}"
            )
    return out


def _begins(name: str, text: str) -> bool:
    """True if a word in free text is the name of a value, and the text after it is one of its kind."""
    field = WORDS.get(name, "")
    if field in ("accepted", "learn"):
        return text.lower() in ("yes", "no")
    measured = field.startswith("weight") or field in ("moisture", "colour", "cup_score")
    return measured and re.match(rf"{NUMBER.pattern}\s*({'|'.join(WEIGHTS)})?(\s|$)", text) is not None


def value_of(name: str, field: str, text: str) -> Any:
    """Parse the text typed after a ``name`` as the value of a Result's field.  Raises CoachError."""
    if field in ("colour_scale", "cup_notes", "person", "profile"):
        return text
    if field in ("accepted", "learn"):
        answer = {"yes": True, "y": True, "no": False, "n": False}.get(text.lower())
        if answer is None:
            raise CoachError(f"{field}={text[:20]} is not understood.", f"Write {field}=yes or {field}=no.")
        return answer
    weight = field.startswith("weight")
    match = re.fullmatch(r"(.*?)\s*(kg|g|lb|oz)", text, re.IGNORECASE) if weight else None
    number, unit = (match[1], WEIGHTS[match[2].lower()]) if match else (text, 1.0)
    if not NUMBER.fullmatch(number):
        kind = "a weight (kg, or with g, lb, oz)" if weight else "a number"
        raise CoachError(f"{name}={number[:20]} is not {kind}.", f"{EXAMPLE[0].upper()}{EXAMPLE[1:]}")
    found = round(float(number.replace(",", ".")) * unit, 6)
    low, high, why, hint = RANGES[field]
    if not low <= found <= high:
        raise CoachError(f"{name}={number[:20]}{why.format(found)}", hint)
    return found


def add_results(path: Path, given: dict[str, Any], doubts: Sequence[str], now: datetime) -> list[Entry]:
    """Append results and doubts to a journal after drop; its earlier lines stay as they are.

    The moment of adding is in the field ``entered`` too, since ``at`` ends at 1e6 s.  ``now`` is aware.  Raises
    CoachError when the result is invalid (more weight out than in), FileError when the journal can't be read or
    written, or the roast may still be running.
    """
    journal = read_journal(path)
    roast = journal.roast
    at = entry_time(journal, now)
    running = roast.charge_at is not None and not roast.finished
    if running and "abandoned" not in given and 0 <= (now - journal.header.moment).total_seconds() < RESUMABLE:
        hint = f"Mark its drop first; if it had none: coach close {path.stem}"
        raise FileError(str(path), "this roast may still be running: it has no drop.", hint)
    entries: list[Entry] = []
    entered = now.isoformat(timespec="seconds")
    try:
        if given:
            entries.append(Result.model_validate({"at": at, "entered": entered, **given}))
        entries += [Note.model_validate({"at": at, "entered": entered, "text": f"doubt: {d}"}) for d in doubts]
    except ValidationError as error:
        raise CoachError(f"The result can't be taken: {explain(error)}.", "Shorten the text.") from None
    check_weights(roast.result, roast.header.batch_kg, given)
    if "profile" in given and journal.header.profile and not (roast.result and roast.result.profile):
        raise CoachError(f"The roast followed '{journal.header.profile}'.", "Only one that names no profile gets one.")
    if "colour" in given and not (given.get("colour_scale") or (roast.result and roast.result.colour_scale)):
        raise CoachError("A colour without its scale says nothing.", "Name the meter or scale: scale='our meter'")
    append(path, entries)
    return entries


def abandon(path: Path, now: datetime, *, over: bool = True) -> None:
    """Mark a roast without a drop as over, or (``over`` False) as not over after all.  ``now`` is aware.

    Raises FileError when the roast was dropped or is open in a coach, or the journal can't be written.
    """
    roast = read_journal(path).roast
    if "drop" in roast.marks:
        raise FileError(str(path), f"was dropped at {clock(roast.marks['drop'])}.", "There is nothing to close.")
    if roast.abandoned is over:
        raise FileError(str(path), "is closed already." if over else "is not closed.", "Nothing was changed.")
    add_results(path, {"abandoned": over}, (), now)


def append(path: Path, entries: Sequence[Entry]) -> None:
    """Add entries to a journal on disk.  Raises FileError when it can't be written, or a coach has it open."""
    writer = JournalWriter(path)
    try:
        writer.reopen()
        writer.append("".join(line_of(e) for e in entries))
    except BlockingIOError:
        raise FileError(str(path), "is open in another coach.", "Type it there, or leave that one first.") from None
    except OSError as error:
        raise FileError(str(path), f"can't be written ({reason_of(error)}).", "Check the file's rights.") from None
    finally:
        writer.close()


def remark(loss: float | None) -> str:
    """Remark on an unusual loss of weight (percent); '' for a usual one."""
    if loss is None or USUAL[0] <= loss <= USUAL[1]:
        return ""
    return (
        f"A loss of {loss:.1f} % is {'less' if loss < USUAL[0] else 'more'} than roasts usually have "
        f"({USUAL[0]:g} to {USUAL[1]:g} %): weighed right? A new in= or out= takes its place."
    )


def moisture_remark(moisture: float | None) -> str:
    """Remark on green coffee that is drier or wetter (percent, wet basis) than it is traded; '' otherwise."""
    if moisture is None or WASHED[0] <= moisture <= WASHED[1]:
        return ""
    if TRADED[0] <= moisture <= TRADED[1]:
        side = "under" if moisture < WASHED[0] else "over"
        return f"{moisture:g} % moisture is {side} the {WASHED[0]:g} to {WASHED[1]:g} % asked of washed arabica (SCA)."
    side = "drier" if moisture < TRADED[0] else "wetter"
    return (
        f"{moisture:g} % moisture is {side} than green coffee should be traded ({TRADED[0]:g} to {TRADED[1]:g} %, ICO; "
        "percent of the weight as it is, not of the dry weight): measured right?"
    )


def entry_time(journal: Journal, now: datetime) -> float:
    """Time of an entry that is added to a journal ``now``, s since its start: not before its last entry came in, nor
    beyond the end of the format's clock."""
    after = max([n.entry.came for n in journal.entries], default=0.0)
    return round(min(max((now - journal.header.moment).total_seconds(), after), FURTHEST), 1)


def check_weights(old: Result | None, batch_kg: float | None, given: dict[str, Any]) -> None:
    """Check that the weights (kg) fit each other.  Raises CoachError."""
    before = old.model_dump() if old is not None else {}
    weight_in = given.get("weight_in") or before.get("weight_in") or batch_kg
    weight_out = given.get("weight_out") or before.get("weight_out")
    if weight_in and weight_out and weight_out > weight_in:
        raise CoachError(
            f"{weight_out:g} kg can't come out of {weight_in:g} kg.",
            "Give both: in=0.8 out=0.69 (kg; or with a unit: out=690g).",
        )
    if weight_in and weight_out and weight_out < 0.5 * weight_in:
        raise CoachError(
            f"{weight_out:g} kg out of {weight_in:g} kg is a loss of more than half.",
            "Check the units (kg; or with a unit: out=690g).",
        )
