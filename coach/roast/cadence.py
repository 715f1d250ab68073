"""Times in a document, typed as seconds or 'm:ss', and the cadence of readings: settings are read with this alone,
without all that a profile needs."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer

from coach.roast.units import parse_clock


def _seconds(value: Any) -> Any:
    return parse_clock(value) if isinstance(value, str) else value


def _clock_text(value: float) -> str | float:
    """``m:ss``, with the decimals that it has."""
    if value >= 6000:
        return value
    whole, thousandths = divmod(round(value * 1000), 1000)
    part = f".{thousandths:03d}".rstrip("0").rstrip(".")
    return f"{whole // 60}:{whole % 60:02d}{part}" if abs(round(value, 3) - value) < 1e-9 else value


Seconds = Annotated[
    float,
    BeforeValidator(_seconds, json_schema_input_type=float | str),
    Field(allow_inf_nan=False, ge=0, le=3600),
    PlainSerializer(_clock_text),
]
Interval = Annotated[
    float,
    BeforeValidator(_seconds, json_schema_input_type=float | str),
    Field(allow_inf_nan=False, gt=0, le=600),
    PlainSerializer(_clock_text),
]


class Cadence(BaseModel):
    """Seconds between readings in each phase of the roast."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    drying: Interval = 60
    browning: Interval = 30
    development: Interval = 20
