"""The real program in a pseudo-terminal: a whole rehearsal, killed roasts, bad disks, odd terminals, two coaches."""

from __future__ import annotations

import contextlib
import json
import os
import random
import re
import resource
import shutil
import signal
import stat
import sys
import termios
import time
from collections.abc import Sequence
from pathlib import Path

import pexpect
import pyte
import pytest

from coach.roast.entries import Result
from coach.roast.errors import FileError
from coach.roast.roast import Numbered
from coach.session.journal import Journal, read_journal

PROFILE = str(Path(__file__).parents[2] / "profiles" / "larch-hill.toml")


def spawn(home: Path, *args: str, **environ: str) -> pexpect.spawn[str]:
    env = {**os.environ, "COACH_HOME": str(home), "TERM": "xterm-256color", **environ}
    command = ["-m", "coach", *args]
    child = pexpect.spawn(
        sys.executable, command, dimensions=(24, 80), env=env, encoding="utf-8", codec_errors="replace", timeout=30
    )
    child.delaybeforesend = None
    return child


class Shown:
    """What stands on the terminal's screen."""

    def __init__(self, child: pexpect.spawn[str], columns: int = 80, rows: int = 24) -> None:
        self.child = child
        self.raw = ""
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.Stream(self.screen)

    def read(self, timeout: float = 0.1) -> None:
        with contextlib.suppress(pexpect.TIMEOUT, pexpect.EOF):
            data = self.child.read_nonblocking(100_000, timeout=timeout)
            self.raw += data
            self._stream.feed(data)

    @property
    def text(self) -> str:
        return "\n".join(self.screen.display)

    def until(self, pattern: str, seconds: float = 30.0) -> None:
        end = time.monotonic() + seconds
        while not re.search(pattern, self.text):
            assert time.monotonic() < end, f"no {pattern!r} on:\n{self.text}"
            self.read()


def begin(home: Path, *args: str, **environ: str) -> tuple[pexpect.spawn[str], Shown]:
    """A live roast that was charged."""
    child = spawn(home, "follow", PROFILE, *args, **environ)
    shown = Shown(child)
    shown.until("CAUTION")
    child.send("\r")
    shown.until("NEXT")
    child.send("c")
    shown.until("(logged 0:00  |in memory only: )charge")
    return child, shown


def leave(child: pexpect.spawn[str]) -> None:
    child.sendcontrol("q")
    child.expect(pexpect.EOF)
    child.close()


def journal(home: Path) -> Journal:
    return read_journal(next((home / "roasts").glob("*.jsonl")))


def events(entries: Sequence[Numbered]) -> list[str]:
    return [e for n in entries if (e := getattr(n.entry, "event", ""))]


def saved(home: Path) -> Sequence[Numbered]:
    """The entries on disk so far: none while there is no journal, or one whose first line is being written."""
    found = list((home / "roasts").glob("*.jsonl"))
    return read_journal(found[0]).entries if found and b"\n" in found[0].read_bytes() else ()


def wait_for_lines(shown: Shown, home: Path, count: int) -> None:
    end = time.monotonic() + 20
    while len(saved(home)) < count:
        assert time.monotonic() < end, f"fewer than {count} entries on disk after 20 s"
        shown.read(0.2)


def wait_for(shown: Shown, home: Path, event: str, seconds: float) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        shown.read(0.2)
        if event in events(saved(home)):
            return
    raise AssertionError(f"no {event} within {seconds} s")


@pytest.mark.long
def test_whole_rehearsal(tmp_path: Path) -> None:
    child = spawn(tmp_path, "rehearse", PROFILE, "--speed", "20", "--auto", "--seed", "3")
    child.expect("CAUTION")
    child.send("\r")
    shown = Shown(child)
    wait_for(shown, tmp_path, "drop", 90)
    child.send("out 0.69\r")
    end = time.monotonic() + 20
    while not any(isinstance(n.entry, Result) for n in journal(tmp_path).entries):
        assert time.monotonic() < end, "no result on disk"
        shown.read(0.2)
    child.sendcontrol("q")
    child.expect("journal:")
    child.close()
    j = journal(tmp_path)
    assert events(j.entries) == ["charge", "yellow", "first crack", "drop"]
    assert j.header.run == "rehearsal"
    assert sum(n.entry.kind == "reading" for n in j.entries) >= 15
    assert sum(n.entry.kind == "move" for n in j.entries) >= 3
    assert next(n.entry for n in j.entries if isinstance(n.entry, Result)).weight_out == 0.69
    assert stat.S_IMODE(Path(j.path).stat().st_mode) == 0o600


