"""Mutants: how many small faults put into the code on purpose go unnoticed by its tests.

    python tests/bench/bench_mutants.py [GROUP or MODULE ...] [--most N] [--seed S] [--list] [--every]

mutmut makes the mutants, here of whole modules, constants and tables included.  Of each module a random sample is taken
(``--most``, 120; ``--every`` for all), each is written into a copy of the project and the tests named in TESTS are run
on it, quick ones first, until one fails.  A mutant that no test notices is alive.  The table gives the share alive with
its exact binomial interval (Clopper and Pearson 1934, Biometrika 26:404), and apart those that change only a text.
``--list`` shows what stays alive.  Needs mutmut 3 beside the packages for tests, and a system that can fork.

The tests were made with the survivors of seed DEVELOPMENT in view, and of 2 and 2026 once figures were told of them, so
figures are told of the sample of REPORT.
"""

from __future__ import annotations

import argparse
import contextlib
import difflib
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import libcst as cst
from libcst.metadata import MetadataWrapper
from mutmut.mutation.file_mutation import MutationVisitor
from mutmut.mutation.mutators import mutation_operators
from mutmut.mutation.pragma_handling import IgnoredCode
from scipy.stats import binomtest

ROOT: Final = Path(__file__).parents[2]
DEVELOPMENT, REPORT = 1, 73018
OPTIONS: Final = ("-x", "-q", "-p", "no:cacheprovider", "--hypothesis-seed=0",
                  "-W", "ignore::pytest.PytestAssertRewriteWarning")  # fmt: skip
HANGS: Final = 3.0
"""A mutant whose tests take so many times longer than without one, and 15 s more, hangs, and so is noticed."""

_CUES = (
    *(
        f"tests/cues/test_{name}.py"
        for name in ("lifecycle", "leads", "judge", "said", "announce", "shown", "life", "rise")
    ),
    "tests/cues/test_evidence.py",
    "tests/cues/test_conditions.py",
    "tests/cues/test_verdicts.py",
)
_FORECAST = (
    *(
        f"tests/forecast/test_{name}.py"
        for name in ("threshold", "first_passage", "hearing", "forecast", "forecast_parts", "asking", "stuck")
    ),
    "tests/session/test_session.py",
    "tests/forecast/test_stall_and_race.py",
    "tests/forecast/test_widened.py",
    "tests/advice/test_advice.py",
)
_JOURNAL = (
    "tests/session/test_journal_reading.py",
    "tests/session/test_journal_writer.py",
    "tests/faults/test_journal.py",
)
GROUPS: Final[dict[str, tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]]] = {
    # name: (modules, tests run first, tests run where those notice nothing)
    "journal": (
        ("session/journal", "session/journal_writer"),
        (*_JOURNAL, "tests/session/test_scribe_alone.py"),
        ("tests/session/test_scribe.py",),
    ),
    "watch": (tuple(f"cues/{m}" for m in ("watch", "evidence", "conditions", "table", "annunciator")), _CUES, ()),
    "forecast": (tuple(f"forecast/{m}" for m in ("projection", "event_threshold", "predictor")), _FORECAST, ()),
}
"""For watch and forecast the tests that go through whole roasts are left out: they notice more, and take a day."""


@dataclass(frozen=True)
class Mutant:
    """One changed place: the module's source with it, and whether only a text is other."""

    module: str
    source: str
    text: bool


@dataclass
class Tally:
    """What came of a module's mutants."""

    made: int = 0
    tried: int = 0
    alive: list[Mutant] = field(default_factory=list)
    texts: int = 0

    def row(self, name: str) -> str:
        """One line of the table."""
        only = sum(m.text for m in self.alive)
        out = f"{name:24}{self.made:6}{self.tried:7}{len(self.alive):7}"
        if self.tried:
            low, high = binomtest(len(self.alive), self.tried).proportion_ci(method="exact")
            out += f"  {len(self.alive) / self.tried:6.1%}  ({low:.1%} to {high:.1%})"
        code = self.tried - self.texts
        if code:
            out += f"   but for texts {len(self.alive) - only} of {code}"
        return out


def mutants(path: Path, most: int | None, rng: random.Random) -> tuple[int, list[Mutant]]:
    """How many mutants a module has, and a random sample of them, in the order of its code."""
    code = path.read_text()
    wrapped = MetadataWrapper(cst.parse_module(code))
    visitor = MutationVisitor(mutation_operators, IgnoredCode(set(), set(), set()))
    wrapped.visit(visitor)
    count = len(visitor.mutations)
    chosen = range(count) if most is None or most >= count else sorted(rng.sample(range(count), most))
    out = []
    for m in (visitor.mutations[n] for n in chosen):
        changed = wrapped.module.deep_replace(m.original_node, m.mutated_node)
        assert isinstance(changed, cst.Module)
        out.append(Mutant(path.stem, changed.code, isinstance(m.original_node, cst.SimpleString)))
    return count, out


