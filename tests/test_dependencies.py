"""The bounds of the dependencies: both given, the lower ones the versions that .ci/run tests with, none beyond them."""

from __future__ import annotations

import re
import sys
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
LOWEST = dict(
    line.split("==") for line in (ROOT / ".ci" / "lowest.txt").read_text().splitlines() if not line.startswith("#")
)


def bounds() -> dict[str, tuple[str, str]]:
    """Each runtime dependency with its lower and upper bound."""
    table = tomllib.loads((ROOT / "pyproject.toml").read_text())
    found = [re.fullmatch(r"([\w-]+)>=([\d.]+),<([\d.]+)", d) for d in table["project"]["dependencies"]]
    assert all(found), "each has a lower and an upper bound"
    return {m[1]: (m[2], m[3]) for m in found if m is not None}


def parts(text: str) -> list[int]:
    return [int(x) for x in re.findall(r"\d+", text)[:3]]


def padded(text: str) -> list[int]:
    return [*parts(text), 0, 0, 0][:3]


def test_the_lowest_versions_tested_with_are_the_lower_bounds() -> None:
    assert {name: padded(low) for name, (low, _) in bounds().items()} == {n: padded(v) for n, v in LOWEST.items()}


def test_what_is_installed_is_within_the_bounds() -> None:
    for name, (low, high) in bounds().items():
        assert padded(low) <= padded(version(name)) < padded(high), name


@pytest.mark.skipif(Path(sys.prefix).name != "lowest", reason="not the environment of the lowest versions")
def test_here_the_lowest_are_installed() -> None:
    for name, lowest in LOWEST.items():
        assert padded(version(name)) == padded(lowest), name
