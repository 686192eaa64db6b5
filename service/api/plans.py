"""Plans of months over JSON: begin one, have it drawn up, change it by hand, make its rounds."""

from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Path, Query, Response

from service.api.asking import After, Around, Asker, EditedVersion, Limit, tag
from service.api.plan_schemas import (
    DrawIn,
    FreezeIn,
    MadeOut,
    OrderIn,
    PlaceIn,
    PlanIn,
    PlanOut,
    ReasonIn,
    ReserveIn,
    WhatIfIn,
    WholePlanOut,
)
from service.api.problems import PROBLEMS
from service.domain.people import Actor
from service.domain.plans import MonthPlan
from service.usecases.plans import change, draw_up, see, step
from service.usecases.plans.change import Placing
from service.usecases.plans.draw_up import WAYS
from service.usecases.plans.level_weeks import levelling_weeks
from service.usecases.plans.make_rounds import make_rounds
from service.usecases.plans.reserve import moving_to_reserve, reserving
from service.usecases.plans.start import PlanWish, start_plan
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/plans", tags=["plans"], responses=PROBLEMS)
Id = Annotated[int, Path(ge=1, le=2**53)]
Key = Annotated[str, Path(pattern=r"^\d{4}-\d{2}-\d{2}\.\d{1,15}$")]
Number = Annotated[
    int | None, Query(ge=1, le=2**53, description="one of its versions; without it, what counts")
]


@router.get("")
def list_plans(around: Around, asker: Asker, after: After = 0, limit: Limit = 200) -> list[PlanOut]:
    """Plans of which every site is in sight; not for technicians."""
    return [PlanOut.of_plan(plan) for plan in see.list_plans(around.store, asker, after=after, limit=limit)]


@router.post("", status_code=202)
def begin(around: Around, asker: Asker, response: Response, body: PlanIn) -> PlanOut:
    """Begin a plan; a worker draws it up, `working` says how far it is."""
    wish = PlanWish(body.name, body.month_on, tuple(body.site_ids))
    plan = start_plan(around.store, asker, wish, now=around.now())
    return _plan(around, asker, response, plan.id)


@router.get("/{plan_id}")
def read(
    around: Around, asker: Asker, response: Response, plan_id: Id, number: Number = None
) -> WholePlanOut:
    """A plan with its walks and what it leaves out."""
    page = see.read_plan(around.store, asker, plan_id, number=number, today=around.now().date())
    tag(response, page.plan.version)
    return WholePlanOut.of(page)


@router.post("/{plan_id}/draw", status_code=202)
def draw(
    around: Around, asker: Asker, response: Response, plan_id: Id, version: EditedVersion, body: DrawIn
) -> PlanOut:
    """Have it drawn up again."""
    draw_up.ask_for_drawing(around.store, asker, plan_id, WAYS[body.how], version=version, now=around.now())
    return _plan(around, asker, response, plan_id)


@router.post("/{plan_id}/stop")
def stop(around: Around, asker: Asker, response: Response, plan_id: Id, version: EditedVersion) -> PlanOut:
    """Take the order back; the plan stays as it was."""
    draw_up.stop_drawing(around.store, asker, plan_id, version=version)
    return _plan(around, asker, response, plan_id)


@router.post("/{plan_id}/level")
def level(around: Around, asker: Asker, response: Response, plan_id: Id, version: EditedVersion) -> PlanOut:
    """Level the weeks: stops move into emptier ones; nothing is dropped, nothing held is moved."""
    return _changed(around, asker, response, plan_id, levelling_weeks(), version)


@router.post("/{plan_id}/what-if", status_code=202)
def what_if(
    around: Around, asker: Asker, response: Response, plan_id: Id, version: EditedVersion, body: WhatIfIn
) -> PlanOut:
    """Have a version drawn beside the plan, as if something were otherwise."""
    wanted = {
        "kind": body.kind.value,
        "hours": body.hours,
        "site_id": body.site_id,
        "from_on": "" if body.from_on is None else body.from_on.isoformat(),
        "to_on": "" if body.to_on is None else body.to_on.isoformat(),
    }
    draw_up.ask_what_if(around.store, asker, plan_id, wanted, version=version, now=around.now())
    return _plan(around, asker, response, plan_id)


