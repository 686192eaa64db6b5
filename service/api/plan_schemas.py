"""What plans look like over JSON."""

from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from service.domain import words
from service.domain.plan_weeks import weeks_of
from service.domain.plans import LeftOut, MonthPlan, PlannedStop, PlanVersion, Walk
from service.usecases.plans.carried import CarriedRow
from service.usecases.plans.see import PlanPage
from service.usecases.plans.what_if import Kind

Id = Annotated[int, Field(ge=1, le=2**53)]
Minute = Annotated[float, Field(ge=0, le=2880, allow_inf_nan=False, description="from local midnight")]
Reason = Annotated[str, Field(max_length=300)]
WalkKey = Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}\.\d{1,15}$", max_length=40)]


class Body(BaseModel):
    model_config = ConfigDict(extra="forbid")


class PlanIn(Body):
    """A plan to begin: any day of its month, and its sites."""

    name: Annotated[str, Field(max_length=120)]
    month_on: date
    site_ids: Annotated[list[Id], Field(min_length=1, max_length=1000)]


class DrawIn(Body):
    """Fill free time and move nobody; draw up around what is held; or afresh."""

    how: Literal["fill", "around", "afresh"] = "around"


class WhatIfIn(Body):
    """One change of what the plan stands on; ``hours`` over the month, minus takes them away."""

    kind: Kind
    hours: Annotated[float, Field(ge=-400, le=400, allow_inf_nan=False)] = 0.0
    site_id: Id | None = None
    from_on: date | None = None
    to_on: date | None = None


class PlaceIn(Body):
    """Where a stop is to go; ``place`` counts from 1, without it, where the walk is home first."""

    walk: WalkKey
    place: Annotated[int, Field(ge=1, le=1000)] | None = None
    pinned_min: Minute | None = None
    anyway: Reason = ""


class ReasonIn(Body):
    reason: Reason


class OrderIn(Body):
    equipment_ids: Annotated[list[Id], Field(max_length=1000)]


class FreezeIn(Body):
    frozen: bool


class ReserveIn(Body):
    kept: bool


class StopOut(BaseModel):
    """One stop on the clock [min from local midnight]."""

    equipment_id: int
    minutes: int
    arrive_min: float
    start_min: float
    end_min: float
    pinned_min: float | None
    held: bool
    anyway: str
    points: int
    must: bool
    early: bool
    due_on: date | None
    carried: int = Field(description="visits in a row that gave no reading")
    why: str

    @classmethod
    def of(cls, stop: PlannedStop) -> "StopOut":
        return cls.model_validate(stop, from_attributes=True)


class WalkOut(BaseModel):
    """One day of one person."""

    key: str
    day: date
    person_id: int
    second_id: int | None
    start_min: int
    end_min: int
    qualified: bool
    frozen: bool
    indoors_only: bool
    forecast: str
    lost: str
    reserve: str = Field(description="planned or by hand: kept free for outdoor readings; given up; or empty")
    leave_min: float
    back_min: float
    round_id: int | None
    stops: list[StopOut]

    @classmethod
    def of(cls, walk: Walk, round_id: int | None) -> "WalkOut":
        names = [name for name in cls.model_fields if name not in ("round_id", "stops")]
        return cls(
            **{name: getattr(walk, name) for name in names},
            round_id=round_id,
            stops=[StopOut.of(stop) for stop in walk.stops],
        )


class LeftOutOut(BaseModel):
    """One equipment on no walk: the rule that decided, and its figures."""

    equipment_id: int
    code: str
    also: list[str]
    figures: dict[str, float]
    walk: str
    said: str
    points: int
    due_on: date | None
    must: bool

    @classmethod
    def of(cls, one: LeftOut) -> "LeftOutOut":
        return cls.model_validate(one, from_attributes=True)


class UnreadOut(BaseModel):
    """One visit without a reading."""

    on: date
    reason: words.Reason


