"""A person's settings: ``settings.toml`` in the coach's folder.  Each has a default; without a file all have it.

Printable single keys can be given to other actions, or all switched off (WCAG 2.2, 2.1.4 Character Key Shortcuts).
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from coach.roast.cadence import Cadence
from coach.roast.units import Dial, TemperatureUnit
from coach.session.folders import home

if TYPE_CHECKING:
    from coach.roast.profile import Profile

Action = Literal[
    "charge", "yellow", "first_crack", "second_crack", "drop", "made", "leave_out", "redo", "pop",
    "seen", "mute", "not_yet",
    "review", "glance", "picture", "help", "look", "pause", "jump", "take_over",
]  # fmt: skip
NAMED_KEYS: Final = {"space": " "}
TAKEN: Final = "garw/@-+.,0123456789"
"""Characters that begin a typed line: gas, air, drum, what if, note, a time, a number."""

YIELDING: Final = ("review", "leave_out", "take_over", "picture")
"""Actions added after people had chosen their keys."""

Key = Annotated[str, Field(max_length=20)]


class Keys(BaseModel):
    """One printable key for each action; '' gives it none."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    charge: Key = "c"
    yellow: Key = "y"
    first_crack: Key = "f"
    second_crack: Key = "s"
    drop: Key = "d"
    made: Key = "o"
    leave_out: Key = "l"
    redo: Key = ""
    pop: Key = "space"
    seen: Key = "n"
    mute: Key = "m"
    not_yet: Key = "x"
    review: Key = "b"
    glance: Key = "v"
    picture: Key = "u"
    help: Key = "?"
    look: Key = "t"
    pause: Key = "p"
    jump: Key = "j"
    take_over: Key = "i"

    @model_validator(mode="before")
    @classmethod
    def _give_way(cls, given: Any) -> Any:
        """Leave a key that a person gave to another action where it is: the later action gets none."""
        if not isinstance(given, dict):
            return given
        given = {a: k for a, k in given.items() if a != "pulses"}  # of earlier versions
        taken = set(map(str, given.values()))
        late = {a: "" for a in YIELDING if a not in given and cls.model_fields[a].default in taken}
        return {**given, **late}

    @field_validator("*")
    @classmethod
    def _one_sign(cls, key: str) -> str:
        sign = NAMED_KEYS.get(key, key)
        if key and (len(sign) != 1 or not sign.isprintable()):
            raise ValueError(f"'{key}' is no single key: give one letter or sign, 'space', or '' for none")
        if sign and sign in TAKEN:
            raise ValueError(f"'{key}' begins a typed line (g a r w / @ - digits): give another")
        return key

    @model_validator(mode="after")
    def _each_once(self) -> Keys:
        seen: dict[str, str] = {}
        for action, key in self:
            if key and (other := seen.setdefault(key, action)) != action:
                raise ValueError(f"'{key}' is given to both {other} and {action}: give one of them another key")
        return self

    def sign(self, action: Action) -> str:
        """The character that does an action, '' for none."""
        key: str = getattr(self, action)
        return NAMED_KEYS.get(key, key)


class Settings(BaseModel):
    """Everything a person can set.

    ``speech``: the cue's action is spoken.
    ``signs``: "full" block and line characters, "ascii" plain ones, "auto" by what the terminal can show.
    ``theme``: colours of the screen, "terminal" for the terminal's own.  ``mouse``: keys and lists can be clicked; off,
    the terminal selects text as it does elsewhere.  ``cadence``: seconds between readings by phase, in place of the
    profile's.  ``dial``: what the probe's dial shows: "whole" degrees, "half" degrees, "tenths", or a "needle"; without
    it, as readings are typed.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    unit: TemperatureUnit | None = None
    sound: bool = True
    speech: bool = False
    glance: bool = False
    single_keys: bool = True
    signs: Literal["auto", "full", "ascii"] = "auto"
    theme: Literal["dark", "light", "contrast", "terminal"] = "dark"
    mouse: bool = True
    dial: Dial | None = None
    cadence: Cadence | None = None
    keys: Keys = Keys()

    @model_validator(mode="before")
    @classmethod
    def _of_earlier_versions(cls, given: Any) -> Any:
        return {k: v for k, v in given.items() if k != "rising"} if isinstance(given, dict) else given

    @field_validator("cadence")
    @classmethod
    def _not_a_flood(cls, cadence: Cadence | None) -> Cadence | None:
        if cadence is not None and min(cadence.drying, cadence.browning, cadence.development) < 5:
            raise ValueError("readings oftener than every 5 s can't be typed")
        return cadence

    def applied(self, profile: Profile) -> Profile:
        """The profile with the person's own cadence (s between readings), where one is set."""
        from coach.roast.profile import Profile

        if self.cadence is None:
            return profile
        return Profile(profile.document.model_copy(update={"cadence": self.cadence, "cadence_fixed": True}))


def settings_file() -> Path:
    """The file of the person's settings."""
    return home() / "settings.toml"


def load_settings(path: Path | None = None) -> Settings:
    """Read the settings of a file (the person's own if none is named); the defaults where there is none.

    Raises FileError that names the file, each field and what to do.
    """
    path = settings_file() if path is None else path
    if not path.exists() and not path.is_symlink():
        return Settings()
    from coach.session.profile_files import read_toml

    return read_toml(path, Settings, "settings file")
