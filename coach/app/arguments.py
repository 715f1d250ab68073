"""The commands by group, what each takes, and the parser made from that.  Nothing of a command itself is imported."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NoReturn

from coach.roast.errors import did_you_mean, printable

if TYPE_CHECKING:
    from _typeshed import SupportsWrite


@dataclass(frozen=True)
class Argument:
    """One argument, as ``argparse.add_argument`` takes it; ``group``: the title under which the help lists it."""

    names: tuple[str, ...]
    how: Mapping[str, Any]
    group: str = ""


def arg(*names: str, help: str, group: str = "", **how: Any) -> Argument:
    """An argument with a value."""
    return Argument(names, {"help": help, **how}, group)


def text(name: str, metavar: str, help: str, group: str = "") -> Argument:
    """An option whose value is '' where it is not given."""
    return arg(name, default="", metavar=metavar, help=help, group=group)


def number(name: str, metavar: str, help: str, group: str = "") -> Argument:
    """An option that takes a number; None where it is not given."""
    return arg(name, type=float, metavar=metavar, help=help, group=group)


def flag(name: str, help: str) -> Argument:
    """An option without a value."""
    return arg(name, action="store_true", help=help)


def several(name: str, metavar: str | None, help: str, group: str = "", **how: Any) -> Argument:
    """An option that may be repeated."""
    return arg(name, action="append", default=[], metavar=metavar, help=f"{help}; may be repeated", group=group, **how)


@dataclass(frozen=True)
class Command:
    """A command: its line in the help, an example of what to type after its name, and what it takes."""

    help: str
    example: str
    takes: tuple[Argument, ...] = ()


PROFILE: Final = arg("profile", nargs="?", metavar="PROFILE", help="a name or a file (without it: the last one used)")
ROAST: Final = arg("roast", metavar="ROAST", help="a journal, (the beginning of) its name in the logbook, or last")
ROASTED_BY: Final = arg("--profile", metavar="P", help="the profile it was roasted by, where its name finds none")
LOGBOOK: Final = arg("--logbook", metavar="DIR", help="another logbook than your own")
JSON: Final = flag("--json", "as JSON")
SCREEN: Final = flag("--screen", "on a screen of its own, to scroll in or to choose from")
OVERWRITE: Final = flag("--overwrite", "replace the file where there is one")
PAGE: Final = (arg("--html", metavar="FILE", help="write a page for the browser instead"), OVERWRITE, SCREEN)
"""The forms in which a page is shown."""
PERIOD: Final = (
    text("--machine", "TEXT", "only roasts on a machine with this in its name"),
    text("--coffee", "TEXT", "only roasts of a coffee with this in its name"),
    text("--since", "DATE", "only roasts from then on: 2026-11-02, 2026-11 or 2026"),
    text("--until", "DATE", "only roasts up to then, that day or month too"),
)
"""The choice of roasts of the logbook."""
BATCH: Final = number("--batch", "KG", "batch weight in kg")


def output(help: str) -> tuple[Argument, ...]:
    """The file that a command writes."""
    return arg("--output", metavar="FILE", help=help), OVERWRITE


STATED: Final = "what the roasts do not tell (in the units of the profile)"
GIVEN: Final = (
    number("--charge", "DEGREES", "charge temperature, degrees", STATED),
    number("--safety", "DEGREES", "the probe's safety limit, degrees", STATED),
    number("--batch", "KG", "batch weight in kg", STATED),
    several("--limit", "NAME=LOW-HIGH", "gas=0.4-2.4 (also air, drum; gas_step=0.1, air_step=0.5)", STATED),
    several("--change", None, "agree to a charge temperature more than 10 °C off, or to another limit", STATED,
            choices=("charge", "limits")),
    flag("--show", "only show what would change"),
)  # fmt: skip
"""A person's statements about a new profile, and the words that confirm a grave change."""

