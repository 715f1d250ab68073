"""The versions of a profile that a person has, each in its file."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from coach.roast.entries import Header
from coach.roast.errors import CoachError, FileError, printable
from coach.roast.profile import Profile, ProfileDocument
from coach.session.profile_files import bundled_profiles, profile_folder, read_document


@dataclass(frozen=True)
class KeptVersion:
    """One version and its file."""

    path: Path
    document: ProfileDocument

    @property
    def called(self) -> str:
        """Its name in a command: the short name among the person's or the demo profiles, else its path."""
        folder = self.path.resolve().parent
        among = folder in (profile_folder().resolve(), bundled_profiles().resolve())
        return self.path.stem if among else str(self.path)


def versions(name: str, beside: Path | None = None) -> list[KeptVersion]:
    """All versions of the profile of this name, oldest first: among the person's own, the demo profiles, and in the
    folder ``beside``.  A file that can't be read is passed over."""
    folders = dict.fromkeys(f.resolve() for f in (profile_folder(), bundled_profiles(), beside) if f is not None)
    found: list[KeptVersion] = []
    for file in (file for folder in folders for file in sorted(folder.glob("*.toml"))):
        with suppress(CoachError):
            document = read_document(file)
            found += [KeptVersion(file, document)] if document.name == name else []
    return sorted(found, key=lambda v: v.document.version)


def version_of(profile: Profile, version: int, beside: Path | None = None) -> Profile | None:
    """A version of a profile; None where there is no file of it."""
    if version == profile.document.version:
        return profile
    found = (Profile(v.document) for v in versions(profile.name, beside) if v.document.version == version)
    return next(found, None)


def profile_of(header: Header, path: Path) -> Profile:
    """The profile that a journal's header names: the version named, else the newest that was not made from this very
    roast; the person's own, then the demo ones.  Raises FileError when there is none."""
    found = [v.document for v in versions(header.profile)]
    if found:
        same = [d for d in found if d.version == header.profile_version]
        before = [d for d in found if header.id not in d.sources]
        return Profile((same or before or found)[-1])
    if not header.profile:
        raise FileError(str(path), "it names no profile.", "Say which it followed: --profile FILE")
    named = printable(header.profile)[:60]
    raise FileError(str(path), f"its profile '{named}' is not among yours.", "Name its file: --profile FILE")


def later_than(profile: Profile, beside: Path | None = None) -> list[KeptVersion]:
    """The versions of a profile above its own, oldest first."""
    return [v for v in versions(profile.name, beside) if v.document.version > profile.document.version]


def origin(document: ProfileDocument) -> str:
    """Sources of a version, in words: its roasts by name, many by their number and days."""
    sources = document.sources
    if len(sources) <= 2:
        return f"from {' and '.join(sources)}" if sources else f"from {document.parent}" if document.parent else ""
    days = [f"{s[:4]}-{s[4:6]}-{s[6:8]}" for s in sources if s[:8].isdigit()]
    span = f", {min(days)} to {max(days)}" if len(days) == len(sources) else f": {sources[0]} to {sources[-1]}"
    return f"from {len(sources)} roasts{span}"


def newer(profile: Profile, beside: Path | None = None) -> str:
    """Remark that a newer version of a profile is there, with its name; '' where there is none."""
    found = later_than(profile, beside)
    if not found:
        return ""
    last = found[-1]
    made = f", {origin(last.document)}" if origin(last.document) else ""
    return f"There is a newer version: {last.called} (version {last.document.version}{made})."


def listed(found: list[KeptVersion]) -> list[str]:
    """The versions in lines, each with its changes."""
    from coach.logbook.profiles.differences import changes

    out: list[str] = []
    for before, one in zip([None, *found[:-1]], found, strict=True):
        d = one.document
        newest = "  (the newest)" if one is found[-1] and len(found) > 1 else ""
        out.append(f"version {d.version}{' (provisional)' if d.provisional else ''}  {one.called}{newest}")
        if origin(d):
            out.append(f"  {origin(d)}")
        if before is not None:
            said = changes(Profile(before.document), Profile(d))
            out += [f"  {line}" for line in said or ["nothing that counts is different"]]
    return out
