"""What a point shows everywhere: its level after all its readings and its trend (design §2)."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from service.domain.criteria import Criteria
from service.domain.verdicts import Verdict
from service.domain.words import Level, Trend


@dataclass(frozen=True, slots=True)
class StandingState:
    """Standing of a point, with what the next visit needs to go on from it.

    Attributes
    ----------
    reading_level : Level or None
        Standing by readings alone; None as long as no reading gave a level.
    trend_level : Level or None
        What the trend raises it to; None where it raises nothing.
    at_least : bool
        The reading that set ``reading_level`` could not clear.
    since : date or None
        Day on which the shown level last changed.
    lower_run : int
        Visits running that could clear and read lower than ``reading_level``.
    lower_peak : Level or None
        The gravest level among those.
    clear_run : int
        Clearing visits running in band 0.
    """

    reading_level: Level | None = None
    trend_level: Level | None = None
    at_least: bool = False
    since: date | None = None
    lower_run: int = 0
    lower_peak: Level | None = None
    clear_run: int = 0

    @property
    def level(self) -> Level | None:
        """The level shown: by readings, raised by the trend; None is No verdict."""
        if self.reading_level is None or self.trend_level is None:
            return self.trend_level if self.reading_level is None else self.reading_level
        return max(self.reading_level, self.trend_level)


def advance(state: StandingState, verdict: Verdict, *, when: date, criteria: Criteria) -> StandingState:
    """Standing after one more visit, in the order of the visits.

    Parameters
    ----------
    state : StandingState
        Standing after the visit before.
    verdict : Verdict
        What this visit's reading says.
    when : date
        Day of the visit.
    criteria : Criteria
        ``visits_to_fall`` is the number of lower visits after which a standing falls.

    Returns
    -------
    StandingState
        An accusing reading raises it at once. *No verdict* and readings that cannot clear
        never lower it. A visit that could clear lowers it to the gravest level that is still
        possible (its chance with all graver ones is more than ``guard_chance``), yet not under
        Look again; from there two clearing visits running in band 0 lead to Nothing found.

    Notes
    -----
    Without an uncertainty budget two lower visits running stand in for the guard band, and
    lead to the graver of the two.

    References
    ----------
    JCGM 106:2012, 8.3 (guard bands).
    """
    return _dated(state, _after(state, verdict, criteria=criteria), when=when)


def fold(
    visits: Iterable[tuple[date, Verdict]], *, criteria: Criteria, start: StandingState | None = None
) -> StandingState:
    """Standing after many visits, oldest first, from ``start`` (a point never read)."""
    state = StandingState() if start is None else start
    for when, verdict in visits:
        state = advance(state, verdict, when=when, criteria=criteria)
    return state


def with_trend(
    state: StandingState, trend: Trend, *, p12: float | None, criteria: Criteria, when: date | None = None
) -> StandingState:
    """Standing with the trend of the day laid over it; the trend of before is forgotten.

    Parameters
    ----------
    trend : Trend
        The word; a worsening one raises to at least Look again.
    p12 : float or None
        Chance of reaching Act now within 12 months [0, 1]; above ``raise_p12`` a confirmed
        worsening raises to at least Plan repair.
    when : date, optional
        Day of the change, kept as ``since`` if the shown level changes.
    """
    changed = replace(state, trend_level=trend_lift(trend, p12, criteria=criteria))
    return changed if when is None else _dated(state, changed, when=when)


def trend_lift(trend: Trend, p12: float | None, *, criteria: Criteria) -> Level | None:
    """Level to which a trend raises a standing; None where it raises nothing."""
    if not trend.worsening:
        return None
    confirmed = trend is not Trend.FIRST_SIGN
    if confirmed and p12 is not None and p12 > criteria.raise_p12:
        return Level.PLAN_REPAIR
    return Level.LOOK_AGAIN


def proven(when: date) -> StandingState:
    """Standing of a point whose repair was proven: nothing of before counts."""
    return StandingState(reading_level=Level.NOTHING_FOUND, since=when)


def _dated(before: StandingState, after: StandingState, *, when: date) -> StandingState:
    return after if after.level == before.level else replace(after, since=when)


def _after(state: StandingState, verdict: Verdict, *, criteria: Criteria) -> StandingState:
    level, stands = verdict.level, state.reading_level
    if level is None:
        # no evidence either way, unless the number itself stood over its line
        return replace(state, clear_run=0) if verdict.over_first_line else state
    if stands is None or level > stands:
        clear = int(_clears_in_band_0(verdict))
        raised = replace(state, reading_level=level, at_least=verdict.at_least, clear_run=clear)
        return replace(raised, lower_run=0, lower_peak=None)
    if not verdict.could_clear:
        run = 0 if level == stands else state.lower_run
        return replace(state, lower_run=run, lower_peak=state.lower_peak if run else None, clear_run=0)
    clear_run = state.clear_run + 1 if _clears_in_band_0(verdict) else 0
    if level == stands:
        return replace(state, at_least=False, lower_run=0, lower_peak=None, clear_run=clear_run)
    return _lower(state, verdict, level, clear_run=clear_run, criteria=criteria)


def _clears_in_band_0(verdict: Verdict) -> bool:
    return verdict.clears and verdict.band == Level.NOTHING_FOUND


def _lower(
    state: StandingState, verdict: Verdict, level: Level, *, clear_run: int, criteria: Criteria
) -> StandingState:
    """One more visit that could clear and read lower than the point stands."""
    stands, needed = state.reading_level, criteria.visits_to_fall
    possible = verdict.still_possible(criteria.guard_chance)
    if possible is not None and stands is not None and stands > Level.LOOK_AGAIN:
        down_to = min(max(level, possible, Level.LOOK_AGAIN), stands)
        fallen = replace(state, lower_run=0, lower_peak=None, clear_run=clear_run)
        return fallen if down_to == stands else replace(fallen, reading_level=down_to, at_least=False)
    lower_run = state.lower_run + 1
    peak = level if state.lower_peak is None else max(level, state.lower_peak)
    falls = clear_run >= needed if state.reading_level == Level.LOOK_AGAIN else lower_run >= needed
    if not falls:
        return replace(state, lower_run=lower_run, lower_peak=peak, clear_run=clear_run)
    to = level if state.reading_level == Level.LOOK_AGAIN else max(peak, Level.LOOK_AGAIN)
    return replace(state, reading_level=to, at_least=False, lower_run=0, lower_peak=None, clear_run=clear_run)
