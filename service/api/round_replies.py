"""What the API says of rounds, and the bodies it takes."""

from datetime import date, datetime
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from service.domain.rounds import Round, RoundMove
from service.domain.stop_facts import SheetPoint
from service.domain.words import Level, Reason, RoundState, VisitKind
from service.usecases.rounds.browse import RoundPage
from service.usecases.rounds.due import DueSite
from service.usecases.rounds.edit import RoundDetails
from service.usecases.rounds.plan import RoundWish
from service.usecases.rounds.timetable import TimedStop

BodyId = Annotated[int, Field(ge=1, le=2**53)]
Name = Annotated[str, Field(max_length=500)]
Text = Annotated[str, Field(max_length=5000)]


class Body(BaseModel):
    model_config = ConfigDict(extra="forbid")


class NewRoundBody(Body):
    """Stops come from the route, then from what is due at the sites, then as picked."""

    name: Name
    planned_on: date
    start_min: int = Field(default=420, ge=0, le=1439, description="minute of the day, local")
    route_id: BodyId | None = None
    due_site_ids: list[BodyId] = Field(default_factory=list, max_length=100)
    equipment_ids: list[BodyId] = Field(default_factory=list, max_length=500)
    client_id: BodyId | None = None

    def wish(self) -> RoundWish:
        values = self.model_dump()
        lists = {name: tuple(values[name]) for name in ("due_site_ids", "equipment_ids")}
        return RoundWish(**(values | lists))


class RoundBody(Body):
    name: Name
    planned_on: date
    start_min: int = Field(ge=0, le=1439)
    person_id: BodyId | None = None
    second_person_id: BodyId | None = None
    instrument_id: BodyId | None = None
    weather: Text = ""
    note: Text = ""

    def details(self) -> RoundDetails:
        return RoundDetails(**self.model_dump())


class OrderBody(Body):
    stop_ids: list[BodyId] = Field(max_length=500, description="every stop once, in walking order")


class StopsBody(Body):
    equipment_ids: list[BodyId] = Field(min_length=1, max_length=500)


class MinutesBody(Body):
    minutes: int = Field(ge=0, le=600)


class WithdrawBody(Body):
    reason: Text


class SignOffBody(Body):
    reasons: dict[str, Reason] = Field(
        default_factory=dict, description="by row id: why a point has no reading", max_length=5000
    )


class RoundReply(BaseModel):
    id: int
    client_id: int
    route_id: int | None
    code: str
    name: str
    planned_on: date
    start_min: int
    state: RoundState
    person_id: int | None
    second_person_id: int | None
    instrument_id: int | None
    weather: str
    note: str
    issued_at: datetime | None
    returned_at: datetime | None
    signed_off_at: datetime | None
    version: int

    @classmethod
    def of(cls, round_: Round) -> "RoundReply":
        return cls.model_validate(round_, from_attributes=True)


class MoveReply(BaseModel):
    at: datetime
    by_name: str
    from_state: str
    to_state: str
    note: str

    @classmethod
    def of(cls, move: RoundMove) -> "MoveReply":
        return cls.model_validate(move, from_attributes=True)


class StopReply(BaseModel):
    """One stop by the clock; minutes are of the day, on the clock of its site."""

    id: int
    equipment_id: int
    site_id: int
    site_name: str
    tag: str
    name: str
    position: int
    minutes: int
    arrive_min: float
    leave_min: float
    outside_load_hours: bool
    access: str
    permit_id: int | None
    not_open_because: str
    sheet_code: str | None
    points: int
    rows: int
    answered: int

    @classmethod
    def of(cls, stop: TimedStop, *, rows: int, answered: int) -> "StopReply":
        return cls(
            id=stop.stop.id,
            equipment_id=stop.facts.id,
            site_id=stop.facts.site_id,
            site_name=stop.facts.site_name,
            tag=stop.facts.tag,
            name=stop.facts.name,
            position=stop.stop.position,
            minutes=stop.stop.minutes,
            arrive_min=stop.time.arrive_min,
            leave_min=stop.time.end_min,
            outside_load_hours=stop.time.outside_load_hours,
            access=stop.facts.access.value,
            permit_id=stop.stop.permit_id,
            not_open_because=stop.closed,
            sheet_code=stop.stop.sheet_code,
            points=stop.tally.points,
            rows=rows,
            answered=answered,
        )


class FullRoundReply(RoundReply):
    """A round with its stops, its moves and the sums of its day [min]."""

    stops: list[StopReply]
    moves: list[MoveReply]
    points: int
    likely_to_clear: int
    at_equipment_min: float
    travel_min: float
    back_by_min: float

    @classmethod
    def of_page(cls, page: RoundPage) -> "FullRoundReply":
        day = page.day
        none = (0, 0)
        return cls(
            **RoundReply.of(page.round).model_dump(),
            stops=[
                StopReply.of(
                    stop,
                    rows=page.progress.get(stop.stop.id, none)[0],
                    answered=page.progress.get(stop.stop.id, none)[1],
                )
                for stop in day.stops
            ],
            moves=[MoveReply.of(move) for move in page.moves],
            points=day.points,
            likely_to_clear=day.likely_to_clear,
            at_equipment_min=day.plan.service_min,
            travel_min=day.travel_min,
            back_by_min=day.plan.back_by_min,
        )


class RowReply(BaseModel):
    """One point expected on the round. ``row_uid`` keys its reading."""

    row_uid: str
    stop_id: int
    view_id: int
    view_tag: str
    view_name: str
    point_id: int
    tag: str
    name: str
    phase: str
    kind: str
    visit_kind: VisitKind
    asks_amps: bool
    asks_neutral: bool
    last_read_at: datetime | None
    last_c: float | None
    level: Level | None
    at_least: bool
    not_read_reason: str

    @classmethod
    def of(cls, point: SheetPoint) -> "RowReply":
        return cls.model_validate(point, from_attributes=True)


class IssueBody(Body):
    """Needed only where the instrument's calibration is due before the planned day."""

    calibration_reason: str = Field(
        default="", max_length=2000, description="why the round goes out with this instrument all the same"
    )


class IssuedReply(RoundReply):
    points: int
    warnings: list[str]


class DueEquipmentReply(BaseModel):
    equipment_id: int
    tag: str
    name: str
    points: int
    due: int
    due_on: date | None
    reason: str
    minutes: int


class DueSiteReply(BaseModel):
    site_id: int
    client_id: int
    name: str
    points: int
    minutes: int
    equipment: list[DueEquipmentReply]

    @classmethod
    def of(cls, site: DueSite) -> "DueSiteReply":
        return cls(
            site_id=site.site_id,
            client_id=site.client_id,
            name=site.name,
            points=site.points,
            minutes=site.minutes,
            equipment=[
                DueEquipmentReply(
                    equipment_id=one.facts.id,
                    tag=one.facts.tag,
                    name=one.facts.name,
                    points=one.tally.points,
                    due=one.tally.due,
                    due_on=one.tally.due_on,
                    reason=one.tally.reason,
                    minutes=one.facts.minutes,
                )
                for one in site.equipment
            ],
        )


class SheetReply(BaseModel):
    round_id: int
    stop_id: int
    position: int
