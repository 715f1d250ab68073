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


def logbook_folder(given: str | None = None, *, looked_into: bool = True) -> Path:
    """Where the journals of this person's roasts lie, or the folder that was ``given`` in its place.

    Raises FileError where there is one that may not be ``looked_into``: it must not pass for an empty one.
    """
    folder = Path(given).expanduser() if given else home() / "roasts"
    if looked_into:
        try:
            os.scandir(folder).close()
        except (FileNotFoundError, NotADirectoryError):
            pass
        except (OSError, ValueError) as error:
            from coach.roast.errors import FileError, printable

            reason = getattr(error, "strerror", None) or str(error)
            shown = printable(str(folder))
            hint = "Check its rights, or name another folder."
            raise FileError(shown, f"the logbook can't be looked into ({reason}).", hint) from None
    return folder


def profile_folder() -> Path:
    """Where this person's own profiles lie."""
    return home() / "profiles"
