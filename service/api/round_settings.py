"""What holds for all readings of a round that say nothing themselves."""

from typing import Annotated, Any

from fastapi import APIRouter, Path, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker, EditedVersion, tag
from service.api.problems import PROBLEMS
from service.domain.round_settings import held_lines
from service.domain.rounds import Round
from service.domain.words import SettingSource
from service.usecases.rounds.hold import set_round_settings
from service.usecases.rounds.look import see_round

router = APIRouter(prefix="/rounds", tags=["rounds"], responses=PROBLEMS)
Id = Annotated[int, Path(ge=1, le=2**53)]


class HeldBody(BaseModel):
    """One quantity; half-widths are of emissivity, reflected temperature and transmission only."""

    model_config = ConfigDict(extra="forbid")
    value: float = Field(allow_inf_nan=False)
    half_width: float | None = Field(default=None, ge=0, le=1000, allow_inf_nan=False)
    standing: SettingSource = SettingSource.MEASURED
    how: str = Field(default="", max_length=200, pattern=r"^[^\x00-\x1f\x7f]*$")


class SettingsBody(BaseModel):
    """By quantity; null takes it back, what is not sent stays."""

    model_config = ConfigDict(extra="forbid")
    ambient_c: HeldBody | None = None
    humidity_percent: HeldBody | None = None
    reflected_c: HeldBody | None = None
    emissivity: HeldBody | None = None
    distance_m: HeldBody | None = None
    path_transmission: HeldBody | None = None
    wind_m_s: HeldBody | None = None


class HeldReply(BaseModel):
    value: float
    half_width: float | None
    standing: SettingSource
    how: str


class SettingsReply(BaseModel):
    """``readings`` are in already and keep what they were judged with; null where not asked."""

    round_id: int
    version: int
    settings: dict[str, HeldReply]
    readings: int | None = None


def _reply(response: Response, round_: Round, *, readings: int | None = None) -> SettingsReply:
    tag(response, round_.version)
    return SettingsReply(
        round_id=round_.id,
        version=round_.version,
        settings={
            line.quantity.name: HeldReply(
                value=line.value,
                half_width=line.half_width,
                standing=SettingSource(line.standing),
                how=line.how,
            )
            for line in held_lines(round_.settings)
            if line.value is not None
        },
        readings=readings,
    )


@router.get("/{round_id}/settings")
def read_round_settings(around: Around, asker: Asker, response: Response, round_id: Id) -> SettingsReply:
    """What holds for the whole round."""
    return _reply(response, see_round(around.store, asker, round_id))


@router.patch("/{round_id}/settings")
def set_settings(
    around: Around, asker: Asker, response: Response, round_id: Id, version: EditedVersion, body: SettingsBody
) -> SettingsReply:
    """Set or take back what holds for readings that say nothing; If-Match is the round's.

    Readings already in keep what they were judged with: evaluate the round again for those.
    """
    changes: dict[str, Any] = body.model_dump(exclude_unset=True, mode="json")
    held = set_round_settings(
        around.store, asker, round_id, changes, version=version, now=around.now(), where="body"
    )
    return _reply(response, held.round, readings=held.readings)
