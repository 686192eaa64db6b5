"""Keep a note that was spoken on a walk to a reading or a stop; take one back with a reason."""

import hashlib
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.picture_places import Places, RowPlace, StopPlace
from service.domain.rounds import Round
from service.domain.spoken_notes import LONGEST_REASON, SpokenKind, SpokenNote
from service.errors import Conflict, Invalid, NotFound, Problem
from service.intake.pictures import read_voice
from service.storage import audit, pictures, spoken_notes
from service.storage.files import Shelf, shelf_name
from service.storage.unit import Store, Unit
from service.usecases.field.keep import instants_of
from service.usecases.pictures.sight import round_to_bring_to
from service.usecases.rounds.sight import round_to_change
from service.usecases.rounds.typed_checks import problem, reason_given

ROOM = "spoken"


@dataclass(frozen=True, slots=True)
class SentNote:
    """A recording as a device sends it: to a row of the round, or to a stop, never to both.

    ``device_time`` is what the device's clock showed, ``skew_s`` how far it was ahead [s].
    """

    uid: str
    content: bytes
    row_uid: str = ""
    stop_id: int | None = None
    device_time: str = ""
    skew_s: float | None = None


def keep_note(
    store: Store, actor: Actor, round_id: int, sent: SentNote, *, shelf: Shelf, now: datetime
) -> SpokenNote:
    """Keep a spoken note with a round, as it came; the same again is the same.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who walked the round, also until somebody else was given it; an engineer at any time.
    round_id : int
        The round.
    sent : SentNote
        WebM, Ogg or MP4 sound of at most 2 MiB, and what its device says of it.
    shelf : Shelf
        Where the file is kept.
    now : datetime
        The instant it was received.

    Raises
    ------
    Invalid
        Why it is no recording, or a row or stop that is not of this round; nothing was stored.
    NotFound, Forbidden
        Out of sight and never walked by this person, or not this role's.
    Conflict
        The round takes no more, or the id names another note.
    """
    content_hash = hashlib.sha256(sent.content).hexdigest()
    with store.begin() as unit:
        round_to_bring_to(unit, actor, round_id)
        before = _stored(unit, sent, round_id, content_hash)
        if before is not None:
            return before
        _place(sent, pictures.places_of_round(unit, round_id))
    kind = SpokenKind(read_voice(sent.content))
    name = shelf_name(ROOM, content_hash, kind.value)
    # before the row that names it: a crash between leaves a file that nothing names, never the reverse
    shelf.keep(name, sent.content)
    with store.begin() as unit:
        round_ = round_to_bring_to(unit, actor, round_id)
        before = _stored(unit, sent, round_id, content_hash)
        if before is not None:
            return before
        stop, row = _place(sent, pictures.places_of_round(unit, round_id))
        file = {
            "kind": kind.value,
            "content_hash": content_hash,
            "stored_as": name,
            "size_bytes": len(sent.content),
        }
        return _add(unit, actor, round_, sent, stop=stop, row=row, file=file, now=now)


def take_note_back(
    store: Store, actor: Actor, round_id: int, uid: str, *, reason: str, now: datetime
) -> SpokenNote:
    """Take a spoken note off the pages, with a reason; its file and its line stay on record.

    Raises
    ------
    Invalid
        No reason, or one that is too long.
    NotFound, Forbidden, Conflict
        Out of sight, not this role's, or taken back already.
    """
    told = reason_given(reason, longest=LONGEST_REASON)
    with store.begin() as unit:
        round_to_change(unit, actor, round_id, verb=Verb.KEEP_REGISTER)
        note = spoken_notes.note_by_uid(unit, uid)
        if note is None or note.round_id != round_id:
            raise NotFound()
        if note.taken_back_at is not None:
            raise Conflict("This spoken note was taken back already", remedy="It stays on record.")
        spoken_notes.take_back(unit, note.id, reason=told, by=actor.person_id, now=now)
        _note(unit, actor, "take spoken note back", note, now=now, after={"note": uid, "reason": told})
        unit.session.expire_all()
        return _again(unit, uid)


def _stored(unit: Unit, sent: SentNote, round_id: int, content_hash: str) -> SpokenNote | None:
    """What an earlier send of the same has become.

    Raises
    ------
    Conflict
        The id names a note of other bytes, another round or another place.
    """
    before = spoken_notes.note_by_uid(unit, sent.uid)
    if before is None:
        return None
    same_place = before.row_uid == sent.row_uid and sent.stop_id in (None, before.stop_id)
    if before.content_hash != content_hash or before.round_id != round_id or not same_place:
        raise Conflict(
            "This id names another spoken note already; nothing was stored",
            remedy="Send the note under an id of its own.",
        )
    return before


def _place(sent: SentNote, places: Places) -> tuple[StopPlace, RowPlace | None]:
    """The stop that it speaks of, and the row where it speaks of one.

    Raises
    ------
    Invalid
        None was named, both were, or one that is not of this round.
    """
    stops = {stop.stop_id: stop for stop in places.stops}
    if bool(sent.row_uid) == (sent.stop_id is not None):
        said = "A note speaks of one row or of one stop."
        raise Invalid([problem("row_uid", "", said, "Name a row_uid or a stop_id.", where="query")])
    if sent.stop_id is not None:
        if sent.stop_id in stops:
            return stops[sent.stop_id], None
        raise Invalid([_not_here("stop_id", str(sent.stop_id), "stop")])
    row = next((row for row in places.rows if row.row_uid == sent.row_uid), None)
    if row is None:
        raise Invalid([_not_here("row_uid", sent.row_uid, "row")])
    return stops[row.stop_id], row


def _not_here(field_name: str, found: str, noun: str) -> Problem:
    said = f"This {noun} is not of this round."
    return problem(field_name, found, said, f"Name a {noun} of it.", where="query")


def _add(
    unit: Unit,
    actor: Actor,
    round_: Round,
    sent: SentNote,
    *,
    stop: StopPlace,
    row: RowPlace | None,
    file: dict[str, Any],
    now: datetime,
) -> SpokenNote:
    place = {
        "round_id": round_.id,
        "site_id": stop.site_id,
        "stop_id": stop.stop_id,
        "row_id": None if row is None else row.row_id,
        "point_id": None if row is None else row.point_id,
    }
    came = {
        "taken_at": instants_of(round_, sent.skew_s, now=now)(sent.device_time, stop.zone),
        "received_at": now,
        "by_person_id": actor.person_id,
    }
    spoken_notes.add_note(unit, {"uid": sent.uid} | place | file | came)
    note = _again(unit, sent.uid)
    after = {"note": note.uid, "stop": note.stop_id, "row": note.row_uid, "content_hash": note.content_hash}
    _note(unit, actor, "keep spoken note", note, now=now, after=after)
    return note


def _again(unit: Unit, uid: str) -> SpokenNote:
    note = spoken_notes.note_by_uid(unit, uid)
    assert note is not None
    return note


def _note(
    unit: Unit, actor: Actor, verb: str, note: SpokenNote, *, now: datetime, after: dict[str, Any]
) -> None:
    audit.note(
        unit,
        actor,
        verb=verb,
        noun="round",
        noun_id=note.round_id,
        site_id=note.site_id,
        now=now,
        after=after,
    )
