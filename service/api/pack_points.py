"""The points of a pack as JSON: what each is, asks, showed before, and what its history says."""

from datetime import date, datetime
from typing import Any

from pydantic import BaseModel

from service.api.pack_judging import JudgingOut
from service.domain.boxes import Box, boxes_of
from service.domain.packs import (
    PackPoint,
)
from service.domain.readings import FOUND, MEASURED, Reading
from service.domain.words import PointKind


class PackBoxOut(BaseModel):
    key: str
    label: str
    unit: str
    value: str
    words: list[str]
    low: float | None
    high: float | None
    why: str

    @classmethod
    def of(cls, box: Box) -> "PackBoxOut":
        ranged = box.low != box.high
        return cls(
            key=box.key,
            label=box.label,
            unit=box.unit,
            value=box.value.value.replace(" ", "_"),
            words=list(box.words),
            low=box.low if ranged else None,
            high=box.high if ranged else None,
            why=box.why,
        )


class LastOut(BaseModel):
    """The visit before this round."""

    on: datetime
    temperature_c: float | None
    current_a: float | None
    value_k: float | None
    common_k: float | None
    reference: str | None
    level: int | None
    at_least: bool
    reason: str | None


class PastOut(BaseModel):
    """Temperatures of all visits before this round [°C]."""

    count: int
    low_c: float
    middle_c: float
    high_c: float


class TrendOut(BaseModel):
    """What its history says; ``foretold_k`` is the range, nine chances in ten, on ``foretold_on`` [K]."""

    word: str
    slope_k_month: float | None
    foretold_on: date | None
    foretold_k: tuple[float, float] | None


class StandingOut(BaseModel):
    level: int | None
    at_least: bool


class PackPointOut(BaseModel):
    row_uid: str
    point_id: int
    tag: str
    name: str
    phase: str
    label: str
    kind: str
    component: str
    order: int
    visit_kind: str
    reference_kind: str
    common_load_a: float | None
    rated_rise_k: float | None
    baseline_k: float | None
    emissivity: float | None
    reflected_habit: str
    distance_m: float | None
    target_mm: float | None
    window_transmission: float | None
    boxes: list[PackBoxOut]
    last: LastOut | None
    past: PastOut | None
    trend: TrendOut | None
    standing: StandingOut | None
    stored: dict[str, Any] | None
    judging: JudgingOut

    @classmethod
    def of(cls, point: PackPoint, *, on: date) -> "PackPointOut":
        row = point.row
        return cls(
            **{name: getattr(row, name) for name in _OF_ROW},
            label=row.phase or row.name,
            baseline_k=point.baseline_k,
            boxes=[PackBoxOut.of(box) for box in boxes_of(PointKind(row.kind), row.component)],
            last=_last(point),
            past=_past(point),
            trend=_trend(point, on),
            standing=None
            if point.trend is None
            else StandingOut(level=row.level, at_least=bool(row.at_least)),
            stored=None if point.stored is None else _stored(point.stored),
            judging=JudgingOut.of(point),
        )


#: names that a row and its reply share
_OF_ROW = (
    *("row_uid", "point_id", "tag", "name", "phase", "kind", "component", "order", "visit_kind"),
    *("reference_kind", "common_load_a", "rated_rise_k", "emissivity", "reflected_habit", "distance_m"),
    *("target_mm", "window_transmission"),
)


def _last(point: PackPoint) -> LastOut | None:
    last = point.before.last
    if last is None:
        return None
    return LastOut(
        on=last.taken_at,
        temperature_c=last.temperature_c,
        current_a=last.current_a,
        value_k=last.value_k,
        common_k=last.common_k,
        reference=None if last.reference is None else last.reference.value,
        level=last.level,
        at_least=last.at_least,
        reason=None if last.reason is None else last.reason.value,
    )


def _past(point: PackPoint) -> PastOut | None:
    past = point.before.past
    if past is None:
        return None
    return PastOut(count=past.count, low_c=past.low_c, middle_c=past.middle_c, high_c=past.high_c)


def _trend(point: PackPoint, on: date) -> TrendOut | None:
    said = point.trend
    if said is None:
        return None
    ahead = said.foretold_k(on)
    return TrendOut(
        word=said.trend.value,
        slope_k_month=said.slope_k_month,
        foretold_on=None if ahead is None else on,
        foretold_k=None if ahead is None else (round(ahead[0], 2), round(ahead[1], 2)),
    )


def _stored(reading: Reading) -> dict[str, Any]:
    """What the asker has brought in already of a row; what is not known is left out."""
    told: dict[str, Any] = {name: getattr(reading, name) for name in ("temperature_c", *MEASURED, *FOUND)}
    told |= {"picture": reading.picture or None, "note": reading.note or None}
    told |= {"reason": reading.not_assessable, "visit_kind": reading.visit_kind}
    kept = {name: value for name, value in told.items() if value is not None}
    return {"uid": reading.uid, "taken_at": reading.taken_at, "revision": reading.revision} | kept
