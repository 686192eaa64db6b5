"""Readings as they are stored, every revision of them, by round and by point."""

from typing import Any

from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.domain.readings import Reading, UploadResult
from service.errors import NotFound
from service.storage import readings, uploads
from service.storage.unit import Store
from service.usecases.rounds.sight import round_to_see
from service.usecases.rounds.upload_results import result_from_dict


def list_round_readings(
    store: Store, actor: Actor, *, round_id: int, after: int, limit: int
) -> tuple[Reading, ...]:
    """Readings of a round by id, at most ``limit`` after the id ``after``.

    Raises
    ------
    NotFound
        Absent or out of sight.
    """
    with store.look() as unit:
        round_to_see(unit, actor, round_id)
        return readings.readings_of_round(unit, round_id, after=after, limit=limit)


def list_point_readings(
    store: Store, actor: Actor, *, point_id: int, after: int, limit: int
) -> tuple[Reading, ...]:
    """Readings of a point by id; a technician sees those of own rounds.

    Raises
    ------
    NotFound
        Absent, out of sight, or on no round of theirs.
    """
    with store.look() as unit:
        site_id = readings.site_of_point(unit, point_id)
        if site_id is None:
            raise NotFound()
        require(actor, Verb.SEE, site_id=site_id)
        rounds = None
        if own_rounds_only(actor) and actor.person_id is not None:
            rounds = readings.rounds_with_point(unit, point_id, person_id=actor.person_id)
            if not rounds:
                raise NotFound()
        return readings.readings_of_point(unit, point_id, after=after, limit=limit, round_ids=rounds)


def see_reading(store: Store, actor: Actor, uid: str) -> Reading:
    """One reading by its id, also one that a correction has superseded.

    Raises
    ------
    NotFound
        Absent or out of sight.
    """
    with store.look() as unit:
        reading = readings.reading_by_uid(unit, uid)
        if reading is None or reading.round_id is None:
            raise NotFound()
        round_to_see(unit, actor, reading.round_id)
        return reading


def see_upload(store: Store, actor: Actor, *, round_id: int, upload_id: int) -> UploadResult:
    """What an accepted upload was answered.

    Raises
    ------
    NotFound
        Absent or out of sight.
    """
    with store.look() as unit:
        round_to_see(unit, actor, round_id)
        kept: dict[str, Any] | None = uploads.upload_result(unit, round_id, upload_id)
        if kept is None:
            raise NotFound()
        return result_from_dict(kept)
