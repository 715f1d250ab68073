"""Whatever comes in is taken or refused in words: no traceback, no long wait, nothing raw on a terminal or a page.

The same parsers take over a million inputs in tests/bench/bench_faults.py.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import random
import re
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from helpers import Hand
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from inputs import ESCAPES, LINES, PROFILE, bombs, fault, parsers

from coach.app.arguments import COMMANDS, parser
from coach.app.cli import main
from coach.app.live import LiveRoast
from coach.app.screens.app import RoastApp
from coach.roast.errors import CoachError, printable
from coach.session.journal import line_of, parse_entry, read_journal
from coach.session.profile_files import last_profile, load_profile, used_profile
from coach.session.settings import load_settings

NAMES = ("typed line", "journal line", "journal", "profile", "sheet")
COUNT = {"typed line": 8000, "journal line": 6000, "journal": 700, "profile": 1200, "sheet": 1000}


@pytest.mark.parametrize("name", NAMES)
def test_drawn_inputs(tmp_path: Path, name: str) -> None:
    parser, rng, taken = parsers(tmp_path)[name], random.Random(20_000 + len(name)), 0
    for _ in range(COUNT[name]):
        data = parser.draw(rng)
        wrong = fault(parser, data)
        assert not wrong, f"{wrong}\n{data[:500]!r}"
        with contextlib.suppress(CoachError):
            parser.call(data)
            taken += 1
    assert COUNT[name] * 0.01 < taken < COUNT[name] * 0.99, "neither all taken nor all refused"


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(NAMES), st.binary(max_size=300))
def test_any_bytes(tmp_path: Path, name: str, data: bytes) -> None:
    assert fault(parsers(tmp_path)[name], data) == ""


TEXT = st.text(st.characters(), max_size=12)
"""Lone surrogates too."""
JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(st.characters())
    | st.sampled_from(["mark", "pop"]),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(st.characters(), max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)


@settings(max_examples=120, deadline=None)
@given(
    st.dictionaries(st.sampled_from(["kind", "at", "typed", "temperature", "event", "of", "replace", "x"]), JSON),
    st.sampled_from(["reading", "mark", "move", "note", "correction", "result", "reply"]),
)
def test_any_object_is_an_entry_that_can_be_written_or_refused(table: dict[str, object], kind: str) -> None:
    """Lone surrogates too: the JSON that comes in may hold them, the journal can't."""
    try:
        entry = parse_entry(json.dumps({"kind": kind, **table}), "roast.jsonl", 2)
    except CoachError:
        return
    assert parse_entry(line_of(entry).encode().decode(), "roast.jsonl", 2) == entry


@pytest.mark.parametrize("name", sorted(bombs()))
def test_bombs(tmp_path: Path, name: str) -> None:
    which, data = bombs()[name]
    parser = parsers(tmp_path)[which]
    before = time.thread_time()
    wrong = fault(parser, data)
    assert time.thread_time() - before < 2.0, "seconds of this thread's own"
    assert wrong == ""


# -- what is shown ------------------------------------------------------------------------------------------------


WICKED = "".join(ESCAPES)


