"""The command line: puts the parts together, and turns errors into one line."""

from __future__ import annotations

import argparse
import codecs
import contextlib
import importlib
import io
import os
import re
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, NoReturn

from coach.app.commands import COMMANDS, renewed
from coach.app.printing import at_words
from coach.roast.errors import CoachError, did_you_mean, printable, reason_of
from coach.roast.remarks import collected

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

TEXTS: Final = {name: texts for group in COMMANDS.values() for name, texts in group.items()}
"""Line in the help, and example, of each command."""


class Parser(argparse.ArgumentParser):
    """A parser whose errors are one line that says what to type."""

    def error(self, message: str) -> NoReturn:
        """Print the error and what to do; leave with 2."""
        missing = re.fullmatch(r"the following arguments are required: (.*)", message)
        number = re.fullmatch(r"argument (\S+): invalid (int|float) value: (.*)", message, re.DOTALL)
        choice = re.fullmatch(r"argument (\S+): invalid choice: '(.*)' \(choose from (.*)\)", message)
        if missing:
            message = f"{missing[1]} is missing."
        elif number:
            message = f"{number[1]} {number[3][:40]} is no {'whole ' * (number[2] == 'int')}number."
        elif choice:
            known = choice[3].replace("'", "")
            message = (
                f"{choice[1]} {choice[2][:40]}: it is one of {known}. {did_you_mean(choice[2], known.split(', '))}"
            )
        else:
            message = message.removeprefix("argument ") + "."
        print(f"{self.prog}: {printable(message.strip())} {self.prog} --help shows what it takes.", file=sys.stderr)
        sys.exit(2)

    def print_help(self, file: SupportsWrite[str] | None = None) -> None:
        """Print the help; raises OSError where it can't be printed."""
        print(self.format_help(), end="", file=sys.stdout if file is None else file)


def command_names() -> list[str]:
    """Every command, in alphabetical order."""
    return sorted(TEXTS)


def parser(only: str | None = None) -> argparse.ArgumentParser:
    """The parser with every command, or with ``only`` one, so that nothing else is imported."""
    top = Parser(prog="coach")
    top.add_argument("--version", action="store_true", help="print the version")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND", parser_class=Parser)
    for name in [only] if only in TEXTS else TEXTS:
        help, example = TEXTS[name]
        p = commands.add_parser(
            name, help=help, description=f"{help[0].upper()}{help[1:]}.",
            epilog=f"For example: coach {name} {example}".rstrip(),
        )  # fmt: skip
        module = importlib.import_module(f"coach.app.commands.{name}")
        module.add(p)
        p.set_defaults(run=module.run, parser=p, main=main, whole=parser)
    return top


def grouped_help() -> str:
    """The help of the whole program: its purpose, and its commands by group."""
    out = ["coach: for people who roast coffee by hand. It advises; it controls nothing.", ""]
    out += ["  coach                   opens the home screen", "  coach COMMAND --help    what a command takes"]
    wide = max(map(len, TEXTS))
    for group, commands in COMMANDS.items():
        out += ["", group, *(f"  {name:<{wide}}  {help}" for name, (help, _) in commands.items())]
    return "\n".join([*out, ""])


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
    if not name.startswith("-") and name not in TEXTS:
        hint = did_you_mean(name, command_names())
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
    if getattr(args, "default_profile", False):
        _used(args)
    return int(args.run(args))


if __name__ == "__main__":
    sys.exit(main())
