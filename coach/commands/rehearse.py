"""``coach rehearse PROFILE``: the same screen on a simulated roaster."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("rehearse", help="rehearse a profile on a simulated roaster")
    p.add_argument("profile", metavar="PROFILE")
    p.add_argument("--speed", type=float, default=1.0, help="1 to 20 times real time")
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--auto", action="store_true", help="a simulated person types")
    p.add_argument("--person", default="")
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Open the screen on a simulated roaster."""
    import sys
    import time
    from datetime import UTC, datetime

    from coach.errors import CoachError
    from coach.library import load_profile, logbook_folder
    from coach.live import LiveRoast
    from coach.screens.app import RoastApp
    from coach.simulator.clock import RehearsalClock
    from coach.simulator.machine import load_machine, machine_names
    from coach.simulator.rehearsal import Rehearsal

    if not 1 <= args.speed <= 20:
        raise CoachError(f"--speed {args.speed:g} is not possible.", "Give 1 to 20.")
    profile = load_profile(args.profile)
    if not sys.stdin.isatty():
        raise CoachError("coach rehearse needs a terminal.", "")
    machines = [load_machine(n) for n in machine_names()]
    batch = profile.document.batch_kg
    named = [m for m in machines if m.name == profile.document.machine]
    machine = (named or sorted(machines, key=lambda m: abs(m.demo_plan.batch_kg - batch)))[0]
    clock = RehearsalClock(time.monotonic, args.speed)
    live = LiveRoast.open(
        profile, logbook_folder(), clock, started=datetime.now(UTC),
        run="rehearsal", person=args.person,
    )  # fmt: skip
    RoastApp(
        live,
        source=Rehearsal(machine, seed=args.seed, auto=args.auto, clock=clock),
        tick=0.2,
        sound=True,
        begin=clock.begin,
    ).run()
    live.close()
    print(f"journal: {live.path}" if not live.trouble else live.trouble)
    return 0
