"""An order put together by hand: timed, or the first visit that breaks a rule, and what would mend it."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.planning.day_routes import PlannedDay, planned_day
from service.planning.ground import Ground, barred
from service.planning.reasons import RULES, Code
from service.planning.walks import clock_walk, clock_without_end, walk_legs
from service.planning.ways import TENTHS

#: `ground.barred`'s word for what a hand may do to its own walk
_OWN = frozenset({"pin", "frozen"})


@dataclass(frozen=True, slots=True)
class Broken:
    """The first visit of an order that breaks a rule.

    Attributes
    ----------
    key : int
    code : Code
    arrive_min : float or None
        When it would be reached [min].
    opens_min, closes_min : float or None
        Begin of work that its load hours allow next; the last that they allow that day [min].
    over_min : float or None
        By how much the shift would be exceeded [min].
    """

    key: int
    code: Code
    arrive_min: float | None = None
    opens_min: float | None = None
    closes_min: float | None = None
    over_min: float | None = None


def time_by_hand(ground: Ground, crew_day: int, keys: Sequence[int]) -> PlannedDay | Broken:
    """Time an order of visits on a crew day.

    Parameters
    ----------
    ground : Ground
    crew_day : int
        Its key.
    keys : sequence of int
        Candidates in walking order.

    Returns
    -------
    PlannedDay or Broken

    Raises
    ------
    KeyError
        For a crew day or candidate that is not in the ground.
    """
    d = ground.day_at[crew_day]
    order = [ground.at[key] for key in keys]
    for at in order:
        one = ground.candidates[at]
        bars = barred(one, ground.days[d], gate=ground.gates.get(one.place.site)) - _OWN
        if bars:
            return Broken(one.key, next(code for code, name in RULES.items() if name in bars))
    clocked = clock_walk(ground, d, order=order)
    if clocked is not None:
        return planned_day(ground, d, order=order, clocked=clocked)
    return _first_broken(ground, d, order)


def _first_broken(ground: Ground, d: int, order: Sequence[int]) -> Broken:
    """The visit at which the order first fails, tried one visit longer at a time."""
    for count in range(1, len(order) + 1):
        if clock_walk(ground, d, order=order[:count]) is not None:
            continue
        at = order[count - 1]
        free = clock_without_end(ground, d, order=order[:count])
        if free is not None:
            over = (free.timing.finish + ground.rest_len[d] - ground.end[d]) / TENTHS
            return Broken(
                ground.candidates[at].key,
                Code.HOURS,
                arrive_min=free.timing.arrivals[-1] / TENTHS,
                over_min=max(over, 1 / TENTHS),
            )
        return _outside(ground, d, order[:count])
    raise AssertionError("an order that fails has a visit at which it fails")


def _outside(ground: Ground, d: int, order: Sequence[int]) -> Broken:
    """The last visit of the order is reached when its hours are over."""
    at = order[-1]
    before = clock_without_end(ground, d, order=order[:-1])
    begin = ground.start[d] if before is None or len(order) == 1 else before.timing.leaves[-1]
    arrive = begin + walk_legs(ground, d, order=order)[len(order) - 1]
    spans = ground.spans[d][at]
    return Broken(
        ground.candidates[at].key,
        Code.LOAD_HOURS,
        arrive_min=arrive / TENTHS,
        opens_min=min((a for a, _ in spans if a > arrive), default=spans[0][0] if spans else 0) / TENTHS
        if spans
        else None,
        closes_min=spans[-1][1] / TENTHS if spans else None,
    )


@dataclass(frozen=True, slots=True)
class Offer:
    """Where a further visit would go on a crew day, and the minutes it adds; or why it cannot."""

    crew_day: int
    position: int = 0
    added_min: float = 0.0
    start_min: float = 0.0
    broken: Broken | None = None


def offers_for(ground: Ground, key: int, orders: Sequence[Sequence[int]]) -> tuple[Offer, ...]:
    """The cheapest place for one visit on every crew day.

    Parameters
    ----------
    ground : Ground
    key : int
        The visit, on none of the orders.
    orders : sequence of sequences of int
        Keys of the visits in walking order, one per crew day in the order of ``ground.days``.

    Returns
    -------
    tuple of Offer
        One per crew day, in the order of ``ground.days``.
    """
    return tuple(
        _offer(ground, day.key, key=key, keys=keys) for day, keys in zip(ground.days, orders, strict=True)
    )


def _offer(ground: Ground, crew_day: int, *, key: int, keys: Sequence[int]) -> Offer:
    whole = time_by_hand(ground, crew_day, keys)
    now = whole.back_tenths - whole.leave_tenths if isinstance(whole, PlannedDay) and keys else 0
    best: Offer | None = None
    broken: Broken | None = None
    for position in range(len(keys) + 1):
        tried = time_by_hand(ground, crew_day, [*keys[:position], key, *keys[position:]])
        if isinstance(tried, Broken):
            broken = tried if broken is None or tried.key == key else broken
            continue
        added = (tried.back_tenths - tried.leave_tenths - now) / TENTHS
        if best is None or added < best.added_min:
            best = Offer(crew_day, position, added, tried.visits[position].start_tenths / TENTHS)
    return best or Offer(crew_day, broken=broken)
