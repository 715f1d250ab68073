"""``coach scale PROFILE --batch KG``: a first guess at a profile for another batch weight."""

from __future__ import annotations

import argparse
from pathlib import Path

from coach.app.commands import add_json, add_profile, check
from coach.app.printing import in_words, print_json
from coach.roast.errors import printable


def add(p: argparse.ArgumentParser) -> None:
    """Take the arguments."""
    add_profile(p)
    p.add_argument("--batch", type=float, required=True, metavar="KG", help="the other batch weight in kg")
    p.add_argument("--output", required=True, metavar="FILE", help="where to write the profile (.toml)")
    p.add_argument("--overwrite", action="store_true", help="replace the file where there is one")
    add_json(p, "as JSON: the file, the profile, what changed")


def run(args: argparse.Namespace) -> int:
    """Scale, show the differences, write."""
    from coach.logbook.profiles.differences import changes
    from coach.logbook.profiles.versions import scaled
    from coach.roast.profile import Profile
    from coach.session.profile_files import dump_document, find_profile, load_profile, save_text

    check("--batch", args.batch, "Give it in kg: --batch 0.8", 0.001, 1e3)
    parent = load_profile(args.profile)
    document = scaled(parent, args.batch)
    say = in_words(args.json)
    say("A FIRST GUESS, not proven; roast it as a trial")
    found = changes(parent, Profile(document))
    for line in found:
        say(f"  {printable(line)}")
    save_text(Path(args.output), dump_document(document, find_profile(args.profile)), overwrite=args.overwrite)
    say(f"{printable(args.output)}: follow it with  coach follow {printable(args.output)}")
    if args.json:
        print_json({"file": args.output, "profile": document, "parent": parent, "changes": found})
    return 0
