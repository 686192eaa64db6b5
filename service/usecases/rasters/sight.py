"""Which rasters somebody may see and change: those of the readings they may."""

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.rasters import Raster
from service.domain.readings import Reading
from service.domain.rounds import OPEN_FOR_READINGS, Round
from service.domain.words import RoundState
from service.errors import Conflict, NotFound
from service.storage import rasters, readings
from service.storage.unit import Unit
from service.usecases.rounds.sight import round_to_change, round_to_see


def reading_to_see(unit: Unit, actor: Actor, uid: str) -> tuple[Reading, Round]:
    """A reading of any revision and its round.

    Raises
    ------
    NotFound
        Absent, or out of sight: told alike.
    """
    reading = readings.reading_by_uid(unit, uid)
    if reading is None or reading.round_id is None:
        raise NotFound()
    return reading, round_to_see(unit, actor, reading.round_id)


def reading_to_add_to(unit: Unit, actor: Actor, uid: str) -> Reading:
    """A reading whose round still takes what belongs to readings, held until the unit ends.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Conflict
        The round is signed off and this is no engineer, or it takes no readings.
    """
    reading = readings.reading_by_uid(unit, uid)
    if reading is None or reading.round_id is None:
        raise NotFound()
    round_ = round_to_change(unit, actor, reading.round_id, verb=Verb.BRING_READINGS)
    if round_.state is RoundState.SIGNED_OFF:
        require(actor, Verb.KEEP_REGISTER)
    elif round_.state not in OPEN_FOR_READINGS:
        raise Conflict(f"Round {round_.code} is {round_.state}; its readings no longer change")
    return reading


def raster_to_see(unit: Unit, actor: Actor, uid: str) -> tuple[Raster, Reading, Round]:
    """A raster with the reading it came with.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    raster = rasters.raster_by_uid(unit, uid)
    if raster is None:
        raise NotFound()
    return raster, *reading_to_see(unit, actor, raster.reading_uid)


def raster_to_change(unit: Unit, actor: Actor, uid: str) -> tuple[Raster, Reading]:
    """A raster on which this person may draw, held until the unit ends.

    Raises
    ------
    NotFound, Forbidden, Conflict
        As for the reading it belongs to.
    """
    raster = rasters.raster_by_uid(unit, uid)
    if raster is None:
        raise NotFound()
    return raster, reading_to_add_to(unit, actor, raster.reading_uid)


def valid_revision(unit: Unit, reading: Reading) -> Reading:
    """What this reading says now: itself, or the correction that took its place."""
    if reading.row_id is None:
        return reading
    valid = readings.current_of_rows(unit, [reading.row_id])
    return next((one for one in valid if one.source == reading.source), reading)
