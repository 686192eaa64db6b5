"""Say what a picture shows, draw on its copy, speak a note to it, take it out; its pixels never change."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.domain.people import Actor
from service.domain.picture_places import Match, Places
from service.domain.pictures import LONGEST_NOTE, Mark, MatchedBy, Picture, PictureKind, marks_problems
from service.errors import Conflict, Invalid, Problem
from service.intake.pictures import read_voice
from service.storage import audit, pictures
from service.storage.files import Shelf, shelf_name
from service.storage.unit import Store, Unit
from service.usecases.pictures.bring import placed
from service.usecases.pictures.sight import picture_to_change, picture_to_speak_to, round_to_add_to

ROOM = "voices"
LONGEST_REASON = 200


@dataclass(frozen=True, slots=True)
class PictureWish:
    """What is to be said of a picture; None leaves it as it is.

    ``place`` is ``row <uid>``, ``stop <id>``, ``finding <id>``, or empty for no place.
    """

    place: str | None = None
    kind: PictureKind | None = None
    note: str | None = None
    marks: tuple[Mark, ...] | None = None


def change_picture(
    store: Store, actor: Actor, uid: str, wish: PictureWish, *, version: int, now: datetime
) -> Picture:
    """Place a picture by hand, name its kind, write its note, draw on its copy.

    Parameters
    ----------
    store, actor, uid
        Where, who, and which picture.
    wish : PictureWish
        What is to change.
    version : int
        The version that was read.
    now : datetime
        The instant of the request.

    Raises
    ------
    Invalid
        A place that is not of its round, a note that is too long, a mark outside; nothing is stored.
    NotFound, Forbidden, Conflict
        Out of sight, not this role's, or the round takes no more.
    Stale
        Somebody changed it since ``version``.
    """
    with store.begin() as unit:
        picture = picture_to_change(unit, actor, uid)
        _apply(unit, actor, picture, wish, version=version, now=now)
        return _now(unit, uid)


def place_pictures(
    store: Store,
    actor: Actor,
    round_id: int,
    wanted: Mapping[str, tuple[str, int]],
    *,
    now: datetime,
) -> int:
    """Place several pictures of a round by hand, all or none; how many were moved.

    Parameters
    ----------
    wanted : mapping
        By picture: its place (as in `PictureWish`) and the version that was read.

    Raises
    ------
    Invalid
        A place that is not of this round.
    NotFound, Forbidden, Conflict, Stale
        As for one.
    """
    with store.begin() as unit:
        round_to_add_to(unit, actor, round_id)
        moved = 0
        for uid, (place, version) in wanted.items():
            picture = picture_to_change(unit, actor, uid)
            if picture.round_id != round_id:
                raise Conflict("This picture is of another round", remedy="Place it there.")
            if place != place_of(picture):
                _apply(unit, actor, picture, PictureWish(place=place), version=version, now=now)
                moved += 1
        return moved


def place_of(picture: Picture) -> str:
    """Where it is placed, in the words of a form."""
    if picture.row_uid:
        return f"row {picture.row_uid}"
    if picture.finding_id is not None:
        return f"finding {picture.finding_id}"
    return "" if picture.stop_id is None else f"stop {picture.stop_id}"


def retire_picture(
    store: Store, actor: Actor, uid: str, *, reason: str, version: int, now: datetime
) -> Picture:
    """Take a picture out of every page but its own; it stays on record.

    Raises
    ------
    Invalid
        No reason, or a long one.
    NotFound, Forbidden, Conflict, Stale
        As for any change.
    """
    said = reason.strip()
    if not said or len(said) > LONGEST_REASON:
        raise Invalid(
            [
                Problem(
                    "form",
                    "reason",
                    said[:60],
                    f"A reason is needed, of at most {LONGEST_REASON} letters.",
                    "Say why it is taken out, for example: of another board.",
                )
            ]
        )
    with store.begin() as unit:
        picture = picture_to_change(unit, actor, uid)
        fields = {"retired_at": now, "retired_reason": said}
        _write(unit, actor, picture, fields, verb="take picture out", version=version, now=now)
        return _now(unit, uid)


def keep_voice(
    store: Store, actor: Actor, uid: str, *, content: bytes, shelf: Shelf, round_id: int | None, now: datetime
) -> Picture:
    """Keep a spoken note with a picture, as it came; the same again is the same.

    Parameters
    ----------
    content : bytes
        WebM, Ogg or MP4 sound, at most 2 MiB.
    round_id : int or None
        The round that the address names, if it names one; the picture must be of it.

    Raises
    ------
    Invalid
        Why it is no recording.
    NotFound, Forbidden
        Out of sight and not taken by this person on a walk of theirs, or not this role's.
    Conflict
        There is another one already, or the picture is of another round.
    """
    with store.begin() as unit:
        picture_to_speak_to(unit, actor, uid, round_id=round_id)
    kind = read_voice(content)
    content_hash = hashlib.sha256(content).hexdigest()
    name = shelf_name(ROOM, content_hash, kind)
    shelf.keep(name, content)
    with store.begin() as unit:
        picture = picture_to_speak_to(unit, actor, uid, round_id=round_id)
        if round_id is not None and picture.round_id != round_id:
            raise Conflict("This picture is of another round", remedy="Send it to its own.")
        if picture.voice_as and picture.voice_as != name:
            raise Conflict(
                "This picture has a spoken note already", remedy="Write what is to be added into its note."
            )
        if not picture.voice_as:
            fields = {"voice_as": name}
            _write(unit, actor, picture, fields, verb="speak note", version=picture.version, now=now)
        return _now(unit, uid)


def _apply(
    unit: Unit, actor: Actor, picture: Picture, wish: PictureWish, *, version: int, now: datetime
) -> None:
    fields: dict[str, Any] = {}
    problems: list[Problem] = []
    if wish.place is not None and wish.place != place_of(picture):
        fields |= _place(unit, picture, wish.place, problems)
    if wish.kind is not None:
        fields["kind"] = wish.kind.value
    if wish.note is not None:
        fields["note"] = wish.note.strip()
        problems += _note_problems(wish.note)
    if wish.marks is not None:
        fields["marks"] = [mark.as_dict() for mark in wish.marks]
        problems += marks_problems(wish.marks)
    if problems:
        raise Invalid(problems)
    _write(unit, actor, picture, fields, verb="describe picture", version=version, now=now)


def _place(unit: Unit, picture: Picture, place: str, problems: list[Problem]) -> dict[str, Any]:
    places = (
        Places((), (), ()) if picture.round_id is None else pictures.places_of_round(unit, picture.round_id)
    )
    found = by_hand(place, places)
    if place and found is None:
        problems.append(
            Problem("form", "place", place[:60], "This is not of its round.", "Choose one from the list.")
        )
    site = next((stop.site_id for stop in places.stops if found and stop.stop_id == found.stop_id), None)
    return placed(found) | ({"site_id": site} if site is not None else {})


def by_hand(place: str, places: Places) -> Match | None:
    """The place that somebody chose from the list; None where it is not in it."""
    noun, _, name = place.partition(" ")
    for row in places.rows:
        if noun == "row" and row.row_uid == name:
            return Match(MatchedBy.HAND, row=row, stop_id=row.stop_id)
    for stop in places.stops:
        if noun == "stop" and str(stop.stop_id) == name:
            return Match(MatchedBy.HAND, stop_id=stop.stop_id)
    for finding in places.findings:
        if noun == "finding" and str(finding.finding_id) == name:
            return Match(MatchedBy.HAND, finding=finding)
    return None


def _note_problems(note: str) -> Sequence[Problem]:
    if len(note.strip()) <= LONGEST_NOTE:
        return ()
    return (
        Problem(
            "form",
            "note",
            note[:60],
            f"A note has at most {LONGEST_NOTE} letters.",
            "Shorten it; a finding takes more.",
        ),
    )


def _write(
    unit: Unit,
    actor: Actor,
    picture: Picture,
    fields: dict[str, Any],
    *,
    verb: str,
    version: int,
    now: datetime,
) -> None:
    before = {name: _shown(getattr(picture, name)) for name in fields}
    pictures.change_picture(unit, picture, version=version, now=now, fields=fields)
    audit.note(
        unit,
        actor,
        verb=verb,
        noun="picture",
        noun_id=picture.id,
        now=now,
        site_id=picture.site_id,
        before=before,
        after=fields | {"picture": picture.uid},
    )


def _shown(value: Any) -> Any:
    return [mark.as_dict() for mark in value] if isinstance(value, tuple) else value


def _now(unit: Unit, uid: str) -> Picture:
    picture = pictures.picture_by_uid(unit, uid)
    assert picture is not None
    return picture
