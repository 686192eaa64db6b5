"""The day planner's arrays: what may go where and when, made once from the work that is asked for."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from service.planning.clock import DayRules, break_hours, unfold
from service.planning.crew_days import Candidate, CrewDay, Gate, Windows, Work
from service.planning.ways import Integers, Ways, tenths

#: Later than any minute that is planned [tenths of a minute]; sums of a few stay within 32 bits.
NEVER = 1 << 28
#: Earliest and latest begin of work [tenths of a minute].
Spans = tuple[tuple[int, int], ...]
ANY_HOUR: Spans = ((0, NEVER),)


class Ground:
    """One month's work in arrays; candidates by key, crew days by day, crew and key.

    Attributes
    ----------
    service, start, end : sequences of int
        Per candidate; per crew day [tenths of a minute].
    score, worth : ndarray of int64, shape (n,)
        As given; and with what puts every *must* before all that are none.
    eligible : ndarray of bool, shape (d, n)
        By person, category, lock-outs, weather and pins; load hours are not in it.
    opens, lasts : ndarray of int32, shape (d, w, n)
        Spans within which work may begin, earliest first.
    rest_len, rest_from, rest_last, rest_limit : lists of int
        Break of each crew day: length, earliest and latest begin, and the end of a day that
        needs none; a length of 0 where no break is due.
    """

    def __init__(self, work: Work) -> None:
        self.work = work
        self.candidates = tuple(sorted(work.candidates, key=lambda one: one.key))
        self.days = tuple(sorted(work.crew_days, key=lambda one: (one.day, one.crew, one.key)))
        self.at = {one.key: k for k, one in enumerate(self.candidates)}
        self.day_at = {one.key: k for k, one in enumerate(self.days)}
        self.gates = {gate.site: gate for gate in work.gates}
        self.count = len(self.candidates)
        self.ways = Ways(work, [one.place for one in self.candidates], self.days)
        self.service: list[int] = [tenths(one.minutes) for one in self.candidates]
        self.service_array: Integers = np.array(self.service, dtype=np.int32)
        self.score = np.array([one.score for one in self.candidates], dtype=np.int64)
        must = np.array([one.must for one in self.candidates], dtype=bool)
        self.worth = self.score + must * (int(self.score.sum()) + 1)
        self.pinned = np.array([one.pin is not None for one in self.candidates], dtype=bool)
        self._measure_shifts()
        self.eligible = np.array([self._eligible(day) for day in self.days], dtype=bool).reshape(
            len(self.days), self.count
        )
        self.spans: list[list[Spans]] = [self._spans(day) for day in self.days]
        self.opens, self.lasts = stacked(self.spans, self.count)

    def begin_node(self, d: int) -> int:
        """Node of the place where a crew day begins; the next one is where it ends."""
        return self.count + 2 * d

    def _measure_shifts(self) -> None:
        self.start = [tenths(day.start_min) for day in self.days]
        self.end = [tenths(day.end_min) for day in self.days]
        self.rest_len, self.rest_from, self.rest_last, self.rest_limit = [], [], [], []
        for day, start, end in zip(self.days, self.start, self.end, strict=True):
            hours = break_hours(DayRules(start_min=day.start_min, break_over_min=day.break_over_min))
            limit = start + tenths(day.break_over_min)
            length = tenths(day.break_min) if end > limit else 0
            self.rest_len.append(length)
            self.rest_from.append(tenths(hours[0]))
            self.rest_last.append(tenths(hours[1]) - length)
            self.rest_limit.append(min(limit, end) if length else end)

    def _eligible(self, day: CrewDay) -> list[bool]:
        return [not barred(one, day, gate=self.gates.get(one.place.site)) for one in self.candidates]

    def _spans(self, day: CrewDay) -> list[Spans]:
        found: list[Spans] = []
        kept: dict[tuple[object, ...], Spans] = {}
        for one, service in zip(self.candidates, self.service, strict=True):
            gate = self.gates.get(one.place.site)
            opens = () if gate is None else gate.hours(day.day)
            mark = (one.windows, one.windows_on.get(day.day, None), one.pin, opens, service)
            if mark not in kept:
                kept[mark] = begin_spans(one, day, gate=gate)
            found.append(kept[mark])
        return found


def barred(one: Candidate, day: CrewDay, *, gate: Gate | None) -> frozenset[str]:
    """Why a candidate cannot go on a crew day at any hour: the names of the rules it would break."""
    closed = (
        day.day in one.closed_days
        or one.place.site in day.closed_sites
        or (gate is not None and gate.shuts(day.day))
    )
    rules = {
        "person": one.needs_qualified_person and not day.has_qualified_person,
        "category": one.category > day.category,
        "lock-out": closed,
        "weather": one.outdoor and (day.indoors_only or day.day in one.unfit_days),
        "pin": one.pin is not None and one.pin.crew_day != day.key,
        "frozen": day.frozen,
    }
    return frozenset(name for name, broken in rules.items() if broken)


def begin_spans(
    one: Candidate, day: CrewDay, *, gate: Gate | None, load: bool = True, opening: bool = True
) -> Spans:
    """When work may begin on a crew day, by load hours and opening hours [tenths of a minute].

    Parameters
    ----------
    one : Candidate
    day : CrewDay
    gate : Gate or None
    load, opening : bool
        False lifts the load hours (and a pinned minute), or the site's opening hours.

    Returns
    -------
    tuple of (int, int)
        Earliest and latest begin of each span, in order; empty: at no hour of that shift.

    Notes
    -----
    Work ends within the load hours; hours shorter than the work need only hold its begin, as on
    a round's own clock. Opening hours always hold all of it.
    """
    start, end, service = tenths(day.start_min), tenths(day.end_min), tenths(one.minutes)
    spans: Spans = ((start, NEVER),)
    if load and one.pin is not None and one.pin.start_min is not None:
        pinned = tenths(one.pin.start_min)
        spans = ((pinned, pinned),)
    elif load:
        windows = one.windows_on.get(day.day)
        if windows is not None and not windows:
            return ()
        spans = _meet(spans, _hours(windows or one.windows, service, whole=False))
    if opening and gate is not None:
        spans = _meet(spans, _hours(gate.hours(day.day), service, whole=True))
    return tuple(span for span in spans if span[1] >= start and span[0] <= end)


def _hours(windows: Windows, service: int, *, whole: bool) -> Spans:
    if not windows:
        return ANY_HOUR
    found = []
    for begin, end in unfold(windows):
        a, b = tenths(begin), tenths(end)
        if b - a >= service:
            found.append((a, b - service))
        elif not whole:
            found.append((a, b))
    return tuple(found)


def _meet(one: Spans, other: Spans) -> Spans:
    met = ((max(a, c), min(b, d)) for a, b in one for c, d in other)
    return tuple(sorted(span for span in met if span[0] <= span[1]))


def stacked(spans: Sequence[Sequence[Spans]], count: int) -> tuple[Integers, Integers]:
    """Spans as arrays, shape (d, w, n); a span that is not there ends before it begins."""
    width = max((len(own) for row in spans for own in row), default=1)
    shape = (len(spans), max(width, 1), count)
    opens, lasts = np.full(shape, NEVER, dtype=np.int32), np.full(shape, -1, dtype=np.int32)
    for d, row in enumerate(spans):
        for k in range(width):
            pairs = [own[k] if k < len(own) else (NEVER, -1) for own in row]
            if pairs:
                both: NDArray[np.int32] = np.array(pairs, dtype=np.int32)
                opens[d, k], lasts[d, k] = both[:, 0], both[:, 1]
    return opens, lasts
