"""``coach rehearse PROFILE``: the same screen on a simulated roaster; drill, score and history."""

from __future__ import annotations

import argparse
import contextlib
import time
from dataclasses import replace
from datetime import UTC, datetime
from typing import Final

import numpy as np

from coach.app.commands import check, show_list
from coach.app.commands._plain_lines import PlainLines
from coach.app.live import LiveRoast
from coach.app.printing import in_words, plainly, print_json, width
from coach.app.screens.app import RoastApp
from coach.app.screens.score_board import ScoreList
from coach.app.screens.terminal import on_a_terminal, show
from coach.logbook.learning.reviewed import gather
from coach.logbook.review.review_text import page
from coach.roast.errors import CoachError, FileError, printable, reason_of
from coach.roast.profile import Profile
from coach.roast.roast import effective
from coach.session.coach import Coach
from coach.session.profile_files import home, load_profile, logbook_folder
from coach.session.settings import load_settings
from coach.simulator.beans import Beans, load_beans
from coach.simulator.fit import suited
from coach.simulator.machine import Machine, load_machine, machine_names
from coach.simulator.rehearsal.clock import RehearsalClock
from coach.simulator.rehearsal.history import (
    STAGES,
    add_record,
    history_file,
    progress,
    read_records,
    record_of,
    sentences,
)
from coach.simulator.rehearsal.judged import Judged, timing
from coach.simulator.rehearsal.model import Drill, drill_names, load_drill
from coach.simulator.rehearsal.rehearsal import HELPER, Rehearsal
from coach.simulator.rehearsal.score import score
from coach.verification.cue_outcomes import judged

LONGEST: Final = 2400.0
"""Longest time of a rehearsal without a screen, from its start, s."""


def run(args: argparse.Namespace) -> int:
    """Open the screen on a simulated roaster; then reveal the drill and print the score.  Without a terminal the
    simulated person roasts, in plain lines."""
    check("--speed", args.speed, "Give 1 to 20.", 1, 20)
    check("--seed", args.seed, "Give 0 or more.")
    if args.stage and args.stage not in STAGES:
        raise CoachError(f"There is no stage '{args.stage[:40]}'.", "There are: " + ", ".join(STAGES) + ".")
    profile = load_profile(args.profile)
    drill_name, drill = drill_for(args.drill, args.seed)
    machine, beans, word = machine_for(args.machine, profile)
    records = read_records(history_file(args.person))
    stage = args.stage or progress(records).stage
    settings = load_settings()
    if args.json or not on_a_terminal():
        source = Rehearsal(machine, profile=profile, beans=beans, seed=args.seed, auto=True, drill=drill, stage=stage)
        return _aloud(args, source, profile, word, drill_name)
    if args.auto is None:
        args.auto = not (records or drill)
    key = settings.keys.take_over
    clock = RehearsalClock(time.monotonic, args.speed)
    live = LiveRoast.open(
        profile, logbook_folder(looked_into=False), clock, started=datetime.now(UTC),
        run="rehearsal", person=args.person, dial=settings.dial,
    )  # fmt: skip
    source = Rehearsal(
        machine, profile=profile, beans=beans, seed=args.seed, auto=args.auto, drill=drill, stage=stage, clock=clock,
        offer=f"{key} takes over" if key else "'take over' takes over",
    )  # fmt: skip
    code = show(RoastApp(live, source=source, tick=0.2, sound=not source.silent, settings=settings))
    if code:  # ended by a signal: nobody waits for a score
        return code
    outcome = judge(args, source, live.coach, drill_name)
    outcome = replace(outcome, remarks=(*outcome.remarks, *([word] if word else [])))
    if outcome.result is None and drill is None:
        print("\n".join(outcome.lines()))
        return 0
    listing = ScoreList(outcome, live.path, _again(args, args.seed), _again(args, args.seed + 1))
    code = show_list(args, lambda: listing)
    print("\n".join(outcome.lines()))
    return code


