"""Why a visit is on its day, or on none: one reason per candidate, with the figures of the decision."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

import numpy as np

from service.planning.ground import NEVER, Ground, barred, begin_spans, stacked
from service.planning.insertion import Flags, Gaps, Indices, gaps_of, push_in
from service.planning.recreate import Search
from service.planning.walks import clock_walk, clock_without_end
from service.planning.ways import TENTHS, Integers


class Code(StrEnum):
    """What decided. The order of the postponing ones is the order in which they are lifted."""

    SCHEDULED = "scheduled"
    MUST = "must"
    PINNED = "pinned"
    NO_QUALIFIED_PERSON = "no qualified person"
    NO_CERTIFICATE = "no certificate of the category"
    LOCK_OUT = "lock-out or closed site"
    WEATHER = "kept indoors"
    FROZEN = "frozen days"
    LOAD_HOURS = "load hours"
    SITE_NOT_VISITED = "site not visited"
    HOURS = "hours"
    PIN = "pinned to another day"
    NO_CREW_DAY = "no crew day"
    BREAK = "no room for the break"


#: The rules that can be lifted, in their order, with the names ``ground.barred`` uses. The site comes
#: before the hours: with the hours lifted everything fits, and the drive would never be named.
RULES = {
    Code.NO_QUALIFIED_PERSON: "person",
    Code.NO_CERTIFICATE: "category",
    Code.LOCK_OUT: "lock-out",
    Code.WEATHER: "weather",
    Code.FROZEN: "frozen",
    Code.LOAD_HOURS: "load",
    Code.SITE_NOT_VISITED: "site",
    Code.HOURS: "hours",
    Code.PIN: "pin",
}
Lifted = tuple[Code, ...]


@dataclass(frozen=True, slots=True)
class Reason:
    """One candidate's reason; figures that do not belong to the code are None.

    Attributes
    ----------
    key : int
    code : Code
    also : tuple of Code
        Rules that would have to be lifted besides; empty where the one alone decides.
    crew_day : int or None
        Where it is; or, postponed, where it would fit if the rules named were lifted.
    place : int or None
        From 1, in the order of that day.
    arrive_min, opens_min, closes_min : float or None
        Earliest arrival there, and the load hours that bind, as begin of work [min].
    needs_min, free_min : float or None
        What it would add on that day with the rules lifted, and what the shift has left [min].
    worth, worth_per_min, last_worth_per_min : float or None
        Its score; per minute it needs; and the least that a visit of that day is worth per minute.
    entry_min, at_site : float, int or None
        Detour and sign-in into a site that is not visited [min]; postponed visits there.
    crew_days_with : int or None
        Open crew days that have the person or the certificate.
    """

    key: int
    code: Code
    also: tuple[Code, ...] = ()
    crew_day: int | None = None
    place: int | None = None
    arrive_min: float | None = None
    opens_min: float | None = None
    closes_min: float | None = None
    needs_min: float | None = None
    free_min: float | None = None
    worth: float | None = None
    worth_per_min: float | None = None
    last_worth_per_min: float | None = None
    entry_min: float | None = None
    at_site: int | None = None
    crew_days_with: int | None = None


@dataclass(frozen=True, slots=True)
class Fit:
    """Where a candidate fits with some rules lifted [tenths of a minute]."""

    d: int
    position: int
    push: int
    arrive: int
    entry: int


def reasons_of(search: Search) -> tuple[Reason, ...]:
    """One reason per candidate, by key.

    Notes
    -----
    A postponed candidate is tried again at every gap of every crew day with exactly one rule lifted,
    in the fixed order of ``RULES``; the first that makes it fit is the reason. Where none does
    alone, pairs are lifted, and then all of them and put back one by one as long as it still fits:
    the reason names a set of which none can be spared.
    """
    ground = search.ground
    lost = np.flatnonzero(search.day_of < 0)
    found = _Lifting(search).explained(lost)
    why = [_scheduled(search, d, k) for d, order in enumerate(search.orders) for k in range(len(order))]
    at_site = np.bincount(ground.ways.site[lost], minlength=len(ground.ways.sites))
    for at in lost.tolist():
        lifted, fit = found.get(at, ((), None))
        why.append(_postponed(search, at, lifted, fit=fit, at_site=int(at_site[ground.ways.site[at]])))
    return tuple(sorted(why, key=lambda reason: reason.key))


def fits_when(search: Search, key: int, *, lifted: Lifted = ()) -> Fit | None:
    """The cheapest place of one candidate with some rules lifted; None where it fits nowhere."""
    at = np.array([search.ground.at[key]])
    return _Lifting(search).fits(at, lifted).get(int(at[0]))


class _Lifting:
    """Tries candidates again with some rules lifted, all at once per crew day."""

    def __init__(self, search: Search) -> None:
        self.search = search
        self.ground = search.ground
        self._gaps: dict[tuple[int, bool], Gaps | None] = {}
        self._bars: dict[tuple[int, int], frozenset[str]] = {}

    def explained(self, lost: Indices) -> dict[int, tuple[Lifted, Fit]]:
        found: dict[int, tuple[Lifted, Fit]] = {}
        for lifted in self._sets():
            left = np.array([at for at in lost.tolist() if at not in found], dtype=np.int64)
            if not left.size:
                break
            found.update({at: (lifted, fit) for at, fit in self.fits(left, lifted).items()})
        everything = tuple(RULES)
        for at in lost.tolist():
            if at not in found:
                lifted = self._least(at, everything)
                fit = self.fits(np.array([at]), lifted).get(at)
                if fit is not None:
                    found[at] = (lifted, fit)
        return found

    def _sets(self) -> Iterator[Lifted]:
        yield ()
        for size in (1, 2):
            yield from combinations(RULES, size)

    def _least(self, at: int, lifted: Lifted) -> Lifted:
        """A set of which no rule can be spared; those that come first are kept longest."""
        one = np.array([at])
        for rule in reversed(tuple(RULES)):
            fewer = tuple(kept for kept in lifted if kept != rule)
            if self.fits(one, fewer):
                lifted = fewer
        return lifted

    def fits(self, chosen: Indices, lifted: Lifted) -> dict[int, Fit]:
        """Cheapest fit of each candidate over all crew days; those that fit nowhere are left out."""
        names = {RULES[code] for code in lifted}
        best: dict[int, Fit] = {}
        for d in range(len(self.ground.days)):
            able = np.array([at for at in chosen.tolist() if self._bar(at, d) <= names], dtype=np.int64)
            gaps = self._gaps_of(d, endless="hours" in names)
            if not able.size or gaps is None:
                continue
            for at, fit in self._fits_on(d, gaps, able=able, names=names):
                if at not in best or fit.push < best[at].push:
                    best[at] = fit
        return best

    def _fits_on(self, d: int, gaps: Gaps, *, able: Indices, names: set[str]) -> Iterator[tuple[int, Fit]]:
        ground = self.ground
        opens, lasts = self._spans(d, able, names)
        to = ground.ways.legs(gaps.before, able[:, None])
        on = ground.ways.legs(able[:, None], gaps.after)
        direct = ground.ways.legs(gaps.before, gaps.after)
        entry = to + on - direct
        if "site" in names:
            waived = self._strange(able)[:, None]
            to, on = np.where(waived, np.minimum(direct, to), to), np.where(waived, 0, on)
        push, arrive = push_in(
            ground,
            gaps,
            to=to,
            on=on,
            service=ground.service_array[able],
            opens=opens,
            lasts=lasts,
        )
        column = push.argmin(axis=1)
        for k, at in enumerate(able.tolist()):
            g = int(column[k])
            if push[k, g] < NEVER:
                yield (
                    at,
                    Fit(d, int(gaps.position[g]), int(push[k, g]), int(arrive[k, g]), int(entry[k, g])),
                )

    def _strange(self, able: Indices) -> Flags:
        """Candidates of sites that no crew day visits."""
        site = self.ground.ways.site
        here = np.unique(site[[at for order in self.search.orders for at in order]])
        found: Flags = ~np.isin(site[able], here)
        return found

    def _spans(self, d: int, able: Indices, names: set[str]) -> tuple[Integers, Integers]:
        ground = self.ground
        if "load" not in names and "lock-out" not in names:
            return ground.opens[d][:, able], ground.lasts[d][:, able]
        own = []
        for at in able.tolist():
            one = ground.candidates[at]
            own.append(
                begin_spans(
                    one,
                    ground.days[d],
                    gate=ground.gates.get(one.place.site),
                    load="load" not in names,
                    opening="lock-out" not in names,
                )
            )
        opens, lasts = stacked([own], len(own))
        return opens[0], lasts[0]

    def _bar(self, at: int, d: int) -> frozenset[str]:
        mark = (at, d)
        if mark not in self._bars:
            one = self.ground.candidates[at]
            gate = self.ground.gates.get(one.place.site)
            self._bars[mark] = barred(one, self.ground.days[d], gate=gate)
        return self._bars[mark]

    def _gaps_of(self, d: int, *, endless: bool) -> Gaps | None:
        mark = (d, endless)
        if mark not in self._gaps:
            order = self.search.orders[d]
            clock = clock_without_end if endless else clock_walk
            clocked = clock(self.ground, d, order=order)
            self._gaps[mark] = (
                None if clocked is None else gaps_of(self.ground, d, order=order, clocked=clocked)
            )
        return self._gaps[mark]


def _scheduled(search: Search, d: int, k: int) -> Reason:
    ground, at = search.ground, search.orders[d][k]
    one, clocked = ground.candidates[at], search.clocks[d]
    code = Code.PINNED if one.pin is not None else Code.MUST if one.must else Code.SCHEDULED
    crew_day = ground.days[d].key
    if clocked is None:
        return Reason(one.key, code, crew_day=crew_day, place=k + 1)
    start = clocked.timing.starts[k]
    binding = next((s for s in ground.spans[d][at] if s[0] <= start <= s[1]), None)
    bound = binding is not None and binding[1] < NEVER
    return Reason(
        one.key,
        code,
        crew_day=crew_day,
        place=k + 1,
        arrive_min=clocked.timing.arrivals[k] / TENTHS,
        opens_min=binding[0] / TENTHS if binding and bound else None,
        closes_min=binding[1] / TENTHS if binding and bound else None,
        worth=float(one.score),
    )


def _postponed(search: Search, at: int, lifted: Lifted, *, fit: Fit | None, at_site: int) -> Reason:
    ground = search.ground
    one = ground.candidates[at]
    if fit is None:
        return Reason(one.key, Code.NO_CREW_DAY, worth=float(one.score))
    code, also = (lifted[0], lifted[1:]) if lifted else (Code.HOURS, ())
    last = _last_worth(search, fit.d)
    clocked = search.clocks[fit.d]
    opens, closes = _hours_of(ground, at, fit=fit) if Code.LOAD_HOURS in lifted else (None, None)
    strange = Code.SITE_NOT_VISITED in lifted
    return Reason(
        one.key,
        code,
        also=also,
        crew_day=ground.days[fit.d].key,
        place=fit.position + 1,
        arrive_min=fit.arrive / TENTHS,
        opens_min=opens,
        closes_min=closes,
        needs_min=fit.push / TENTHS,
        free_min=None if clocked is None else (ground.end[fit.d] - clocked.timing.finish) / TENTHS,
        worth=float(one.score),
        worth_per_min=one.score * TENTHS / max(fit.push, 1),
        last_worth_per_min=last,
        entry_min=fit.entry / TENTHS if strange else None,
        at_site=at_site if strange else None,
        crew_days_with=_days_with(ground, at, code),
    )


def _last_worth(search: Search, d: int) -> float | None:
    """The least that a visit of that day is worth per minute, musts aside."""
    found = search.densities(d)
    at = list(search.orders[d])
    plain = found[search.ground.worth[at] == search.ground.score[at]]
    return float(plain.min()) * TENTHS if plain.size else None


def _hours_of(ground: Ground, at: int, *, fit: Fit) -> tuple[float | None, float | None]:
    """The begin span that is next after the arrival, else the last one of that shift."""
    spans: Sequence[tuple[int, int]] = ground.spans[fit.d][at]
    if not spans:
        return None, None
    span = next((s for s in spans if s[1] >= fit.arrive), spans[-1])
    return span[0] / TENTHS, (span[1] / TENTHS if span[1] < NEVER else None)


def _days_with(ground: Ground, at: int, code: Code) -> int | None:
    one = ground.candidates[at]
    if code == Code.NO_QUALIFIED_PERSON:
        return sum(day.has_qualified_person and not day.frozen for day in ground.days)
    if code == Code.NO_CERTIFICATE:
        return sum(day.category >= one.category and not day.frozen for day in ground.days)
    return None
