"""Where a person's files lie.  Imports nothing that takes time."""

from __future__ import annotations

import os
from pathlib import Path


def home() -> Path:
    """The person's coach folder: $COACH_HOME, or ``coach`` in the user's data folder."""
    given = os.environ.get("COACH_HOME")
    if given:
        return Path(given).expanduser()
    data = os.environ.get("XDG_DATA_HOME")
    return (Path(data).expanduser() if data else Path.home() / ".local" / "share") / "coach"


def logbook_folder(given: str | None = None) -> Path:
    """Where the journals of this person's roasts lie, or the folder that was ``given`` in its place."""
    return Path(given).expanduser() if given else home() / "roasts"


def profile_folder() -> Path:
    """Where this person's own profiles lie."""
    return home() / "profiles"
