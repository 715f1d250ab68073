"""``coach scale PROFILE --batch KG``: a first guess at a profile for another batch weight."""

from __future__ import annotations

import argparse
from pathlib import Path

from coach.app.commands import check, tell
from coach.logbook.profiles.differences import changes
from coach.logbook.profiles.versions import scaled
from coach.roast.profile import Profile
from coach.session.profile_files import dump_document, find_profile, load_profile, save_text


def run(args: argparse.Namespace) -> int:
    """Scale, show the differences, write."""
    check("--batch", args.batch, "Give it in kg: --batch 0.8", 0.001, 1e3)
    parent = load_profile(args.profile)
    document = scaled(parent, args.batch)
    found = changes(parent, Profile(document))
    save_text(Path(args.output), dump_document(document, find_profile(args.profile)), overwrite=args.overwrite)
    lines = ["A FIRST GUESS, not proven; roast it as a trial", *(f"  {line}" for line in found)]
    lines.append(f"{args.output}: follow it with  coach follow {args.output}")
    return tell(args, {"file": args.output, "profile": document, "parent": parent, "changes": found}, lines)
