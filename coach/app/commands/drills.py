"""``coach drills``: the list of drills, without their surprises."""

from __future__ import annotations

import argparse
from textwrap import fill

from coach.app.commands import show_list
from coach.app.printing import print_json, width
from coach.app.screens.boards import DrillList
from coach.session.profile_files import last_profile
from coach.simulator.rehearsal.model import PLAN, drill_names, load_drill


def run(args: argparse.Namespace) -> int:
    """List them; or print all about one."""
    if args.json:
        names = [args.drill] if args.drill else drill_names()
        fields = None if args.drill else {"title", "kind", "brief"}
        print_json([{"name": n, **load_drill(n).model_dump(mode="json", include=fields)} for n in names])
        return 0
    if args.drill:
        drill = load_drill(args.drill)
        print(f"{drill.title} ({drill.kind})")
        for text in (f"Before: {drill.brief}", f"After: {drill.reveal}", PLAN if drill.kind == "safety" else ""):
            if text:
                print(fill(text, 79, initial_indent="  ", subsequent_indent="    "))
        return 0
    found = DrillList([(name, load_drill(name)) for name in drill_names()], last_profile("larch-hill"))
    if args.screen:
        return show_list(args, lambda: found)
    print(found.printed(width()))
    print("\nRehearse one: coach rehearse PROFILE --drill NAME   (random: which one it was is told after)")
    print("While rehearsing  /hint  asks for a hint (it costs points),  /stop  ends a safety drill.")
    return 0