@pytest.mark.long
def test_killed_and_gone_on_with(tmp_path: Path) -> None:
    child = spawn(tmp_path, "follow", PROFILE)
    child.expect("CAUTION")
    child.send("\r")
    child.expect("NEXT")
    child.send("c")
    child.expect("logged")
    child.send("95\r")
    child.expect("95")
    wait_for_lines(Shown(child), tmp_path, 2)
    child.kill(signal.SIGKILL)
    child.wait()
    j = journal(tmp_path)
    assert [n.entry.kind for n in j.entries] == ["mark", "reading"]
    again = spawn(tmp_path, "follow", PROFILE)
    again.expect("unfinished roast")
    again.send("\r")
    again.expect("Going on")
    again.send("101\r")
    wait_for_lines(Shown(again), tmp_path, 3)
    again.sendcontrol("q")
    again.expect(pexpect.EOF)
    after = journal(tmp_path)
    assert [n.entry.kind for n in after.entries] == ["mark", "reading", "reading"]
    assert after.entries[2].entry.at > after.entries[1].entry.at


def test_killed_at_random_moments_no_confirmed_entry_is_lost(tmp_path: Path) -> None:
    """What the screen confirmed stands in the journal, wherever the kill falls; the clock is where it really is.

    COACH_KILLS in the environment: how many times (1).
    """
    rng = random.Random(11)
    child, shown = begin(tmp_path)
    opened = time.time()
    confirmed: list[int] = []
    for life in range(int(os.environ.get("COACH_KILLS", "1"))):
        for _ in range(rng.randint(1, 4)):
            value = 100 + len(confirmed)
            child.send(f"{value}\r")
            shown.until(rf"(logged \d+:\d\d  {value})|({value} looks wrong)")
            confirmed.append(value)
        child.send(f"/{rng.randint(1, 999)}" + "\r" * rng.randint(0, 1))  # on its way when the kill comes
        time.sleep(rng.random() * 0.05)
        child.kill(signal.SIGKILL)
        child.wait()
        found = [n.entry.temperature for n in journal(tmp_path).entries if n.entry.kind == "reading"]
        assert found == confirmed, f"life {life}"
        child = spawn(tmp_path, "follow", PROFILE)
        shown = Shown(child)
        shown.until("goes on with the roast opened")
        child.send("\r")
        shown.until("NEXT")
    child.send("/now\r")
    shown.until("logged .*/now")
    at = journal(tmp_path).entries[-1].entry.at
    passed = time.time() - opened
    assert at == pytest.approx(passed, abs=3.0)
    leave(child)


def test_two_coaches_on_one_roast(tmp_path: Path) -> None:
    first, shown = begin(tmp_path)
    second = spawn(tmp_path, "follow", PROFILE)
    looking = Shown(second)
    looking.until("open in another coach")
    second.send("\r")
    looking.until("only looks on")
    second.send("150\r")
    looking.until("Type there")
    first.send("97\r")
    wait_for_lines(shown, tmp_path, 2)
    looking.until("97")  # the note about a doubtful reading, two seconds after charge
    leave(second)
    leave(first)
    assert [n.entry.kind for n in journal(tmp_path).entries] == ["mark", "reading"]


def charged(home: Path, *args: str) -> tuple[pexpect.spawn[str], Shown, list[object]]:
    """A roast that was charged, with one reading; and the modes of its terminal before."""
    child = spawn(home, *args)
    modes = termios.tcgetattr(child.child_fd)
    shown = Shown(child)
    shown.until("CAUTION")
    child.send("\r")
    shown.until("NEXT")
    child.send("c")
    shown.until("logged 0:00")
    child.send("95\r")
    wait_for_lines(shown, home, 2)
    return child, shown, modes