@router.post("/{plan_id}/undo")
def undo(around: Around, asker: Asker, response: Response, plan_id: Id, version: EditedVersion) -> PlanOut:
    """One step back."""
    return _told(response, step.undo(around.store, asker, plan_id, version=version, now=around.now()))


@router.post("/{plan_id}/redo")
def redo(around: Around, asker: Asker, response: Response, plan_id: Id, version: EditedVersion) -> PlanOut:
    """One step on."""
    return _told(response, step.redo(around.store, asker, plan_id, version=version, now=around.now()))


@router.put("/{plan_id}/places/{equipment_id}")
def place(
    around: Around,
    asker: Asker,
    response: Response,
    plan_id: Id,
    equipment_id: Id,
    version: EditedVersion,
    body: PlaceIn,
) -> PlanOut:
    """Put a stop on a walk; what it would break is told with what would mend it."""
    edit = change.placing(Placing(equipment_id, **body.model_dump()))
    return _changed(around, asker, response, plan_id, edit, version)


@router.put("/{plan_id}/excluded/{equipment_id}")
def exclude(
    around: Around,
    asker: Asker,
    response: Response,
    plan_id: Id,
    equipment_id: Id,
    version: EditedVersion,
    body: ReasonIn,
) -> PlanOut:
    """Leave equipment out of the month, with the reason; of one that is out, let it in again."""
    edit = change.excluding(equipment_id, body.reason)
    return _changed(around, asker, response, plan_id, edit, version)


@router.put("/{plan_id}/walks/{key}/order")
def order(
    around: Around,
    asker: Asker,
    response: Response,
    plan_id: Id,
    key: Key,
    version: EditedVersion,
    body: OrderIn,
) -> PlanOut:
    """Walk the stops of a walk in this order; it is frozen so."""
    return _changed(around, asker, response, plan_id, change.ordering(key, body.equipment_ids), version)


@router.put("/{plan_id}/walks/{key}/frozen")
def freeze(
    around: Around,
    asker: Asker,
    response: Response,
    plan_id: Id,
    key: Key,
    version: EditedVersion,
    body: FreezeIn,
) -> PlanOut:
    """Hold a walk as it is, or let it be planned again."""
    return _changed(around, asker, response, plan_id, change.freezing(key, frozen=body.frozen), version)


@router.put("/{plan_id}/walks/{key}/reserve")
def reserve(
    around: Around,
    asker: Asker,
    response: Response,
    plan_id: Id,
    key: Key,
    version: EditedVersion,
    body: ReserveIn,
) -> PlanOut:
    """Keep a day with nothing on it free for outdoor readings, or give it up."""
    return _changed(around, asker, response, plan_id, reserving(key, kept=body.kept), version)


@router.post("/{plan_id}/walks/{key}/to-reserve")
def to_reserve(
    around: Around, asker: Asker, response: Response, plan_id: Id, key: Key, version: EditedVersion
) -> PlanOut:
    """Put the outdoor stops of a walk on the day that is kept for them."""
    return _changed(around, asker, response, plan_id, moving_to_reserve(key), version)


@router.post("/{plan_id}/walks/{key}/lose")
def lose(
    around: Around,
    asker: Asker,
    response: Response,
    plan_id: Id,
    key: Key,
    version: EditedVersion,
    body: ReasonIn,
) -> PlanOut:
    """Nobody walks that day: what was on it is put off until it is drawn up again."""
    return _changed(around, asker, response, plan_id, change.losing(key, body.reason), version)


@router.post("/{plan_id}/rounds")
def rounds(around: Around, asker: Asker, plan_id: Id, version: EditedVersion) -> MadeOut:
    """Make a draft of each walk; drafts of before follow their walks."""
    return MadeOut(**asdict(make_rounds(around.store, asker, plan_id, version=version, now=around.now())))


def _changed(
    around: Surroundings, asker: Actor, response: Response, plan_id: int, edit: change.Edit, version: int
) -> PlanOut:
    plan = change.change_plan(around.store, asker, plan_id, edit, version=version, now=around.now())
    return _told(response, plan)


def _plan(around: Surroundings, asker: Actor, response: Response, plan_id: int) -> PlanOut:
    return _told(response, see.read_plan(around.store, asker, plan_id).plan)


def _told(response: Response, plan: MonthPlan) -> PlanOut:
    tag(response, plan.version)
    return PlanOut.of_plan(plan)
