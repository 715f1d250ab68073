"""A roast to test with: the bundled example and a clock in the test's hand."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from coach.app.live import LiveRoast
from coach.session.journal import Journal, read_journal
from coach.session.profile_files import load_profile

ROOT = Path(__file__).parent.parent
EXAMPLE = ROOT / "examples" / "invented-roast.jsonl"


def example() -> Journal:
    return read_journal(EXAMPLE)


class Hand:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


class Hurried:
    """A clock that is ``step`` s further each time it is looked at."""

    def __init__(self, step: float) -> None:
        self.step, self.now = step, 0.0

    def __call__(self) -> float:
        self.now += self.step
        return self.now


def live(folder: Path, hand: Hand) -> LiveRoast:
    profile = load_profile(str(ROOT / "profiles" / "larch-hill.toml"))
    return LiveRoast.open(profile, folder, hand, started=datetime(2026, 11, 2, 8, tzinfo=UTC), run="live")
