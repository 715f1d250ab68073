"""What each feature costs: lines of code, share of a roast's compute, and share of the time of tests.

    python tests/bench/bench_costs.py [JUNIT.xml]

Compute is the profiler's cumulative time of the feature's entry points over replays of the bundled roast, one line at
a time and each second between, as live; a feature without a share is not at work during a roast.  Seconds of tests are
read from a report of ``pytest --junitxml=JUNIT.xml``; a file of tests counts for one feature.
"""

from __future__ import annotations

import cProfile
import pstats
import sys
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]


class Feature(NamedTuple):
    """``code``: globs below coach/; ``work``: file:function of entry points; ``tests``: globs below tests/."""

    name: str
    code: tuple[str, ...]
    tests: tuple[str, ...] = ()
    work: tuple[str, ...] = ()


FEATURES = (
    Feature("entries, fold, units", ("roast/*",), ("roast/*",), ("roast.py:with_entry",)),
    Feature(
        "state of the probe (bank of filters)",
        (
            "forecast/estimator.py",
            "forecast/bank.py",
            "forecast/kalman.py",
            "forecast/control_inputs.py",
        ),
        ("forecast/test_filter*",),
        ("predictor.py:state",),
    ),
    Feature(
        "forecast of crack and drop",
        (
            "forecast/predictor.py",
            "forecast/projection.py",
            "forecast/event_threshold.py",
            "forecast/pop_likelihood.py",
            "forecast/distribution.py",
            "forecast/*values.py",
            "forecast/__init__.py",
        ),
        ("forecast/test_forecast*",),
        ("projection.py:project",),
    ),
    Feature(
        "learning from earlier roasts",
        (
            "forecast/learning.py",
            "forecast/knowledge.py",
            "forecast/reference_correction.py",
            "logbook/learning/*",
        ),
        (
            "logbook/test_learnt*",
            "logbook/test_sayings*",
            "logbook/test_asmade*",
            "forecast/test_learn*",
            "logbook/test_replays*",
        ),
    ),
    Feature(
        "stall and race",
        ("forecast/stall_and_race.py",),
        ("forecast/test_stall_and_race*",),
        ("stall_and_race.py:chances",),
    ),
    Feature(
        "readings: turned, doubted, requested",
        (
            "forecast/turned_readings.py",
            "forecast/reading_requests.py",
            "forecast/unlogged_moves.py",
        ),
        ("forecast/test_asking*", "forecast/test_turned*"),
        ("predictor.py:_wanted", "predictor.py:_risky"),
    ),
    Feature(
        "advice",
        (
            "advice/advise.py",
            "advice/wording.py",
            "advice/*values.py",
            "advice/__init__.py",
            "forecast/gas_answer.py",
        ),
        ("advice/test_advice*", "advice/test_instead*"),
        ("advise.py:advise", "advise.py:sensitivity"),
    ),
    Feature(
        "first gas and charge temperature",
        ("advice/first_gas.py", "advice/charge_temperature.py"),
        ("advice/test_first*", "advice/test_charge*"),
    ),
    Feature(
        "cues",
        ("cues/*",),
        (
            "cues/test_conditions*",
            "cues/test_watch*",
            "cues/test_verdicts*",
            "cues/test_rules*",
            "cues/test_one_truth*",
            "cues/test_taps*",
            "cues/test_whole*",
        ),
        ("watch.py:judge", "watch.py:announce", "annunciator.py:announce"),
    ),
    Feature(
        "journal, settings, unfinished roasts", ("session/*",), ("session/*", "app/test_live*"), ("coach.py:_remember",)
    ),
    Feature(
        "record of forecasts",
        (
            "verification/forecast_record.py",
            "verification/roast_record.py",
            "verification/hindcast.py",
            "verification/aggregate.py",
            "verification/reference_forecasts.py",
            "verification/__init__.py",
            "verification/replay.py",
            "verification/provenance.py",
        ),
        ("verification/test_trust*", "verification/test_scores*"),
    ),
    Feature("record of cues", ("verification/cue_*.py", "logbook/learning/replays.py"), ("cues/test_ledger*",)),
    Feature("record of advice", ("verification/advice_*.py",), ("verification/test_advised*",)),
    Feature("brief, handover, plan of the day", ("logbook/brief/*",), ("logbook/test_brief*", "logbook/test_batch*")),
    Feature("review", ("logbook/review/*",), ("logbook/test_review*",)),
    Feature("trend", ("logbook/trend/*",), ("logbook/test_trend*",)),
    Feature(
        "log, results, home's index",
        ("logbook/index/*", "logbook/__init__.py", "logbook/text/*"),
        ("logbook/test_log*", "logbook/test_index*", "logbook/test_results*"),
    ),
    Feature(
        "profiles: adopt, merge, compare, versions",
        ("logbook/adopt*.py", "logbook/profiles/*"),
        ("logbook/test_adopt*", "logbook/test_profiles*", "logbook/test_versions*", "logbook/test_merge*"),
    ),
    Feature("sheets in and out", ("logbook/sheets/*",), ("logbook/test_sheets*", "logbook/test_export*")),
    Feature("simulated roaster and person", ("simulator/*.py",), ("simulator/test_*",)),
    Feature("rehearsal, drills, score", ("simulator/rehearsal/*",), ("simulator/rehearsal/*",)),
    Feature("screens", ("app/screens/*",), ("app/screens/*", "app/test_[skt]*")),
    Feature("sound", ("app/sound/*",), ("app/sound/*",)),
    Feature("commands", ("app/commands/*", "app/*.py", "*.py"), ("app/test_cli*", "faults/*")),
)


