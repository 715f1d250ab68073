"""``coach brief PROFILE``: a page for the next person; ``--roast`` for a takeover in mid-roast."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Final

from coach.app.commands import add_json, add_logbook, add_profile

if TYPE_CHECKING:
    from pathlib import Path

    from coach.logbook.brief.brief import Brief, PastRoast
    from coach.logbook.brief.handover import HandoverState
    from coach.roast.profile import Profile

MOST: Final = 11
"""Number of newest roasts that are read."""


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register the command."""
    p = commands.add_parser("brief", help="brief the person who roasts next, or hand a running roast over")
    add_profile(p)
    p.add_argument("--roast", metavar="ROAST", help="the running roast that is taken over")
    p.add_argument("--at", metavar="M:SS", help="with --roast: as it stood at this roast time (without it: now)")
    p.add_argument("--confirm", action="store_true", help="ask the incoming person the three facts")
    p.add_argument("--html", metavar="FILE", help="write a page instead")
    p.add_argument("--screen", action="store_true", help="on a screen of its own, to scroll in")
    p.add_argument("--plain", action="store_true", help="draw without braille dots")
    p.add_argument("--overwrite", action="store_true")
    add_logbook(p)
    add_json(p)
    p.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Gather, then print, ask or write."""
    from datetime import UTC, datetime
    from pathlib import Path

    from coach.logbook.brief.brief import brief
    from coach.logbook.profiles.kept_versions import newer
    from coach.roast.errors import printable
    from coach.session.profile_files import find_profile, load_profile, logbook_folder, save_text

    profile = load_profile(args.profile)
    folder = logbook_folder(args.logbook)
    now = datetime.now(UTC)
    running = None
    standing = None
    if args.roast:
        from coach.logbook.index.find import find_roast

        running = find_roast(args.roast, folder)
        standing = stands(profile, running, args.at, now, folder)
    past, before = earlier(profile, folder, running)
    found = brief(
        profile, past, now, on_machine=before, parent=parent_of(args.profile, profile), standing=standing,
        newer="" if standing is not None else newer(profile, find_profile(args.profile).parent),
    )  # fmt: skip
    if args.json:
        from coach.app.printing import print_json

        print_json({"profile": profile, **vars(found)})
        return 0
    if args.html:
        from coach.logbook.brief.brief_page import brief_page

        save_text(Path(args.html), brief_page(found, profile, standing), overwrite=args.overwrite)
        print(f"{printable(args.html)}: open it in a browser, or print it")
        return 0
    from coach.app.printing import plainly, width
    from coach.logbook.brief.brief_page import text
    from coach.logbook.brief.brief_plots import drawn

    def lines(wide: int, plain: bool) -> list[str]:
        picture = ["", "THE LINE TO FOLLOW, WITH ITS BAND", *drawn(profile, standing, wide, plain)]
        said = text(found, wide)
        at = next((i for i, line in enumerate(said) if line == "RECIPE"), len(said)) - 1
        return [*said[:at], *picture, *said[at:]]

    plain = plainly(args.plain)
    if args.screen:
        from coach.app.screens.reader import read

        read("brief", lines, "coach brief prints it.", ascii_only=plain)
    else:
        print("\n".join(lines(width(), plain)))
    return confirm(found) if args.confirm else 0


def confirm(b: Brief) -> int:
    """Ask the three facts until each is right; 1 when the person gives up."""
    import sys

    from coach.app.printing import ask
    from coach.roast.errors import CoachError

    if not sys.stdin.isatty():
        raise CoachError("--confirm needs a terminal.", "Say the three facts back in person.")
    print()
    for fact in b.facts:
        while not fact.fits(said := ask(fact.question)):
            if not said.strip():
                print("Not confirmed.")
                return 1
            print(f"  No: look again ({fact.answer}). Type it.")
    print("Confirmed, all three.")
    return 0


def stands(profile: Profile, path: Path, at: str | None, now: object, folder: Path) -> HandoverState:
    """State of the running roast, forecast with the knowledge of its coach.  Raises JournalError."""
    from datetime import UTC, datetime

    from coach.logbook.brief.handover import HandoverState
    from coach.logbook.earlier_roasts import learnt
    from coach.logbook.learning.lessons import known_then
    from coach.roast.errors import EntryError, JournalError
    from coach.roast.units import parse_clock
    from coach.session.journal import read_journal

    journal = read_journal(path)
    roast = journal.roast
    if at is not None:
        try:
            moment = (roast.charge_at or 0.0) + parse_clock(at)
        except ValueError as error:
            raise JournalError(str(path), f"--at: {error}.") from None
    else:
        assert isinstance(now, datetime)
        try:
            started = datetime.fromisoformat(journal.header.started)
        except ValueError:
            raise JournalError(str(path), "does not say when it began.", "Give --at m:ss") from None
        moment = (now - (started if started.tzinfo else started.replace(tzinfo=UTC))).total_seconds()
        if "drop" in roast.marks or not 0 <= moment <= 3 * 3600:
            raise JournalError(str(path), "is not running any more.", "Give --at m:ss to see it as it stood.")
    try:
        before = known_then(folder, profile, path, journal.header.started)
        knowledge = learnt(profile, before) if before else None
        return HandoverState.of(profile, journal.header, journal.entries, moment, knowledge)
    except EntryError as error:
        raise JournalError(str(path), error.message, error.hint) from None


def earlier(profile: Profile, folder: Path, running: Path | None) -> tuple[list[PastRoast], PastRoast | None]:
    """The newest dropped roasts of the profile, and the newest of any on the same machine, but for the ``running``
    one."""
    from coach.logbook.brief.brief import PastRoast
    from coach.logbook.index.summary import summarise
    from coach.session.journal_folder import dropped, roasts

    if not folder.is_dir():
        return [], None

    def past(most: int, *, profile: str | None = None, machine: str | None = None) -> list[PastRoast]:
        found = roasts(folder, profile=profile, machine=machine, but=running, most=most, wanted=dropped)
        return [PastRoast(summarise(e.roast, str(e.path.relative_to(folder))), e.roast) for e in reversed(found)]

    machine = profile.document.machine
    on_machine = past(1, machine=machine) if machine else []
    return past(MOST, profile=profile.name), on_machine[0] if on_machine else None


def parent_of(name: str, profile: Profile) -> Profile | None:
    """The version before, where its file is beside the profile's or among the demo profiles."""
    import re

    from coach.roast.errors import CoachError
    from coach.roast.profile import Profile as Known
    from coach.session.profile_files import bundled_profiles, find_profile, read_document

    version = profile.document.version
    if version < 2:
        return None
    file = find_profile(name)
    stem = re.sub(r"-v\d+$", "", file.stem)
    for folder in (file.parent, bundled_profiles()):
        for candidate in (folder / f"{stem}-v{version - 1}.toml", folder / f"{stem}.toml"):
            try:
                document = read_document(candidate)
            except CoachError:
                continue
            if document.name == profile.name and document.version == version - 1:
                return Known.from_document(document)
    return None