COLUMNS: Final = "which column is what (name or number, none: not taken); columns of these names are found"
ABOUT: Final = "about the roast"
SHEET: Final = (
    arg("file", metavar="FILE", help="the sheet: comma-separated values"),
    *(
        arg(f"--{name}", metavar="COLUMN", help=f"the column of {what}", group=COLUMNS)
        for name, what in {
            "time": "the roast time", "temperature": "the bean probe", "event": "marks of events", "gas": "the gas",
            "air": "the air", "drum": "the drum's speed", "note": "notes",
            "turned": "readings typed as the dial turned to the number",
        }.items()
    ),
    *(
        arg(name, choices=choices, help=help, group="how things are written")
        for name, choices, help in (
            ("--unit", ("C", "F"), "unit of temperatures (without it: asked, if not in the sheet)"),
            ("--time-unit", ("m:ss", "s", "min", "m.ss"), "form of times: 6:20, 380, 6.33, 6.20"),
            ("--pressure-unit", ("kPa", "mbar", "inH2O", "mmH2O", "psi"), "unit of the gas pressure"),
            ("--delimiter", ("comma", "semicolon", "tab", "bar", "space"), "between columns (without it: found)"),
            ("--decimal", ("point", "comma"), "decimal sign of numbers (without it: found)"),
        )
    ),
    several("--mark", "EVENT=TIME", "an event and its time, as first crack=8:07"),
    several("--word", "WORD=EVENT",
            "the sheet's own word for an event: --word 'first pops=first crack', or =none to pass it over"),
    several("--leave-out", "LINE", "number of a line not to take", type=int),
    text("--date", "DATE", "the day, as 2026-10-05 or 2026-10-05T08:30 (without it: today)", ABOUT),
    arg("--follows", metavar="PROFILE", help="the profile that was followed, so that the roast counts", group=ABOUT),
    *(text(f"--{name}", "NAME", f"name of the {name}", ABOUT) for name in ("person", "machine", "coffee")),
    number("--batch", "KG", "batch weight in kg", ABOUT),
)  # fmt: skip

