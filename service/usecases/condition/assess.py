"""Judge visits and set what their points stand at: for uploads, corrections and re-evaluation."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from service.domain.settings import Inputs
from service.domain.visits import Judged, Memory, Values, VisitReading, judge_visit, remember
from service.storage import assessments, criteria, known_points, point_state, settings
from service.storage.known_points import KnownPoint
from service.storage.unit import Unit
from service.usecases.condition.again import judge_again, judge_changed, replay, visits_of
from service.usecases.condition.figures import Bare, with_figures
from service.usecases.condition.visit_work import Work
from service.usecases.condition.write_judged import write_judged


@dataclass(frozen=True, slots=True)
class FreshReading:
    """A reading of this transaction, not yet judged."""

    reading_id: int
    point_id: int
    view_id: int
    source: str
    chosen: str | None
    values: Values
    supersedes_id: int | None = None


@dataclass(frozen=True, slots=True)
class Assessed:
    """What judging brought: verdicts of the fresh readings, and points whose state was written.

    ``due_open`` are those of them whose due day hangs on more than their visits.
    """

    judged: dict[int, Judged]
    points: dict[int, KnownPoint]
    touched: tuple[int, ...]
    due_open: tuple[int, ...]


def assess_views(
    unit: Unit,
    *,
    round_id: int,
    client_id: int,
    view_ids: Iterable[int],
    fresh: Sequence[FreshReading],
    gone: frozenset[int],
    began: bool,
    now: datetime,
    cause: str,
) -> Assessed:
    """Judge some views of a round and write assessments and states.

    Parameters
    ----------
    unit : Unit
        The writing unit in which the fresh readings were stored.
    round_id, client_id : int
        The round, and whose plant it is.
    view_ids : iterable of int
        Views to judge: those of the fresh readings, or any other of the round.
    fresh : sequence of FreshReading
        New readings of these views.
    gone : frozenset of int
        Readings that a correction of this transaction has superseded.
    began : bool
        The round had readings before this call.
    now : datetime
        The instant of the call.
    cause : str
        Why standings change, kept with each change.

    Returns
    -------
    Assessed
        Verdicts by reading, and the points whose states were written.

    Notes
    -----
    A visit after all others of its points goes on from their states. Any other (late, completed
    later, corrected) folds the points of its view again: stored verdicts up to it, then this
    and every later visit judged anew, each by the criteria it was judged by. The number of
    queries does not depend on the number of readings.
    """
    views = sorted(set(view_ids))
    work = _work(unit, views, round_id=round_id, client_id=client_id, now=now)
    fresh_ids = {one.reading_id for one in fresh}
    there = _stored_visit(work, views, without=fresh_ids) if began else {}
    if gone:
        work.held |= assessments.inputs_held(unit, gone)
    arrived: dict[int, list[VisitReading]] = {}
    bare = [
        Bare(one.reading_id, one.point_id, round_id, one.source, one.chosen, one.values, one.supersedes_id)
        for one in fresh
    ]
    for one, reading in zip(fresh, with_figures(work, bare), strict=True):
        arrived.setdefault(one.view_id, []).append(reading)
    again = [
        view_id
        for view_id in views
        if view_id in there or gone or not _follows(work, arrived.get(view_id, ()))
    ]
    _judge_following(work, [view for view in views if view not in set(again)], arrived)
    if again:
        judge_again(work, again, arrived, there=there, gone=gone)
    due_open = write_judged(work, cause)
    judged = {one.reading.reading_id: one for one, _set_id in work.written}
    return Assessed(judged, work.known, tuple(work.memories), due_open)


#: No round: a re-evaluation has none of its own.
NO_ROUND = 0


def assess_changed(
    unit: Unit,
    *,
    client_id: int,
    begins: Mapping[int, datetime],
    changed: Mapping[int, Callable[[Inputs], Inputs]],
    set_of_reading: Mapping[int, int],
    reevaluation_id: int | None,
    now: datetime,
    cause: str,
) -> tuple[Assessed, Work]:
    """Judge views anew whose readings rest on something else now, with all that follows from it.

    Parameters
    ----------
    unit : Unit
        A writing unit; whoever only wants to see what would change rolls it back.
    client_id : int
        Whose plant it is.
    begins : mapping of int to datetime
        By view the instant of its first changed reading.
    changed : mapping of int to callable
        By reading what becomes of the inputs of its figures; the readings are not touched.
    set_of_reading : mapping of int to int
        By reading the criteria to judge it by, where they change.
    reevaluation_id : int or None
        Kept with every new assessment.
    now : datetime
        The instant of the call.
    cause : str
        Why standings change.

    Returns
    -------
    tuple of (Assessed, Work)
        New verdicts, and the work with what they replace.
    """
    work = _work(unit, sorted(begins), round_id=NO_ROUND, client_id=client_id, now=now)
    work.changed, work.set_of_reading = changed, set_of_reading
    work.reevaluation_id = reevaluation_id
    new = set(set_of_reading.values()) - set(work.sets)
    work.sets |= criteria.criteria_by_id(unit, new) if new else {}
    judge_changed(work, begins)
    due_open = write_judged(work, cause)
    judged = {one.reading.reading_id: one for one, _set_id in work.written}
    return Assessed(judged, work.known, tuple(work.memories), due_open), work


def _work(unit: Unit, views: Sequence[int], *, round_id: int, client_id: int, now: datetime) -> Work:
    known = {one.point.id: one for one in known_points.points_of_views(unit, views)}
    set_of_view = criteria.criteria_of_views(unit, views, now=now)
    return Work(
        unit=unit,
        round_id=round_id,
        now=now,
        known=known,
        sets=criteria.criteria_by_id(unit, set(set_of_view.values())),
        set_of_view=set_of_view,
        instruments=settings.instruments_of_client(unit, client_id),
        cuts=point_state.cuts_of(unit, known),
        proven_by=frozenset(),
    )


def _follows(work: Work, visit: Sequence[VisitReading]) -> bool:
    """True when every reading comes after all that is known of its point."""
    for reading in visit:
        last = work.known[reading.point.id].memory.last_visit_at
        if last is not None and reading.values.taken_at <= last:
            return False
    return True


def _judge_following(work: Work, views: Sequence[int], arrived: Mapping[int, list[VisitReading]]) -> None:
    """Visits that go on from the states of their points."""
    visits = [arrived[view_id] for view_id in views if view_id in arrived]
    _recall_shares(work, [reading.point.id for visit in visits for reading in visit])
    for visit in visits:
        set_id = work.set_id(visit[0].point)
        criteria_set = work.sets[set_id]
        memories = {reading.point.id: work.known[reading.point.id].memory for reading in visit}
        for judged in judge_visit(visit, memories, criteria_set, instruments=work.instruments):
            remember(memories[judged.reading.point.id], judged, criteria_set)
            work.written.append((judged, set_id))
        work.memories.update(memories)


def _recall_shares(work: Work, point_ids: Iterable[int]) -> None:
    """A baseline that is still forming needs the visits it has so far one by one."""
    forming = []
    for point_id in point_ids:
        known = work.known[point_id]
        if 0 < known.memory.baseline_visits < work.sets[work.set_id(known.point)].baseline_visits:
            forming.append(point_id)
    if not forming:
        return
    for point_id, stored in assessments.standing_verdicts(work.unit, forming).items():
        memory, again = work.known[point_id].memory, Memory()
        replay(work, again, point_id, stored)
        memory.shares_k = again.shares_k if again.episode == memory.episode else []


def _stored_visit(work: Work, views: Iterable[int], *, without: set[int]) -> dict[int, list[VisitReading]]:
    """By view what this round has brought of it before."""
    return visits_of(work, [work.round_id], views, without=without).get(work.round_id, {})
