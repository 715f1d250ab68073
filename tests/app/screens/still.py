"""A roast that stands still: situations made by hand, so that the screen is tested apart from what is forecast."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from coach.advice.advice_values import Advice
from coach.app.live import LiveRoast
from coach.app.screens.app import RoastApp
from coach.cues.episodes import Recorder
from coach.cues.situation import ActiveCue, NextMove, Preheat, Situation
from coach.forecast.distribution import Distribution
from coach.forecast.forecast_values import DropForecast, Estimate, EventForecast, Forecast
from coach.forecast.forecast_values import Path as Way
from coach.forecast.learning import from_profile
from coach.roast.entries import Header, Mark, Move, Reading
from coach.roast.profile import Profile
from coach.roast.roast import Numbered, effective, fold
from coach.session.issued_forecasts import IssuedForecasts
from coach.session.profile_files import load_profile

ROOT = Path(__file__).resolve().parents[3]


def profile() -> Profile:
    return load_profile(str(ROOT / "tests" / "app" / "screens" / "still.toml"))


def spread(middle: float, half: float) -> Distribution:
    """A triangle-like distribution around ``middle``."""
    return Distribution(np.linspace(middle - half, middle + half, 5), np.array([0.0, 0.2, 0.5, 0.8, 1.0]))


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def entries_of(s: Situation) -> tuple[Numbered, ...]:
    """Readings, marks and moves of a roast as entries again."""
    charge = s.roast.charge_at or 0.0
    used = [*(r.line for r in s.roast.readings), *(m.line for m in s.roast.moves)]
    free = (line for line in range(2, 10_000) if line not in used)
    found: list[tuple[float, int, Any]] = [
        *((r.t, r.line, Reading(at=r.t + charge, temperature=r.shown)) for r in s.roast.readings),
        *((m.t, m.line, Move(at=m.t + charge, control=m.control, value=m.shown)) for m in s.roast.moves),
        *((t, next(free), Mark(at=t + charge, event=e)) for e, t in s.roast.marks.items()),
    ]
    return tuple(Numbered(line, entry) for _, line, entry in sorted(found, key=lambda x: x[:2]))


class StillCoach:
    """What the screen reads of a coach, and nothing else."""

    def __init__(self, situation: Situation, cues: tuple[ActiveCue, ...] = ()) -> None:
        self.situation = situation
        self.cues = cues
        self.roast = situation.roast
        self.header = situation.roast.header
        self.profile = situation.profile
        self.knowledge = from_profile(situation.profile)
        self.entries = entries_of(situation)
        self.typing = False
        self.behind = self.reading_back = False
        self.record = Recorder()
        self.issued = IssuedForecasts()
        self.issued.whole = False  # none of it was said by this one

    def advance(self, at: float, *, most: int | None = None) -> tuple[ActiveCue, ...]:
        return ()

    def catch_up(self, most: int = 1) -> tuple[ActiveCue, ...]:
        return ()


def roast_of(unit: str, *entries: Any) -> Any:
    header = Header(id="still", profile="Still", unit=unit, started="2026-11-02T08:00:00+00:00")  # type: ignore[arg-type]
    return fold(header, effective([Numbered(i + 2, e) for i, e in enumerate(entries)]))


def waiting() -> Situation:
    roast = roast_of("C", Reading(at=20.0, temperature=190.0), Reading(at=50.0, temperature=205.0))
    return Situation(
        60.0, None, profile(), roast, None, Forecast(reasons=("before charge",)),
        preheat=Preheat(84.0, 4.0, 205.0, 0.5),
    )  # fmt: skip


def before_first_reading() -> Situation:
    roast = roast_of("C", Mark(at=10.0, event="charge"))
    estimate = Estimate(20.0, 140.0, 30.0, -1.0, 0.5, None)
    return Situation(30.0, 20.0, profile(), roast, estimate, Forecast(reasons=("no reading yet",)))


READINGS = ((90, 82), (120, 92), (150, 103), (180, 114), (210, 124), (240, 134), (270, 143), (300, 151), (330, 160))


def mid_roast() -> Situation:
    roast = roast_of(
        "C",
        Mark(at=0.0, event="charge"),
        Move(at=1.0, control="gas", value=1.6),
        Mark(at=262.0, event="yellow"),
        *(Reading(at=float(t), temperature=float(v)) for t, v in READINGS),
    )
    t = np.arange(348.0, 620.0, 5.0)
    way = Way(t, 165.0 + (t - 348.0) * 0.21, 0.5 + (t - 348.0) * 0.02, np.full(len(t), 0.21))
    shape = profile()
    return Situation(
        348.0, 348.0, shape, roast,
        Estimate(348.0, 165.2, 0.6, 0.27, 0.02, 330.0),
        Forecast(
            path=way,
            first_crack=EventForecast(spread(474.0, 24.0), 196.0, 0.74, 0.01),
            drop=DropForecast(spread(570.0, 30.0), spread(207.0, 3.0)),
            deviation=3.2, lag=-12.4,
        ),
        next_move=NextMove(shape.steps[-2], 368.0, 23.0), due_moves=(NextMove(shape.steps[-2], 368.0, 23.0),),
        advice=Advice(
            "gas 1.6 to 1.4 by 6:20; bites from 6:40; crack 7:54 to 8:05 (7:47-8:24), plan 8:07",
            "gas", 1.4, shown=1.4, kind="move",
        ),
        sensitivity="each 0.1 of gas: crack 9 s, felt in 40 s",
    )  # fmt: skip


def with_cues() -> tuple[ActiveCue, ...]:
    return (
        ActiveCue("crack early", "alarm", "medium", "unacknowledged", False,
                  "crack 7:37 to 8:12, plan 8:30", "less heat now", 340.0),
        ActiveCue("move due", "prompt", "low", "acknowledged", False, "gas to 1.2 at 6:08", "make the move", 338.0),
    )  # fmt: skip


def near_plan(t: float = 352.0, shift: float = 4.6) -> Situation:
    """Browning, readings that drift away from the plan up to ``shift`` K at ``t``, and a fan around where it leads."""
    shape = profile()
    times = [*range(85, int(t) - 4, 30)]
    drift = {x: shift * (x / t) ** 3 for x in times}
    roast = roast_of(
        "C",
        Mark(at=0.0, event="charge"),
        Move(at=1.0, control="gas", value=1.6), Move(at=2.0, control="air", value=2.0),
        Move(at=186.0, control="air", value=3.0),
        Mark(at=247.0, event="yellow"),
        *(Reading(at=float(x), temperature=round(shape.curve.value(float(x)) + drift[x])) for x in times),
    )  # fmt: skip
    ahead = np.arange(t, 615.0, 5.0)
    plan = np.array([shape.curve.value(float(x)) for x in ahead])
    way = Way(ahead, plan + shift * (1 + 0.3 * np.sin((ahead - t) / 90)) - (ahead - t) * 0.006,
              0.4 + (ahead - t) * 0.011, np.full(len(ahead), 0.2))  # fmt: skip
    now = shape.curve.value(t) + shift
    return Situation(
        t, t, shape, roast,
        Estimate(t, now, 0.6, 0.197, 0.02, float(times[-1])),
        Forecast(
            path=way,
            first_crack=EventForecast(spread(458.0, 24.0), 196.0, 0.74, 0.01),
            drop=DropForecast(spread(547.0, 22.0), spread(207.4, 3.0)),
            deviation=shift, lag=-26.0,
        ),
        next_move=NextMove(shape.steps[-2], t + 20.0, 20.0), due_moves=(NextMove(shape.steps[-2], t + 20.0, 20.0),),
        advice=Advice("gas 1.6 to 1.0 by 6:20; takes effect from 6:50; crack 7:52", "gas", 1.0, shown=1.0, kind="move",
                      deadline=t + 28.0, bites=t + 58.0, crack_before=(440.0, 458.0, 476.0),
                      crack_after=(455.0, 472.0, 490.0), instead=shape.steps[-2]),
        sensitivity="0.1 kPa of gas moves first crack about 6 s",
    )  # fmt: skip


def calm() -> Situation:
    """Early in browning, inside the band, everything on plan."""
    s = near_plan(300.0, 1.2)
    forecast = replace(
        s.forecast, lag=-6.0, first_crack=EventForecast(spread(482.0, 26.0), 196.0, 0.1, 0.1),
        drop=DropForecast(spread(570.0, 26.0), spread(208.2, 3.0)),
    )  # fmt: skip
    move = NextMove(s.profile.steps[-2], 335.0, 35.0)
    return replace(s, forecast=forecast, next_move=move, due_moves=(), advice=Advice("first crack is on plan"))


def overdue() -> Situation:
    s = near_plan()
    move = NextMove(s.profile.steps[-2], 340.0, -12.0)
    return replace(s, next_move=move, due_moves=(move,), advice=None)


def cue(name: str, family: Any, priority: Any, text: str, action: str) -> tuple[ActiveCue, ...]:
    return (ActiveCue(name, family, priority, "unacknowledged", False, text, action, 340.0),)


def reading_due() -> tuple[ActiveCue, ...]:
    return cue("reading due", "prompt", "low", "no reading for 0:41", "type a reading")


def early() -> tuple[ActiveCue, ...]:
    return (*cue("crack early", "alarm", "low", "crack 7:20 to 7:56, plan 8:07", "less heat now"), *reading_due())


def too_hot() -> tuple[ActiveCue, ...]:
    text, action = "the probe is at 236 °C, the limit is 235", "heat off, follow your emergency plan"
    return (*cue("over safety limit", "alarm", "high", text, action), *reading_due())


def crack() -> Situation:
    s = mid_roast()
    roast = roast_of(
        "C",
        Mark(at=0.0, event="charge"),
        Mark(at=262.0, event="yellow"),
        Mark(at=480.0, event="first crack"),
        *(Reading(at=float(t), temperature=float(v)) for t, v in (*READINGS, (400, 178), (450, 190), (490, 198))),
    )
    forecast = replace(s.forecast, first_crack=None, path=None, deviation=-0.4, lag=2.0)
    return Situation(
        500.0, 500.0, s.profile, roast, Estimate(500.0, 199.6, 0.5, 0.15, 0.02, 490.0), forecast,
    )  # fmt: skip


def drop_now() -> tuple[ActiveCue, ...]:
    return (
        ActiveCue("drop now", "prompt", "high", "unacknowledged", False, "development 1:30", "open the door", 499.0),
    )


def cooling() -> Situation:
    roast = roast_of(
        "C",
        Mark(at=0.0, event="charge"),
        Mark(at=262.0, event="yellow"),
        Mark(at=480.0, event="first crack"),
        Mark(at=570.0, event="drop"),
        *(Reading(at=float(t), temperature=float(v)) for t, v in READINGS),
    )
    return Situation(
        600.0, 600.0, profile(), roast, Estimate(570.0, 207.0, 0.5, 0.1, 0.02, 560.0), Forecast(reasons=("dropped",))
    )


def tapped_crack() -> Situation:
    s = crack()
    roast = replace(s.roast, marks={k: v for k, v in s.roast.marks.items() if k != "first crack"}, phase="browning")
    return replace(s, roast=roast, tapped_onset=492.0)


def app_of(folder: Path, situation: Situation, cues: tuple[ActiveCue, ...] = (), **options: Any) -> RoastApp:
    """The screen of a situation; Enter leaves the brief."""
    live = LiveRoast.open(situation.profile, folder, Clock(), started=datetime(2026, 11, 2, 8, tzinfo=UTC), run="live")
    live.coach = StillCoach(situation, cues)  # type: ignore[assignment]
    return RoastApp(live, tick=1000, **options)


def text_of(app: RoastApp) -> str:
    """What stands on the screen, a line each, without trailing blanks."""
    strips = app.screen._compositor.render_strips()
    return "\n".join(strip.text.rstrip() for strip in strips) + "\n"


async def painted(pilot: Any, app: RoastApp) -> str:
    """What stands on the screen once it has stood still between two looks, however slow the machine."""
    before = ""
    for _ in range(100):
        await pilot.pause()
        text = text_of(app)
        if text == before and text.strip():
            break
        before = text
    return text