GROUPS: Final[Mapping[str, Mapping[str, Command]]] = {
    "roast": {
        "follow": Command("follow a profile in a live roast", "larch-hill", (
            PROFILE,
            text("--person", "NAME", "name of the person who roasts"),
            arg("--unit", choices=("C", "F"), help="the unit in which readings are typed, if not the profile's"),
        )),
        "brief": Command("brief the person who roasts next, or hand a running roast over", "larch-hill", (
            PROFILE,
            arg("--roast", metavar="ROAST", help="the running roast that is taken over"),
            arg("--at", metavar="M:SS", help="with --roast: as it stood at this roast time (without it: now)"),
            flag("--confirm", "ask the incoming person the three facts"),
            *PAGE, LOGBOOK, JSON,
        )),
        "charge": Command("propose charge temperature and first gas for today", "larch-hill --room 18", (
            PROFILE, BATCH,
            number("--room", "DEGREES", "today's room temperature, in the profile's unit"),
            number("--since", "MINUTES", "minutes from the drop before to this charge"),
            LOGBOOK, JSON,
        )),
        "plan": Command("plan several batches in a row: times and weights", "larch-hillx3 moss-lane", (
            arg("batches", nargs="*", metavar="PROFILE[xN]", help="larch-hill, or larch-hillx4 for four batches"),
            text("--start", "H:MM", "first charge (without it: the next full quarter)"),
            text("--gap", "M:SS", "from a drop to the next charge (without it: as usual)"),
            number("--loss", "PERCENT", "loss of weight to expect (without it: as weighed)"),
            LOGBOOK, JSON,
        )),
    },
    "logbook": {
        "log": Command("list the roasts of the logbook, or open one", "--coffee kenya --since 2026-10", (
            arg("roast", nargs="?", metavar="ROAST", help="open this one: a file, (the beginning of) a name, or last"),
            text("--profile", "TEXT", "only roasts of a profile with this in its name"),
            text("--person", "TEXT", "only roasts by a person with this in the name"),
            *PERIOD,
            text("--ended", "HOW", "only roasts that are dropped, unfinished, accepted, refused, unreadable, ..."),
            flag("--rehearsals", "list rehearsals too"),
            arg("--limit", type=int, default=30, help="how many, newest first (without it: 30; 0: all)"),
            LOGBOOK, JSON, SCREEN,
        )),
        "review": Command("review a roast: today against the reference", "last", (
            ROAST, *PAGE, ROASTED_BY, LOGBOOK, JSON,
        )),
        "result": Command("add weights, colour and cup to a finished roast", "last out 690g score 85", (
            ROAST,
            arg("given", nargs="+", metavar="NAME VALUE",
                help="as on the screen (out 690g, colour 58 our meter, cup sweet, nutty) or as out=690g: in, out, "
                "moisture, colour, scale, score, cup, accepted, learn, doubt; profile of a roast that names none; or "
                "copies: what was added to other files of this roast"),
            LOGBOOK, JSON,
        )),
        "trend": Command("how alike the roasts of a profile are", "larch-hill --html trend.html", (
            PROFILE, *PERIOD,
            text("--only", "TEXT", "draw only the charts with this in their name"),
            *PAGE, LOGBOOK, JSON,
        )),
        "accuracy": Command("how right forecasts, cues and advice were on your own roasts", "larch-hill --of cues", (
            PROFILE,
            arg("--of", choices=("forecasts", "cues", "advice"), help="one of these alone (without it: all three)"),
            arg("--last", type=int, default=20, metavar="N", help="the newest N roasts (without it: 20)"),
            LOGBOOK,
            flag("--recompute", "forecasts: by this version, not as they were issued"),
            arg("--roast", metavar="ROAST", help="every cue of one roast: a file, a name, or last"),
            arg("--judge", nargs=2, metavar=("CUE", "OUTCOME"),
                help="with --roast: your own word on a cue: useful, late, 'already acting', false or unknown"),
            arg("--time", metavar="M:SS", help="with --judge: which one, where the cue came more than once"),
            JSON,
        )),
        "replay": Command("a finished roast through the coach", "last --screen --speed 4", (
            arg("roast", metavar="ROAST",
                help="a journal, (the beginning of) its name in the logbook, last, or - (standard input)"),
            ROASTED_BY,
            arg("--logbook", metavar="DIR", help="earlier journals of the same profile to learn from"),
            flag("--json", "one JSON object for each entry"),
            flag("--screen", "on the screen, as time passes; nothing is written"),
            arg("--speed", type=float, default=1.0, help="with --screen: 1 to 20 times real time"),
        )),
        "close": Command("close a roast that ended without a drop", "last", (
            arg("roast", nargs="?", default="", metavar="ROAST", help="as for log; left out: the only one unfinished"),
            flag("--undo", "the roast named is not over after all"),
            flag("--yes", "close it even if it may be running"),
            LOGBOOK, JSON,
        )),
        "import": Command("make a roast from a sheet (CSV)", "roast.csv --batch 0.8", (
            *SHEET, *output("where to write it; without it: into your own folder"),
            flag("--json", "as JSON: the file, and what was read; nothing is asked"),
        )),
        "export": Command("write a roast as comma-separated values", "last --output roast.csv", (
            ROAST, *output("where to write it; without it: to standard output"), LOGBOOK,
        )),
    },
    "learning": {
        "rehearse": Command("rehearse a profile on a simulated roaster", "larch-hill --drill random --speed 4", (
            PROFILE,
            text("--drill", "NAME", "something that goes wrong, from coach drills, or random"),
            text("--machine", "FILE", "a machine (.toml, see: coach fit) or a shipped one"),
            arg("--speed", type=float, default=1.0, help="1 to 20 times real time (without it: 1)"),
            arg("--seed", type=int, default=1, help="the day: the same number gives the same day (without it: 1)"),
            arg("--auto", action="store_true", default=None,
                help="watch the simulated person, take over when you like (so the first time)"),
            arg("--own", action="store_false", dest="auto", default=None,
                help="work yourself from the start (so every later time)"),
            text("--person", "NAME", "name of the person whose progress it counts for"),
            text("--stage", "STAGE", "rehearse, guided or 'cues only'"),
            flag("--json", "as JSON: the score of the simulated person, without a screen"),
        )),
        "drills": Command("list the drills for a rehearsal", "wet-lot", (
            arg("drill", nargs="?", metavar="NAME", help="show the file of one: what it injects and what is right"),
            SCREEN, JSON,
        )),
        "progress": Command("rehearsals of each person, and how far they have come", "--person ada", (
            arg("--person", metavar="NAME", help="one person only"),
            arg("--last", type=int, default=10, metavar="N",
                help="list the newest N rehearsals (without it: 10; 0: all)"),
            SCREEN, JSON,
        )),
        "learnt": Command("tell what your own roasts taught about a profile", "larch-hill", (PROFILE, LOGBOOK, JSON)),
        "fit": Command("fit the simulated roaster to your own roasts", "--batch 0.8", (
            LOGBOOK,
            text("--of", "NAME", "only roasts whose journal names this machine"),
            number("--batch", "KG", "batch weight in kg, where a journal has none"),
            number("--air", "DIAL", "the air dial's value, where a roast has none logged"),
            *output("where to write the machine, .toml (without it: your own folder)"),
            JSON,
        )),
    },
    "profiles": {
        "adopt": Command("make a finished roast into a profile", "last --name 'Our Tuesday'", (
            ROAST,
            arg("--name", required=True, help="name of the new profile"),
            arg("--follows", metavar="PROFILE", help="the profile that was followed; without it: as the roast says"),
            arg("--drop", metavar="M:SS", help="roast time of the drop, where it was not marked"),
            *output("where to write it; without it: among your own profiles"), *GIVEN, LOGBOOK, JSON,
        )),
        "merge": Command("make accepted roasts into the next version of their profile", "larch-hill --show", (
            PROFILE,
            arg("roasts", nargs="*", metavar="ROAST", help="without any: all accepted roasts of it in the logbook"),
            arg("--output", metavar="FILE", help="where to write it; without it: beside your profiles, as NAME-vN"),
            *GIVEN, LOGBOOK, JSON,
        )),
        "scale": Command(
            "a first guess at a profile for another batch weight", "larch-hill --batch 1.0 --output profile.toml", (
            PROFILE,
            arg("--batch", type=float, required=True, metavar="KG", help="the other batch weight in kg"),
            arg("--output", required=True, metavar="FILE", help="where to write the profile (.toml)"),
            OVERWRITE, JSON,
        )),
        "compare": Command("compare the versions of a profile, or two profiles", "larch-hill moss-lane", (
            PROFILE, arg("other", nargs="?", metavar="OTHER", help="without it: the versions of PROFILE"), JSON,
        )),
    },
    "setup": {
        "sounds": Command("play each sound with its name", "'first crack'", (
            arg("name", nargs="?", default="", help="only this cue or sound"),
            flag("--silent", "say how sounds would go out, and play none"),
            flag("--json", "as JSON, and play none"),
        )),
        "cues": Command("the table of cues", "crack", (
            arg("name", nargs="?", default="", help="only the cues with this in their name"), JSON,
        )),
        "settings": Command("show your settings and their file", "", (JSON,)),
        "schema": Command("the JSON Schema of profiles or journals", "profile", (
            arg("what", metavar="KIND", choices=("profile", "journal"), help="profile or journal: what it describes"),
        )),
        "completions": Command("a script by which your shell completes what you type", "bash", (
            arg("shell", nargs="?", metavar="SHELL", choices=("bash", "zsh", "fish", "powershell"),
                help="bash: add 'source <(coach completions bash)' to ~/.bashrc; zsh: coach completions zsh > _coach "
                "in a folder of $fpath; fish: coach completions fish > ~/.config/fish/completions/coach.fish; "
                "powershell: add 'coach completions powershell | Out-String | Invoke-Expression' to $PROFILE"),
            arg("--names", choices=("profile", "roast", "drill"), help=argparse.SUPPRESS),
        )),
    },
}  # fmt: skip
COMMANDS: Final = {name: command for group in GROUPS.values() for name, command in group.items()}
OLD: Final[Mapping[str, tuple[tuple[str, ...], Mapping[str, str]]]] = {
    "trust": (("accuracy", "--of", "forecasts"), {"--folder": "--logbook", "--anew": "--recompute"}),
    "ledger": (("accuracy", "--of", "cues"), {"--folder": "--logbook", "--profile": ""}),
    "advice": (("accuracy", "--of", "advice"), {"--folder": "--logbook"}),
    "report": (("review",), {"--folder": "--logbook", "--output": "--html", "--text": ""}),
}
"""Old names that still work, unlisted: the words that took the place of each, and its options that have another name
now ('': only their value is left)."""


