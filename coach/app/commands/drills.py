"""``coach drills``: the list of drills, without their surprises."""

from __future__ import annotations

import argparse

from coach.app.commands import show_list, tell
from coach.app.printing import hung, width
from coach.app.screens.boards import DrillList
from coach.session.profile_files import last_profile
from coach.simulator.rehearsal.model import PLAN, drill_names, load_drill


def run(args: argparse.Namespace) -> int:
    """List them; or print all about one."""
    if args.drill:
        drill = load_drill(args.drill)
        lines = [f"{drill.title} ({drill.kind})", f"  Before: {drill.brief}", f"  After: {drill.reveal}"]
        lines += [f"  {PLAN}"] if drill.kind == "safety" else []
        return tell(args, [{"name": args.drill, **drill.model_dump(mode="json")}], hung(lines, width()))
    drills = [(name, load_drill(name)) for name in drill_names()]
    found = DrillList(drills, last_profile("larch-hill"))
    if args.screen:
        return show_list(args, lambda: found)
    values = [{"name": name, "title": d.title, "kind": d.kind, "brief": d.brief} for name, d in drills]
    lines = [
        *found.printed(width()), "",
        "Rehearse one: coach rehearse PROFILE --drill NAME   (random: which one it was is told after)",
        "While rehearsing  /hint  asks for a hint (it costs points),  /stop  ends a safety drill.",
    ]  # fmt: skip
    return tell(args, values, lines)