@pytest.mark.parametrize(
    ("command", "sent"),
    [
        ("follow", signal.SIGHUP),
        ("rehearse", signal.SIGTERM),
        pytest.param("follow", signal.SIGTERM, marks=pytest.mark.long),
        pytest.param("rehearse", signal.SIGHUP, marks=pytest.mark.long),
    ],
)
def test_told_to_end_a_roast_keeps_its_journal_and_puts_the_terminal_in_order(
    tmp_path: Path, command: str, sent: int
) -> None:
    child, shown, modes = charged(tmp_path, command, PROFILE)
    assert termios.tcgetattr(child.child_fd) != modes, "the screen sets modes of its own"
    child.kill(sent)
    end = time.monotonic() + 20
    while child.isalive() and time.monotonic() < end:
        shown.read()
    shown.read()
    assert not child.isalive()
    assert child.exitstatus == 128 + sent
    assert termios.tcgetattr(child.child_fd) == modes
    for mode in ("?1049l", "?25h", "?2004l", "?1000l"):
        assert f"\x1b[{mode}" in shown.raw, f"{mode} is left set"
    assert [n.entry.kind for n in journal(tmp_path).entries] == ["mark", "reading"]
    assert not (tmp_path / "faults.txt").exists()


def test_a_rehearsal_whose_terminal_is_closed_ends_with_its_journal_whole(tmp_path: Path) -> None:
    child, _, _ = charged(tmp_path, "rehearse", PROFILE, "--auto", "--speed", "20")
    os.close(child.child_fd)  # as when the window is closed: the system tells the program
    end = time.monotonic() + 20
    gone = 0
    while not gone and time.monotonic() < end:
        gone, _ = os.waitpid(child.pid, os.WNOHANG)
        time.sleep(0.05)
    if not gone:
        os.kill(child.pid, signal.SIGKILL)
    assert gone, "it is still there"
    j = journal(tmp_path)
    assert {"mark", "reading"} <= {n.entry.kind for n in j.entries}
    assert Path(j.path).read_bytes().endswith(b"\n"), "the last line is whole"


def test_a_page_told_to_end_leaves_the_terminal_in_order(tmp_path: Path) -> None:
    roasts = tmp_path / "roasts"
    roasts.mkdir()
    shutil.copy(Path(PROFILE).parent.parent / "examples" / "invented-roast.jsonl", roasts)
    child = spawn(tmp_path, "trend", PROFILE, "--screen")
    modes = termios.tcgetattr(child.child_fd)
    shown = Shown(child)
    shown.until("q leave")
    child.kill(signal.SIGTERM)
    end = time.monotonic() + 20
    while child.isalive() and time.monotonic() < end:
        shown.read()
    shown.read()
    assert child.exitstatus == 128 + signal.SIGTERM
    assert termios.tcgetattr(child.child_fd) == modes
    assert "\x1b[?1049l" in shown.raw


@pytest.mark.long
def test_resized_down_and_back(tmp_path: Path) -> None:
    child, shown = begin(tmp_path)
    for rows, columns in ((12, 40), (3, 20), (1, 1), (24, 80)):
        child.setwinsize(rows, columns)
        shown.screen.resize(rows, columns)
        for _ in range(5):  # a terminal takes all that comes, not one piece
            shown.read(0.1)
        child.send("1")
    child.send("\x1b")
    time.sleep(0.3)
    child.send("95\r")
    wait_for_lines(shown, tmp_path, 2)
    shown.until("NEXT")
    shown.until(r"\? keys")
    leave(child)


@pytest.mark.long
def test_no_colour_at_all(tmp_path: Path) -> None:
    """NO_COLOR (no-color.org): present and not empty, no colour is sent; bold and reverse still are."""
    child, shown = begin(tmp_path, NO_COLOR="1", COLORTERM="truecolor")
    leave(child)
    codes = [c for m in re.finditer(r"\x1b\[([\d;:]*)m", shown.raw) for c in re.split("[;:]", m[1]) if c]
    assert codes
    coloured = [c for c in codes if 30 <= int(c) <= 38 or 40 <= int(c) <= 48 or 90 <= int(c) <= 107]
    assert coloured == []
    assert "1" in codes
    assert "7" in codes
    (tmp_path / "other").mkdir()
    coloured_child, coloured_shown = begin(tmp_path / "other", NO_COLOR="", COLORTERM="truecolor")
    leave(coloured_child)
    assert "38;2" in coloured_shown.raw, "an empty NO_COLOR is none"