def renewed(argv: Sequence[str]) -> list[str]:
    """The typed words with an old command and its options by their present names."""
    if argv[0] not in OLD:
        return list(argv)
    words, options = OLD[argv[0]]
    out = list(words)
    for word in argv[1:]:
        option, equals, value = word.partition("=")
        name = options.get(option, option)
        out.append(f"{name}{equals}{value}" if name else value)
    return [word for word in out if word]


class Parser(argparse.ArgumentParser):
    """A parser whose errors are one line that says what to type."""

    def error(self, message: str) -> NoReturn:
        """Print the error and what to do; leave with 2."""
        missing = re.fullmatch(r"the following arguments are required: (.*)", message)
        number = re.fullmatch(r"argument (\S+): invalid (int|float) value: (.*)", message, re.DOTALL)
        choice = re.fullmatch(r"argument (\S+): invalid choice: '(.*)' \(choose from (.*)\)", message)
        if missing:
            message = f"{missing[1]} {'are' if ',' in missing[1] else 'is'} missing."
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


def parser(only: str = "") -> argparse.ArgumentParser:
    """The parser of all commands, or of ``only`` one, which is sooner made; what it parses names the command's own
    ``parser``."""
    top = Parser(prog="coach")
    top.add_argument("--version", action="store_true", help="print the version")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND", parser_class=Parser)
    for name, command in COMMANDS.items() if only not in COMMANDS else ((only, COMMANDS[only]),):
        p = commands.add_parser(
            name, help=command.help, description=f"{command.help[0].upper()}{command.help[1:]}.",
            epilog=f"For example: coach {name} {command.example}".rstrip(),
        )  # fmt: skip
        p.set_defaults(parser=p)
        places: dict[str, argparse._ActionsContainer] = {"": p}
        for a in command.takes:
            if a.group not in places:
                places[a.group] = p.add_argument_group(a.group)
            places[a.group].add_argument(*a.names, **a.how)
    return top


def grouped_help() -> str:
    """The help of the whole program: its purpose, and its commands by group."""
    out = ["coach: for people who roast coffee by hand. It advises; it controls nothing.", ""]
    out += ["  coach                   opens the home screen", "  coach COMMAND --help    what a command takes"]
    wide = max(map(len, COMMANDS))
    for group, commands in GROUPS.items():
        out += ["", group, *(f"  {name:<{wide}}  {c.help}" for name, c in commands.items())]
    return "\n".join([*out, ""])
