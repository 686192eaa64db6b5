"""What pages say of pictures: where each belongs and how that was found, and the lists to choose from."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.domain.picture_places import BESIDE_A_STOP, NEAREST_READING, Places
from service.domain.pictures import MatchedBy, Picture, PictureKind
from service.pages import view
from service.usecases.pictures.change import place_of
from service.usecases.pictures.see import PictureVisit, PointPictures, RoundPictures

PAIR = (PictureKind.THERMAL, PictureKind.VISIBLE)
KINDS = (
    (PictureKind.THERMAL.value, "Thermal"),
    (PictureKind.VISIBLE.value, "Visible"),
    (PictureKind.DRAWING.value, "Drawing"),
)
_FOUND = {
    MatchedBy.APP: "placed when it was taken",
    MatchedBy.CODE: "placed by the code in its name",
    MatchedBy.TIME: "placed by its time",
    MatchedBy.HAND: "placed by hand",
}
#: pictures without a place that one form asks about
MOST_ASKED = 20


@dataclass(frozen=True, slots=True)
class Shown:
    """A picture as a page shows it: its words beside it, and what it is for those who do not see it."""

    picture: Picture
    caption: str
    told: str
    alt: str


@dataclass(frozen=True, slots=True)
class Choice:
    """A group of places to choose from: a stop with its rows, or what was met off the round."""

    title: str
    options: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class StopPictures:
    title: str
    pictures: tuple[Shown, ...]


def of_what(picture: Picture) -> str:
    """L2 of MCC1-F03, a stop, a finding: what a picture shows, as far as it is known."""
    if picture.point_tag:
        return picture.point_tag
    if picture.finding_id is not None:
        return f"finding {picture.finding_id}"
    return "a whole stop" if picture.stop_id is not None else "no place yet"


def when(picture: Picture) -> str:
    if picture.taken_at is None:
        return f"time not known, came {view.moment(picture.received_at, picture.zone)}"
    return view.moment(picture.taken_at, picture.zone)


def shown(picture: Picture) -> Shown:
    kind, drawn = view.sentence_case(picture.kind.value), picture.kind is PictureKind.DRAWING
    how = _FOUND[picture.matched] if picture.matched is not None else "not placed"
    code = f" ({picture.code})" if picture.code else ""
    first = f"; the first of {picture.frames} in its file" if picture.frames > 1 else ""
    return Shown(
        picture=picture,
        caption=f"{kind}, {of_what(picture)}",
        told=f"{when(picture)}; {how}{code}{first}",
        alt=f"{kind} of {of_what(picture)}, {when(picture)}"
        if drawn
        else f"{kind} picture of {of_what(picture)}, {when(picture)}",
    )


def all_shown(pictures: Sequence[Picture]) -> tuple[Shown, ...]:
    return tuple(shown(picture) for picture in pictures)


# ---- of a round ---------------------------------------------------------------------------


def round_title(seen: RoundPictures) -> str:
    if not seen.pictures:
        return f"No pictures of {seen.round.code} yet"
    count = view.sentence_case(view.counted_in_words(len(seen.pictures), "picture"))
    lost = sum(not picture.placed for picture in seen.pictures)
    if not lost:
        return f"{count}, each in its place"
    return f"{count}, {view.number_word(lost)} without a place"


def window_words(seen: RoundPictures) -> str:
    """How pictures find their place, with the clock they are put right by."""
    minutes, beside = (int(span.total_seconds() // 60) for span in (NEAREST_READING, BESIDE_A_STOP))
    rule = (
        f"A picture finds its place by the number typed with a reading, a point’s tag or a sheet’s code in its"
        f" name; else by its time: the nearest reading within {minutes} minutes, or the one stop that was being"
        f" read, {beside} minutes on either side."
    )
    if not seen.ahead_s:
        return f"{rule} The camera’s clock is taken as right."
    word = "ahead" if seen.ahead_s > 0 else "behind"
    return f"{rule} The camera’s clock is put right by {abs(seen.ahead_s):g} s, which it is {word}."


def by_stop(seen: RoundPictures) -> tuple[StopPictures, ...]:
    """Placed pictures in walking order; those of parts met off the round come last."""
    parts = [
        StopPictures(
            f"{stop.position}. {stop.title}",
            all_shown([one for one in seen.pictures if one.stop_id == stop.stop_id]),
        )
        for stop in seen.places.stops
    ]
    off = [one for one in seen.pictures if one.finding_id is not None]
    parts.append(StopPictures("Met off the round", all_shown(off)))
    return tuple(part for part in parts if part.pictures)


def choices(places: Places) -> tuple[Choice, ...]:
    """Every place a picture of a round may be given."""
    found = [
        Choice(
            f"{stop.position}. {stop.title}",
            (
                (f"stop {stop.stop_id}", "The whole stop"),
                *(
                    (f"row {row.row_uid}", f"{row.tag}, {row.name}")
                    for row in places.rows
                    if row.stop_id == stop.stop_id
                ),
            ),
        )
        for stop in places.stops
    ]
    if places.findings:
        off = tuple((f"finding {one.finding_id}", one.title) for one in places.findings)
        found.append(Choice("Met off the round", off))
    return tuple(found)


# ---- of a point ---------------------------------------------------------------------------


def point_title(seen: PointPictures) -> str:
    count = sum(len(visit.pictures) for visit in seen.visits)
    if not count:
        return "No pictures of this point yet"
    return f"{view.sentence_case(view.counted_in_words(count, 'picture'))} from {view.counted_in_words(len(seen.visits), 'visit')}"


def point_crumbs(seen: PointPictures) -> tuple[tuple[str, str], ...]:
    place = seen.place
    return (
        ("Equipment", "/equipment"),
        (place.equipment, f"/equipment/{place.equipment_id}"),
        (place.tag, f"/points/{place.point_id}"),
    )


def visit_words(visit: PictureVisit, zone: str) -> str:
    day = view.day(visit.at, zone)
    return f"{day}, {visit.code}" if visit.code else f"{day}, with a finding"


def pair_of(visit: PictureVisit, point_id: int) -> tuple[tuple[str, Shown | None], ...]:
    """The last thermal and the last visible picture of a visit, by kind; None where there is none."""
    found = {kind.value: visit.latest(kind, point_id) for kind in PAIR}
    return tuple((kind, None if one is None else shown(one)) for kind, one in found.items())


@dataclass(frozen=True, slots=True)
class LatestPair:
    """What a point's page shows of its pictures."""

    visit: PictureVisit
    words: str
    pictures: tuple[Shown, ...]
    visits: int


def latest_pair(seen: PointPictures) -> LatestPair | None:
    """The pictures of the last visit that has any; None where no visit has."""
    if not seen.visits:
        return None
    visit, point_id = seen.visits[0], seen.place.point_id
    pair = tuple(one for _, one in pair_of(visit, point_id) if one is not None)
    return LatestPair(visit, visit_words(visit, seen.place.zone), pair, len(seen.visits))


def chosen_visit(seen: PointPictures, key: str, otherwise: int) -> PictureVisit | None:
    """The visit an address names; else the one at a place in the list, latest first."""
    named = next((visit for visit in seen.visits if visit.key == key), None)
    if named is None and otherwise < len(seen.visits):
        return seen.visits[otherwise]
    return named


def current_place(picture: Picture) -> str:
    return place_of(picture)
