"""``coach compare PROFILE [OTHER]``: differences between two profiles, or from version to version of one."""

from __future__ import annotations

import argparse

from coach.app.commands import tell
from coach.app.printing import hung, plainly, width
from coach.logbook.profiles.differences import changes, plot
from coach.logbook.profiles.kept_versions import listed, origin, versions
from coach.session.profile_files import find_profile, load_profile


def run(args: argparse.Namespace) -> int:
    """Print the versions, or the differences."""
    a = load_profile(args.profile)
    if args.other is None:
        found = versions(a.name, find_profile(args.profile).parent)
        lines = [f"{a.name}: {len(found)} version{'' if len(found) == 1 else 's'}", *listed(found)]
        if len(found) > 1:
            lines.append(f"coach compare {found[-2].called} {found[-1].called} draws the last change.")
        values = [{"name": v.called, "file": v.path, **v.document.model_dump(mode="json")} for v in found]
        return tell(args, values, hung(lines, width()))
    b = load_profile(args.other)
    out = []
    for name, p in (("from", a), ("to", b)):
        d = p.document
        made = f"; {origin(d)}" if origin(d) else ""
        out.append(f"{name:<5}{d.name}, version {d.version}{' (provisional)' if d.provisional else ''}{made}")
    differences = changes(a, b)
    out += [f"  {line}" for line in differences or ["nothing that counts is different"]]
    lines = [*hung(out, width()), "", *plot(a, b, width(), plainly())]
    return tell(args, {"from": a, "to": b, "changes": differences}, lines)
