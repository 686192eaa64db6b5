"""Bring a picture to a round or a finding: read whole or refused, drawn anew, kept once, placed where it belongs."""

import hashlib
import secrets
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.picture_places import Match, Places, camera_instant, match_picture
from service.domain.pictures import MatchedBy, Picture, PictureKind, TimeFrom
from service.domain.rounds import Round
from service.errors import Conflict, Invalid, Problem
from service.intake.pictures import ReadPicture, read_picture
from service.storage import audit, pictures
from service.storage.files import Shelf, shelf_name
from service.storage.unit import Store, Unit
from service.usecases.field.keep import instants_of
from service.usecases.pictures.sight import finding_for_pictures, round_to_bring_to

ROOM = "pictures"
LONGEST_FILE_NAME = 200


@dataclass(frozen=True, slots=True)
class Sent:
    """A picture as it is sent, with what its sender says of it.

    ``uid`` is the sender's own, or empty: then equal bytes on one round are one picture.
    ``row_uid`` and ``stop_id`` are told by a device that knows what it is taking a picture of;
    ``skew_s`` is how far the clock that ``taken_at`` is from was ahead [s], None where nobody measured it.
    """

    content: bytes
    file_name: str = ""
    uid: str = ""
    kind: PictureKind = PictureKind.THERMAL
    row_uid: str = ""
    stop_id: int | None = None
    taken_at: datetime | None = None
    time_from: TimeFrom = TimeFrom.DEVICE
    skew_s: float | None = None
    hash: str = field(default="", init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "hash", hashlib.sha256(self.content).hexdigest())


@dataclass(frozen=True, slots=True)
class Brought:
    """The stored picture; ``again`` when it was there already."""

    picture: Picture
    again: bool


def bring_picture(
    store: Store, actor: Actor, round_id: int, sent: Sent, *, shelf: Shelf, now: datetime
) -> Brought:
    """Keep a picture with a round.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who walked the round, until it is signed off; an engineer at any time.
    round_id : int
        The round.
    sent : Sent
        The bytes, and what their sender says of them.
    shelf : Shelf
        Where the pixels are kept.
    now : datetime
        The instant it was received.

    Returns
    -------
    Brought
        The same when the same comes again.

    Raises
    ------
    Invalid
        Why it is no picture, or a row or stop that is not of this round; nothing was stored.
    NotFound, Forbidden
        Out of sight, or not this role's.
    Conflict
        The round takes no more, or the id names another picture.
    """
    with store.begin() as unit:
        round_to_bring_to(unit, actor, round_id)
        before = _stored(unit, sent, round_id)
        if before is not None:
            return Brought(before, again=True)
        _told_place(sent, pictures.places_of_round(unit, round_id))
    read = read_picture(sent.content)
    files = _keep(shelf, read)
    with store.begin() as unit:
        round_ = round_to_bring_to(unit, actor, round_id)
        before = _stored(unit, sent, round_id)
        if before is not None:
            return Brought(before, again=True)
        places = pictures.places_of_round(unit, round_id)
        zone = places.stops[0].zone if places.stops else "UTC"
        ahead_s = pictures.clock_ahead_s(unit, round_id)
        sent = replace(sent, taken_at=_put_right(sent, round_, now=now))
        taken_at, time_from = _time(sent, read, zone=zone, ahead_s=ahead_s)
        found = _told_place(sent, places) or match_picture(sent.file_name, taken_at, places)
        return _add(
            unit,
            actor,
            sent,
            read=read,
            now=now,
            fields=files
            | placed(found)
            | {
                "round_id": round_.id,
                "site_id": _site(found, places),
                "taken_at": taken_at,
                "time_from": time_from,
            },
        )


def bring_to_finding(
    store: Store, actor: Actor, finding_id: int, sent: Sent, *, shelf: Shelf, now: datetime
) -> Brought:
    """Keep a picture with a finding, also of a hot part met off the round.

    Raises
    ------
    Invalid
        Why it is no picture; nothing was stored.
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    with store.look() as unit:
        finding_for_pictures(unit, actor, finding_id, verb=Verb.OPEN_FINDING)
    read = read_picture(sent.content)
    files = _keep(shelf, read)
    with store.begin() as unit:
        found = finding_for_pictures(unit, actor, finding_id, verb=Verb.OPEN_FINDING)
        before = pictures.picture_sent(unit, sent.hash, of=pictures.of_finding(finding_id))
        if before is not None:
            return Brought(before, again=True)
        taken_at, time_from = _time(sent, read, zone=found.time_zone, ahead_s=0.0)
        place = {"finding_id": finding_id, "matched": MatchedBy.HAND.value, "code": ""}
        place |= {"site_id": found.site_id, "taken_at": taken_at, "time_from": time_from}
        return _add(unit, actor, sent, read=read, now=now, fields=files | place)


def placed(found: Match | None) -> dict[str, Any]:
    """The columns that say where a picture belongs."""
    row, finding = (None, None) if found is None else (found.row, found.finding)
    return {
        "stop_id": None if found is None else found.stop_id,
        "row_id": None if row is None else row.row_id,
        "point_id": None if row is None else row.point_id,
        "view_id": None if row is None else row.view_id,
        "finding_id": None if finding is None else finding.finding_id,
        "code": "" if found is None else found.code,
        "matched": None if found is None else found.matched.value,
    }


def plain_name(file_name: str) -> str:
    """The last part of the sender's name for it, printable."""
    last = file_name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(sign for sign in last if sign.isprintable()).strip()[-LONGEST_FILE_NAME:]


