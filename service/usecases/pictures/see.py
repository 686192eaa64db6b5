"""Look at pictures: of a round, of a point through its visits, of a finding, and one by itself."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.permissions import Verb, may, require
from service.domain.picture_places import Places
from service.domain.pictures import Picture, PictureKind
from service.domain.rasters import PointPlace
from service.domain.rounds import Round
from service.errors import NotFound
from service.storage import phrases, pictures, rasters
from service.storage.files import Shelf
from service.storage.pictures import VisitTemperature
from service.storage.unit import Store
from service.usecases.condition.overview import sight_of
from service.usecases.pictures.sight import (
    finding_for_pictures,
    may_change,
    picture_to_see,
    takes_pictures,
)
from service.usecases.rounds.sight import round_to_see


@dataclass(frozen=True, slots=True)
class RoundPictures:
    """The pictures of a round and all that they may be of; ``ahead_s`` is the camera's clock [s]."""

    round: Round
    pictures: tuple[Picture, ...]
    places: Places
    ahead_s: float
    may_bring: bool


@dataclass(frozen=True, slots=True)
class PictureVisit:
    """What was taken of a view on one visit, and what was typed there."""

    key: str
    code: str
    at: datetime
    pictures: tuple[Picture, ...]
    temperatures: tuple[VisitTemperature, ...]

    def latest(self, kind: PictureKind, point_id: int) -> Picture | None:
        """The last one of a kind, of this point before one of its like parts."""
        of_kind = [one for one in self.pictures if one.kind is kind]
        own = [one for one in of_kind if one.point_id == point_id]
        return next(reversed(own or of_kind), None)


@dataclass(frozen=True, slots=True)
class PointPictures:
    """Pictures of a point's view, visit by visit, latest first."""

    place: PointPlace
    visits: tuple[PictureVisit, ...]


@dataclass(frozen=True, slots=True)
class SeenPicture:
    """One picture, where it may belong, and the phrases for its note."""

    picture: Picture
    place: PointPlace | None
    places: Places
    phrases: tuple[str, ...]
    may_change: bool


@dataclass(frozen=True, slots=True)
class FindingPictures:
    finding_id: int
    pictures: tuple[Picture, ...]
    may_bring: bool


def list_round_pictures(store: Store, actor: Actor, round_id: int) -> RoundPictures:
    """Pictures of a round that stand, in the order in which they were taken.

    Raises
    ------
    NotFound
        Absent or out of sight.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id)
        return RoundPictures(
            round=round_,
            pictures=pictures.pictures_of_round(unit, round_id),
            places=pictures.places_of_round(unit, round_id),
            ahead_s=pictures.clock_ahead_s(unit, round_id),
            may_bring=takes_pictures(actor, round_),
        )


def list_point_pictures(store: Store, actor: Actor, point_id: int) -> PointPictures:
    """Pictures of a point and its like parts, visit by visit, in a constant number of queries.

    Raises
    ------
    NotFound
        Absent or out of sight.
    """
    require(actor, Verb.SEE)
    if actor.only_round is not None:
        raise NotFound()
    with store.look() as unit:
        seen = pictures.view_in_sight(unit, sight_of(actor), point_id)
        if seen is None:
            raise NotFound()
        found = pictures.pictures_of_view(unit, seen[0], site_ids=actor.site_ids)
        rounds = {one.round_id for one in found if one.round_id is not None}
        typed = pictures.temperatures_of_view(unit, seen[0], round_ids=rounds)
        return PointPictures(rasters.place_of(unit, point_id), _visits(found, typed))


def _visits(found: tuple[Picture, ...], typed: tuple[VisitTemperature, ...]) -> tuple[PictureVisit, ...]:
    groups: dict[int | None, list[Picture]] = {}
    for picture in found:
        groups.setdefault(picture.round_id, []).append(picture)
    visits = [
        PictureVisit(
            key=str(round_id or "finding"),
            code=group[0].round_code,
            at=group[0].at,
            pictures=tuple(group),
            temperatures=tuple(one for one in typed if one.round_id == round_id),
        )
        for round_id, group in groups.items()
    ]
    return tuple(sorted(visits, key=lambda visit: visit.at, reverse=True))


def list_finding_pictures(store: Store, actor: Actor, finding_id: int) -> FindingPictures:
    """Pictures of a finding, and of its point on the round that found it.

    Raises
    ------
    NotFound
        Absent or out of sight.
    """
    with store.look() as unit:
        found = finding_for_pictures(unit, actor, finding_id)
        shown = pictures.pictures_of_finding(unit, (found.id, found.point_id, found.round_id))
        return FindingPictures(found.id, shown, may(actor, Verb.OPEN_FINDING))


def see_picture(store: Store, actor: Actor, uid: str) -> SeenPicture:
    """One picture with what may be said of it; also one that was taken out.

    Raises
    ------
    NotFound
        Absent or out of sight.
    """
    with store.look() as unit:
        picture = picture_to_see(unit, actor, uid)
        change = may_change(unit, actor, picture)
        here = picture.round_id if change else None
        return SeenPicture(
            picture=picture,
            place=None if picture.point_id is None else rasters.place_of(unit, picture.point_id),
            places=Places((), (), ()) if here is None else pictures.places_of_round(unit, here),
            phrases=phrases.phrases_of_site(unit, picture.site_id),
            may_change=change,
        )


def see_file(store: Store, actor: Actor, uid: str, *, shelf: Shelf, what: str) -> tuple[Picture, bytes, str]:
    """A picture, its preview, or its spoken note: the bytes, and the kind of file they are.

    Parameters
    ----------
    what : str
        ``stored_as``, ``preview_as`` or ``voice_as``.

    Raises
    ------
    NotFound
        Absent, out of sight, or its file is gone.
    """
    with store.look() as unit:
        picture = picture_to_see(unit, actor, uid)
    name: str = getattr(picture, what)
    if not name:
        raise NotFound()
    return picture, shelf.read(name), name.rsplit(".", 1)[1]
