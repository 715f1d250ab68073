"""``coach merge PROFILE [ROAST ...]``: the profile's next version from accepted roasts."""

from __future__ import annotations

import argparse
import re
from pathlib import Path

from pydantic import ValidationError

from coach.app.commands.adopt import given_by, proposed
from coach.app.commands.log import ready
from coach.app.printing import hung, in_words, print_json, width
from coach.logbook.index.find import find_roast
from coach.logbook.profiles.kept_versions import KeptVersion, later_than
from coach.logbook.profiles.versions import ENOUGH, merge, odd_ones
from coach.roast.errors import CoachError, printable
from coach.roast.profile import Profile
from coach.roast.roast import explain
from coach.session.journal import Journal, read_journal
from coach.session.profile_files import (
    bundled_profiles,
    dump_document,
    find_profile,
    load_profile,
    logbook_folder,
    profile_folder,
    save_text,
)


def run(args: argparse.Namespace) -> int:
    """Merge, show the differences, write."""
    parent = load_profile(args.profile)
    file = find_profile(args.profile)
    folder = logbook_folder(args.logbook)
    journals = chosen(parent, args.roasts, folder)
    roasts = [j.roast for j in journals]
    newer = later_than(parent, file.parent)
    if newer and not args.show and not args.output:
        raise CoachError(
            f"{printable(parent.name)}: there is a version {newer[-1].document.version} already.",
            f"Go on from it: coach merge {printable(newer[-1].called)}",
        )
    try:
        made = merge(parent, roasts, given_by(args))
    except ValidationError as error:
        raise CoachError(f"The roasts make no profile: {explain(error)}.", "Leave out what is unlike.") from None
    document = made.document
    names = ", ".join(printable(j.name) for j in journals)
    step = f"version {parent.document.version} -> {document.version}"
    out = [f"{printable(parent.name)}: {step}, from {len(roasts)} roast{'' if len(roasts) == 1 else 's'}"]
    odd = odd_ones(parent, roasts, [printable(j.name) for j in journals])
    out += [f"  {line}" for line in (names, *odd)]
    if len(roasts) < ENOUGH:
        out.append(f"  PROVISIONAL: {len(roasts)} of the {ENOUGH} roasts that a learned band needs")
    say = in_words(args.json)
    say("\n".join(hung(out, width())))
    found = proposed(parent.document, made, args, say)
    if not found:
        say("  Nothing that counts is different" + ("." if args.show or args.output else ": none is written."))
    target = None
    if not args.show and (found or args.output):
        target = Path(args.output) if args.output else next_file(file, document.version)
        taken = "Versions are never overwritten: name another with --output FILE"
        save_text(target, dump_document(document, file), taken=taken)
        say(f"{printable(str(target))}: the versions before it stay as they are")
        say(f"Follow it with  coach follow {printable(KeptVersion(target, document).called)}")
    if args.json:
        print_json({
            "file": target, "profile": document, "parent": parent, "roasts": roasts, "changes": found,
            "sources": made.sources, "odd": odd, "provisional": len(roasts) < ENOUGH,
        })  # fmt: skip
    return 0


def chosen(parent: Profile, names: list[str], folder: Path) -> list[Journal]:
    """The roasts, oldest first: those named, or all accepted ones of the profile.  Raises CoachError."""
    if names:
        paths = [find_roast(n, folder) for n in names]
    elif folder.is_dir():
        with ready(folder) as index:
            where = "profile = ? AND run = 'live' AND ended = 'dropped' AND accepted = 1"
            paths = [folder / r.file for r in index.rows(where, (parent.name,))]
    else:
        paths = []
    if not paths:
        raise CoachError(
            f"There is no accepted roast of '{printable(parent.name)}'.", "Accept one: coach result ROAST accepted=yes"
        )
    out = []
    for path in dict.fromkeys(p.resolve() for p in paths):
        journal = read_journal(path)
        roast, shown = journal.roast, printable(path.stem)
        if roast.header.run == "rehearsal":
            raise CoachError(f"{shown} is a rehearsal.", "Only roasts of real beans make a profile.")
        if roast.header.profile != parent.name:
            raise CoachError(f"{shown} followed '{printable(roast.header.profile)}'.", "Name roasts of this profile.")
        if roast.result is None or roast.result.accepted is not True:
            raise CoachError(f"{shown} is not accepted.", f"If it should be: coach result {shown} accepted=yes")
        out.append(journal)
    return sorted(out, key=lambda j: j.header.moment)


def next_file(current: Path, version: int) -> Path:
    """Path of the next version of a profile file: among the person's own, its name with -vN."""
    stem = re.sub(r"-v\d+$", "", current.stem)
    inside = current.resolve().parent == bundled_profiles().resolve()
    return (profile_folder() if inside else current.parent) / f"{stem}-v{version}.toml"
