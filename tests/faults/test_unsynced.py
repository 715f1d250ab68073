"""Power cuts on a disk that keeps only what was synced: no confirmed entry is lost, at any moment of typed roasts."""

from __future__ import annotations

import asyncio
import os
import random
from datetime import UTC, datetime
from pathlib import Path

import pytest
from helpers import Hand, example, live
from unsynced import Disk, PageCache

from coach.app.live import LiveRoast
from coach.app.screens.app import RoastApp
from coach.roast.entries import Entry, Mark, Move, Reading
from coach.session.journal import JournalWriter, line_of, read_journal
from coach.session.profile_files import load_profile

PROFILE = load_profile("larch-hill")


def lost(disk: Disk, confirmed: list[str]) -> list[str]:
    """Lines that were confirmed and are in no journal of the disk."""
    there = {line for data in disk.values() for line in data.decode().splitlines(keepends=True)}
    return [line for line in confirmed if line not in there]


def put_back(disk: Disk, folder: Path) -> list[Path]:
    """The disk as files."""
    for name, data in disk.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return [folder / name for name in disk]


@pytest.mark.parametrize(("seed", "failing"), [(1, 0.0), (2, 0.0), (3, 0.25), (4, 0.25), (5, 0.6)])
def test_what_is_confirmed_survives_a_cut_at_any_moment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int, failing: float
) -> None:
    """In a logbook that is made with the roast, on a disk that fails now and then; and it can be gone on with."""
    root, rng = tmp_path / "disk", random.Random(seed)
    root.mkdir()
    confirmed: list[str] = []
    cache = PageCache(root, lambda: list(confirmed), rng, failing)
    monkeypatch.setattr(os, "fsync", cache.fsync)
    monkeypatch.setattr(os, "truncate", cache.truncate)
    now = [0.0]
    roast = LiveRoast.open(
        PROFILE, root / "home" / "roasts", lambda: now[0], started=datetime.now(UTC), run="rehearsal"
    )
    monkeypatch.setattr(roast.coach, "take", lambda prepared, **_: prepared)  # the disk alone is looked at here
    waiting: list[str] = []
    for _ in range(6):
        for n in example().entries:
            entry: Entry = n.entry.model_copy(update={"typed": None})
            now[0] = entry.at
            waiting.append(line_of(entry))
            roast.scribe.put(waiting[-1])
            roast.scribe.wait(1.0)
            if not roast.pending:
                confirmed += waiting
                waiting = []
            cache.cut()
    roast.close()
    cache.cut()
    assert len(cache.snapshots) > 500
    assert [gone for disk, told in cache.snapshots if (gone := lost(disk, told))] == []
    assert len(confirmed) > 6 * 40 * 0.3
    monkeypatch.undo()
    for disk, told in rng.sample(cache.snapshots, 8):  # whatever was left can be read, and be gone on with
        for path in put_back(disk, tmp_path / f"after-{rng.random()}"):
            if not told:
                continue
            writer = JournalWriter(path)
            writer.reopen()
            writer.append(line_of(Reading(at=9000.0, temperature=20.0)))
            writer.close()
            assert [n.entry.at for n in read_journal(path, check=False).entries][-1] == 9000.0


def test_what_the_screen_says_is_logged_is_on_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By keys on the real screen: an entry counts as confirmed when the screen says 'logged'."""
    confirmed: list[str] = []
    cache = PageCache(tmp_path, lambda: list(confirmed), random.Random(9))
    monkeypatch.setattr(os, "fsync", cache.fsync)
    hand = Hand()
    app = RoastApp(live(tmp_path / "roasts", hand), tick=1000)

    async def drive() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("enter")
            for n in example().entries[:22]:
                e = n.entry
                hand.now = e.came
                app.pulse()
                if isinstance(e, Mark):
                    app.do({"charge": "charge", "yellow": "yellow"}.get(e.event, "turning_point"))  # type: ignore[arg-type]
                elif isinstance(e, Reading | Move):
                    line = f"{e.temperature:.0f}" if isinstance(e, Reading) else f"{e.control} {e.value:g}"
                    app.roast.paste(f"{line}\n")
                if app.message.startswith("logged"):
                    confirmed[:] = [line_of(x.entry) for x in app.roast.live.coach.entries]
                    cache.cut()

    asyncio.run(drive())
    assert len(confirmed) > 15
    assert [gone for disk, told in cache.snapshots if (gone := lost(disk, told))] == []


def test_the_model_loses_what_a_careless_writer_leaves(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The check can fail: without a sync of the file, of its folder, or of the folder above, the line is lost."""
    line = "one line\n"
    cache = PageCache(tmp_path, lambda: [line], random.Random(0))
    folder = tmp_path / "new"
    folder.mkdir()
    path = folder / "a.jsonl"
    with path.open("w") as file:
        file.write(line)
        file.flush()
        assert lost(cache.disk(), [line])
        cache.fsync(file.fileno())
        assert lost(cache.disk(), [line]), "the file's name is not there yet"
    for above in (folder, tmp_path):
        assert lost(cache.disk(), [line])
        descriptor = os.open(above, os.O_RDONLY)
        cache.fsync(descriptor)
        os.close(descriptor)
    assert not lost(cache.disk(), [line])