class CarriedOut(BaseModel):
    """Equipment whose last visits gave no reading, newest first, and what would be a better time."""

    equipment_id: int
    times: int = Field(description="visits in a row")
    too_often: bool = Field(description="as often as its client wants to hear of on the Desk")
    visits: list[UnreadOut]
    better: str
    walk: str = Field(description="key of the walk that has it now; empty for none")

    @classmethod
    def of(cls, row: CarriedRow) -> "CarriedOut":
        return cls(
            equipment_id=row.facts.id,
            times=row.carried.times,
            too_often=row.often,
            visits=[UnreadOut(on=one.on, reason=one.reason) for one in row.carried.visits],
            better=row.better,
            walk="" if row.walk is None else row.walk.key,
        )


class WeekOut(BaseModel):
    """Hours of one week [min]; what is kept in reserve is among what is offered."""

    monday: date
    planned_min: float
    offered_min: float
    kept_min: float


class ReserveOut(BaseModel):
    """A day kept free for outdoor readings, and the walks it stands in for."""

    walk: str
    stands_for: list[str]
    walked: bool = Field(description="all of these came back, so that the day is free again")


class SpoiledOut(BaseModel):
    """A walk whose outdoor stops at a site the forecast spoils."""

    walk: str
    site_id: int
    why: str
    stops: int
    reserve: str = Field(description="the day that is kept for it; empty for none")


class VersionOut(BaseModel):
    number: int
    parent: int
    aside: bool = Field(description="drawn beside the plan, to see what would be")
    at: datetime
    by_name: str
    what: str

    @classmethod
    def of(cls, version: PlanVersion) -> "VersionOut":
        return cls.model_validate(version, from_attributes=True)


class WorkingOut(BaseModel):
    """How far the drawing up is."""

    what: str
    done: int
    of: int
    value: int


class PlanOut(BaseModel):
    """A plan in a list."""

    id: int
    client_id: int
    month_on: date
    name: str
    current: int
    newest: int
    version: int
    working: WorkingOut | None

    @classmethod
    def of_plan(cls, plan: MonthPlan) -> "PlanOut":
        return cls.model_validate(plan, from_attributes=True)


class WholePlanOut(PlanOut):
    """A plan at one of its versions."""

    number: int
    drawn: bool
    site_ids: list[int]
    walks: list[WalkOut]
    left_out: list[LeftOutOut]
    excluded: dict[int, str]
    value: int
    bound: int | None = Field(description="what no plan can exceed; mostly far above what any reaches")
    versions: list[VersionOut]
    carried_over: list[CarriedOut]
    cover_minutes: float = Field(description="reading minutes that one opened cover was worth when drawn up")
    weeks: list[WeekOut]
    reserves: list[ReserveOut]
    spoiled: list[SpoiledOut]

    @classmethod
    def of(cls, page: PlanPage) -> "WholePlanOut":
        body = page.body
        made = {key: round_.id for key, round_ in page.rounds.items()}
        return cls(
            **PlanOut.of_plan(page.plan).model_dump(),
            number=page.number,
            drawn=body.drawn,
            site_ids=list(body.site_ids),
            walks=[WalkOut.of(walk, made.get(walk.key)) for walk in body.walks],
            left_out=[LeftOutOut.of(one) for one in body.left_out],
            excluded=dict(body.excluded),
            value=body.value,
            bound=body.bound,
            versions=[VersionOut.of(version) for version in page.versions],
            carried_over=[CarriedOut.of(row) for row in page.carried],
            cover_minutes=body.cover_minutes,
            weeks=[WeekOut.model_validate(week, from_attributes=True) for week in weeks_of(body)],
            reserves=[
                ReserveOut(
                    walk=one.walk.key, stands_for=[walk.key for walk in one.stands_for], walked=one.walked
                )
                for one in page.reserves
            ],
            spoiled=[
                SpoiledOut(
                    walk=one.walk.key,
                    site_id=one.forecast.site_id,
                    why=one.forecast.why_unfit,
                    stops=one.stops,
                    reserve="" if one.reserve is None else one.reserve.key,
                )
                for one in page.spoiled
            ],
        )


class MadeOut(BaseModel):
    """Codes of rounds: new drafts, drafts brought in line, and those that went out already."""

    made: list[str]
    changed: list[str]
    left: list[str]