@pytest.fixture
def wicked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A home with a roast and a profile full of what must not be shown as it is."""
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COACH_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "home" / "roasts"
    folder.mkdir(parents=True)
    head = json.loads(LINES[0])
    for field in ("person", "machine", "coffee"):
        head[field] = f"{field} {WICKED}"
    head["profile"] = f"trial {WICKED}"
    lines = [json.dumps(head), *LINES[1:]]
    last = json.loads(LINES[-1])["at"] + 5
    lines += [
        json.dumps({"kind": "note", "at": last, "text": f"a note {WICKED}"}),
        json.dumps({"kind": "result", "at": last, "cup_notes": f"of {WICKED}", "colour": 60, "colour_scale": WICKED}),
        json.dumps({"kind": "reply", "at": last, "cue": WICKED, "answer": "useful"}),
    ]
    (folder / "wicked\x1b[31m<script>.jsonl").write_text("\n".join(lines) + "\n")
    (folder / "bad\x1b]0;owned\x07.jsonl").write_text('{"kind":"roast","version":"' + "\\u001b[31m" + '"}\n')
    profile = PROFILE.decode().replace('"trial"', json.dumps(f"trial {WICKED}")).replace('"a note"', json.dumps(WICKED))
    (tmp_path / "wicked.toml").write_text('coffee = "\\u001b[31m<script>"\n' + profile.replace("\x7f", "\\u007f"))
    yield tmp_path
    os.environ.pop("COACH_CACHE", None)


def safe(text: str) -> bool:
    tower = re.search(r"[\u0300-\u036f]{5}", text)
    return tower is None and not any(not c.isprintable() and c not in "\n\t" for c in text)


def test_marks_that_scripts_need_stay_and_towers_do_not() -> None:
    assert printable("Việt \u1ec7 e\u0323\u0302 שָׁ") == "Việt \u1ec7 e\u0323\u0302 שָׁ"
    assert printable("a" + "\u0301" * 40 + "b") == "a" + "\u0301" * 4 + "b"


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ('glance = "x"', "glance: must be true or false"), ("x = 1", "x: is not known"),
        ("keys = 3", "keys: must be a table"),
        ('theme = "x"', "theme: must be 'dark', 'light', 'contrast' or 'terminal'"),
        ('cadence = {drying = ":30"}', "cadence.drying: ':30' is not a time: write minutes and seconds"),
    ],
)  # fmt: skip
def test_faults_of_a_file_are_told_in_our_own_words(tmp_path: Path, given: str, words: str) -> None:
    file = tmp_path / "settings.toml"
    file.write_text(given + "\n")
    with pytest.raises(CoachError) as refused:
        load_settings(file)
    assert words in str(refused.value)
    with pytest.raises(CoachError, match="line 2: temperature: must be 1000000 at most"):
        parse_entry('{"kind": "reading", "at": 1, "temperature": 1e9}', "roast.jsonl", 2)


def test_what_the_argument_parser_says_is_safe(capsys: pytest.CaptureFixture[str]) -> None:
    """Of each command: an unknown word and option, a wrong choice, a wrong number, an option that is not clear."""
    for name in COMMANDS:
        for more in ([WICKED], [f"-{WICKED}"], ["x", "y", "z", WICKED], [f"--l={WICKED}"],
                     ["--unit", WICKED], ["--batch", WICKED], ["--limit", WICKED], [f"--p{WICKED}"]):  # fmt: skip
            with contextlib.suppress(SystemExit):
                parser().parse_known_args([name, *more])
        for argv in ([name, f"--{WICKED}"], [f"{name}{WICKED}"]):
            assert main(argv) == 2
    shown = capsys.readouterr()
    assert "is no number" in shown.err
    assert safe(shown.out + shown.err), shown.err


@pytest.mark.parametrize(
    "command",
    [
        ["log"],
        ["log", "--ended", "unreadable"],
        ["log", "{roast}"],
        ["log", "{bad}"],
        ["log", "--json"],
        ["replay", "{roast}", "--profile", "{profile}"],
        ["replay", "{bad}", "--profile", "{profile}"],
        ["replay", "{roast}", "--profile", "nothing\x1b[31m"],
        ["brief", "{profile}"],
        ["trend", "{profile}"],
        ["cues"],
        ["accuracy", "{profile}", "--of", "forecasts"],
        ["compare", "{profile}", "{profile}"],
        ["export", "{roast}"],
        ["import", "{bad}"],
        ["review", "{roast}", "--profile", "{profile}", "--html", "{out}"],
        pytest.param(["review", "{roast}", "--profile", "{profile}"], marks=pytest.mark.long),
        ["brief", "{profile}", "--html", "{out}"],
        ["trend", "{profile}", "--html", "{out}"],
        [
            "adopt",
            "{roast}",
            "--name",
            "x\x1b[31m",
            "--follows",
            "{profile}",
            "--change",
            "charge",
            "--output",
            "{home}/made.toml",
        ],
    ],
    ids=lambda c: " ".join(c).replace("\x1b", "ESC"),
)
def test_nothing_raw_is_shown(wicked: Path, capsys: pytest.CaptureFixture[str], command: list[str]) -> None:
    folder = wicked / "home" / "roasts"
    names = {
        "roast": str(next(folder.glob("wicked*"))), "bad": str(next(folder.glob("bad*"))),
        "profile": str(wicked / "wicked.toml"), "out": str(wicked / "page.html"), "home": str(wicked),
    }  # fmt: skip
    fails = "{bad}" in command or any("nothing" in part for part in command)
    assert main([part.format(**names) for part in command]) == (2 if fails else 0), capsys.readouterr().err
    shown = capsys.readouterr()
    assert shown.out or shown.err or (wicked / "page.html").exists()
    assert safe(shown.out.replace("\r\n", "\n")), [line for line in shown.out.splitlines() if not safe(line)]
    assert safe(shown.err), shown.err
    page = wicked / "page.html"
    if page.exists():
        text = page.read_text()
        assert "<script" not in text.lower()
        assert safe(text), [line for line in text.splitlines() if not safe(line)][:3]


def test_what_the_screen_shows_is_safe_and_markup_is_text(wicked: Path) -> None:
    """In the brief, in the message about an entry, in the status and on the glance view."""
    hand = Hand()
    profile = load_profile(str(wicked / "wicked.toml"))
    roast = LiveRoast.open(
        profile, wicked / "home" / "roasts", hand, started=datetime.now(UTC), run="live", person=WICKED
    )
    app = RoastApp(roast, tick=1000)
    seen: list[str] = []

    def look() -> None:
        seen.extend(
            "".join(segment.text for segment in line if not segment.control)
            for line in app.screen._compositor.render_strips()
        )

    async def drive() -> None:
        async with app.run_test(size=(120, 40)) as pilot:
            look()
            await pilot.press("pagedown")
            look()
            await pilot.press("enter", "c")
            hand.now = 30.0
            for note in ("[/nothing] [red]", "[bold", "{0} %s"):
                await pilot.press("/", *note, "enter")
                await pilot.pause()
                look()
            await pilot.press("v")
            await pilot.pause()
            look()

    asyncio.run(drive())
    text = "\n".join(seen)
    assert "[red]" in text
    assert "[/nothing] [red]" in text
    assert safe(text), [line for line in seen if not safe(line)]


def test_a_roast_is_found_by_name_in_its_logbook_only(wicked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A profile's or a roast's name is no path out of the folder."""
    (wicked / "home" / "secret.jsonl").write_text("\n".join(LINES) + "\n")
    (wicked / "home" / "profiles").mkdir()
    (wicked / "home" / "secret.toml").write_bytes(PROFILE)
    for argv in (["log", "../secret"], ["brief", "../secret"], ["brief", "..\\secret"]):
        assert main(argv) == 2
        assert "secret" in capsys.readouterr().err


