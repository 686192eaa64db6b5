"""Checks of instruments against a reference over JSON: of an instrument, and on a round."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Path
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from service.api.asking import After, Around, Asker, Limit
from service.api.problems import PROBLEMS
from service.domain.instrument_checks import (
    HIGHEST_C,
    LONGEST_NOTE,
    LOWEST_C,
    CheckFields,
    InstrumentCheck,
    Occasion,
    Outcome,
)
from service.usecases.rounds import instrument_checks as checks

router = APIRouter(tags=["instrument checks"], responses=PROBLEMS)
Id = Annotated[int, Path(ge=1, le=2**53)]
Degrees = Annotated[float, Field(ge=LOWEST_C, le=HIGHEST_C, allow_inf_nan=False)]


class CheckIn(BaseModel):
    """What was true and what the instrument showed, in °C."""

    model_config = ConfigDict(extra="forbid")
    occasion: Occasion
    at: AwareDatetime
    reference_c: Degrees
    shown_c: Degrees
    note: Annotated[str, Field(max_length=LONGEST_NOTE)] = ""

    def fields(self) -> CheckFields:
        return CheckFields(str(self.occasion), self.at, self.reference_c, self.shown_c, self.note.strip())


class RoundCheckIn(CheckIn):
    """Without an instrument it is the one that the round was given."""

    instrument_id: Annotated[int, Field(ge=1, le=2**53)] | None = None


class CheckOut(BaseModel):
    """Deviation is shown minus true; both it and what the maker allows are in kelvin."""

    id: int
    instrument_id: int
    serial: str
    round_id: int | None
    round_code: str
    at: datetime
    occasion: Occasion
    reference_c: float | None
    shown_c: float | None
    deviation_k: float | None
    allowed_k: float | None
    outcome: Outcome
    note: str
    by: str

    @classmethod
    def of(cls, check: InstrumentCheck) -> "CheckOut":
        names = set(cls.model_fields) - {"instrument_id", "serial"}
        return cls(
            instrument_id=check.instrument.id,
            serial=check.instrument.serial,
            **{name: getattr(check, name) for name in names},
        )


class ChecksOut(BaseModel):
    checks: list[CheckOut]
    next_after: int | None


@router.get("/instruments/{instrument_id}/checks")
def read_instrument_checks(
    around: Around, actor: Asker, instrument_id: Id, after: After = 0, limit: Limit = 100
) -> ChecksOut:
    """Checks of an instrument, the latest first; a round is named only where it is in sight."""
    page = checks.see_instrument(around.store, actor, instrument_id, after=after, limit=limit).checks
    return ChecksOut(
        checks=[CheckOut.of(check) for check in page],
        next_after=page[-1].id if len(page) == limit else None,
    )


@router.post("/instruments/{instrument_id}/checks", status_code=201)
def note_instrument_check(around: Around, actor: Asker, instrument_id: Id, body: CheckIn) -> CheckOut:
    """Note a check that belongs to no round; the very same one sent again is one."""
    return CheckOut.of(
        checks.check_instrument(around.store, actor, instrument_id, fields=body.fields(), now=around.now())
    )


@router.get("/rounds/{round_id}/checks")
def read_round_checks(around: Around, actor: Asker, round_id: Id) -> list[CheckOut]:
    """What was checked on a round, in the order of time."""
    return [CheckOut.of(check) for check in checks.list_round_checks(around.store, actor, round_id)]


@router.post("/rounds/{round_id}/checks", status_code=201)
def note_round_check(around: Around, actor: Asker, round_id: Id, body: RoundCheckIn) -> CheckOut:
    """Note a check made on a round; the very same one sent again is one."""
    return CheckOut.of(
        checks.check_on_round(
            around.store,
            actor,
            round_id,
            instrument_id=body.instrument_id,
            fields=body.fields(),
            now=around.now(),
        )
    )
