"""Evaluate again over JSON: what a changed setting would move, doing it, taking it back."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker
from service.api.problems import PROBLEMS
from service.domain.reevaluation import Asked, KeptReevaluation, Moved, NewValue, Reevaluated
from service.domain.words import Level, PointKind, ReevaluationTarget, SettingSource
from service.usecases.reevaluations.reevaluate import (
    preview_reevaluation,
    reevaluate,
    undo_reevaluation,
)
from service.usecases.reevaluations.see import see_reevaluations

router = APIRouter(prefix="/reevaluations", tags=["reevaluations"], responses=PROBLEMS)
Id = Annotated[int, Field(ge=1, le=2**53)]
Reason = Annotated[str, Field(min_length=3, max_length=1000)]
#: How many of the readings that move are told one by one.
MOST_TOLD = 500


class NewValueIn(BaseModel):
    """A new number in the unit of its quantity; ``half_width`` only for those that have one."""

    model_config = ConfigDict(extra="forbid")
    value: float = Field(allow_inf_nan=False)
    half_width: float | None = Field(default=None, ge=0, le=100, allow_inf_nan=False)
    standing: SettingSource = SettingSource.MEASURED
    how: Annotated[str, Field(max_length=200)] = ""


class AskedIn(BaseModel):
    """What is to change, and whose readings.

    ``changes`` by quantity: emissivity, reflected_c [°C], ambient_c [°C], humidity_percent,
    distance_m, transmission (of the air), window_transmission, window_c [°C], current_a,
    common_load_a. ``kind``, ``coating`` and ``since`` narrow the target.
    """

    model_config = ConfigDict(extra="forbid")
    target: ReevaluationTarget
    target_id: Id
    changes: Annotated[dict[str, NewValueIn], Field(max_length=20)] = {}
    criteria_id: Id | None = None
    kind: PointKind | None = None
    coating: Annotated[str, Field(max_length=200)] = ""
    since: datetime | None = None
    from_now_on: bool = False

    def asked(self) -> Asked:
        changes = {
            name: NewValue(new.value, new.half_width, new.standing, new.how)
            for name, new in self.changes.items()
        }
        return Asked(
            self.target, self.target_id, changes, self.criteria_id, self.kind, self.coating, self.since,
            self.from_now_on,
        )  # fmt: skip


class CommitIn(AskedIn):
    reason: Reason


class UndoIn(BaseModel):
    model_config = ConfigDict(extra="forbid")
    reason: Reason


class MovedOut(BaseModel):
    """A reading before and after; rises as measured and standard uncertainties [K]."""

    reading_id: int
    point_id: int
    point_tag: str
    taken_at: datetime
    level_before: Level | None
    level_after: Level | None
    at_least_before: bool
    at_least_after: bool
    value_before_k: float | None
    value_after_k: float | None
    u_before_k: float | None
    u_after_k: float | None


class StandingMovedOut(BaseModel):
    point_id: int
    point_tag: str
    before: Level | None
    after: Level | None


class ReevaluatedOut(BaseModel):
    """What moves. ``trends_changed`` is null once it is done: the trend follows in the background."""

    reevaluation_id: int | None
    readings: int
    levels_changed: int
    trends_changed: int | None
    moved: list[MovedOut]
    moved_count: int
    standings: list[StandingMovedOut]


class ReevaluationOut(BaseModel):
    """A re-evaluation as recorded; ``changes`` holds what was asked, each number with its source."""

    id: int
    target: ReevaluationTarget
    target_id: int
    site_id: int | None
    changes: dict[str, object]
    reason: str
    at: datetime
    by_name: str
    undoes_id: int | None
    undone_by_id: int | None
    readings: int
    levels_changed: int
    points_changed: int


class ReevaluationPage(BaseModel):
    """Newest first; ``next`` is the ``before`` of the following page."""

    items: list[ReevaluationOut]
    next: int | None


@router.get("")
def list_reevaluations(
    around: Around,
    actor: Asker,
    before: Annotated[int | None, Query(ge=1, le=2**53)] = None,
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
) -> ReevaluationPage:
    """Re-evaluations of the sites in sight."""
    kept = see_reevaluations(around.store, actor, before=before, limit=limit)
    return ReevaluationPage(
        items=[_kept(one) for one in kept], next=kept[-1].id if len(kept) == limit else None
    )


@router.post("/preview")
def preview(around: Around, actor: Asker, body: AskedIn) -> ReevaluatedOut:
    """What would follow: levels, standings and trends before and after; nothing is stored."""
    return _out(preview_reevaluation(around.store, actor, asked=body.asked(), now=around.now()))


@router.post("", status_code=201)
def commit(around: Around, actor: Asker, body: CommitIn) -> ReevaluatedOut:
    """Change what the figures rest on; readings stay, history keeps both figures."""
    done = reevaluate(around.store, actor, asked=body.asked(), reason=body.reason, now=around.now())
    return _out(done)


@router.post("/{reevaluation_id}/undo", status_code=201)
def undo(around: Around, actor: Asker, reevaluation_id: Id, body: UndoIn) -> ReevaluatedOut:
    """Take it back by another revision."""
    done = undo_reevaluation(
        around.store, actor, reevaluation_id=reevaluation_id, reason=body.reason, now=around.now()
    )
    return _out(done)


def _out(done: Reevaluated) -> ReevaluatedOut:
    return ReevaluatedOut(
        reevaluation_id=done.reevaluation_id,
        readings=done.readings,
        levels_changed=done.levels_changed,
        trends_changed=done.trends_changed,
        moved=[_moved(one) for one in done.moved[:MOST_TOLD]],
        moved_count=len(done.moved),
        standings=[
            StandingMovedOut(
                point_id=one.point_id, point_tag=one.point_tag, before=one.before, after=one.after
            )
            for one in done.standings[:MOST_TOLD]
        ],
    )


def _moved(one: Moved) -> MovedOut:
    return MovedOut.model_validate({name: getattr(one, name) for name in MovedOut.model_fields})


def _kept(one: KeptReevaluation) -> ReevaluationOut:
    told = {name: getattr(one, name) for name in ReevaluationOut.model_fields}
    return ReevaluationOut.model_validate(told | {"changes": dict(one.changes)})
