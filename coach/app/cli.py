"""The command line: puts the parts together, and turns errors into one line."""

from __future__ import annotations

import argparse
import codecs
import contextlib
import importlib
import io
import os
import pkgutil
import re
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NoReturn

import coach.app.commands
from coach.app.commands import EXAMPLES, GROUPS, renewed
from coach.roast.errors import CoachError, did_you_mean, printable
from coach.roast.remarks import collected

if TYPE_CHECKING:
    from _typeshed import SupportsWrite


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


class TopParser(Parser):
    """The parser of the program itself: its help lists the commands by group."""

    def format_help(self) -> str:
        """The commands, grouped, a line each."""
        return grouped_help(self)


class _Commands(argparse._SubParsersAction):  # type: ignore[type-arg]
    """The commands, each described by its line in the list."""

    def add_parser(self, name: str, **how: Any) -> argparse.ArgumentParser:
        text = how.get("help", "")
        how.setdefault("description", text[:1].upper() + text[1:] + ("" if text.endswith(".") else "."))
        how.setdefault("epilog", f"For example: coach {name} {EXAMPLES.get(name, '')}".rstrip())
        found: argparse.ArgumentParser = super().add_parser(name, **how)
        return found


def command_names() -> list[str]:
    """Every command: the modules of ``coach.app.commands``."""
    return sorted(m.name for m in pkgutil.iter_modules(coach.app.commands.__path__) if not m.name.startswith("_"))


def parser(only: str | None = None) -> argparse.ArgumentParser:
    """The parser with every command, or with ``only`` one, so that nothing else is imported."""
    top = TopParser(
        prog="coach",
        description="A coach for people who roast coffee by hand. It advises; it controls nothing.",
    )
    top.add_argument("--version", action="store_true", help="print the version")
    commands = top.add_subparsers(
        dest="command", required=True, metavar="COMMAND", action=_Commands, parser_class=Parser
    )
    names = command_names()
    for name in [only] if only in names else names:
        importlib.import_module(f"coach.app.commands.{name}").add(commands)
    return top


def _parsers(top: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    return next(dict(a.choices or {}) for a in top._actions if isinstance(a, _Commands))


def grouped_help(top: argparse.ArgumentParser) -> str:
    """The help of the whole program: its purpose, and its commands by group."""
    known = _parsers(top)
    wide = max(map(len, known))
    listed = {name for names in GROUPS.values() for name in names}
    out = ["coach: for people who roast coffee by hand. It advises; it controls nothing.", ""]
    out += ["  coach                   opens the home screen", "  coach COMMAND --help    what a command takes"]
    for group, names in GROUPS.items():
        more = tuple(n for n in sorted(known) if n not in listed) if group == "setup" else ()
        out += ["", group]
        for name in (*names, *more):
            if name in known:
                text = (known[name].description or "").rstrip(".")
                out.append(f"  {name:<{wide}}  {text[:1].lower()}{text[1:]}")
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
    name, names = argv[0], command_names()
    if not name.startswith("-") and name not in names:
        raise CoachError(f"There is no command '{name[:40]}'.", did_you_mean(name, names) + "coach --help lists all.")
    top = parser(name)
    args, unknown = top.parse_known_args(argv)
    if unknown:
        options = [o for a in _parsers(top)[args.command]._actions if a.help != argparse.SUPPRESS
                   for o in a.option_strings]  # fmt: skip
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


def _a_terminal() -> bool:
    from coach.app.screens.terminal import on_a_terminal

    return on_a_terminal()


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
    reason = error.strerror or str(error) or type(error).__name__
    if error.filename is None:
        return f"what was to be written or printed can't be ({printable(reason)}). Check the disk."
    name = os.fsdecode(error.filename) if isinstance(error.filename, str | bytes) else str(error.filename)
    shown = printable(name if len(name) <= 80 else f"{name[:77]}...")
    return f"{shown}: can't be used ({printable(reason)}). Check the name, the disk and its rights."


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command; 2 on an error that the person can put right."""
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # it would look through all that is installed
    safe_streams()
    with collected() as remarks:
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
        except KeyboardInterrupt:
            code = 130
    for text in remarks if code != 130 else ():  # after the answer, so that a screen is left by then
        _say(f"coach: {text}")
    _no_more_output()
    return code


def _run(argv: Sequence[str]) -> int:
    if not argv and _a_terminal():
        from coach.app.screens.home import home_screen

        return home_screen(main)
    if not argv or argv[0] in ("-h", "--help", "help"):
        print(parser().format_help(), end="")
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
