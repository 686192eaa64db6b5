"""Bodies that devices send from the walk, and what they are answered."""

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from service.domain.field_records import (
    LONGEST_SEEN,
    CameraClock,
    CheckTyped,
    ClockTyped,
    HeldSend,
    HeldState,
    Receipt,
    SendKind,
    StopVisit,
    TellingTyped,
    VisitTyped,
)
from service.domain.instrument_checks import HIGHEST_C, LONGEST_NOTE, LOWEST_C, Occasion

#: no control characters and no half characters: what every database can hold
_SOUND = "^[^\\u0000-\\u0008\\u000b\\u000c\\u000e-\\u001f\\u007f]*$"
Id = Annotated[int, Field(ge=1, le=2**53)]
Degrees = Annotated[float, Field(ge=LOWEST_C, le=HIGHEST_C, allow_inf_nan=False)]
Moment = Annotated[
    str, Field(max_length=40, pattern=_SOUND, description="date and time as the device's clock showed it")
]
Said = Annotated[str, Field(max_length=LONGEST_SEEN, pattern=_SOUND)]
Named = Annotated[
    str,
    Field(
        min_length=1,
        max_length=200,
        pattern=r"^[^\u0000-\u001f\u007f]*[^\s\u0000-\u001f\u007f][^\u0000-\u001f\u007f]*$",
    ),
]
#: So often one thing is typed again before it is sent, at most.
MOST_REPLACED = 200
EarlierUid = Annotated[str, Field(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
OtherUid = Annotated[str, Field(pattern=r"^([A-Za-z0-9._:-]{8,64})?$")]


class SentBody(BaseModel):
    """What every send says of itself."""

    model_config = ConfigDict(extra="forbid")
    device_time: Moment = ""
    skew_s: float | None = Field(
        default=None,
        ge=-4e9,
        le=4e9,
        allow_inf_nan=False,
        description="how far the device's clock was ahead [s]",
    )
    replaces: list[EarlierUid] = Field(
        default_factory=list, max_length=MOST_REPLACED, description="earlier sends that this one stands for"
    )


class StopVisitBody(SentBody):
    """One visit of a stop."""

    stop_id: Id
    started_at: Moment = ""
    ended_at: Moment = ""
    cautions_at: Moment = Field(default="", description="when its cautions were shown and confirmed")
    seen: Said = ""
    heard: Said = ""
    smelt: Said = ""

    def typed(self) -> VisitTyped:
        return VisitTyped(**_own(self))


class TellingBody(SentBody):
    """Whom the technician told of an Act now: of a row, or of a part met off the round by its send."""

    row_uid: OtherUid = ""
    off_round_uid: OtherUid = ""
    told_whom: Named
    told_at: Moment = ""
    answer: Said = ""

    def typed(self) -> TellingTyped:
        return TellingTyped(**_own(self))


class FieldCheckBody(SentBody):
    """An instrument held against a reference, in °C; without an instrument it is the round's own."""

    instrument_id: Id | None = None
    occasion: Occasion
    at: Moment = ""
    reference_c: Degrees
    shown_c: Degrees
    note: Annotated[str, Field(max_length=LONGEST_NOTE, pattern=_SOUND)] = ""

    def typed(self) -> CheckTyped:
        return CheckTyped(**_own(self))


class CameraClockBody(SentBody):
    """What a camera's clock showed beside the device's."""

    instrument_id: Id
    at: Moment = ""
    camera_time: Annotated[str, Field(min_length=1, max_length=40, pattern=_SOUND)]
    offset_s: float = Field(
        ge=-4e9, le=4e9, allow_inf_nan=False, description="how far the camera was ahead of the device [s]"
    )

    def typed(self) -> ClockTyped:
        return ClockTyped(**_own(self))


def _own(body: SentBody) -> dict[str, Any]:
    """The fields of a body without those that every send has."""
    return {
        name: getattr(body, name) for name in type(body).model_fields if name not in SentBody.model_fields
    }


class KeptReply(BaseModel):
    """Stored; the same send again is answered the same."""

    uid: str
    kind: SendKind
    round_id: int
    received_at: datetime
    finding_id: int | None = Field(description="the finding that it belongs to, if there is one")

    @classmethod
    def of(cls, receipt: Receipt) -> "KeptReply":
        return cls.model_validate(receipt, from_attributes=True)


class HeldReply(BaseModel):
    """Kept whole, but aside: its round no longer takes it, and an engineer decides."""

    uid: str
    kind: SendKind
    round_id: int
    received_at: datetime
    held: Literal[True] = True
    held_id: int
    reason: str

    @classmethod
    def of(cls, receipt: Receipt) -> "HeldReply":
        names = ("uid", "kind", "round_id", "received_at", "held_id", "reason")
        return cls.model_validate({name: getattr(receipt, name) for name in names})


class StopVisitOut(BaseModel):
    """Instants are put right by the device's offset; null where its clock was not believed."""

    uid: str
    stop_id: int
    person: str
    started_at: datetime | None
    ended_at: datetime | None
    cautions_at: datetime | None
    seen: str
    heard: str
    smelt: str
    device_time: str
    skew_s: float | None
    received_at: datetime

    @classmethod
    def of(cls, visit: StopVisit) -> "StopVisitOut":
        return cls.model_validate(visit, from_attributes=True)


class CameraClockOut(BaseModel):
    uid: str
    instrument_id: int
    instrument: str
    person: str
    at: datetime
    camera_time: str
    offset_s: float = Field(description="how far the camera was ahead of true time [s]")

    @classmethod
    def of(cls, clock: CameraClock) -> "CameraClockOut":
        return cls.model_validate(clock, from_attributes=True)


class HeldOut(BaseModel):
    """A send that is held aside, whole, and what was decided of it."""

    id: int
    uid: str
    kind: SendKind
    state: HeldState
    round_id: int
    round_code: str
    site_id: int | None
    person_id: int | None
    person: str
    device: str
    received_at: datetime
    body: dict[str, Any]
    device_time: str
    skew_s: float | None
    reason: str
    point_id: int | None
    decided_at: datetime | None
    decided_by: str
    decision: str
    into_round_id: int | None

    @classmethod
    def of(cls, held: HeldSend) -> "HeldOut":
        return cls.model_validate({name: getattr(held, name) for name in cls.model_fields})


class TakeInBody(BaseModel):
    """Where a held send goes, and why."""

    model_config = ConfigDict(extra="forbid")
    reason: Annotated[str, Field(min_length=1, max_length=500, pattern=_SOUND)]
    round_id: Id | None = Field(default=None, description="for a reading: the round that takes it")
    finding_id: Id | None = Field(default=None, description="for a telling: the finding that was told of")


class SetHeldAsideBody(BaseModel):
    model_config = ConfigDict(extra="forbid")
    reason: Annotated[str, Field(min_length=1, max_length=500, pattern=_SOUND)]


class SignedInReply(BaseModel):
    """Who is signed in here, and the server's clock."""

    person_id: int | None
    name: str
    now: datetime
