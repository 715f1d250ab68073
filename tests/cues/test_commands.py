"""``coach cues`` and ``coach sounds``."""

from __future__ import annotations

import json

import pytest

from coach.app.cli import main
from coach.app.sound import speaker as edge
from coach.app.sound.device import DeviceError, Stream
from coach.cues.table import CUES
from coach.cues.tones import PATTERNS


def test_the_table_is_printed_with_what_each_sounds_like(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["cues"]) == 0
    out = capsys.readouterr().out
    blocks = out.strip().split("\n\n")
    assert [b.split(":")[0] for b in blocks] == list(CUES)
    for block, row in zip(blocks, CUES.values(), strict=True):
        assert row.action in block
        assert row.consequence in block
        assert row.condition in block
        sound = next(x for x in block.splitlines() if x.strip().startswith("sound"))
        if row.sound == "none":
            assert sound.endswith("silent")
        else:
            assert row.sound in sound
            assert f"{next(p.pitch for s, p in PATTERNS.items() if s == row.sound):.0f} Hz" in sound


def test_one_cue_and_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["cues", "crack", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert {r["name"] for r in rows} == {n for n in CUES if "crack" in n}
    assert all(r["sounds_like"] for r in rows)
    assert main(["cues", "nothing like it"]) == 2


@pytest.fixture
def played(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, float]]:
    """No device, no waiting; what was asked for."""
    out: list[tuple[str, float]] = []

    def missing(rate: int, fill: object) -> Stream:
        raise DeviceError("no sound device", for_good=True)

    class Silent(edge.Speaker):
        def __init__(self, bell: object = None) -> None:
            super().__init__(None, missing)

        def play(self, what: object, level: float = 0.5) -> None:
            out.append((str(what), round(level, 3)))

    monkeypatch.setattr("coach.app.commands.sounds.Speaker", Silent)
    monkeypatch.setattr("coach.app.commands.sounds.sleep", lambda s: None)
    return out


def test_sounds_plays_each_with_its_name(played: list[tuple[str, float]], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sounds"]) == 0
    out = capsys.readouterr().out
    assert [n for n, _ in played] == ["act now", "alarm", "get ready", "prompt"]
    assert "Sounds go out through: screen only: no sound device" in out
    assert out.count("no sound device") == 1, "said once"
    for name, row in CUES.items():
        if row.sound != "none":
            assert name in out
            assert out.index(f"{row.sound}: ") < out.index(name, out.index(f"{row.sound}: "))


def test_silent_plays_none_and_a_wrong_name_is_refused(
    played: list[tuple[str, float]], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sounds", "--silent"]) == 0
    assert played == []
    assert main(["sounds", "reading doubtful"]) == 0
    assert "shown only: reading doubtful" in capsys.readouterr().out
    assert main(["sounds", "gong"]) == 2
