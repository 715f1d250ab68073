"""What bad input and power cuts do: python tests/bench/bench_faults.py [fuzz [COUNT]] [bombs] [cuts] [kills [COUNT]]
[screen-kills [COUNT]]

fuzz   COUNT (1,000,000) inputs drawn from a seed over the parsers: how many were taken and refused, the slowest, the
       peak memory, every fault
bombs  inputs made to take time or memory, each in a process of its own
cuts   the journal of a whole roast cut at every byte, opened again by the program's own code, and gone on with
kills  a program that enters as the screen does, killed with SIGKILL at COUNT (200) random moments
screen-kills  the real program in a pseudo-terminal, `follow` and `rehearse`, killed at COUNT (200) random moments of
       typed roasts; COACH_BENCH_SEED gives another course (1)
Seconds are processor time of the process (the machine may be busy with other things).
"""

from __future__ import annotations

import contextlib
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
sys.path.insert(0, str(Path(__file__).parents[1] / "faults"))

from inputs import LINES, ROOT, bombs, fault, parsers

from coach.app.live import LiveRoast
from coach.roast.entries import Reading
from coach.roast.errors import CoachError
from coach.session.journal import in_use, read_journal
from coach.session.profile_files import load_profile

SHARES = {"typed line": 0.45, "journal line": 0.35, "journal": 0.07, "profile": 0.07, "sheet": 0.06}


def peak() -> float:
    """Greatest memory of this process so far, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def fuzz(count: int, folder: Path) -> int:
    """Inputs drawn and given; how many were at fault."""
    faults = 0
    for name, parser in parsers(folder).items():
        rng, number = random.Random(f"{name} 20261"), round(count * SHARES[name])
        start, before, slowest, worst = time.process_time(), peak(), 0.0, b""
        said: Counter[str] = Counter()
        for _ in range(number):
            data = parser.draw(rng)
            began = time.thread_time()
            wrong = fault(parser, data)
            took = time.thread_time() - began
            if took > slowest:
                slowest, worst = took, data
            if wrong:
                said[wrong[:80]] += 1
        with_words = f"{sum(said.values())} faults"
        print(
            f"{name:13} {number:8d} inputs  {with_words}  {time.process_time() - start:6.1f} s  "
            f"slowest {1000 * slowest:6.1f} ms ({worst[:40]!r}…)  memory +{peak() - before:.0f} MB (peak {peak():.0f})",
            flush=True,
        )
        for wrong, times in said.most_common(5):
            print(f"    {times} x {wrong}")
        faults += sum(said.values())
    return faults


def bomb(name: str, folder: Path) -> None:
    """One of them, in this process."""
    which, data = bombs()[name]
    parser, before, began = parsers(folder)[which], peak(), time.process_time()
    wrong = fault(parser, data)
    print(f"{name:36} {time.process_time() - began:6.2f} s  +{peak() - before:3.0f} MB  {wrong or 'refused or taken'}")


def cuts(folder: Path) -> None:
    """A whole roast's journal, cut at every byte, resumed, one entry added, read back."""
    whole, profile = "\n".join(LINES).encode() + b"\n", load_profile("larch-hill")
    head = len(LINES[0].encode()) + 1
    lost = torn_words = refused = 0
    coach_free = 0
    for cut in range(len(whole) + 1):
        path = folder / "cut.jsonl"
        path.write_bytes(whole[:cut])
        complete = max(whole[:cut].count(b"\n") - 1, 0)
        try:
            kept = read_journal(path, check=False).entries
        except CoachError:
            refused += 1
            lost += cut >= head
            continue
        lost += len(kept) < complete
        # the writer's own mending, with no coach behind it: the roast is folded at every hundredth cut only
        if cut % 100 == 0 or cut == len(whole):
            again = LiveRoast.resume(path, profile)
            torn_words += "torn" in again.word
            again.enter(Reading(at=2000.0, temperature=150.0))
            again.close()
            coach_free += 1
            after = read_journal(path, check=False).entries
            lost += after[-1].entry.at != 2000.0 or len(after) != len(kept) + 1
    print(
        f"{len(whole) + 1} cuts of a journal of {len(LINES)} lines: {lost} with a whole entry lost; "
        f"{refused} refused in words (the header itself cut); {coach_free} resumed and gone on with, "
        f"{torn_words} of them told of a torn line"
    )


