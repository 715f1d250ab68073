"""The logbook at size: index anew and warm, trend and trust of one profile, memory; false signals on simulated roasts.

    python tests/bench/bench_logbook.py [roasts, default 10000] [simulated roasts, default 400]

TRUSTED=N in the environment: how many roasts of one profile trust is asked for (500); with it and 0 roasts only that.

Every figure is of a new process, as a person would meet it (interpreter start included): elapsed time, and processor
time beside it.  Journals are those of simulated roasts, copied under other names and dates.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from simulated_operator import Habits, roast_once

from coach.logbook.index.summary import Summary, summarise
from coach.logbook.learning.cache import ResultCache
from coach.logbook.learning.replays import Replays, judgeable, past_forecasts
from coach.logbook.trend.trend import trend
from coach.roast.entries import Header, Result
from coach.roast.roast import Numbered, effective, fold
from coach.session.journal import line_of
from coach.session.profile_files import load_profile
from coach.simulator.machine import load_machine
from coach.simulator.roaster import SimulatedRoaster
from coach.verification.provenance import program
from coach.verification.roast_record import RoastRecord, save_record

TRUSTED = int(os.environ.get("TRUSTED", "500"))
"""Roasts of one profile on which trust and trend are measured."""
PROFILES = ["Larch Hill everyday (invented)", *(f"Invented profile {i}" for i in range(19))]


def roast_text(seed: int) -> tuple[Header, str]:
    """Header and lines of one simulated roast of a workshop that changes nothing but what no one can help."""
    rng = np.random.default_rng([11, seed])
    machine = load_machine("brambleforge-1")
    plan = machine.demo_plan
    roaster = SimulatedRoaster(
        machine, seed=seed, batch_kg=plan.batch_kg * float(1 + rng.normal(0, 0.01)),
        ambient=22 + float(rng.normal(0, 2)), drum_soak=plan.soak + float(rng.normal(0, 3)),
        moisture=float(np.clip(0.108 + rng.normal(0, 0.002), 0.08, 0.14)),
        gas_supply=float(np.exp(rng.normal(0, 0.015))), probe_offset=float(rng.normal(0, 0.3)),
        crack_shift=float(rng.normal(0, 0.7)),
    )  # fmt: skip
    entries = roast_once(machine, roaster, Habits(every=15), rng)
    loss = 14.5 + float(rng.normal(0, 0.3))
    entries.append(
        Result(
            at=entries[-1].at + 3600, weight_in=0.8, weight_out=round(0.8 * (1 - loss / 100), 3),
            colour=round(58 + float(rng.normal(0, 1)), 1), colour_scale="invented scale",
            cup_score=round(84 + float(rng.normal(0, 0.8)), 2),
        )
    )  # fmt: skip
    header = Header(id=f"sim-{seed}", started="2026-01-01T08:00:00+00:00", machine=machine.name, batch_kg=0.8)
    return header, "".join(line_of(e) for e in entries)


def fill(folder: Path, count: int, texts: list[tuple[Header, str]]) -> None:
    """``count`` journals of twenty profiles over some years; a twentieth of them are of the first."""
    folder.mkdir(parents=True, exist_ok=True)
    for i in range(count):
        header, text = texts[i % len(texts)]
        day = f"{2010 + i // 3360:04d}-{1 + i // 280 % 12:02d}-{1 + i // 10 % 28:02d}"
        given = {
            "id": f"r{i:06d}", "profile": PROFILES[i % 20], "started": f"{day}T{8 + i % 10:02d}:00:00+00:00",
            "coffee": f"Lot {i % 50}", "person": f"Person {i % 7}",
        }  # fmt: skip
        (folder / f"r{i:06d}.jsonl").write_text(line_of(header.model_copy(update=given)) + text)


@dataclass(frozen=True)
class Run:
    """A command in a new process: elapsed and processor seconds, peak memory in MB, what it printed."""

    seconds: float
    processor: float
    peak: float
    out: str

    def __str__(self) -> str:
        return f"{self.seconds:6.2f} s ({self.processor:.2f} s processor), peak {self.peak:.0f} MB"


def run(home: Path, *words: str) -> Run:
    """Run a command of the program."""
    environment = {**os.environ, "COACH_HOME": str(home), "COACH_CACHE": str(home / "cache"), "COLUMNS": "100"}
    code = (
        "import resource, sys; from coach.app.cli import main; code = main(sys.argv[1:]); "
        "r = resource.getrusage(resource.RUSAGE_SELF); "
        "print('USED', r.ru_maxrss, r.ru_utime + r.ru_stime, file=sys.stderr); sys.exit(code)"
    )
    begun = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", code, *words], env=environment, capture_output=True, text=True)
    seconds = time.perf_counter() - begun
    assert done.returncode == 0, done.stderr
    peak, processor = done.stderr.rsplit("USED", 1)[1].split()
    return Run(seconds, float(processor), float(peak) / 1024, done.stdout)


def best(home: Path, *words: str) -> Run:
    """The fastest of three."""
    return min((run(home, *words) for _ in range(3)), key=lambda r: r.seconds)


def at_size(root: Path, count: int, texts: list[tuple[Header, str]]) -> None:
    home = root / str(count)
    begun = time.perf_counter()
    fill(home / "roasts", count, texts)
    written = time.perf_counter() - begun
    anew = run(home, "log")
    warm = best(home, "log")
    one = home / "roasts" / "r000000.jsonl"
    one.write_text(one.read_text() + '{"at": 99999.0, "kind": "result", "cup_score": 84.0}\n')
    changed = run(home, "log")
    found = best(home, "log", "--coffee", "Lot 7", "--until", "2011")
    charts = best(home, "trend", "larch-hill")
    size = sum(p.stat().st_size for p in (home / "cache").iterdir())
    print(f"{count} roasts (written in {written:.0f} s): {anew.out.strip().splitlines()[-1]}")
    print(f"  index anew {anew}; {1e3 * anew.processor / count:.2f} ms each, {size / 1e6:.1f} MB on disk")
    print(f"  list warm  {warm}")
    print(f"  one changed{changed}")
    print(f"  filtered   {found}")
    print(f"  trend      {charts}: {count // 20} roasts")


def trusted(root: Path, count: int) -> None:
    """Trust and trend of one profile with ``count`` roasts, no two alike: when nothing was worked out, when all was
    kept, and where what was said lies beside each journal."""
    home = root / "one"
    (home / "roasts").mkdir(parents=True)
    for i in range(count + 1):
        header, text = roast_text(10_000 + i)
        day = f"{2024 + i // 336:04d}-{1 + i // 28 % 12:02d}-{1 + i % 28:02d}"
        given = {"id": f"t{i:06d}", "profile": PROFILES[0], "started": f"{day}T08:00:00+00:00"}
        path = home / ("roasts" if i < count else "") / f"t{i:06d}.jsonl"
        path.write_text(line_of(header.model_copy(update=given)) + text)
    print(f"{count} roasts of one profile; load {os.getloadavg()[0]:.1f}")
    newest = run(home, "accuracy", "larch-hill", "--of", "forecasts")
    print(f"  trust, the newest 20, at first {newest}")
    print(f"  trust, all, the first time     {(cold := run(home, 'trust', 'larch-hill', '--last', str(count)))}")
    print(f"    {1e3 * cold.processor / count:.0f} ms of processor each; load {os.getloadavg()[0]:.1f}")
    print(f"  trust, all kept                {best(home, 'trust', 'larch-hill', '--last', str(count))}")
    print(f"  trust, the newest 20, kept     {best(home, 'trust', 'larch-hill')}")
    new = home / f"t{count:06d}.jsonl"
    new.rename(home / "roasts" / new.name)
    print(f"  trust, one roast more          {run(home, 'trust', 'larch-hill', '--last', str(count))}")
    print(f"  trend                          {best(home, 'trend', 'larch-hill')}")
    print(f"  the cache holds {sum(p.stat().st_size for p in (home / 'cache').iterdir()) / 1e6:.1f} MB")
    keep_said(home)
    for path in (home / "cache").glob("cache*"):
        path.unlink()
    said = best(home, "accuracy", "larch-hill", "--of", "forecasts", "--last", str(count))
    print(f"  trust, all as said, no cache   {said}; load {os.getloadavg()[0]:.1f}")


def keep_said(home: Path) -> None:
    """Beside each journal what was said, as the program of a roast would have left it (here: as worked out later)."""
    os.environ.update(COACH_HOME=str(home), COACH_CACHE=str(home / "cache"))
    profile = load_profile("larch-hill")
    with ResultCache.of_this_machine() as worked:
        found, places = Replays.of(worked, profile, home / "roasts", wanted=judgeable)
        made = past_forecasts(found, places)
    for i, rows in zip(places, made.rows, strict=True):
        e = found.roasts[i]
        basis = e.digest
        save_record(e.path, RoastRecord(program=program(), learnt=20, basis=basis, rows=rows))


def false_signals(texts: list[tuple[Header, str]]) -> None:
    """Share of simulated roasts of an unchanging workshop that are signalled, all charts together."""
    rows: list[Summary] = []
    for i, (header, text) in enumerate(texts):
        from coach.session.journal import parse_entry

        entries = [Numbered(k, parse_entry(x, "x", k)) for k, x in enumerate(text.splitlines(), 2)]
        rows.append(summarise(fold(header, effective(entries)), f"{i}.jsonl"))
    rng = np.random.default_rng(1)
    early = late = early_all = late_all = 0
    for _ in range(10):
        order = [rows[int(j)] for j in rng.permutation(len(rows))]
        for k in range(0, len(order) - 99, 100):
            part = order[k : k + 100]
            charts = trend(load_profile("larch-hill"), part).charts
            signalled = {p.roast.file for c in charts for p in c.signals}
            hits = [r.file in signalled for r in part]
            early, early_all = early + sum(hits[5:20]), early_all + 15
            late, late_all = late + sum(hits[20:]), late_all + 80
    print(
        f"false signals on {len(rows)} simulated stable roasts, runs of 100, shuffled 10 times, {len(charts)} charts:"
    )
    print(f"  from the 20th on 1 in {late_all / max(late, 1):.0f} ({late} of {late_all})")
    print(f"  before 1 in {early_all / max(early, 1):.0f} ({early} of {early_all})")


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    simulated = int(sys.argv[2]) if len(sys.argv) > 2 else 400
    begun = time.perf_counter()
    texts = [roast_text(i) for i in range(simulated)]
    lines = [t.count("\n") + 1 for _, t in texts]
    load = os.getloadavg()
    print(f"load before: {load[0]:.1f} (1 min), {load[1]:.1f} (5 min)")
    print(
        f"{simulated} roasts simulated in {time.perf_counter() - begun:.0f} s, {np.mean(lines or [0]):.0f} lines each"
    )
    with tempfile.TemporaryDirectory() as root:
        for size in (count // 4, count // 2, count) if count else ():
            at_size(Path(root), size, texts)
        trusted(Path(root), TRUSTED)
    if len(texts) >= 100 and count:
        false_signals(texts)
    print(json.dumps({"peak_of_this_script_MB": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)}))


if __name__ == "__main__":
    main()
