"""The command line: puts the parts together, and turns errors into one line."""

from __future__ import annotations

import argparse
import codecs
import contextlib
import importlib
import io
import os
import sys
from collections.abc import Sequence

from coach.app.arguments import COMMANDS, PROFILE, grouped_help, parser, renewed
from coach.app.printing import at_words
from coach.roast.errors import CoachError, did_you_mean, printable, reason_of
from coach.roast.remarks import collected


def plain_where_needed() -> None:
    """Print the nearest likeness of characters that a stream's encoding doesn't have (latin-1 has no −)."""
    from coach.app.screens.signs import to_plain

    def likeness(error: UnicodeError) -> tuple[str, int]:
        if not isinstance(error, UnicodeEncodeError):
            raise error
        return to_plain(error.object[error.start : error.end]), error.end

    codecs.register_error("coach likeness", likeness)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and "utf" not in stream.encoding.lower():
            stream.reconfigure(errors="coach likeness")


def _parse(argv: Sequence[str]) -> argparse.Namespace:
    """Parse the typed arguments.  Raises CoachError on an unknown command or option, with the nearest one."""
    argv = renewed(argv)
    name = argv[0]
    if not name.startswith("-") and name not in COMMANDS:
        hint = did_you_mean(name, COMMANDS)
        raise CoachError(f"There is no command '{name[:40]}'.", f"{hint}coach --help lists all.")
    args, unknown = parser(name).parse_known_args(argv)
    if unknown:
        options = [o for a in args.parser._actions if a.help != argparse.SUPPRESS for o in a.option_strings]
        close = did_you_mean(unknown[0].partition("=")[0], options) if unknown[0].startswith("-") else ""
        raise CoachError(
            f"coach {args.command} takes no '{unknown[0][:60]}'.", f"{close}coach {args.command} --help lists all."
        )
    return args


def _used(args: argparse.Namespace) -> None:
    """Put the last profile used in the place of one that was not given; remember one that was."""
    from coach.session.profile_files import last_profile, used_profile

    if args.profile:
        used_profile(args.profile)
        return
    args.profile = last_profile("larch-hill" if args.command == "rehearse" else "")
    print(f"coach: the profile is {args.profile}", file=sys.stderr)


def safe_streams() -> None:
    """Put something in place of standard streams that are closed, so that no file gets their numbers: input is empty,
    and writing fails as on a full disk."""
    for number, name, mode in ((0, "stdin", "r"), (1, "stdout", "w"), (2, "stderr", "w")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDONLY)  # the lowest free number
            setattr(sys, name, open(number, mode, encoding="utf-8", closefd=False))  # noqa: SIM115


def _say(text: str) -> None:
    with contextlib.suppress(OSError, ValueError):
        print(text, file=sys.stderr, flush=True)


def _no_more_output() -> None:
    """Drop the text still held for standard output and error, so that it doesn't fail once more at the end."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError, AttributeError):
            stream.flush()
            continue
        with contextlib.suppress(OSError, ValueError, AttributeError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, stream.fileno())
            os.close(nowhere)


def _in_words(error: OSError) -> str:
    """An error of the system in words, and what to do."""
    if error.filename is None:
        return f"what was to be written or printed can't be ({reason_of(error)}). Check the disk."
    name = os.fsdecode(error.filename) if isinstance(error.filename, str | bytes) else str(error.filename)
    shown = printable(name if len(name) <= 80 else f"{name[:77]}...")
    return f"{shown}: can't be used ({reason_of(error)}). Check the name, the disk and its rights."


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command; 2 on an error that the person can put right."""
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # it would look through all that is installed
    safe_streams()
    with collected() as remarks, at_words():
        try:
            plain_where_needed()
            code = _run(sys.argv[1:] if argv is None else argv)
            sys.stdout.flush()
        except CoachError as error:
            _say(f"coach: {error}")
            code = 2
        except BrokenPipeError:
            code = 0
        except OSError as error:
            _say(f"coach: {_in_words(error)}")
            code = 2
        except (KeyboardInterrupt, EOFError):  # Ctrl+C, or Ctrl+D at a question
            code = 130
    for text in remarks if code != 130 else ():  # after the answer, so that a screen is left by then
        _say(f"coach: {text}")
    _no_more_output()
    return code


def _run(argv: Sequence[str]) -> int:
    if not argv:
        from coach.app.screens.terminal import on_a_terminal

        if on_a_terminal():
            from coach.app.screens.home import home_screen

            return home_screen(main)
    if not argv or argv[0] in ("-h", "--help", "help"):
        print(grouped_help(), end="")
        return 0
    if argv[0] == "--version":
        from importlib.metadata import version

        print(f"coach {version('coach')}")
        return 0
    try:
        args = _parse(argv)
    except SystemExit as end:  # the parser has printed its message
        return end.code if isinstance(end.code, int) else 0
    if PROFILE in COMMANDS[args.command].takes:
        _used(args)
    args.main = main  # what runs the tasks of a list on a screen
    return int(importlib.import_module(f"coach.app.commands.{args.command}").run(args))


if __name__ == "__main__":
    sys.exit(main())
