"""What the screen costs, driven in a real pseudo-terminal: ``python tests/bench/bench_screen.py [runs]``.

First paint (command to painted brief), key to painted screen in mid-roast with the chart on, an entry folded, idle load
and memory.  Linux only (/proc).  Prints figures; the goals stand beside them.
"""

from __future__ import annotations

import json
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pexpect
import pyte

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = ROOT / "examples" / "invented-roast.jsonl"
INTO = 400.0
"""How far the roast is in which keys are timed, s on the journal's axis."""


class Terminal:
    """The program in a pseudo-terminal, and what stands on its screen."""

    def __init__(
        self, args: list[str], home: Path, columns: int = 100, rows: int = 34, more: Mapping[str, str] | None = None
    ) -> None:
        env = {**os.environ, "COACH_HOME": str(home), "TERM": "xterm-256color", "COLORTERM": "truecolor"}
        env |= more or {}
        env.pop("NO_COLOR", None)
        self.started = time.perf_counter()
        self.child: Any = pexpect.spawn(
            sys.executable, ["-m", "coach", *args], dimensions=(rows, columns), env=env, timeout=5
        )
        self.child.delaybeforesend = None
        self.spent = 0.0
        """Processor time used when the last output came, s."""
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)

    def read(self, seconds: float) -> float | None:
        """Feed what comes next; when it came, None if nothing did."""
        try:
            data = self.child.read_nonblocking(65536, timeout=seconds)
        except (pexpect.TIMEOUT, pexpect.EOF):
            return None
        came, self.spent = time.perf_counter(), self.ticks()
        self._stream.feed(data)
        return came

    def until(self, text: str, seconds: float = 20.0) -> float:
        """Wait until a text stands on the screen; when what completed it came."""
        end = time.perf_counter() + seconds
        while time.perf_counter() < end:
            came = self.read(0.5)
            if came is not None and any(text in line for line in self.screen.display):
                return came
        raise AssertionError("\n".join([f"no '{text}' on the screen", *self.screen.display]))

    def settle(self, seconds: float) -> None:
        """Read for a while."""
        end = time.perf_counter() + seconds
        while time.perf_counter() < end:
            self.read(0.05)

    def leave(self) -> None:
        """Ctrl+q."""
        self.child.sendcontrol("q")
        self.child.expect(pexpect.EOF)
        self.child.close()

    def ticks(self) -> float:
        """Processor time used so far, s."""
        fields = Path(f"/proc/{self.child.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def memory(self) -> float:
        """Resident memory, MB."""
        status = Path(f"/proc/{self.child.pid}/status").read_text()
        return int(status.split("VmRSS:")[1].split()[0]) / 1000


def mid_roast(home: Path) -> None:
    """A journal of an unfinished roast that is ``INTO`` seconds old."""
    header, *entries = EXAMPLE.read_text().splitlines()
    started = (datetime.now(UTC) - timedelta(seconds=INTO)).isoformat()
    (home / "roasts").mkdir(parents=True, exist_ok=True)
    lines = [json.dumps({**json.loads(header), "id": "bench", "started": started})]
    lines += [e for e in entries if json.loads(e).get("typed", json.loads(e)["at"]) < INTO - 1]
    (home / "roasts" / "bench.jsonl").write_text("\n".join(lines) + "\n")


def first_paint(runs: int) -> list[tuple[float, float]]:
    """Seconds from the command to the painted brief, and processor seconds; the first run only warms up."""
    out = []
    for _ in range(runs + 1):
        with tempfile.TemporaryDirectory() as home:
            t = Terminal(["follow", "larch-hill"], Path(home), 200, 60)
            painted = t.until("CAUTION") - t.started
            out.append((painted, t.spent))
            t.settle(0.5)
            t.leave()
    return out[1:]


def quantile(values: list[float], q: float) -> float:
    """The q-quantile of some values."""
    return sorted(values)[min(int(q * len(values)), len(values) - 1)]


def press(t: Terminal, key: str) -> float:
    """Milliseconds from a key to the entry line that it changed."""
    line = next(y for y, x in enumerate(t.screen.display) if x.startswith("›"))
    was = t.screen.display[line]
    sent = time.perf_counter()
    t.child.send(key)
    while True:
        came = t.read(5.0)
        assert came is not None, "no answer to a key"
        if t.screen.display[line] != was:
            return (came - sent) * 1000


def keys_on_a_slow_disk(readings: int) -> None:
    """The real program while each fsync takes a second; entries are typed faster than they are synced."""
    with tempfile.TemporaryDirectory() as home:
        mid_roast(Path(home))
        hook = Path(home) / "hook"
        hook.mkdir()
        (hook / "sitecustomize.py").write_text(
            "import os, time\nreal = os.fsync\n"
            "def slow(d):\n    time.sleep(1.0)\n    open(os.environ['SYNCED'], 'a').write('.')\n    real(d)\n"
            "os.fsync = slow\n"
        )
        synced = Path(home) / "synced"
        more = {"PYTHONPATH": os.pathsep.join([str(hook), str(ROOT)]), "SYNCED": str(synced)}
        t = Terminal(["follow", "larch-hill"], Path(home), more=more)
        t.until("unfinished roast")
        t.child.send("\r")
        t.until("NEXT")
        t.settle(3.0)
        journal = Path(home) / "roasts" / "bench.jsonl"
        digits: list[float] = []
        entered: list[float] = []
        before = len(journal.read_text().splitlines())
        for n in range(readings):
            for key in (*f"{180 + n % 9}", "\r"):
                (entered if key == "\r" else digits).append(press(t, key))
                t.settle(0.02)
        began = time.perf_counter()
        while (kept := len(journal.read_text().splitlines()) - before) < readings:
            assert time.perf_counter() - began < 2.0 * readings, "not all was written"
            t.settle(0.1)
        t.settle(1.5)
        count = len(synced.read_text())
        t.leave()
    print(
        f"key to painted screen while each fsync takes 1 s ({count} seen): digits ({len(digits)}) median "
        f"{statistics.median(digits):.1f}, worst {max(digits):.1f} ms; enter ({len(entered)}) median "
        f"{statistics.median(entered):.1f}, worst {max(entered):.1f} ms (goal < 100); all {kept} kept"
    )


def keys_and_load(presses: int, idle: float) -> None:
    """Key to paint, idle load and memory in mid-roast."""
    with tempfile.TemporaryDirectory() as home:
        mid_roast(Path(home))
        t = Terminal(["follow", "larch-hill"], Path(home), 200, 60)
        t.until("unfinished roast")
        t.child.send("\r")
        t.until("NEXT")
        t.settle(3.0)
        before, began = t.ticks(), time.perf_counter()
        t.settle(idle)
        load = (t.ticks() - before) / (time.perf_counter() - began)
        delays = []
        for n in range(presses):
            delays.append(press(t, str(n % 9 + 1)))
            if n % 6 == 5:
                t.child.send("\x1b")
                t.settle(0.3)
            else:
                t.settle(0.037)
        print(
            f"key to painted screen at 200x60 ({presses} keys): median {statistics.median(delays):.1f} ms (goal < 20), "
            f"p99 {quantile(delays, 0.99):.1f} ms (goal < 60), worst {max(delays):.1f} ms"
        )
        print(f"idle load in mid-roast: {load:.1%} of one core over {idle:.0f} s (goal < 3 %)")
        print(f"resident memory: {t.memory():.0f} MB (goal < 150)")
        t.leave()


def entries() -> None:
    """An entry written, folded, estimated and forecast, without the screen."""
    from coach.app.live import LiveRoast
    from coach.session.journal import read_journal
    from coach.session.profile_files import load_profile

    journal, profile = read_journal(EXAMPLE), load_profile("larch-hill")
    with tempfile.TemporaryDirectory() as folder:
        now = [0.0]
        live = LiveRoast.open(profile, Path(folder), lambda: now[0], started=datetime.now(UTC), run="live")
        spent, folded = [], []
        for n in journal.entries:
            now[0] = n.entry.came
            live.coach.advance(n.entry.came)
            began = time.perf_counter()
            live.enter(n.entry)
            spent.append((time.perf_counter() - began) * 1000)
        live.close()
        from coach.session.coach import Coach

        coach = Coach(profile, journal.header)
        for n in journal.entries:
            coach.advance(n.entry.came)
            began = time.perf_counter()
            coach.receive(n.entry, n.line)
            folded.append((time.perf_counter() - began) * 1000)
    print(
        f"one entry ({len(spent)} of them): folded, estimated and forecast median {statistics.median(folded):.1f} ms "
        f"(goal < 10), with fsync {statistics.median(spent):.1f} ms, worst {max(spent):.1f} ms"
    )


def slow_disk(count: int) -> None:
    """How long an entry holds up the screen while each fsync takes a second."""
    from coach.app.live import LiveRoast
    from coach.roast.entries import Mark, Reading
    from coach.session.profile_files import load_profile

    fsync = os.fsync

    def slow(descriptor: int) -> None:
        time.sleep(1.0)
        fsync(descriptor)

    profile = load_profile("larch-hill")
    with tempfile.TemporaryDirectory() as folder:
        now = [10.0]
        live = LiveRoast.open(profile, Path(folder), lambda: now[0], started=datetime.now(UTC), run="live")
        live.enter(Mark(at=10.0, event="charge"))
        os.fsync = slow  # type: ignore[assignment]
        spent = []
        for n in range(count):
            now[0] = 70.0 + 30.0 * n
            live.coach.advance(now[0])
            began = time.perf_counter()
            live.enter(Reading(at=now[0], temperature=float(round(profile.curve.value(now[0] - 10)))))
            spent.append((time.perf_counter() - began) * 1000)
        os.fsync = fsync
        live.close()
    print(
        f"an entry while each fsync takes 1 s ({count}): holds up the screen median {statistics.median(spent):.0f} ms, "
        f"worst {max(spent):.0f} ms (goal < 100)"
    )


def main() -> None:
    """All of it."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    found = first_paint(runs)
    paints = [p for p, _ in found]
    print(f"load of the machine (1 min): {os.getloadavg()[0]:.1f}")
    print(
        f"first paint of 'coach follow', warm, {runs} runs: median {statistics.median(paints):.2f} s, "
        f"worst {max(paints):.2f} s (goal < 0.5); processor time {statistics.median(p for _, p in found):.2f} s"
    )
    keys_and_load(40 * runs, 4.0 * runs)
    keys_on_a_slow_disk(8 * runs)
    entries()
    slow_disk(15)


if __name__ == "__main__":
    main()