def test_links_that_lead_nowhere_or_in_a_circle(wicked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = wicked / "home" / "roasts"
    (folder / "circle").symlink_to(folder)
    (folder / "nowhere.jsonl").symlink_to(wicked / "gone.jsonl")
    (folder / "self.jsonl").symlink_to(folder / "self.jsonl")
    (folder / "folder.jsonl").mkdir()
    assert main(["log"]) == 0
    shown = capsys.readouterr()
    assert "1 roast; 4 can't be read" in shown.out
    assert all(f"{name}: passed over (" in shown.err for name in ("nowhere.jsonl", "self.jsonl", "folder.jsonl"))
    for name in ("nowhere.jsonl", "self.jsonl", "folder.jsonl"):
        assert main(["log", str(folder / name)]) == 2
        assert capsys.readouterr().err.startswith("coach: ")


def test_what_is_passed_over_is_named_beside_a_refusal_too(wicked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    late = '{"kind": "reading", "at": 999999, "temperature": 150}'
    (wicked / "home" / "roasts" / "late.jsonl").write_text("\n".join([*LINES[:6], late]) + "\n")
    assert main(["merge", str(wicked / "wicked.toml"), "--show"]) == 2
    assert "late.jsonl: passed over (278 hours after charge (line 7) is too late" in capsys.readouterr().err


def test_a_device_without_end_is_no_journal_and_no_profile(capsys: pytest.CaptureFixture[str]) -> None:
    if not Path("/dev/zero").exists():
        pytest.skip("no such device here")
    profile = str(Path(__file__).parents[2] / "profiles" / "larch-hill.toml")
    for argv in (["replay", "/dev/zero", "--profile", profile], ["brief", "/dev/zero"], ["import", "/dev/zero"]):
        assert main(argv) == 2
        assert capsys.readouterr().err.startswith("coach: /dev/zero: ")


def test_a_sheet_through_a_pipe_is_waited_for_but_not_for_ever(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("coach.logbook.sheets.sheet_file.PATIENCE", 0.1)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    argv = ["import", str(pipe), "--output", str(tmp_path / "made.jsonl")]
    assert main(argv) == 2
    assert "is a pipe through which nothing came for 0.1 s" in capsys.readouterr().err
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    writer = os.open(pipe, os.O_WRONLY)
    os.write(writer, b"time,temperature (C)\n0:00,200\n")
    assert main(argv) == 2, "a writer that never goes on"
    assert "nothing came for 0.1 s" in capsys.readouterr().err
    os.close(reader)
    monkeypatch.setattr("coach.logbook.sheets.sheet_file.PATIENCE", 5.0)

    def write() -> None:
        time.sleep(0.05)
        os.write(writer, b"time,temperature (C)\n0:00,200\n1:00,95\n")
        os.write(writer, b"".join(b"%d:00,%d\n" % (m, 90 + 10 * m) for m in range(2, 8)))
        os.close(writer)

    late = threading.Thread(target=write)
    late.start()
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    assert main(argv) == 0, capsys.readouterr().err
    os.close(reader)
    late.join()
    assert "8 readings" in capsys.readouterr().out


@pytest.mark.parametrize("what", ["pipe", "folder", "device", "nowhere in a circle"])
def test_nothing_but_a_file_is_overwritten(wicked: Path, capsys: pytest.CaptureFixture[str], what: str) -> None:
    roast, target = str(next((wicked / "home" / "roasts").glob("wicked*"))), wicked / "target"
    if what == "pipe":
        os.mkfifo(target)
    elif what == "folder":
        target.mkdir()
    elif what == "device":
        target.symlink_to("/dev/null")
    else:
        target.symlink_to(target)

    def state() -> tuple[int, int, int, int]:  # looking at a link changes the time of its last use
        found = os.lstat(target)
        return found.st_ino, found.st_mode, found.st_size, found.st_mtime_ns

    before = state()
    assert main(["export", roast, "--overwrite", "--output", str(target)]) == 2
    assert "Name a file" in capsys.readouterr().err
    assert state() == before
    assert Path("/dev/null").is_char_device()


def test_a_link_to_a_file_stays_a_link(wicked: Path) -> None:
    roast, link = str(next((wicked / "home" / "roasts").glob("wicked*"))), wicked / "link.csv"
    link.symlink_to(wicked / "meant.csv")
    for more in ([], ["--overwrite"]):
        assert main(["export", roast, "--output", str(link), *more]) == 0
        assert link.is_symlink()
        assert (wicked / "meant.csv").stat().st_size > 100
    assert main(["export", roast, "--output", str(link)]) == 2


def test_a_pipe_in_place_of_the_last_profile_holds_nobody_up(wicked: Path) -> None:
    os.mkfifo(wicked / "home" / "last-profile")
    used_profile(str(wicked / "wicked.toml"))
    assert last_profile("larch-hill") == "larch-hill"


def test_a_pipe_in_the_logbook_holds_nobody_up(wicked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = wicked / "home" / "roasts"
    os.mkfifo(folder / "pipe.jsonl")
    assert main(["log"]) == 0
    with pytest.raises(CoachError, match="is no file"):
        read_journal(folder / "pipe.jsonl")