def _aloud(args: argparse.Namespace, source: Rehearsal, profile: Profile, word: str, drill_name: str) -> int:
    """Roast without a screen: every step a line, then score and review."""
    args.auto, say = True, in_words(args.json)
    say(f"{profile.name}, on the simulated roaster {source.machine.name}. No terminal: the simulated person roasts.")
    if word:
        say(word)
    if source.drill is not None:
        say(f"DRILL: {source.drill.brief}")
    now = [0.0]
    live = LiveRoast.open(
        profile, logbook_folder(), lambda: now[0], started=datetime.now(UTC), run="rehearsal", person=args.person
    )
    coach, lines = live.coach, PlainLines(say)
    try:
        while now[0] < LONGEST and coach.roast.phase != "cooling" and not source.stopped:
            now[0] += 1.0
            coach.advance(now[0])
            lines.situation(coach)
            for entry in source.advance(now[0], coach):
                live.enter(entry)
                source.hear(entry, coach)
                lines.entry(entry, coach)
    finally:
        live.close()
    outcome = judge(args, source, live.coach, drill_name)
    say("\n".join(outcome.lines()))
    if args.json:
        cues = {} if outcome.result is None else {"cues": outcome.cues}
        print_json({"profile": profile, "machine": source.machine.name, "journal": live.path, "drill": drill_name,
                    "score": outcome.result, **cues})  # fmt: skip
        return 0
    if live.coach.roast.phase == "cooling" and live.path.exists():
        review = gather(live.path, profile, logbook_folder(), episodes=live.coach.record.episodes,
                        knowledge=live.coach.knowledge)  # fmt: skip
        print("\n" + "\n".join(printable(line) for line in page(review, width(), plainly())))
    print(f"\nOn a terminal, coach rehearse shows this on the screen, and lets you take over. Journal: {live.path}")
    return 0


def drill_for(name: str, seed: int) -> tuple[str, Drill | None]:
    """The requested drill; a random one, but none of the safety drills, which nobody should meet unprepared."""
    if not name:
        return "", None
    if name == "random":
        names = [n for n in drill_names() if load_drill(n).kind != "safety"]
        name = names[int(np.random.default_rng([seed, 5]).integers(len(names)))]
    return name, load_drill(name)


def machine_for(name: str, profile: Profile) -> tuple[Machine, Beans | None, str]:
    """The requested machine, else the profile's, else the shipped one nearest in size, suited to the plan.

    With it the lot, if it is not the machine's own, and a remark if the machine had to be made up.  Raises FileError.
    """
    if name:
        return load_machine(name), None, ""
    machines = [*_fitted(), *(load_machine(n) for n in machine_names())]
    named = [m for m in machines if m.name == profile.document.machine]
    if named:
        return named[0], None, ""
    batch = profile.document.batch_kg
    machine = min(machines, key=lambda m: (batch > 1.1 * m.capacity_kg, abs(m.demo_plan.batch_kg - batch)))
    found = suited(machine, load_beans(machine.demo_plan.beans), profile)
    which = f"'{profile.document.machine}' is no machine of the simulator: you rehearsed on one like {machine.name}"
    if found is None:
        return machine, None, f"{which}, which the plan does not suit. Make your own with coach fit."
    return *found, f"{which}, suited to the plan. coach fit makes one from your own roasts."


def _fitted() -> list[Machine]:
    """The machines that coach fit has made for this person; those that can't be read are passed over."""
    out = []
    for path in sorted((home() / "machines").glob("*.toml")):
        with contextlib.suppress(FileError):
            out.append(load_machine(path))
    return out


def judge(args: argparse.Namespace, source: Rehearsal, coach: Coach, name: str) -> Judged:
    """Judge a rehearsal; add it to the history if a person finished it."""
    drill, truth = source.drill, source.truth
    entries = effective(coach.entries)
    outcome = Judged(coach.profile, coach.roast, entries, truth, name, drill)
    if coach.roast.phase != "cooling" and not source.stopped:
        return outcome
    own = [n.line for n in coach.entries if source.auto or not getattr(n.entry, "by", "")]
    helped = [n.line for n in coach.entries if getattr(n.entry, "by", "") == HELPER]
    safety = drill is not None and drill.kind == "safety"
    heard = [] if safety else [c for c in judged(coach.record.episodes, coach.roast, coach.profile) if c.counts]
    result = score(coach.roast, entries, truth, coach.profile, drill, heard, own=own, helped=helped)
    timed = timing(coach.roast, source.turns, () if source.auto else own, args.speed)
    remarks = [] if timed is None else [timed.words]
    if not (args.auto and source.auto):
        header = coach.header
        record = record_of(
            result, started=header.started, journal=header.id, profile=header.profile, machine=source.machine.name,
            drill=name, seed=args.seed, stage=source.stage, speed=args.speed, helped=bool(helped),
        )  # fmt: skip
        path = history_file(args.person)
        try:
            add_record(path, record)
            remarks += sentences(progress(read_records(path)))
        except OSError as error:
            remarks.append(f"The history can't be written ({reason_of(error)}): {path}")
    return replace(outcome, result=result, cues=tuple(heard), remarks=tuple(remarks))


def _again(args: argparse.Namespace, seed: int) -> tuple[str, ...]:
    """The command that rehearses the same once more, on the day of a seed."""
    texts = ("drill", "machine", "person", "stage")
    options = [x for name in texts if (value := getattr(args, name)) for x in (f"--{name}", value)]
    return ("rehearse", args.profile, "--speed", f"{args.speed:g}", "--seed", str(seed), *options)
