"""How cues were answered, against what would truly have happened."""

from __future__ import annotations

import numpy as np
from stage import PROFILE, Stage

from coach.cues.episodes import Episode
from coach.roast.entries import Header, Mark, Move
from coach.roast.roast import Numbered, fold
from coach.simulator.rehearsal.answers import answers
from coach.simulator.rehearsal.inject import Truth
from coach.simulator.rehearsal.model import Drill, Inject, load_drill
from coach.simulator.rehearsal.score import Answered
from coach.verification.replay import Walk, walk

HEAT = {"too cool": 1.25, "crack late": 1.25, "too hot": 0.8, "crack early": 0.8}


def roast(inject: list[dict[str, object]], *, obey: bool) -> list[Answered]:
    """A roast by the simulated person who, if obedient, moves the gas by a quarter on the first cue that asks it."""
    injected = tuple(Inject.model_validate(i) for i in inject)
    drill = Drill.model_validate({**load_drill("no-sound").model_dump(), "sound": True, "day": {}, "inject": injected})
    s = Stage(auto=True, seed=2, drill=drill)
    todo = obey
    while s.clock() < 480.0:
        s.wait(5, step=5.0)
        if not todo:
            continue
        s.coach.advance(s.clock())
        asked = [c.name for c in s.coach.cues if c.name in HEAT and c.state == "unacknowledged"]
        if asked:
            todo = False
            value = round(s.source.roaster.setting("gas") * HEAT[asked[0]], 2)
            s.enter(Move(at=s.clock(), control="gas", value=value))
    walked = walk(PROFILE, s.coach.header, s.coach.entries)
    return answers(walked, s.source.truth, PROFILE, s.source.onset_without)


WEAK = [{"what": "gas supply", "value": 0.6, "at": 150}]
OFF = [{"what": "probe offset", "value": -6.0, "at": 40}]


def test_a_true_cue_obeyed_and_ignored() -> None:
    heat = {"too cool", "crack late"}
    obeyed = [a for a in roast(WEAK, obey=True) if a.cue in heat]
    assert obeyed
    assert obeyed[0].how == "obeyed"
    ignored = [a for a in roast(WEAK, obey=False) if a.cue in heat]
    assert ignored
    assert {a.how for a in ignored} == {"ignored"}


def test_a_false_cue_is_wrongly_obeyed() -> None:
    heat = {"too cool", "crack late"}
    obeyed = [a for a in roast(OFF, obey=True) if a.cue in heat]
    assert obeyed
    assert obeyed[0].how == "wrongly obeyed"


def test_a_prompt_acted_on_late_is_neither_ignored_nor_obeyed() -> None:
    episode = Episode("drop now", "prompt", "high", "development 1:28", 585.0, 683.0, sounds=(585.0,))
    entries = [Mark(at=10.0, event="charge"), Mark(at=497.0, event="first crack"), Mark(at=683.0, event="drop")]
    truth = Truth(10.0, None, 497.0, 683.0, np.arange(3.0), np.zeros(3), None)
    for left, how in ((entries, "late"), (entries[:2], "ignored")):
        roast = fold(
            Header(id="x", started="2026-01-01T00:00:00+00:00"), [Numbered(i, e) for i, e in enumerate(left, 2)]
        )
        (found,) = answers(Walk((episode,), roast), truth, PROFILE, lambda a, b: None)
        assert (found.how, found.after) == (how, 98.0)
