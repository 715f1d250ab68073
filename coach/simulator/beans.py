"""Beans of the simulator: a lot's properties, loaded from TOML.  All lots shipped are invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from pydantic import Field, model_validator

from coach.roast.profile import Frozen
from coach.session.profile_files import find_named, read_toml
from coach.simulator.crack import Crack

LOTS: Final = Path(__file__).parent / "beans"
"""Folder of the lots shipped."""


class Beans(Frozen):
    """One lot of green coffee."""

    name: str
    note: str = ""
    density: float = Field(ge=800, le=1500)
    """Density of a green bean [kg/m³]."""
    size: float = Field(ge=4, le=10)
    """Diameter of the sphere of equal volume [mm]; 6 to 7 is usual (from memory)."""
    moisture: float = Field(ge=0.04, le=0.2)
    """Moisture of the green, wet basis [kg/kg]: 0.08 to 0.125 by ICO Resolution 420, 0.10 to 0.12 by SCA."""
    exotherm: float = Field(ge=0, le=232)
    """Heat of roasting reactions [kJ/kg dry]; published sizes disagree."""
    organic: float = Field(ge=0, le=1e-3)
    """Loss of dry matter at 200 °C [1/s]."""
    first: Crack
    second: Crack

    @model_validator(mode="before")
    @classmethod
    def _of_earlier_versions(cls, given: Any) -> Any:
        return {k: v for k, v in given.items() if k != "expansion"} if isinstance(given, dict) else given

    def cracking_at(self, onset: float) -> Beans:
        """The lot with its first crack at another bean temperature [°C]; second crack moves along."""
        later = round(min(self.second.onset + onset - self.first.onset, 250.0), 6)
        first, second = (c.model_copy(update={"onset": x}) for c, x in ((self.first, onset), (self.second, later)))
        return self.model_copy(update={"first": first, "second": second})


def dry_basis(moisture: float) -> float:
    """Moisture from wet basis w to dry basis X = w / (1 - w), both kg/kg."""
    return moisture / (1.0 - moisture)


def load_beans(name: str | Path) -> Beans:
    """A lot shipped, by name, or one from a TOML file of one's own, by path.  Raises FileError in words."""
    return read_toml(find_named(str(name), (LOTS,), "lot"), Beans, "lot")
