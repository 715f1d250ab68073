"""The command line: puts the parts together, and turns errors into one line."""

from __future__ import annotations

import argparse
import codecs
import importlib
import io
import pkgutil
import sys
from collections.abc import Sequence

import coach.commands
from coach.errors import CoachError
from coach.remarks import collected


def command_names() -> list[str]:
    """Every command: the modules of ``coach.commands``."""
    return sorted(m.name for m in pkgutil.iter_modules(coach.commands.__path__))


def parser(only: str | None = None) -> argparse.ArgumentParser:
    """The parser with every command, or with ``only`` one, so that nothing else is imported."""
    top = argparse.ArgumentParser(
        prog="coach",
        description="A coach for people who roast coffee by hand. It advises; it controls nothing.",
    )
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    names = command_names()
    for name in [only] if only in names else names:
        importlib.import_module(f"coach.commands.{name}").add(commands)
    return top


def plain_where_needed() -> None:
    """Where a stream's encoding has no sign for something (latin-1 has no −), print its nearest likeness instead."""
    from coach.screens.signs import to_plain

    def likeness(error: UnicodeError) -> tuple[str, int]:
        if not isinstance(error, UnicodeEncodeError):
            raise error
        return to_plain(error.object[error.start : error.end]), error.end

    codecs.register_error("coach likeness", likeness)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and "utf" not in stream.encoding.lower():
            stream.reconfigure(errors="coach likeness")


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command; 2 on an error that the person can put right."""
    plain_where_needed()
    argv = sys.argv[1:] if argv is None else argv
    args = parser(argv[0] if argv else None).parse_args(argv)
    with collected() as remarks:
        code = _run(args)
    for text in remarks:  # after the answer, so that a screen is left by then
        print(f"coach: {text}", file=sys.stderr)
    return code


def _run(args: argparse.Namespace) -> int:
    try:
        return int(args.run(args))
    except CoachError as error:
        print(f"coach: {error}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        return 0
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())
