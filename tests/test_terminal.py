"""The real program in a pseudo-terminal: a whole rehearsal, and a live roast that is killed and gone on with."""

from __future__ import annotations

import contextlib
import os
import signal
import stat
import sys
import time
from pathlib import Path

import pexpect

from coach.journal import Journal, read_journal

PROFILE = str(Path(__file__).parent.parent / "profiles" / "larch-hill.toml")


def spawn(home: Path, *args: str) -> pexpect.spawn[str]:
    env = {**os.environ, "COACH_HOME": str(home), "TERM": "xterm-256color"}
    command = ["-m", "coach", *args]
    return pexpect.spawn(sys.executable, command, dimensions=(24, 80), env=env, encoding="utf-8", timeout=30)


def journal(home: Path) -> Journal:
    return read_journal(next((home / "roasts").glob("*.jsonl")))


def events(j: Journal) -> list[str]:
    return [e for n in j.entries if (e := getattr(n.entry, "event", ""))]


def drain(child: pexpect.spawn[str]) -> None:
    with contextlib.suppress(pexpect.TIMEOUT):
        child.read_nonblocking(100_000, timeout=0.2)


def wait_for_lines(child: pexpect.spawn[str], home: Path, count: int) -> None:
    end = time.monotonic() + 20
    while len(journal(home).entries) < count:
        assert time.monotonic() < end, f"fewer than {count} entries on disk after 20 s"
        drain(child)


def wait_for(child: pexpect.spawn[str], home: Path, event: str, seconds: float) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        drain(child)
        if list((home / "roasts").glob("*.jsonl")) and event in events(journal(home)):
            return
    raise AssertionError(f"no {event} within {seconds} s")


def test_whole_rehearsal(tmp_path: Path) -> None:
    child = spawn(tmp_path, "rehearse", PROFILE, "--speed", "20", "--auto", "--seed", "3")
    child.expect("CAUTION")
    child.send("\r")
    wait_for(child, tmp_path, "drop", 90)
    child.send("out 0.69\r")
    time.sleep(0.5)
    child.sendcontrol("q")
    child.expect("journal:")
    child.close()
    j = journal(tmp_path)
    assert events(j) == ["charge", "yellow", "first crack", "drop"]
    assert j.header.run == "rehearsal"
    assert sum(n.entry.kind == "reading" for n in j.entries) >= 15
    assert sum(n.entry.kind == "move" for n in j.entries) >= 3
    assert j.entries[-1].entry.weight_out == 0.69
    assert stat.S_IMODE(Path(j.path).stat().st_mode) == 0o600


def test_killed_and_gone_on_with(tmp_path: Path) -> None:
    child = spawn(tmp_path, "follow", PROFILE)
    child.expect("CAUTION")
    child.send("\r")
    child.expect("NEXT")
    child.send("c")
    child.expect("logged")
    child.send("95\r")
    child.expect("95")
    wait_for_lines(child, tmp_path, 2)
    child.kill(signal.SIGKILL)
    child.wait()
    j = journal(tmp_path)
    assert [n.entry.kind for n in j.entries] == ["mark", "reading"]
    again = spawn(tmp_path, "follow", PROFILE)
    again.expect("unfinished roast")
    again.send("u")
    again.expect("Going on")
    again.send("101\r")
    wait_for_lines(again, tmp_path, 3)
    again.sendcontrol("q")
    again.expect(pexpect.EOF)
    after = journal(tmp_path)
    assert [n.entry.kind for n in after.entries] == ["mark", "reading", "reading"]
    assert after.entries[2].entry.at > after.entries[1].entry.at
