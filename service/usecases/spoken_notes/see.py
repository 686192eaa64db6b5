"""See which notes were spoken on a round, to a reading, to a point; give one out to be heard."""

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.spoken_notes import SpokenNote
from service.errors import NotFound
from service.storage import pictures, spoken_notes
from service.storage.files import Shelf
from service.storage.unit import Store, Unit
from service.usecases.condition.overview import sight_of
from service.usecases.rasters.sight import reading_to_see
from service.usecases.rounds.sight import round_to_see


def list_round_notes(store: Store, actor: Actor, round_id: int) -> tuple[SpokenNote, ...]:
    """Notes of a round that stand, in walking order; those of a stop as a whole before its rows'.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    with store.look() as unit:
        round_to_see(unit, actor, round_id)
        return spoken_notes.notes_of_round(unit, round_id)


def list_reading_notes(store: Store, actor: Actor, reading_uid: str) -> tuple[SpokenNote, ...]:
    """Notes of the row that a reading, in any of its revisions, was read for.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    with store.look() as unit:
        reading, round_ = reading_to_see(unit, actor, reading_uid)
        if reading.row_id is None:
            return ()
        return spoken_notes.notes_of_row(unit, reading.row_id, round_id=round_.id)


def list_point_notes(store: Store, actor: Actor, point_id: int) -> tuple[SpokenNote, ...]:
    """The latest notes of a point, also those spoken on rounds of others: a point's history is seen whole.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    require(actor, Verb.SEE)
    with store.look() as unit:
        if not _sees_point(unit, actor, point_id):
            raise NotFound()
        return spoken_notes.notes_of_point(unit, point_id, site_ids=actor.site_ids)


def hear_note(
    store: Store, actor: Actor, round_id: int, uid: str, *, shelf: Shelf
) -> tuple[SpokenNote, bytes]:
    """A spoken note with its file, byte for byte as it came; also one that was taken back.

    Raises
    ------
    NotFound
        Absent, out of sight, or its file is gone.
    """
    with store.look() as unit:
        note = spoken_notes.note_by_uid(unit, uid)
        if note is None or note.round_id != round_id:
            raise NotFound()
        if note.point_id is None or not _sees_point(unit, actor, note.point_id):
            round_to_see(unit, actor, round_id)
    return note, shelf.read(note.stored_as)


def _sees_point(unit: Unit, actor: Actor, point_id: int) -> bool:
    """A token of one round opens no point's history."""
    return actor.only_round is None and pictures.view_in_sight(unit, sight_of(actor), point_id) is not None
