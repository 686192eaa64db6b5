"""What a label leads to: the stop of a round under way, else the equipment."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from service.domain.labels import Labelled
from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.domain.sheet_codes import LABEL_BODY, read_code
from service.errors import NotFound
from service.storage import labels, register
from service.storage.unit import Store

#: how many days before or after its planned day a round counts as under way (own judgement, no source)
AROUND = timedelta(days=3)


@dataclass(frozen=True, slots=True)
class Found:
    """The equipment, and (round, stop) where its reader is walking it now."""

    equipment: Labelled
    under_way: tuple[int, int] | None


def find_label(store: Store, actor: Actor, typed: str, *, now: datetime) -> Found:
    """The equipment of a label by its code, as scanned or typed.

    Raises
    ------
    NotFound
        No code can read like this, or nothing in sight has it.
    """
    require(actor, Verb.SEE)
    code = read_code(typed, LABEL_BODY)
    if code is None:
        raise NotFound()
    with store.look() as unit:
        found = labels.labelled_by_code(unit, code, register.sight_of(actor))
        if found is None:
            raise NotFound()
        walks = own_rounds_only(actor) and actor.person_id is not None
        under_way = None
        if walks and actor.person_id is not None:
            today = now.date()
            under_way = labels.stop_under_way(
                unit,
                found.equipment_id,
                actor.person_id,
                first=today - AROUND,
                last=today + AROUND,
                today=today,
            )
    return Found(found, under_way)
