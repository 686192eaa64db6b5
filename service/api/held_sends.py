"""Sends that are held aside over JSON: seen, taken in, set aside."""

from typing import Annotated

from fastapi import APIRouter, Path, Query

from service.api.asking import After, Around, Asker, Limit
from service.api.field_schemas import HeldOut, SetHeldAsideBody, TakeInBody
from service.api.problems import PROBLEMS
from service.usecases.field import held

router = APIRouter(tags=["field"], responses=PROBLEMS)
Id = Annotated[int, Path(ge=1, le=2**53)]


@router.get("/held-sends")
def list_held_sends(
    around: Around,
    actor: Asker,
    round_id: Annotated[int | None, Query(ge=1, le=2**53)] = None,
    after: After = 0,
    limit: Limit = 100,
) -> list[HeldOut]:
    """What is held aside of rounds in sight, decided or not, by id; the last id as ``after`` goes on."""
    found = held.list_held(around.store, actor, round_id=round_id, after=after, limit=limit)
    return [HeldOut.of(one) for one in found]


@router.get("/held-sends/{held_id}")
def read_held_send(around: Around, actor: Asker, held_id: Id) -> HeldOut:
    """One send that is held aside, whole."""
    return HeldOut.of(held.see_held(around.store, actor, held_id).held)


@router.post("/held-sends/{held_id}/take-in")
def take_in(around: Around, actor: Asker, held_id: Id, body: TakeInBody) -> HeldOut:
    """Give it its place in the name of whoever typed it; decided once."""
    return HeldOut.of(
        held.take_held_in(
            around.store,
            actor,
            held_id,
            reason=body.reason,
            round_id=body.round_id,
            finding_id=body.finding_id,
            now=around.now(),
        )
    )


@router.post("/held-sends/{held_id}/set-aside")
def set_aside(around: Around, actor: Asker, held_id: Id, body: SetHeldAsideBody) -> HeldOut:
    """Leave it where it is, with the reason; decided once."""
    return HeldOut.of(held.set_held_aside(around.store, actor, held_id, reason=body.reason, now=around.now()))
