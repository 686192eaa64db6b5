"""Days kept free for outdoor readings that the weather spoils: which one, for which walks, and until when."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from service.domain.plans import PlanBody, Walk


class Reserve(StrEnum):
    """How a walk came to be kept free, or not to be."""

    NONE = ""
    PLANNED = "planned"
    BY_HAND = "by hand"
    GIVEN_UP = "given up"

    @property
    def kept(self) -> bool:
        return self in (Reserve.PLANNED, Reserve.BY_HAND)


@dataclass(frozen=True, slots=True)
class ReserveDay:
    """A walk kept free, and the walks before it that have outdoor stops.

    ``walked`` says that all of these came back, so that it is free again.
    """

    walk: Walk
    stands_for: tuple[Walk, ...]
    walked: bool


def is_kept(walk: Walk) -> bool:
    return Reserve(walk.reserve).kept and not walk.lost


def outdoor_stops(walk: Walk, outdoor: Collection[int]) -> int:
    """Stops of a walk that stand outdoors."""
    return sum(stop.equipment_id in outdoor for stop in walk.stops)


def reserve_days(body: PlanBody, outdoor: Collection[int], walked: Collection[str]) -> tuple[ReserveDay, ...]:
    """The days kept free in a plan.

    Parameters
    ----------
    body : PlanBody
    outdoor : collection of int
        Equipment that stands outdoors.
    walked : collection of str
        Keys of walks whose round has come back.
    """
    found = []
    for walk in body.walks:
        if is_kept(walk):
            before = tuple(
                one
                for one in body.walks
                if one.person_id == walk.person_id and one.day < walk.day and outdoor_stops(one, outdoor)
            )
            back = bool(before) and all(one.key in walked for one in before)
            found.append(ReserveDay(walk, before, back))
    return tuple(found)


def let_go(
    body: PlanBody, outdoor: Collection[int], walked: Collection[str], *, spoiled: Collection[str] = ()
) -> PlanBody:
    """The plan without reserve days that are over: their walks came back or moved, or the weather calls for them.

    ``spoiled`` are keys of walks whose outdoor stops the weather spoils.
    """
    gone = [
        replace(one.walk, reserve=Reserve.NONE.value)
        for one in reserve_days(body, outdoor, walked)
        if one.walked
        or any(walk.key in spoiled for walk in one.stands_for)
        or (not one.stands_for and one.walk.reserve == Reserve.PLANNED)
    ]
    return body.with_walks(gone)


def with_reserve_days(body: PlanBody, outdoor: Collection[int]) -> PlanBody:
    """The plan with a day kept free for everybody who reads outdoors and has none.

    Notes
    -----
    An empty day after the last outdoor one, the nearest first; else the day after it whose stops
    are worth least; else the last day that is not the first outdoor one. Its stops go back into
    the pool. Who was given up by hand, or walks one day only, gets none.
    """
    people: dict[int, list[Walk]] = {}
    for walk in sorted(body.walks, key=lambda one: (one.day, one.key)):
        people.setdefault(walk.person_id, []).append(walk)
    chosen = [one for walks in people.values() for one in [_chosen(walks, outdoor)] if one is not None]
    return body.with_walks(replace(walk.emptied, reserve=Reserve.PLANNED.value) for walk in chosen)


def _chosen(walks: Sequence[Walk], outdoor: Collection[int]) -> Walk | None:
    out = [walk for walk in walks if walk.open and outdoor_stops(walk, outdoor)]
    if not out or any(walk.reserve for walk in walks):
        return None
    free = [walk for walk in walks if walk.open and not any(stop.held for stop in walk.stops)]
    after = [walk for walk in free if walk.day > out[-1].day]
    if after:
        return min(after, key=lambda walk: (bool(walk.stops), _worth(walk), walk.day))
    late = [walk for walk in free if walk.day > out[0].day]
    return late[-1] if late else None


def _worth(walk: Walk) -> int:
    return sum(stop.worth for stop in walk.stops)


def emptied(before: PlanBody, after: PlanBody) -> bool:
    """True when keeping days free has taken stops off them."""
    return before.on_walks != after.on_walks


def days_after_reserve(walks: Iterable[Walk]) -> frozenset[str]:
    """Keys of walks that come after the reserve day of their person: outdoor stops go before it."""
    every = tuple(walks)
    kept = {walk.person_id: walk.day for walk in every if is_kept(walk)}
    return frozenset(walk.key for walk in every if walk.day > kept.get(walk.person_id, walk.day))