def _stored(unit: Unit, sent: Sent, round_id: int) -> Picture | None:
    """What an earlier send of the same has become.

    Raises
    ------
    Conflict
        The id names a picture of other bytes, or of another round.
    """
    if not sent.uid:
        return pictures.picture_sent(unit, sent.hash, of=pictures.of_round(round_id))
    before = pictures.picture_by_uid(unit, sent.uid)
    if before is not None and (before.sent_hash != sent.hash or before.round_id != round_id):
        raise Conflict(
            "This id names another picture already; nothing was stored",
            remedy="Send the picture under an id of its own.",
        )
    return before


def _told_place(sent: Sent, places: Places) -> Match | None:
    """The place that the sender names; None where it names none.

    Raises
    ------
    Invalid
        It is not of this round.
    """
    row = next((row for row in places.rows if row.row_uid == sent.row_uid), None) if sent.row_uid else None
    stop = next((stop for stop in places.stops if stop.stop_id == sent.stop_id), None)
    problems = []
    if sent.row_uid and row is None:
        problems.append(_not_here("row_uid", sent.row_uid, "row"))
    if sent.stop_id is not None and stop is None:
        problems.append(_not_here("stop_id", str(sent.stop_id), "stop"))
    if problems:
        raise Invalid(problems)
    if row is not None:
        return Match(MatchedBy.APP, row=row, stop_id=row.stop_id)
    return None if stop is None else Match(MatchedBy.APP, stop_id=stop.stop_id)


def _not_here(field_name: str, found: str, noun: str) -> Problem:
    return Problem(
        "query", field_name, found, f"This {noun} is not of this round.", f"Name a {noun} of it, or none."
    )


def _keep(shelf: Shelf, read: ReadPicture) -> dict[str, Any]:
    """The pixels on the shelf, before the row that names them: a crash leaves a file that nothing names."""
    names = {}
    for column, content, kind in (
        ("stored_as", read.content, read.kind),
        ("preview_as", read.preview, "jpg"),
    ):
        content_hash = hashlib.sha256(content).hexdigest()
        names[column] = shelf_name(ROOM, content_hash, kind)
        shelf.keep(names[column], content)
    return names


def _time(
    sent: Sent, read: ReadPicture, *, zone: str, ahead_s: float
) -> tuple[datetime | None, TimeFrom | None]:
    """When it was taken: as the sender says, else by the camera's clock put right."""
    if sent.taken_at is not None:
        return sent.taken_at, sent.time_from
    if read.shot is None:
        return None, None
    return camera_instant(read.shot, zone=zone, ahead_s=ahead_s), TimeFrom.CAMERA


def _put_right(sent: Sent, round_: Round, *, now: datetime) -> datetime | None:
    """What a device says of the time, by its measured offset; None where that cannot be."""
    if sent.taken_at is None or sent.skew_s is None:
        return sent.taken_at
    return instants_of(round_, sent.skew_s, now=now)(sent.taken_at.isoformat(), "UTC")


def _site(found: Match | None, places: Places) -> int:
    if found is not None and found.finding is not None:
        return found.finding.site_id
    stop_id = None if found is None else found.stop_id
    of_stop = [stop.site_id for stop in places.stops if stop.stop_id == stop_id]
    if not places.stops:
        raise Conflict("This round has no stops", remedy="Bring pictures to a round that went out.")
    return of_stop[0] if of_stop else places.stops[0].site_id


def _add(
    unit: Unit, actor: Actor, sent: Sent, *, read: ReadPicture, now: datetime, fields: dict[str, Any]
) -> Brought:
    uid = sent.uid or secrets.token_hex(12)
    picture_id = pictures.add_picture(
        unit,
        now=now,
        uid=uid,
        kind=sent.kind.value,
        width=read.width,
        height=read.height,
        frames=read.frames,
        sent_hash=sent.hash,
        received_at=now,
        by_person_id=actor.person_id,
        file_name=plain_name(sent.file_name),
        **fields,
    )
    audit.note(
        unit,
        actor,
        verb="bring picture",
        noun="picture",
        noun_id=picture_id,
        now=now,
        site_id=fields["site_id"],
        after={name: fields.get(name) for name in ("round_id", "stop_id", "row_id", "finding_id", "matched")}
        | {"picture": uid, "file": plain_name(sent.file_name)},
    )
    kept = pictures.picture_by_uid(unit, uid)
    assert kept is not None
    return Brought(kept, again=False)
