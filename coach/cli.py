"""The command line: puts the parts together, and turns errors into one line."""

from __future__ import annotations

import argparse
import importlib
import sys
from collections.abc import Sequence
from typing import Final

from coach.errors import CoachError

COMMANDS: Final = ("follow", "rehearse", "replay", "adopt", "cues")


def parser() -> argparse.ArgumentParser:
    """The parser with every command."""
    top = argparse.ArgumentParser(
        prog="coach",
        description="A coach for people who roast coffee by hand. It advises; it controls nothing.",
    )
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name in COMMANDS:
        importlib.import_module(f"coach.commands.{name}").add(commands)
    return top


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command; 2 on an error that the person can put right."""
    args = parser().parse_args(argv)
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
