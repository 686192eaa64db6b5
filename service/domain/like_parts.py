"""Which points of a view are compared with which, and which of them are cold."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from service.domain.criteria import Criteria
from service.domain.seen import RangeEnd, SeenPoint, SeenView
from service.domain.words import MECHANICAL_KINDS, ReferenceKind

#: Members bound once: looking one up on its class costs more than a comparison.
_LIKE_PARTS = ReferenceKind.LIKE_PARTS
_BOTTOM = RangeEnd.BOTTOM
#: Room for the last binary digit, so that 90 A beside 100 A is "within 10 %" however written.
SLACK = 1e-9
#: Differences are rounded to this many digits before they meet an edge: 48.3 − 45.3 is 3 K.
DIGITS = 6


def is_read(point: SeenPoint) -> bool:
    """True when the point has a usable number."""
    value = point.temperature_c
    return point.not_assessable is None and value is not None and value == value


@dataclass(frozen=True, slots=True)
class LikeParts:
    """Points of one view that should read alike, and which of them are cold.

    ``left_out`` are the cold ones that do not enter their neighbours' median. Both hold
    ``id()`` of the points: two readings of one point may stand side by side. ``reference_c``
    is the reference of all of them where all are plainly alike: like currents, none cold.
    """

    points: Sequence[SeenPoint]
    cold: frozenset[int] = frozenset()
    left_out: frozenset[int] = frozenset()
    reference_c: float | None = None

    @property
    def warm(self) -> list[SeenPoint]:
        return [point for point in self.points if id(point) not in self.cold]

    @property
    def neighbours(self) -> list[SeenPoint]:
        return [point for point in self.points if id(point) not in self.left_out]


def like_parts_of(view: SeenView, criteria: Criteria) -> list[LikeParts]:
    """Points that should read alike: same kind, same component, judged over like parts.

    Bearings, couplings and motors stand alone: the two ends of a shaft do not read alike.
    The neutral has no like part.
    """
    groups: dict[object, list[SeenPoint]] = {}
    for point in view.points:
        if not is_read(point):
            continue
        alone = point.neutral or point.reference is not _LIKE_PARTS or point.kind in MECHANICAL_KINDS
        key: object = id(point) if alone else (point.kind, point.component.strip().casefold())
        groups.setdefault(key, []).append(point)
    return [_with_cold(points, view.ambient_c, criteria=criteria) for points in groups.values()]


def _with_cold(points: Sequence[SeenPoint], ambient_c: float | None, *, criteria: Criteria) -> LikeParts:
    """Name the cold parts, and leave them out of their neighbours' median if they are few.

    Where half of a view is cold it may as well be the other half that is hot, and hiding that
    would clear it. Of two, rule 6 itself says which one is the fault.
    """
    if len(points) < 2:
        return LikeParts(points)
    ordered = sorted([temperature(point) for point in points])
    reference_c = ordered[0] if len(ordered) == 2 else middle_of(ordered)
    spread_k = ordered[-1] - ordered[0]
    if _plainly_alike(points, under_k=reference_c - ordered[0], spread_k=spread_k, criteria=criteria):
        return LikeParts(points, reference_c=reference_c)
    cold = cold_parts(points, ambient_c, criteria=criteria)
    few = 2 * len(cold) < len(points) or (len(points) == 2 and len(cold) == 1)
    return LikeParts(points, cold, cold if few else frozenset())


def _plainly_alike(
    points: Sequence[SeenPoint], *, under_k: float, spread_k: float, criteria: Criteria
) -> bool:
    """True when nothing sets the points of a group apart, so that one median serves them all.

    ``under_k`` is how far the coolest lies below the reference, ``spread_k`` below the hottest.
    """
    amps = [point.current_a for point in points if point.current_a is not None]
    if amps and max(amps) - min(amps) > criteria.equal_current_share * min(amps):
        return False
    if (spread_k if len(points) == 2 else under_k) > criteria.cold_k:
        return False
    return all(point.range_end is not _BOTTOM for point in points)


def temperature(point: SeenPoint) -> float:
    """Temperature of a point that ``is_read`` [°C]."""
    assert point.temperature_c is not None
    return point.temperature_c


def like_currents(point: SeenPoint, other: SeenPoint, *, share: float) -> bool:
    """True when the other's current lies within a share of the point's own, or one is not known."""
    own, its = point.current_a, other.current_a
    return own is None or its is None or abs(its - own) <= share * own + SLACK * abs(own)


def peers_of(point: SeenPoint, group: LikeParts, *, share: float) -> tuple[SeenPoint, ...]:
    """Like parts that enter the median of a point (rule 0), itself included."""
    if group.reference_c is not None:
        return tuple(group.points)
    return tuple(
        other
        for other in group.points
        if other is point
        or (
            id(other) not in group.left_out
            and other.range_end is not _BOTTOM
            and like_currents(point, other, share=share)
        )
    )


def rise_over(point: SeenPoint, peers: Sequence[SeenPoint], *, group: LikeParts) -> float:
    """Reading minus the median of its peers; of two, minus the cooler (rule 0) [K]."""
    reference_c = group.reference_c
    if reference_c is None:
        ordered = sorted(temperature(other) for other in peers)
        reference_c = ordered[0] if len(ordered) == 2 else middle_of(ordered)
    return round(temperature(point) - reference_c, DIGITS)


def difference_of(point: SeenPoint, peers: Sequence[SeenPoint]) -> list[tuple[SeenPoint, float]]:
    """Parts that enter a rise over like parts, with their coefficients (summing to 0).

    The same weights as :func:`service.physics.median_weights.median_weights`. A part that is in
    the middle itself differs from it by nothing, which says nothing of how sure that is: it keeps
    its whole weight, and its place in the median goes to the next part in order.
    """
    if len(peers) == 2:
        return [(point, 1.0), (peers[0] if peers[1] is point else peers[1], -1.0)]
    ordered = sorted(peers, key=temperature)
    half, odd = divmod(len(ordered), 2)
    if odd:
        middle = ordered[half]
        if middle is point:
            below, above = ordered[half - 1], ordered[half + 1]
            own = temperature(point)
            middle = below if own - temperature(below) <= temperature(above) - own else above
        return [(point, 1.0), (middle, -1.0)]
    low, high = half - 1, half
    if ordered[low] is point:
        low = half - 2
    elif ordered[high] is point:
        high = half + 1
    return [(point, 1.0), (ordered[low], -0.5), (ordered[high], -0.5)]


def middle_of(ordered: Sequence[float]) -> float:
    """Median of values already in order."""
    half, odd = divmod(len(ordered), 2)
    return ordered[half] if odd else (ordered[half - 1] + ordered[half]) / 2


def cold_parts(points: Sequence[SeenPoint], ambient_c: float | None, *, criteria: Criteria) -> frozenset[int]:
    """Parts colder than their like parts, or nearly without their current (rule 6), by ``id()``.

    A part whose own current is smaller is expected cooler; it is cold only if it lies below
    what plain heating by the square of the current, the lowest expectation, would give it.
    """
    return frozenset(
        id(point)
        for point in points
        if _lacks_current(point, points, criteria=criteria)
        or _lacks_heat(point, points, ambient_c=ambient_c, criteria=criteria)
    )


def _lacks_current(point: SeenPoint, group: Sequence[SeenPoint], *, criteria: Criteria) -> bool:
    if point.current_a is None:
        return False
    others = [q.current_a for q in group if q is not point and q.current_a is not None]
    return bool(others) and point.current_a < criteria.cold_current_share * median(others) * (1 - SLACK)


def _lacks_heat(
    point: SeenPoint, group: Sequence[SeenPoint], *, ambient_c: float | None, criteria: Criteria
) -> bool:
    own = temperature(point)
    if len(group) == 2:
        other = group[0] if group[1] is point else group[1]
        if ambient_c is None or own - ambient_c >= criteria.cold_twin_air_k:
            return False
        if temperature(other) - ambient_c <= criteria.cold_twin_other_k:
            return False
        middle = temperature(other)
    else:
        middle = middle_of(sorted(temperature(q) for q in group))
    if criteria.cold.place(round(middle - own, DIGITS)) == 0:
        return False
    return not _explained_by_load(point, group, ambient_c=ambient_c, middle_c=middle, criteria=criteria)


def _explained_by_load(
    point: SeenPoint,
    group: Sequence[SeenPoint],
    *,
    ambient_c: float | None,
    middle_c: float,
    criteria: Criteria,
) -> bool:
    others = [q.current_a for q in group if q is not point and q.current_a is not None]
    if point.current_a is None or not others:
        return False
    usual = median(others)
    ratio = point.current_a / usual if usual else 1.0
    if ratio >= 1 - criteria.equal_current_share - SLACK:
        return False
    if ambient_c is None:
        return True
    expected = ambient_c + (middle_c - ambient_c) * ratio**2
    return criteria.cold.place(round(expected - temperature(point), DIGITS)) == 0
