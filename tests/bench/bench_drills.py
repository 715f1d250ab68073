"""A scripted expert against a scripted novice in every drill: ``python tests/bench/bench_drills.py [seeds] [first]``.

The scripted people were put together while looking at seeds 0 to 49; from 1000 on nobody looked.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter

from headless_drill import run_drill

from coach.session.profile_files import load_profile
from coach.simulator.machine import load_machine
from coach.simulator.rehearsal.model import bundled_drills, load_drill

ROOT = Path(__file__).parent.parent.parent


def main(seeds: int, first: int) -> None:
    """Print, for each drill, in how many seeds the expert has more points, and both their points."""
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    machine = load_machine("brambleforge-1")
    begun, total, beaten = perf_counter(), 0, 0
    print(f"seeds {first} to {first + seeds - 1}\n{'drill':22} expert ahead   expert mean/least   novice mean/most")
    for path in sorted(bundled_drills().glob("*.toml")):
        drill = load_drill(str(path))
        pairs = [
            [run_drill(drill, profile, machine, who, seed).score.points for who in ("expert", "novice")]
            for seed in range(first, first + seeds)
        ]
        expert, novice = zip(*pairs, strict=True)
        ahead = sum(a > b for a, b in pairs)
        total, beaten = total + seeds, beaten + ahead
        print(
            f"{path.stem:22} {ahead:5}/{seeds:<5} {sum(expert) / seeds:12.1f} {min(expert):7.1f}"
            f" {sum(novice) / seeds:12.1f} {max(novice):7.1f}",
            flush=True,
        )
    print(f"expert ahead in {beaten} of {total}; {perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    given = [int(a) for a in sys.argv[1:]]
    main(given[0] if given else 50, given[1] if len(given) > 1 else 1000)