DRIVER = """
import sys, threading
from datetime import UTC, datetime
from pathlib import Path
from coach.roast.entries import Mark, Reading
from coach.session.profile_files import load_profile
from coach.app.live import LiveRoast
profile, path = load_profile("larch-hill"), sys.argv[1]
if path.endswith(".jsonl"):
    roast = LiveRoast.resume(Path(path), profile)
else:
    roast = LiveRoast.open(profile, Path(path), lambda: 0.0, started=datetime.now(UTC), run="live")
    roast.enter(Mark(at=1.0, event="charge"))
print("ready", roast.path, flush=True)
n = int(sys.argv[2])
while True:
    roast.enter(Reading(at=2.0 + n / 100, temperature=100.0 + n % 100))
    roast.scribe.wait(5.0)
    if not roast.pending:
        print("on disk", n, flush=True)
    n += 1
"""


def kills(count: int, folder: Path) -> int:
    """Lives of one roast's program, each killed at a random moment; how many confirmed entries were lost."""
    rng, place, number, confirmed, torn, lost, doubled = random.Random(7), str(folder / "roasts"), 0, 0, 0, 0, 0
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    for life in range(count):
        if life % 10 == 0:  # a new roast, so that reading back stays short
            place, number = str(folder / f"roasts-{life}"), 0
        child = subprocess.Popen(
            [sys.executable, "-c", DRIVER, place, str(number)], stdout=subprocess.PIPE, text=True, env=env
        )
        assert child.stdout is not None
        first = child.stdout.readline().split()
        assert first[:1] == ["ready"], "the program didn't start"
        place = first[1]
        time.sleep(rng.random() * 0.12)
        child.send_signal(signal.SIGKILL)
        told = [int(line.split()[2]) for line in child.stdout if line.startswith("on disk") and line.endswith("\n")]
        child.wait()
        path = Path(place)
        torn += not path.read_bytes().endswith(b"\n")
        found = [round((n.entry.at - 2.0) * 100) for n in read_journal(path, check=False).entries[1:]]
        confirmed += len(told)
        lost += len(set(told) - set(found))
        doubled += len(found) - len(set(found))
        assert not in_use(path), "the lock outlived the process"
        number = max(found, default=number - 1) + 1
    print(
        f"{count} lives killed: {confirmed} entries confirmed, {lost} of them lost, {doubled} there twice; "
        f"{torn} journals ended in a torn line"
    )
    return lost


def screen_kills(count: int, folder: Path) -> int:
    """Lives of the real program; how much of what came of it must not be."""
    from screen_kills import Roast, Tally

    seed, tally, began = int(os.environ.get("COACH_BENCH_SEED", "1")), Tally(), time.monotonic()
    rng, number = random.Random(seed), 0
    while tally.lives < count:
        rehearsed = number % 5 > 2  # one life each: a rehearsal is not gone on with
        into = rng.uniform(30.0, 600.0) if number % 5 else 0.0
        roast = Roast(
            folder / f"home-{number}", 1000 * seed + number, tally, rehearsed=rehearsed, into=into * (not rehearsed)
        )
        for _ in range(1 if rehearsed else min(10, count - tally.lives)):
            roast.live()
        number += 1
        if number % 5 == 0:
            print(f"  … {tally.lives} lives, {time.monotonic() - began:.0f} s, {tally.wrong} wrong", flush=True)
    print(f"{tally.said()}\n  {number} roasts, {time.monotonic() - began:.0f} s, load {os.getloadavg()[0]:.1f}")
    return tally.wrong


def main(argv: list[str]) -> int:
    """The parts asked for, or all."""
    parts = {"fuzz": 1_000_000, "bombs": 0, "cuts": 0, "kills": 200, "screen-kills": 200}
    asked = [a for a in argv if a in parts] or list(parts)
    for a, b in pairwise(argv):
        if a in parts and b.isdigit():
            parts[a] = int(b)
    folder = Path(tempfile.mkdtemp(prefix="faults-"))
    print(f"{datetime.now(UTC):%Y-%m-%d}, Python {sys.version.split()[0]}")
    wrong = 0
    try:
        if len(argv) == 2 and argv[0] == "bomb":
            bomb(argv[1], folder)
            return 0
        if "fuzz" in asked:
            wrong += fuzz(parts["fuzz"], folder)
        if "bombs" in asked:
            for name in bombs():
                out = subprocess.run(
                    [sys.executable, __file__, "bomb", name], capture_output=True, text=True, check=False
                )
                print(out.stdout.splitlines()[-1] if out.stdout else out.stderr[-300:], flush=True)
        if "cuts" in asked:
            cuts(folder)
        if "kills" in asked:
            wrong += kills(parts["kills"], folder)
        if "screen-kills" in asked:
            wrong += screen_kills(parts["screen-kills"], folder)
    finally:
        with contextlib.suppress(OSError):
            shutil.rmtree(folder)
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
