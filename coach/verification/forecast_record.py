"""What was said of a roast on disk: the forecasts as they stood then, against what happened.

``NAME.said.json`` beside ``NAME.jsonl`` is written by the coach that ran the roast.  Whatever program comes later, this
is what was said, and by which one.  It holds as long as the journal holds the same readings, moves and marks: where one
was corrected afterwards, or there is no such file, the journal gone through once more gives what the present program
would have said.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from coach.session.profile_files import save_text
from coach.verification.provenance import content, forecaster

if TYPE_CHECKING:
    from coach.session.coach import Coach
    from coach.verification.aggregate import Row

MOST_BYTES: Final = 256 * 1024
Number = Annotated[float, Field(allow_inf_nan=False, ge=-1e6, le=1e6)]
Text = Annotated[str, Field(max_length=200)]


class KeptRow(BaseModel):
    """One forecast: the quantiles 10, 25, 50, 75 and 90 % and the CRPS, as in ``tally.Said`` (None: nothing was said);
    what happened; what others would have said.  In s of roast time, or °C."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    what: Literal["first crack", "drop time", "drop temperature"]
    lead: Annotated[int, Field(ge=0, le=3600)]
    said: tuple[Number, Number, Number, Number, Number, Number] | None
    happened: Number
    others: Annotated[dict[Text, Number], Field(max_length=20)] = {}

    @classmethod
    def of(cls, r: Row) -> KeptRow:
        """From a row, to a thousandth."""
        s = r.said
        said = None if s is None else [round(x, 3) for x in (s.q10, s.q25, s.median, s.q75, s.q90, s.crps)]
        others = {k: round(v, 3) for k, v in r.others.items()}
        return cls.model_validate(
            {"what": r.what, "lead": r.lead, "said": said, "happened": round(r.happened, 3), "others": others}
        )

    def row(self) -> Row:
        """As a row of a tally."""
        from coach.verification.aggregate import Row, Said

        return Row(self.what, self.lead, None if self.said is None else Said(*self.said), self.happened, self.others)


class SaidFile(BaseModel):
    """The whole file.  ``program``: a sign of the program that said it; ``learnt``: from how many roasts it had learnt;
    ``basis``: the sign of the journal's content."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    kind: Literal["said"] = "said"
    version: Literal[1] = 1
    program: Text
    profile_version: int = 1
    learnt: Annotated[int, Field(ge=0)] = 0
    basis: Text
    rows: Annotated[tuple[KeptRow, ...], Field(max_length=200)] = ()


def said_path(journal: Path) -> Path:
    """Where what was said of a journal's roast lies."""
    return journal.with_suffix(".said.json")


def save_said(journal: Path, coach: Coach) -> None:
    """Keep what was said of this roast beside its journal, over what was kept before; nothing where nothing can be
    judged yet.  Raises FileError in words."""
    rows = rows_said(coach)
    if not rows:
        return
    file = SaidFile(
        program=forecaster(), profile_version=coach.profile.document.version, learnt=coach.knowledge.count,
        basis=content(coach.header, coach.entries), rows=tuple(KeptRow.of(r) for r in rows),
    )  # fmt: skip
    save_text(said_path(journal), file.model_dump_json() + "\n", overwrite=True)


def load_said(journal: Path) -> SaidFile | None:
    """What was said of a journal's roast; None where nothing was kept or it can't be read: it is not needed then."""
    path = said_path(journal)
    try:
        if path.stat().st_size > MOST_BYTES:
            return None
        return SaidFile.model_validate_json(path.read_bytes())
    except (OSError, ValidationError):
        return None


def rows_said(coach: Coach) -> list[Row]:
    """What a coach said of its roast at each lead, against what happened and what a person could have said, but for the
    mean of past roasts; nothing where a part of it was said by a coach that is gone."""
    from coach.verification.hindcast import Spoken, compared

    charge_at = coach.roast.charge_at
    if charge_at is None or not coach.sayings.whole:
        return []

    def speak(t: float, _: object) -> Spoken:
        said = coach.sayings.at(charge_at + t)
        return Spoken() if said is None else Spoken(*said.from_charge(charge_at), said.doubtful)

    return compared(coach.profile, coach.knowledge, coach.header, coach.entries, speak, None)
