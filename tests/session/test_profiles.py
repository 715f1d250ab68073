"""The demo profiles: marked as invented, of different drums and units, and each one leads through a brief."""

from __future__ import annotations

import subprocess
import tomllib
from importlib import metadata
from pathlib import Path

import pytest

from coach.app.screens.before_roast import CAUTIONS, brief
from coach.session.profile_files import bundled_profiles, load_profile

ROOT = Path(__file__).parents[2]
NAMES = sorted(p.stem for p in bundled_profiles().glob("*.toml"))


def test_there_are_three_of_different_drums_and_units() -> None:
    documents = [load_profile(n).document for n in NAMES]
    assert len(documents) >= 3
    assert {d.unit for d in documents} == {"C", "F"}
    assert len({d.machine for d in documents}) >= 2
    assert len({d.batch_kg for d in documents}) >= 2


@pytest.mark.parametrize("name", NAMES)
def test_each_says_that_it_is_invented_and_holds_together(name: str) -> None:
    profile = load_profile(name)
    d = profile.document
    assert d.invented
    assert "invented" in d.name.lower()
    assert "invented" in d.roastery.lower()
    assert {"yellow", "first crack", "drop"} <= set(profile.goals)
    assert profile.steps
    lines = "\n".join(brief(profile))
    for caution in CAUTIONS:
        assert caution in lines
    for word in ("PLAN", " 0:00  charge", "gas", "drop", "Safety limit", "CHECK BEFORE CHARGE", *d.calls.values()):
        assert word in lines
    in_other = "\n".join(brief(profile, "F" if d.unit == "C" else "C"))
    assert ("°F" if d.unit == "C" else "°C") in in_other


def test_the_demo_profiles_are_found_when_installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    data = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["data-files"]
    assert data == {"share/coach/profiles": ["profiles/*.toml"]}
    assert bundled_profiles() == ROOT / "profiles"
    site = tmp_path / "lib" / "site-packages"
    (site / "coach").mkdir(parents=True)
    share = tmp_path / "share" / "coach" / "profiles"
    share.mkdir(parents=True)
    (share / "larch-hill.toml").write_text("")
    path = metadata.PackagePath("../../share/coach/profiles/larch-hill.toml")
    path.dist = metadata.PathDistribution(site / "coach-0.dist-info")
    monkeypatch.setattr(metadata, "files", lambda _: [path])
    monkeypatch.setattr("coach.__file__", str(site / "coach" / "__init__.py"))
    assert bundled_profiles().resolve() == share


def test_no_links_stand_in_the_tree() -> None:
    if not (ROOT / ".git").exists():
        pytest.skip("no clone")
    listed = subprocess.run(["git", "ls-files", "-s"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert [line for line in listed.splitlines() if line.startswith("120000")] == []
