"""``coach adopt ROAST --name NAME``: a profile from a finished roast."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from coach.app.commands import check
from coach.app.printing import in_words, print_json
from coach.logbook.adopt import Adopted, AdoptOptions, adopt
from coach.logbook.index.find import find_roast
from coach.logbook.index.results import add_results, append, entry_time
from coach.logbook.learning.lessons import made_of
from coach.logbook.profiles.differences import change_table, changes, words_needed
from coach.logbook.profiles.kept_versions import versions
from coach.roast.entries import Mark
from coach.roast.errors import CoachError, EntryError, FileError, as_argument, printable
from coach.roast.profile import Profile, ProfileDocument
from coach.roast.roast import Roast, explain
from coach.roast.units import from_celsius, number, parse_clock
from coach.session.folders import file_stem
from coach.session.journal import Journal, read_journal
from coach.session.profile_files import (
    dump_document,
    find_profile,
    logbook_folder,
    profile_folder,
    read_document,
    save_text,
)


def run(args: argparse.Namespace) -> int:
    """Show the new profile beside the one that was followed, then write it."""
    path = find_roast(args.roast, logbook_folder(args.logbook))
    journal = read_journal(path)
    given = given_by(args)
    followed, said = followed_by(journal, args.follows)
    try:
        roast = _dropped(journal.roast, args.drop)
        made = adopt(roast, args.name, followed=followed, given=given)
    except EntryError as error:
        raise FileError(str(path), error.message, error.hint) from None
    except ValidationError as error:
        raise FileError(str(path), f"makes no profile: {explain(error)}.", "Correct the roast's entries.") from None
    say = in_words(args.json)
    say(printable(f"{args.name}, from {path.stem}, {said}"))
    found = proposed(followed, made, args, say)
    stem, target = file_stem(args.name, "profile"), None
    if not args.show:
        target = Path(args.output) if args.output else profile_folder() / f"{stem}.toml"
        save_text(target, dump_document(made.document), overwrite=args.overwrite)
        say(f"{printable(str(target))}: follow it with  coach follow {printable(args.output or stem)}")
        for line in _counted(path, journal, made.document, roast.marks["drop"]):
            say(f"  {line}")
        if journal.header.run == "rehearsal":
            say("  It is a rehearsal's: a profile of the simulated roaster, not of yours.")
    if args.json:
        print_json({
            "file": target, "profile": made.document, "roast": journal.header.id, "changes": found,
            "followed": None if followed is None else {"name": followed.name, "version": followed.version},
            "sources": made.sources,
        })  # fmt: skip
    return 0


def _counted(path: Path, journal: Journal, document: ProfileDocument, drop: float) -> list[str]:
    """Add a result that counts a roast without a profile as a roast of its new one, with the ``drop`` (roast time, s)
    where it had none; return the lines that say so."""
    header, result, now = journal.header, journal.roast.result, datetime.now(UTC)
    if header.run != "live" or (header.profile and not (result and result.profile)):
        return []
    given: dict[str, Any] = {"profile": document.name, "profile_version": document.version}
    if result is None or result.accepted is None:
        given["accepted"] = True
    name = as_argument(path.stem)
    try:
        if "drop" not in journal.roast.marks:
            at = (journal.roast.charge_at or 0.0) + drop
            append(path, [Mark(at=at, typed=max(entry_time(journal, now), at), event="drop")])
        add_results(path, given, (), now)
    except CoachError as error:
        return [f"{name} itself stays without a profile: {error}"]
    if "accepted" not in given:
        return [f"{name} counts as a roast of it"]
    return [f"{name} counts as an accepted roast of it; if it is none: coach result {name} accepted no"]


def followed_by(journal: Journal, stated: str | None) -> tuple[ProfileDocument | None, str]:
    """The profile that a roast followed, in the version it names if that is here, and a remark on it; or the one that
    was ``stated``.  A profile whose only source is this roast does not count as followed."""
    if stated:
        document = read_document(find_profile(stated))
        return document, f"beside {document.name}, version {document.version}"
    name, version = journal.header.profile, journal.header.profile_version
    found = versions(name) if name else []
    exact = next((v for v in found if v.document.version == version), None)
    if exact is not None and made_of(exact.document, journal):
        name, found = "", []
    if not found:
        return None, f"which followed '{name}': no profile of that name is here" if name else "which names no profile"
    chosen = (exact or found[-1]).document
    word = "which followed" if exact is not None or version is None else f"which followed version {version}; here is"
    return chosen, f"{word} {chosen.name}, version {chosen.version}"


def _dropped(roast: Roast, drop: str | None) -> Roast:
    """The roast with a drop (m:ss) where none was marked.  Raises EntryError."""
    if drop is None:
        return roast
    if "drop" in roast.marks:
        raise EntryError("The roast has a drop mark.", "Leave --drop out; a correction moves the mark.")
    try:
        return replace(roast, marks={**roast.marks, "drop": parse_clock(drop)})
    except ValueError as error:
        raise EntryError(f"--drop: {error}.", "Write it as m:ss") from None


def given_by(args: argparse.Namespace) -> AdoptOptions:
    """The person's statements.  Raises CoachError."""
    for name in ("charge", "safety", "batch"):
        check(f"--{name}", getattr(args, name), "Give a number above zero.", 0.001, 1e4)
    return AdoptOptions(args.charge, args.safety, args.batch, dict(_limit(text) for text in args.limit))


def _limit(text: str) -> tuple[str, tuple[float, float] | float]:
    number = r"(\d+(?:\.\d+)?)"
    if match := re.fullmatch(rf"(gas|air|drum)={number}-{number}", text.strip()):
        return match[1], (float(match[2]), float(match[3]))
    if match := re.fullmatch(rf"(gas_step|air_step)={number}", text.strip()):
        return match[1], float(match[2])
    raise CoachError(f"--limit '{text[:40]}' is not understood.", "Write --limit gas=0.4-2.4 or --limit gas_step=0.1")


def proposed(
    old: ProfileDocument | None, made: Adopted, args: argparse.Namespace, say: Callable[[str], None]
) -> list[str]:
    """Show a new profile beside the one that was followed, and check that each grave change was confirmed by its word;
    return the changes.  Raises CoachError."""
    new, before = Profile(made.document), None if old is None else Profile(old)
    say("\n".join(f"  {line}" for line in change_table(before, new, made.sources)))
    if before is None:
        return []
    lacking = {w: what for w, what in words_needed(before, new).items() if w not in args.change}
    if lacking:
        hint = f"If that is meant: coach {args.command} ... {' '.join(f'--change {w}' for w in lacking)}"
        if "charge" in lacking:
            hint += f". Else state it: --charge {number(from_celsius(before.charge_temperature, new.unit))}"
        raise CoachError(f"Nothing is written. {'; '.join(lacking.values())}.", hint)
    return changes(before, new)
