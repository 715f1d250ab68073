"""The folders of a person's files.  Imports nothing that takes time.

The folders are those that each system means for a program's data and cache (platformdirs).  Earlier versions used the
Linux folders on every system: files there stay in use where they are; nothing is moved.
"""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from coach.roast.errors import FileError, reason_of

if TYPE_CHECKING:
    import sqlite3


def own_path(name: str) -> Path:
    """A path as a person gives it: a leading ~ is their home folder, where there is one of that name."""
    try:
        return Path(name).expanduser()
    except RuntimeError:  # no such person, or a person without a home
        return Path(name)


def home() -> Path:
    """The person's coach folder: $COACH_HOME, or ``coach`` in the user's data folder.

    An earlier version's folder stays in use as long as there is nothing in the present one; where both hold files, the
    present one is used and a remark names the other.
    """
    given = os.environ.get("COACH_HOME")
    if given:
        return own_path(given)
    import platformdirs

    folder, earlier = platformdirs.user_data_path("coach", appauthor=False), _earlier_home()
    if folder == earlier or not _holds_files(earlier):
        return folder
    if not _holds_files(folder):
        return earlier
    from coach.roast.remarks import remark

    remark(f"{earlier} holds files as well, and is not looked into: move what you want to keep to {folder}")
    return folder


def _earlier_home() -> Path:
    """The folder in which an earlier version kept the person's files, on every system."""
    data = os.environ.get("XDG_DATA_HOME")
    return own_path(data or "~/.local/share") / "coach"


def _holds_files(folder: Path) -> bool:
    """True if a folder holds anything beside a cache (on Windows the cache lies in it); also True where the folder
    can't be read, so that it doesn't pass for an empty one."""
    try:
        with os.scandir(folder) as found:
            return any(f.name != "Cache" for f in found)
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError:
        return True


def file_stem(name: str, otherwise: str) -> str:
    """A name as that of a file: letters, digits and hyphens; ``otherwise`` where nothing is left of it.  One by which
    Windows means a device is changed (Microsoft: "Naming Files, Paths, and Namespaces")."""
    stem = re.sub(r"[^\w]+", "-", name.lower()).strip("-")[:60] or otherwise
    return f"{stem}_" if re.fullmatch(r"con|prn|aux|nul|(com|lpt)\d", stem) else stem


def cache_folder() -> Path:
    """This machine's cache: $COACH_CACHE, or ``coach`` in the user's cache folder."""
    import platformdirs

    return own_path(os.environ.get("COACH_CACHE") or platformdirs.user_cache_dir("coach", appauthor=False))


def cache_file(kind: str, *of: str) -> Path:
    """Path of a database in this machine's cache, one for each ``of`` (and for each machine that mounts the home)."""
    import hashlib
    import platform

    name = hashlib.sha256("\n".join([platform.node(), *of]).encode()).hexdigest()[:16]
    return cache_folder() / f"{kind}-{name}.sqlite3"


def open_cache(file: Path | None, prepare: Callable[[sqlite3.Connection], None]) -> sqlite3.Connection:
    """Open a database of values that can be computed again, readable by its owner alone.  ``prepare`` makes its tables.

    A damaged one, or one of another version that can't be prepared, is made new; where none can be opened (no rights,
    another process holds it too long, ``file`` None) it is kept in memory.
    """
    import sqlite3

    for _ in range(0 if file is None else 2):
        assert file is not None
        try:
            file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            os.close(os.open(file, os.O_RDWR | os.O_CREAT, 0o600))
            return _prepared(sqlite3.connect(file, timeout=2.0), prepare)
        except (OSError, sqlite3.DatabaseError) as error:
            if isinstance(error, OSError) or "locked" in str(error):
                break
            with contextlib.suppress(OSError):
                file.unlink(missing_ok=True)
    return _prepared(sqlite3.connect(":memory:"), prepare)


def _prepared(db: sqlite3.Connection, prepare: Callable[[sqlite3.Connection], None]) -> sqlite3.Connection:
    try:
        db.execute("PRAGMA synchronous=OFF")
        prepare(db)
        db.commit()
    except BaseException:
        db.close()  # Windows removes no file that is open
        raise
    return db


def logbook_folder(given: str | None = None, *, looked_into: bool = True) -> Path:
    """The folder of this person's journals, or the one that was ``given`` in its place.

    With ``looked_into``, raises FileError where it exists and can't be read: it must not pass for an empty one.
    """
    folder = own_path(given) if given else home() / "roasts"
    if looked_into:
        try:
            os.scandir(folder).close()
        except (FileNotFoundError, NotADirectoryError):
            pass
        except (OSError, ValueError) as error:
            hint = "Check its rights, or name another folder."
            raise FileError(str(folder), f"the logbook can't be looked into ({reason_of(error)}).", hint) from None
    return folder


def read_file(path: Path, what: str, most: int) -> bytes:
    """Read a file of up to ``most`` bytes; ``what``: the kind of file, for the message.  Raises FileError in words."""
    shown = str(path)
    try:
        if path.is_dir():
            raise FileError(shown, "is a folder.", f"Name a {what}.")
        if path.exists() and not path.is_file():
            raise FileError(shown, "is no file but a pipe or a device.", f"Name a {what}.")
        if path.stat().st_size > most:
            raise FileError(shown, f"larger than {most / 2**20:g} MB.", f"That is no {what}.")
        return path.read_bytes()
    except FileNotFoundError:
        raise FileError(shown, "not found.", "Check the name.") from None
    except ValueError:  # a zero byte in it
        raise FileError(shown, "no file can have such a name.", "Check the name.") from None
    except OSError as error:
        raise FileError(shown, f"can't be read ({reason_of(error)}).", "Check the file's rights.") from None


def profile_folder() -> Path:
    """The folder of this person's own profiles."""
    return home() / "profiles"


def bundled_profiles() -> Path:
    """The folder of the demo profiles that come with the program (an invented roastery): ``profiles`` of a clone, or
    the one named by the installed program's list of files."""
    import coach

    top = Path(coach.__file__).parent.parent
    if (top / "pyproject.toml").is_file():
        return top / "profiles"
    from importlib.metadata import PackageNotFoundError, files

    with contextlib.suppress(PackageNotFoundError):
        for file in files("coach") or []:
            if file.name == "larch-hill.toml":
                return Path(str(file.locate())).parent
    return top / "profiles"


def sounds_heard() -> bool:
    """True once somebody heard the sounds on this machine."""
    return (home() / "sounds-heard").exists()


def note_sounds_heard() -> None:
    """Note that somebody heard the sounds to the end; where the disk refuses, nothing is noted."""
    with contextlib.suppress(OSError):
        home().mkdir(parents=True, exist_ok=True)
        (home() / "sounds-heard").touch()