def test_a_terminal_that_can_not_place_text(tmp_path: Path) -> None:
    child = spawn(tmp_path, "follow", PROFILE, TERM="dumb")
    child.expect("can't place text")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 2


@pytest.mark.parametrize(
    "environ",
    [
        {"TERM": "linux"},
        {"LC_ALL": "en_US.ISO-8859-1", "LANG": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
        pytest.param({"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}, marks=pytest.mark.long),
    ],
    ids=["linux console", "no such locale", "C"],
)
def test_terminals_without_block_characters(tmp_path: Path, environ: dict[str, str]) -> None:
    child, shown = begin(tmp_path, **environ)
    child.send("v")
    shown.read(0.6)
    child.send("v95\r")
    wait_for_lines(shown, tmp_path, 2)
    shown.until("Bksp undo")
    leave(child)
    assert shown.text.isascii()


@pytest.mark.long
def test_full_disk_with_the_real_program(tmp_path: Path) -> None:
    """A limit on the size of files stands for a full disk; when there is room again the journal is made up for."""
    child, shown = begin(tmp_path)
    wait_for_lines(shown, tmp_path, 1)
    path = next((tmp_path / "roasts").glob("*.jsonl"))
    hard = resource.prlimit(child.pid, resource.RLIMIT_FSIZE)[1]
    resource.prlimit(child.pid, resource.RLIMIT_FSIZE, (path.stat().st_size + 10, hard))
    child.send("95\r")
    shown.until("NOT ON DISK")
    child.send("96\r")
    shown.until("2 lines kept in memory")
    shown.until("NEXT")
    resource.prlimit(child.pid, resource.RLIMIT_FSIZE, (hard, hard))
    wait_for_lines(shown, tmp_path, 3)
    end = time.monotonic() + 10
    while "NOT ON DISK" in shown.text and time.monotonic() < end:
        shown.read()
    assert "NOT ON DISK" not in shown.text
    leave(child)
    assert [getattr(n.entry, "temperature", 0) for n in journal(tmp_path).entries] == [0, 95, 96]


@pytest.mark.long
def test_a_folder_that_can_not_be_written(tmp_path: Path) -> None:
    (tmp_path / "home").write_text("a file where the folder should be")
    child, shown = begin(tmp_path / "home")
    shown.until("NOT ON DISK")
    child.send("95\r")
    shown.until("3 lines kept in memory")
    (tmp_path / "home").unlink()
    wait_for_lines(shown, tmp_path / "home", 2)
    leave(child)


def roast_without_disk(folder: Path) -> tuple[pexpect.spawn[str], Shown]:
    """A charged roast with a reading, of which nothing reaches the disk."""
    (folder / "home").write_text("a file where the folder should be")
    child, shown = begin(folder / "home", TMPDIR=str(folder))
    shown.until("NOT ON DISK")
    child.send("95\r")
    shown.until("3 lines kept in memory")
    return child, shown


def test_leaving_a_roast_that_is_not_on_disk_asks_for_another_place(tmp_path: Path) -> None:
    child, shown = roast_without_disk(tmp_path)
    child.sendcontrol("q")
    shown.until("NOT ALL IS ON DISK")
    child.sendcontrol("q")
    child.expect("3 lines are lost")
    child.expect("> ")
    child.send(f"{tmp_path / 'home'}\r")
    child.expect("Can't be written there")
    child.expect("> ")
    child.send(f"{tmp_path / 'stick'}\r")
    child.expect(r"The whole roast\s+is\s+in")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 1
    saved = read_journal(next((tmp_path / "stick").glob("*.jsonl")))
    assert [getattr(n.entry, "temperature", 0) for n in saved.entries] == [0, 95]


def test_a_roast_that_is_on_disk_nowhere_is_printed(tmp_path: Path) -> None:
    child, shown = roast_without_disk(tmp_path)
    child.sendcontrol("q")
    shown.until("NOT ALL IS ON DISK")
    child.sendcontrol("q")
    child.expect("> ")
    child.send("p\r")
    child.expect("NOT ON DISK. This is the whole journal")
    rest = child.read()
    child.close()
    assert child.exitstatus == 1
    lines = [json.loads(x) for x in rest.splitlines() if x.startswith("{")]
    assert [x["kind"] for x in lines] == ["roast", "mark", "reading"]


@pytest.mark.parametrize("sent", [signal.SIGTERM, signal.SIGHUP])
def test_told_to_end_a_roast_that_is_not_on_disk_is_written_elsewhere(tmp_path: Path, sent: int) -> None:
    child, _ = roast_without_disk(tmp_path)
    child.kill(sent)
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 128 + sent
    saved = read_journal(next(tmp_path.glob("coach-*/*.jsonl")))
    assert [getattr(n.entry, "temperature", 0) for n in saved.entries] == [0, 95]


def test_escape_sequences_in_a_journal_and_a_profile_never_reach_the_terminal(tmp_path: Path) -> None:
    text = Path(PROFILE).read_text().replace("Invented demonstration data", "\\u001b]0;owned\\u0007\\u001b[31m")
    wicked = tmp_path / "wicked.toml"
    wicked.write_text(text)
    child = spawn(tmp_path, "follow", str(wicked))
    shown = Shown(child)
    shown.until("CAUTION")
    child.send("\x1b[6~\x1b[6~")
    shown.read(0.5)
    child.send("\r")
    shown.until("NEXT")
    child.send("/\x9b31m note\r")
    shown.until("logged")
    leave(child)
    assert "owned" not in re.sub(r"\ufffd.*owned", "", shown.raw)
    assert "\x1b]0;owned" not in shown.raw


@pytest.mark.long
def test_settings_are_read_and_faults_named(tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text("[keys]\nyellow = 'c'\n")
    child = spawn(tmp_path, "follow", PROFILE)
    child.expect(r"settings.toml:\s+keys: 'c' is given to both")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 2
    (tmp_path / "settings.toml").write_text("unit = 'F'\n")
    again, shown = begin(tmp_path)
    shown.until("BEANS °F")
    leave(again)
    assert journal(tmp_path).header.unit == "F"


@pytest.mark.long
def test_replay_on_the_screen_writes_nothing(tmp_path: Path) -> None:
    roast = str(Path(PROFILE).parent.parent / "examples" / "invented-roast.jsonl")
    child = spawn(tmp_path, "replay", roast, "--profile", PROFILE, "--screen", "--speed", "20")
    shown = Shown(child)
    shown.until("CAUTION")
    child.send("\r")
    shown.until("REPLAY  ")
    shown.until(r"\d/min", 60)
    child.send("p")
    shown.until("PAUSED")
    child.send("95\r")
    shown.until("This is a replay")
    leave(child)
    assert not (tmp_path / "roasts").exists()


def test_a_journal_cut_at_every_byte_is_read_or_refused_in_words(tmp_path: Path) -> None:
    whole = (Path(PROFILE).parent.parent / "examples" / "invented-roast.jsonl").read_bytes()
    lines = whole.decode().splitlines()
    head = len(lines[0]) + 1
    whole = "\n".join(lines[:9]).encode() + b"\n"
    path = tmp_path / "cut.jsonl"
    for cut in range(len(whole) + 1):
        path.write_bytes(whole[:cut])
        if cut < head - 1:
            with pytest.raises(FileError):
                read_journal(path, check=False)
            continue
        kept = read_journal(path, check=False).entries
        complete = whole[:cut].count(b"\n") - 1
        tail = whole[:cut].rsplit(b"\n", 1)[-1]
        with contextlib.suppress(ValueError):
            complete += bool(tail) and isinstance(json.loads(tail), dict)
        assert len(kept) == max(complete, 0)
