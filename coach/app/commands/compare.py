"""``coach compare PROFILE [OTHER]``: differences between two profiles, or from version to version of one."""

from __future__ import annotations

import argparse

from coach.app.commands import add_json, add_profile
from coach.app.printing import filled, plainly, print_json, width
from coach.roast.errors import printable


def add(p: argparse.ArgumentParser) -> None:
    """Take the arguments."""
    add_profile(p)
    p.add_argument("other", nargs="?", metavar="OTHER", help="without it: the versions of PROFILE")
    add_json(p)


def run(args: argparse.Namespace) -> int:
    """Print the versions, or the differences."""
    from coach.logbook.profiles.differences import changes, plot
    from coach.logbook.profiles.kept_versions import listed, origin, versions
    from coach.session.profile_files import find_profile, load_profile

    a = load_profile(args.profile)
    wide = width()
    if args.other is None:
        found = versions(a.name, find_profile(args.profile).parent)
        if args.json:
            print_json([{"name": v.called, "file": v.path, **v.document.model_dump(mode="json")} for v in found])
            return 0
        print(printable(f"{a.name}: {len(found)} version{'' if len(found) == 1 else 's'}"))
        print("\n".join(filled([printable(line) for line in listed(found)], wide)))
        if len(found) > 1:
            print(printable(f"coach compare {found[-2].called} {found[-1].called} draws the last change."))
        return 0
    b = load_profile(args.other)
    if args.json:
        print_json({"from": a, "to": b, "changes": changes(a, b)})
        return 0
    out = []
    for name, p in (("from", a), ("to", b)):
        d = p.document
        made = f"; {origin(d)}" if origin(d) else ""
        out.append(f"{name:<5}{d.name}, version {d.version}{' (provisional)' if d.provisional else ''}{made}")
    out += [f"  {line}" for line in changes(a, b) or ["nothing that counts is different"]]
    print("\n".join(filled([printable(line) for line in out], wide)))
    print("\n".join(["", *plot(a, b, wide, plainly())]))
    return 0
