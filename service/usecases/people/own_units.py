"""In which unit somebody reads and types temperatures: everybody chooses their own."""

from datetime import datetime

from service.domain.people import Actor
from service.domain.words import TemperatureUnit
from service.errors import Forbidden, Invalid
from service.storage import people
from service.storage.unit import Store
from service.usecases.people.accounts import note_person
from service.usecases.people.typed import problem


def choose_temperature_unit(store: Store, actor: Actor, wanted: str, *, now: datetime) -> TemperatureUnit:
    """Take the unit for one's own pages; what is stored stays in °C and K.

    Parameters
    ----------
    store : Store
        Where the person is kept.
    actor : Actor
        Whose unit it is.
    wanted : str
        A value of `TemperatureUnit`, as typed.
    now : datetime
        The instant.

    Raises
    ------
    Invalid
        There is no such unit.
    Forbidden
        A token or the service itself cannot do this.
    """
    if actor.person_id is None or actor.by_token:
        raise Forbidden("Units are chosen by their reader, signed in.")
    if wanted not in set(TemperatureUnit):
        raise Invalid(
            [problem("temperature_unit", wanted, "This is no unit of ours.", remedy="Choose one of the two.")]
        )
    chosen = TemperatureUnit(wanted)
    with store.begin() as unit:
        before = people.keep_temperature_unit(unit, actor.person_id, chosen)
        if before is not chosen:
            note_person(
                unit,
                actor,
                "choose units",
                actor.person_id,
                now=now,
                before={"temperature_unit": before.value},
                after={"temperature_unit": chosen.value},
            )
    return chosen
