"""Parts of a long work: each is done once, after the next paint or without one."""

from __future__ import annotations

import asyncio
import time
from pathlib import Path

import pytest
from helpers import Hand, live

from coach.app.screens.app import RoastApp


@pytest.mark.parametrize("paints", [True, False])
def test_a_part_is_done_once_also_where_no_paint_comes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, paints: bool
) -> None:
    app = RoastApp(live(tmp_path, Hand()), tick=1000)
    done: list[str] = []

    async def drive() -> None:
        async with app.run_test(size=(80, 24)):
            if not paints:  # the screen is left before it is painted
                monkeypatch.setattr(app, "call_after_refresh", lambda *given: False)
            for part in ("first", "second"):
                app.turns.later(lambda part=part: done.append(part))  # type: ignore[misc]
            assert done == []
            end = time.monotonic() + 5.0
            while app.turns.busy and time.monotonic() < end:
                await asyncio.sleep(0.01)

    asyncio.run(drive())
    assert done == ["first"]
