"""The folders and profile files of a person: finding, reading and saving them."""

from __future__ import annotations

import contextlib
import os
import re
import tempfile
import time
import tomllib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import BaseModel, ValidationError

from coach.roast.errors import FileError, did_you_mean, faults, printable, reason_of
from coach.roast.profile import Profile, ProfileDocument
from coach.session.folders import bundled_profiles as bundled_profiles
from coach.session.folders import home as home
from coach.session.folders import logbook_folder as logbook_folder
from coach.session.folders import own_path, read_file
from coach.session.folders import profile_folder as profile_folder

MAX_BYTES: Final = 512 * 1024
MAX_DOTS: Final = 100
"""Limit on dots in a line that are no decimal points; the TOML reader's time grows with the square of a key's parts."""
M = TypeVar("M", bound=BaseModel)


def find_profile(name: str) -> Path:
    """Find a profile of the person's, or a demo profile (see ``find_named``)."""
    return find_named(name, (profile_folder(), bundled_profiles()), "profile")


def profile_names() -> list[str]:
    """The names of the person's profiles and of the demo profiles."""
    return names_in(profile_folder(), bundled_profiles())


def find_named(name: str, folders: Sequence[Path], what: str) -> Path:
    """Find the TOML file that a name means: a path, or the first of this name in the folders; ``what``: the kind of
    file, for the message.  Raises FileError that lists the names there are."""
    path = own_path(name)
    if path.exists() or path.suffix == ".toml":
        return path
    if re.fullmatch(r"[\w][\w .-]*", name):
        for folder in folders:
            candidate = folder / f"{name}.toml"
            if candidate.is_file():
                return candidate
    known = names_in(*folders)
    raise FileError(printable(name)[:80], f"no such {what}.", did_you_mean(name, known) + there_are(known))


def names_in(*folders: Path) -> list[str]:
    """The names of the TOML files in folders."""
    return sorted({p.stem for folder in folders if folder.is_dir() for p in folder.glob("*.toml")})


def there_are(names: Iterable[str]) -> str:
    """The names to choose from, in a sentence."""
    return "There are: " + ", ".join(names) + "."


def _last_file() -> Path:
    return home() / "last-profile"


def used_profile(name: str) -> None:
    """Remember the profile that was used last.  Raises FileError when there is none of this name."""
    found = find_profile(name)
    text = str(found.resolve()) if found == own_path(name) else name
    with contextlib.suppress(OSError, ValueError):
        if _last_file().exists() and not _last_file().is_file():
            return  # a pipe would be waited for
        if not _last_file().exists() or _last_file().read_text(encoding="utf-8") != text:
            home().mkdir(parents=True, exist_ok=True)
            _last_file().write_text(text, encoding="utf-8")


def last_profile(demo: str = "") -> str:
    """Name of the profile used last; else of the only one of the person's own; else ``demo``.  Raises FileError."""
    with contextlib.suppress(OSError, ValueError, FileError):
        name = _last_file().read_text(encoding="utf-8").strip() if _last_file().is_file() else ""
        if name and find_profile(name).is_file():
            return name
    own = sorted(profile_folder().glob("*.toml")) if profile_folder().is_dir() else []
    if len(own) == 1:
        return own[0].stem
    if demo:
        return demo
    raise FileError("PROFILE", "say which one: none was used yet.", there_are(profile_names()))


def read_document(path: Path) -> ProfileDocument:
    """Read a profile file.  Raises FileError that names the file, the field and what to do; all faults at once."""
    return read_toml(path, ProfileDocument, "profile")


def read_toml(path: Path, model: type[M], what: str) -> M:
    """Read a TOML file as a model; ``what``: the kind of file, for the message.  Raises FileError with all its faults,
    each with its field."""
    shown, data = str(path), read_file(path, f"{what} (.toml)", MAX_BYTES)
    line = _costly_line(data)
    if line:
        raise FileError(shown, "a line with too many dots.", "Break it up; keys have a few parts.", line=line)
    try:
        return model.model_validate(tomllib.loads(data.decode("utf-8")))
    except ValidationError as error:
        raise FileError(shown, "; ".join(faults(error)) + ".", f"Correct the {what}.") from None
    except (ValueError, RecursionError) as error:
        said = printable(" ".join(str(error).split()))[:160]
        raise FileError(shown, f"not TOML: {said}.", "Correct it at that place.") from None