def lines(patterns: Iterable[str]) -> set[Path]:
    """Files of code below coach/."""
    return {f for p in patterns for f in (ROOT / "coach").glob(p) if f.suffix == ".py"}


def shares() -> dict[str, float]:
    """Cumulative seconds by 'file:function', and '' for all that the coach did."""
    from coach.session.coach import Coach
    from coach.session.journal import read_journal
    from coach.session.profile_files import load_profile

    journal = read_journal(ROOT / "examples" / "invented-roast.jsonl")
    profile = load_profile("larch-hill")
    profiler = cProfile.Profile()
    for turn in range(3):
        coach = Coach(profile, journal.header)
        if turn:  # the first one warms what is computed once
            profiler.enable()
        for n in journal.entries:
            while coach.at + 1.0 < n.entry.came:
                coach.advance(coach.at + 1.0)
            coach.receive(n.entry, n.line)
        profiler.disable()
    found: dict[str, float] = {}
    stats = pstats.Stats(profiler).stats  # type: ignore[attr-defined]
    for (file, _, name), (_, _, own, cumulative, _) in stats.items():
        found[f"{Path(file).name}:{name}"] = cumulative
        found[""] = found.get("", 0.0) + own
    return found


def seconds(report: Path | None) -> dict[str, float]:
    """Seconds by file of tests, '' where there is no report."""
    found: dict[str, float] = {}
    if report is not None:
        for case in ET.parse(report).iter("testcase"):
            name = case.get("classname", "").removeprefix("tests.").replace(".", "/") + ".py"
            found[name] = found.get(name, 0.0) + float(case.get("time", 0.0))
    return found


def main() -> None:
    work, tests = shares(), seconds(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
    whole = sum(tests.values()) or 1.0
    left = set((ROOT / "coach").rglob("*.py"))
    print("| feature | lines | of a roast's compute | of the tests' time |\n|---|---:|---:|---:|")
    for feature in FEATURES:
        files = lines(feature.code) & left
        left -= files
        count = sum(len(f.read_text(encoding="utf-8").splitlines()) for f in files)
        share = sum(work.get(w, 0.0) for w in feature.work) / work[""]
        mine = {t for t in tests for p in feature.tests if Path(t).match(p)}
        spent = sum(tests.pop(t) for t in mine)
        print(f"| {feature.name} | {count} | {f'{share:.0%}' if feature.work else ''} | {spent / whole:.0%} |")
    rest = sum(len(f.read_text(encoding="utf-8").splitlines()) for f in left)
    print(f"| other | {rest} | | {sum(tests.values()) / whole:.0%} |")


if __name__ == "__main__":
    main()
