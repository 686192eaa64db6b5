"""The clock of one day: any order of its stops timed, with travel, break and load hours."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from service.planning.places import Legs, Place, TravelRules, measure_legs

DAY_MIN = 24 * 60.0


@dataclass(frozen=True, slots=True)
class StopPlan:
    """One stop as planned.

    Attributes
    ----------
    key : int
        Whatever names the stop to the caller.
    minutes : float
        Time on the spot [min].
    place : Place
    windows : tuple of (float, float)
        Load hours of that day [min from local midnight]; an end before its start runs past
        midnight. Empty: any hour will do.
    """

    key: int
    minutes: float
    place: Place
    windows: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class DayRules:
    """The shape of a working day [min from local midnight, or min].

    Attributes
    ----------
    start_min : float
        Leaving the base, or at the first gate where there is no base.
    break_min, break_over_min : float
        One break of this length on a day that lasts longer than ``break_over_min`` without it.
    break_from_min, break_until_min : float
        Within which the break lies; on an early or late shift, its third to sixth hour.
    wait_at_most_min : float
        A technician waits so long at a stop for its load hours to begin, not longer.
    base : (float, float), optional
        Latitude and longitude [deg] where the day begins and ends.
    travel : TravelRules
    """

    start_min: float = 480.0
    break_min: float = 30.0
    break_over_min: float = 360.0
    break_from_min: float = 660.0
    break_until_min: float = 840.0
    wait_at_most_min: float = 15.0
    base: tuple[float, float] | None = None
    travel: TravelRules = field(default_factory=TravelRules)


@dataclass(frozen=True, slots=True)
class StopTime:
    """One stop by the clock [min from local midnight, or min].

    Attributes
    ----------
    key : int
    drive_min, sign_in_min, walk_min, wait_min : float
        Way here from the stop before, gate, and waiting for the load hours.
    break_min : float
        Break taken before setting out for this stop.
    arrive_min, start_min, end_min : float
        At the equipment; first reading; done. They differ by the wait.
    outside_load_hours : bool
        The stop is not done within any of its load hours.
    next_opening_min : float or None
        Of a stop outside: when its load hours next begin; 1440 and more is the day after.
    guessed : bool
        A position was missing, so the way here is a guess.
    """

    key: int
    drive_min: float
    sign_in_min: float
    walk_min: float
    wait_min: float
    break_min: float
    arrive_min: float
    start_min: float
    end_min: float
    outside_load_hours: bool
    next_opening_min: float | None
    guessed: bool


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A round by the clock, with its sums [min]."""

    stops: tuple[StopTime, ...]
    leave_min: float
    back_by_min: float
    break_from_min: float | None
    service_min: float
    walk_min: float
    drive_min: float
    sign_in_min: float
    wait_min: float
    outside_load_hours: int


def break_hours(rules: DayRules) -> tuple[float, float]:
    """The break's hours; of an early or late shift its third to sixth hour [min]."""
    early = rules.start_min + rules.break_over_min < rules.break_from_min
    if early or rules.start_min >= rules.break_from_min:
        return rules.start_min + 180, rules.start_min + 360
    return rules.break_from_min, rules.break_until_min