def _costly_line(data: bytes) -> int:
    """The line (from 1) at which the dotted keys of a TOML file get too many or too long; 0 if they don't."""
    cost = table = 0
    for number, line in enumerate(re.sub(rb"\d\.\d+\s*(?=[],}\r\n])", b"", data).split(b"\n"), 1):
        dots = line.count(b".")
        table = max(table, dots) if line.lstrip().startswith(b"[") else table
        cost += dots * dots + table
        if dots > MAX_DOTS or cost > 100 * MAX_DOTS**2:
            return number
    return 0


def load_profile(name: str) -> Profile:
    """Read the profile that a name or path means.  Raises FileError."""
    return Profile(read_document(find_profile(name)))


def dump_document(document: ProfileDocument, over: Path | None = None) -> str:
    """A profile as TOML text, written for people: a point of the reference and a move a line, times as m:ss.

    ``over``: the file of the profile that it is made from; its comments and its order stay where they can.
    """
    table = document.model_dump(mode="json", exclude_none=True)
    for name in LEFT_OUT:
        if not table[name]:
            del table[name]
    table["moves"] = [{k: v for k, v in m.items() if v not in ("0:00", "") or k == "at_time"} for m in table["moves"]]
    return toml_text(table, over)


LEFT_OUT: Final = ("roastery", "band_pointwise", "calls", "notes", "checklist", "sources", "parent", "provisional",
                   "invented", "cadence_fixed")  # fmt: skip
"""Fields that are not written where they are empty or false."""


def toml_text(table: dict[str, Any], over: Path | None = None) -> str:
    """A table as TOML text, lists of lists and of tables an item a line; ``over``: a file whose comments stay."""
    import tomlkit

    if over is not None:
        with contextlib.suppress(OSError, UnicodeDecodeError, ValueError):
            kept = tomlkit.parse(over.read_text(encoding="utf-8"))
            _set(kept, table)
            text = tomlkit.dumps(kept)
            if tomllib.loads(text) == table:
                return text
    fresh = tomlkit.document()
    for key, value in sorted(table.items(), key=lambda item: isinstance(item[1], dict)):
        fresh[key] = _item(value)
    return tomlkit.dumps(fresh)


def _set(kept: Any, table: dict[str, Any]) -> None:
    """Give a parsed TOML table the values of ``table``; equal values stay as they are written."""
    for key in [k for k in kept if k not in table]:
        del kept[key]
    for key, value in table.items():
        before = kept[key].unwrap() if key in kept and hasattr(kept[key], "unwrap") else kept.get(key)
        if key in kept and before == value and isinstance(before, bool) == isinstance(value, bool):
            continue
        if isinstance(value, dict) and isinstance(before, dict):
            _set(kept[key], value)
        else:
            kept[key] = _item(value)


def _item(value: Any) -> Any:
    """A value as tomlkit writes it."""
    import tomlkit

    if isinstance(value, dict):
        table = tomlkit.table()
        for key, inner in value.items():
            table[key] = _item(inner)
        return table
    if not isinstance(value, list):
        return value
    array = tomlkit.array()
    for item in value:
        if isinstance(item, dict):
            inline = tomlkit.inline_table()
            inline.update(item)
            array.append(inline)
        else:
            array.append(item)
    return array.multiline(len(value) > 0 and isinstance(value[0], dict | list | str))


REFUSED: Final = (0.02, 0.05, 0.1, 0.2, 0.4)
"""Waits between attempts to replace a file, s: Windows refuses while another program has it open, a virus scanner for
one."""


def _replace(new: str, path: Path) -> None:
    for wait in REFUSED:
        try:
            return os.replace(new, path)
        except PermissionError:
            time.sleep(wait)
    os.replace(new, path)


def save_text(
    path: Path, text: str, *, overwrite: bool = False, taken: str = "Choose another name, or add --overwrite."
) -> None:
    """Write a text file whole or not at all (temporary file, fsync, rename); through a link, the file that it points
    to.  ``taken``: hint where there is one already.  Raises FileError in words, also on a folder, pipe or device."""
    path = Path(os.path.realpath(path))
    if path.is_dir():
        raise FileError(str(path), "is a folder.", "Name a file to write.")
    if os.path.lexists(path) and not path.is_file():
        raise FileError(str(path), "is no file but a pipe, a device or a broken link.", "Name a file.")
    if path.exists() and not overwrite:
        raise FileError(str(path), "exists already.", taken)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(descriptor, "w", encoding="utf-8", newline="\n") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            _replace(temporary, path)
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
            raise
    except OSError as error:
        hint = "Check the disk and the folder's rights."
        raise FileError(str(path), f"can't be written ({reason_of(error)}).", hint) from None
