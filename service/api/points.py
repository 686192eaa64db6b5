"""Points over JSON, with the versions of their common load."""

from datetime import date, datetime

from pydantic import BaseModel, Field

from service.api.asking import Around, Asker
from service.api.figure_schemas import FigureOut
from service.api.opinion_schemas import SecondOpinionsOut
from service.api.register_router import ThingId, register_router
from service.domain.point_history import PointHistory
from service.domain.register import Noun
from service.domain.words import Level, ReferenceKind, Trend
from service.usecases.condition.point_history import see_point_history
from service.usecases.condition.second_opinions import second_opinions
from service.usecases.register.browse import see_common_loads

router = register_router(Noun.POINT)


class ForecastOut(BaseModel):
    """Level at common load on a day: nine chances in ten from low to high, one in two from lower to upper."""

    on: date
    low_k: float
    lower_k: float
    middle_k: float
    upper_k: float
    high_k: float


class StandingOut(BaseModel):
    """Where a point stands: its level and trend, and the figure of its last visit that had one."""

    point_id: int
    level: Level | None
    at_least: bool
    since: date | None
    last_read_at: datetime | None
    sentence: str
    rule: str
    reference: ReferenceKind | None
    rise_k: FigureOut | None
    at_common_load_k: FigureOut | None
    load_ratio: float | None
    chances: list[float] | None
    smallest_fault_k: float | None
    trend: Trend
    trend_pending: bool
    slope_k_month: float | None
    slope_low: float | None
    slope_high: float | None
    risen_k: float | None
    onset_on: date | None
    chance_within_6_months: float | None
    chance_within_12_months: float | None
    crossing_from: date | None
    crossing_to: date | None
    crossing_likeliest: date | None
    forecast: list[ForecastOut] = Field(description="month by month; empty where nothing is foretold")
    second_opinions: SecondOpinionsOut

    @classmethod
    def of(cls, history: PointHistory) -> "StandingOut":
        stands, last = history.standing, history.last_read
        chances = None if last is None else last.chances
        return cls(
            point_id=history.facts.point_id,
            level=stands.level,
            at_least=stands.at_least,
            since=stands.since,
            last_read_at=stands.last_read_at,
            sentence=stands.sentence,
            rule=stands.rule,
            reference=stands.reference,
            rise_k=FigureOut.of(stands.value_k, stands.u_k),
            at_common_load_k=FigureOut.of(stands.common_k, stands.u_common_k),
            load_ratio=stands.load_ratio,
            chances=None if chances is None else list(chances),
            smallest_fault_k=history.could_have_missed_k,
            trend=stands.trend,
            trend_pending=stands.pending,
            slope_k_month=stands.slope_k_month,
            slope_low=stands.slope_low,
            slope_high=stands.slope_high,
            risen_k=stands.risen_k,
            onset_on=stands.onset_on,
            chance_within_6_months=stands.chance_6,
            chance_within_12_months=stands.chance_12,
            crossing_from=stands.crossing_from,
            crossing_to=stands.crossing_to,
            crossing_likeliest=stands.crossing_likeliest,
            forecast=[ForecastOut(**step._asdict()) for step in history.foretold],
            second_opinions=SecondOpinionsOut.of(second_opinions(history)),
        )


@router.get("/{thing_id}/standing", operation_id="see_point_standing")
def see_standing(around: Around, actor: Asker, thing_id: ThingId) -> StandingOut:
    """Where a point stands, with uncertainty and chances; its readings say what each visit gave."""
    return StandingOut.of(see_point_history(around.store, actor, point_id=thing_id, now=around.now()))


class CommonLoadOut(BaseModel):
    version: int
    amps: float | None
    source: str
    at: datetime
    reason: str


@router.get("/{thing_id}/common-loads", operation_id="list_common_loads")
def list_common_loads(around: Around, actor: Asker, thing_id: ThingId) -> list[CommonLoadOut]:
    """Versions of the load to which this point's rises are brought, the newest first."""
    return [
        CommonLoadOut.model_validate(load, from_attributes=True)
        for load in see_common_loads(around.store, actor, thing_id)
    ]