class Clock:
    """The stops of one round with all ways between them, so that any order can be timed."""

    def __init__(self, stops: Sequence[StopPlan], rules: DayRules) -> None:
        for stop in stops:
            if not 0 <= stop.minutes < float("inf"):
                raise ValueError(f"stop {stop.key} takes {stop.minutes} minutes")
        self.stops = tuple(stops)
        self.rules = rules
        self.legs: Legs = measure_legs([stop.place for stop in stops], base=rules.base, rules=rules.travel)
        self._way: list[list[float]] = (self.legs.drive + self.legs.sign_in + self.legs.walk).tolist()
        self._minutes = [float(stop.minutes) for stop in stops]
        self._openings = [unfold(stop.windows) for stop in stops]
        self._least_min = sum(self._minutes)
        self._break_from, self._break_until = break_hours(rules)

    def cost(self, order: Sequence[int]) -> tuple[int, float]:
        """Stops outside their load hours, then the end of the day [min]."""
        _, outside, back_by, _ = self._run(order)
        return outside, back_by

    def closes_min(self, at: int, *, after: float) -> float:
        """When the load hours of a stop that are open or open next close; never: infinity."""
        return min((end for _, end in self._openings[at] if end > after), default=float("inf"))

    def plan(self, order: Sequence[int]) -> DayPlan:
        """The full timetable of an order."""
        times, outside, back_by, break_from = self._run(order)
        stops = []
        before = len(self.stops)
        for at, (arrive, start, rest) in zip(order, times, strict=True):
            stops.append(self._stop_time(at, before=before, arrive=arrive, start=start, rest=rest))
            before = at
        back = (before, len(self.stops))
        return DayPlan(
            stops=tuple(stops),
            leave_min=self.rules.start_min,
            back_by_min=back_by,
            break_from_min=break_from,
            service_min=self._least_min,
            walk_min=sum(stop.walk_min for stop in stops),
            drive_min=sum(stop.drive_min for stop in stops)
            + (float(self.legs.drive[back]) if stops else 0.0),
            sign_in_min=sum(stop.sign_in_min for stop in stops),
            wait_min=sum(stop.wait_min for stop in stops),
            outside_load_hours=outside,
        )

    def _run(self, order: Sequence[int]) -> tuple[list[tuple[float, float, float]], int, float, float | None]:
        """Arrival, start and break before each stop; stops outside; end of day; break's begin."""
        limit = self.rules.start_min + self.rules.break_over_min
        if self._least_min <= self.rules.break_over_min:
            found = self._walk_through(order, rest_min=0.0)
            if found[2] <= limit:
                return found
        return self._walk_through(order, rest_min=self.rules.break_min)

    def _walk_through(
        self, order: Sequence[int], *, rest_min: float
    ) -> tuple[list[tuple[float, float, float]], int, float, float | None]:
        way, minutes, openings = self._way, self._minutes, self._openings
        wait_at_most, clock = self.rules.wait_at_most_min, self.rules.start_min
        last_rest = self._break_until - rest_min
        middle = (self._break_from + last_rest) / 2
        before = len(minutes)
        times: list[tuple[float, float, float]] = []
        outside, rested = 0, None
        for at in order:
            rest = 0.0
            # The middle of the break's hours, earlier only if the next stop would run past them.
            if (
                rest_min
                and rested is None
                and clock >= self._break_from
                and (clock >= middle or clock + way[before][at] + minutes[at] > last_rest)
            ):
                rest, rested = rest_min, clock
            arrive = clock + rest + way[before][at]
            start, inside = _begin(arrive, minutes[at], openings=openings[at], wait_at_most=wait_at_most)
            outside += not inside
            times.append((arrive, start, rest))
            clock = start + minutes[at]
            before = at
        back_by = clock + way[before][len(minutes)] if times else clock
        return times, outside, back_by, rested

    def _stop_time(self, at: int, *, before: int, arrive: float, start: float, rest: float) -> StopTime:
        leg = (before, at)
        end = start + self._minutes[at]
        openings = self._openings[at]
        inside = _begin(start, self._minutes[at], openings=openings, wait_at_most=0.0)[1]
        return StopTime(
            key=self.stops[at].key,
            drive_min=float(self.legs.drive[leg]),
            sign_in_min=float(self.legs.sign_in[leg]),
            walk_min=float(self.legs.walk[leg]),
            wait_min=start - arrive,
            break_min=rest,
            arrive_min=arrive,
            start_min=start,
            end_min=end,
            outside_load_hours=not inside,
            next_opening_min=None if inside else min((a for a, _ in openings if a > start), default=None),
            guessed=bool(self.legs.guessed[leg]),
        )


def unfold(windows: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Load hours of the day before, the day and the day after as plain spans, in order.

    Parameters
    ----------
    windows : sequence of (float, float)
        Begin and end [min from midnight]; an end at or before its begin is on the next day.

    Returns
    -------
    tuple of (float, float)
        Spans from -1440 to 4320, overlapping or touching ones joined; empty for no windows.

    Examples
    --------
    >>> unfold([(1320, 360)])
    ((-120.0, 360.0), (1320.0, 1800.0), (2760.0, 3240.0))
    """
    spans = sorted(
        (float(begin) + day, float(end) + day + (DAY_MIN if end <= begin else 0.0))
        for begin, end in windows
        for day in (-DAY_MIN, 0.0, DAY_MIN)
    )
    joined: list[tuple[float, float]] = []
    for begin, end in spans:
        if joined and begin <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((begin, end))
    return tuple(span for span in joined if span[1] > 0)


def _begin(
    arrive: float, minutes: float, *, openings: tuple[tuple[float, float], ...], wait_at_most: float
) -> tuple[float, bool]:
    """When work begins, and whether it lies within the load hours.

    Load hours shorter than the stop need only hold its begin.
    """
    if not openings:
        return arrive, True
    for begin, end in openings:
        last = end - minutes if end - begin >= minutes else end
        if arrive <= last:
            if arrive >= begin:
                return arrive, True
            return (begin, True) if begin - arrive <= wait_at_most else (arrive, False)
    return arrive, False