@contextlib.contextmanager
def copied() -> Iterator[Path]:
    """A copy of the project to put mutants into."""
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        there = Path(folder) / "project"
        for name in ("coach", "tests", "profiles", "examples"):
            shutil.copytree(ROOT / name, there / name, ignore=shutil.ignore_patterns("__pycache__", "bench"))
        for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
            shutil.copy(ROOT / name, there / name)
        yield there


def passes(project: Path, tests: Iterable[str], within: float = 600.0) -> bool:
    """Whether the tests pass, in a process of their own that has everything but the project loaded already."""
    names = [name for name in tests if (project / name).exists()]
    child = os.fork()
    if child == 0:
        os.setpgid(0, 0)
        _in_child(project, names)
    end = time.monotonic() + within
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status) == 0
        time.sleep(0.02)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return False


def _in_child(project: Path, names: list[str]) -> None:
    """Run the tests and leave with their verdict."""
    code = 9
    try:
        nothing = os.open(os.devnull, os.O_RDWR)
        for n in (0, 1, 2):
            os.dup2(nothing, n)
        resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))
        os.chdir(project)
        sys.path.insert(0, str(project))
        os.environ["PYTHONPATH"] = str(project)
        import pytest

        code = int(pytest.main([*OPTIONS, *names]))
    finally:
        os._exit(code)


def preload() -> None:
    """What every run needs and no mutant changes."""
    import hypothesis  # noqa: F401
    import numpy  # noqa: F401
    import pydantic  # noqa: F401
    import pytest  # noqa: F401
    import scipy.interpolate
    import scipy.optimize
    import scipy.special
    import scipy.stats  # noqa: F401
    import textual.app  # noqa: F401


@dataclass(frozen=True)
class Tests:
    """The tests of a group, quick ones first, and how long they may take, s."""

    parts: tuple[tuple[tuple[str, ...], float], ...]

    @classmethod
    def timed(cls, project: Path, parts: Iterable[tuple[str, ...]]) -> Tests:
        """The limits by a run without a mutant.  Raises SystemExit when that fails."""
        out = []
        for names in parts:
            before = time.monotonic()
            if names and not passes(project, names):
                raise SystemExit(f"the tests fail without any mutant: {' '.join(names)}")
            out.append((names, HANGS * (time.monotonic() - before) + 15.0))
        return cls(tuple(out))

    def notice(self, project: Path) -> bool:
        """Whether one of them fails, or doesn't come to an end."""
        return any(names and not passes(project, names, within) for names, within in self.parts)


def run(project: Path, module: str, tests: Tests, most: int | None, seed: int, tell: bool) -> Tally:
    """Try a module's mutants; ``tell`` prints each that stays alive."""
    path = project / "coach" / f"{module}.py"
    code = path.read_text()
    count, chosen = mutants(path, most, random.Random(f"{seed} {module}"))
    tally = Tally(made=count)
    for n, mutant in enumerate(chosen):
        path.write_text(mutant.source)
        os.utime(path, (1e9 + n, 1e9 + n))  # so that no compiled file of the mutant before is taken for this one's
        tally.tried += 1
        tally.texts += mutant.text
        if not tests.notice(project):
            tally.alive.append(mutant)
            if tell:
                print(f"{n + 1}/{len(chosen)}", shown(mutant, code), flush=True)
    path.write_text(code)
    return tally


def shown(mutant: Mutant, code: str) -> str:
    """What a mutant changes."""
    lines = difflib.unified_diff(code.splitlines(), mutant.source.splitlines(), lineterm="", n=0)
    return "\n".join(line for line in list(lines)[2:])


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("names", nargs="*", default=list(GROUPS))
    parser.add_argument("--most", type=int, default=120)
    parser.add_argument("--every", action="store_true")
    parser.add_argument("--seed", type=int, default=REPORT)
    parser.add_argument("--list", action="store_true")
    asked = parser.parse_args()
    preload()
    print(f"seed {asked.seed}\n{'module':24}{'made':>6}{'tried':>7}{'alive':>7}   share  (95 % interval)", flush=True)
    with copied() as project:
        for modules, first, then in GROUPS.values():
            wanted = [m for m in modules if m in asked.names]
            if any(GROUPS[g][0] is modules for g in asked.names if g in GROUPS):
                wanted = list(modules)
            if not wanted:
                continue
            tests = Tests.timed(project, (first, then))
            for module in wanted:
                tally = run(project, module, tests, None if asked.every else asked.most, asked.seed, asked.list)
                print(tally.row(module), flush=True)


if __name__ == "__main__":
    main()
