"""Judge visits and set what their points stand at: for uploads, corrections and re-evaluation."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from service.domain.verdicts import Verdict
from service.domain.visits import Judged, Memory, Values, VisitReading, go_on, judge_visit, remember
from service.storage import assessments, criteria, known_points, point_state, readings, settings
from service.storage.assessments import StoredVerdict
from service.storage.known_points import KnownPoint
from service.storage.unit import Unit
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
    points = known_points.points_of_views(unit, views)
    known = {one.point.id: one for one in points}
    set_of_site = criteria.criteria_in_force(unit, {one.point.site_id for one in points}, now=now)
    work = Work(
        unit=unit,
        round_id=round_id,
        now=now,
        known=known,
        sets=criteria.criteria_by_id(unit, set(set_of_site.values())),
        set_of_site=set_of_site,
        instruments=settings.instruments_of_client(unit, client_id),
        cuts=point_state.cuts_of(unit, known),
        proven_by=frozenset(),
    )
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
        _judge_again(work, again, arrived, there=there, gone=gone)
    due_open = write_judged(work, cause)
    judged = {one.reading.reading_id: one for one, _set_id in work.written}
    return Assessed(judged, known, tuple(work.memories), due_open)


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
        _replay(work, again, point_id, stored)
        memory.shares_k = again.shares_k if again.episode == memory.episode else []


def _replay(work: Work, memory: Memory, point_id: int, stored: Iterable[StoredVerdict]) -> None:
    point = work.known[point_id].point
    for one in stored:
        if one.counts_level:
            go_on(
                memory,
                one.verdict,
                point,
                reading_id=one.reading_id,
                episode=one.episode,
                taken_at=one.taken_at,
                temperature_c=one.temperature_c,
                current_a=one.current_a,
                criteria=work.sets.get(one.criteria_id) or work.sets[work.set_id(point)],
                proven_by=work.proven_by,
            )


def _stored_visit(work: Work, views: Iterable[int], *, without: set[int]) -> dict[int, list[VisitReading]]:
    """By view what this round has brought of it before."""
    return _visits(work, [work.round_id], views, without=without).get(work.round_id, {})


def _visits(
    work: Work, round_ids: Iterable[int], views: Iterable[int], *, without: set[int]
) -> dict[int, dict[int, list[VisitReading]]]:
    """By round and view the valid readings stored."""
    there = [
        (view_id, Bare(one.id, one.point_id, one.round_id, one.source, chosen, one))
        for view_id, chosen, one in readings.current_of_views(work.unit, round_ids, views)
        if one.id not in without and one.point_id in work.known and one.round_id is not None
    ]
    work.held |= assessments.inputs_held(work.unit, [bare.reading_id for _view, bare in there])
    found: dict[int, dict[int, list[VisitReading]]] = {}
    for (view_id, bare), reading in zip(there, with_figures(work, [b for _v, b in there]), strict=True):
        assert bare.round_id is not None
        found.setdefault(bare.round_id, {}).setdefault(view_id, []).append(reading)
    return found


def _judge_again(
    work: Work,
    views: Sequence[int],
    arrived: Mapping[int, list[VisitReading]],
    *,
    there: Mapping[int, list[VisitReading]],
    gone: frozenset[int],
) -> None:
    """Fold the points of these views again, judging this visit and every later one anew."""
    again = set(views)
    point_ids = [one.point.id for one in work.known.values() if one.point.view_id in again]
    stored = assessments.standing_verdicts(work.unit, point_ids)
    work.proven_by = point_state.proving_readings(work.unit, point_ids)
    work.refolded.update(point_ids)
    here = {view_id: [*there.get(view_id, ()), *arrived.get(view_id, ())] for view_id in views}
    begins = {view_id: _begins(view_id, here[view_id], stored, work=work, gone=gone) for view_id in views}
    used = {one.criteria_id for several in stored.values() for one in several} - set(work.sets)
    work.sets |= criteria.criteria_by_id(work.unit, used) if used else {}
    later = {
        one.round_id
        for point_id, several in stored.items()
        for one in several
        if one.round_id not in (None, work.round_id)
        and one.taken_at >= begins[work.known[point_id].point.view_id]
    }
    after = _visits(work, [r for r in later if r is not None], views, without=set()) if later else {}
    for view_id in views:
        visits = [here[view_id]]
        for by_view in after.values():
            visit = by_view.get(view_id, [])
            if any(reading.values.taken_at >= begins[view_id] for reading in visit):
                visits.append(visit)
        _fold_view(work, view_id, visits, stored)


def _begins(
    view_id: int,
    visit: Sequence[VisitReading],
    stored: Mapping[int, list[StoredVerdict]],
    *,
    work: Work,
    gone: frozenset[int],
) -> datetime:
    """The instant from which nothing judged before holds: the earliest that this visit has or had."""
    instants = [reading.values.taken_at for reading in visit]
    instants += [
        one.taken_at
        for point_id, several in stored.items()
        if work.known[point_id].point.view_id == view_id
        for one in several
        if one.round_id == work.round_id or one.reading_id in gone
    ]
    return min(instants, default=work.now)


def _fold_view(
    work: Work,
    view_id: int,
    visits: Sequence[Sequence[VisitReading]],
    stored: Mapping[int, list[StoredVerdict]],
) -> None:
    point_ids = [one.point.id for one in work.known.values() if one.point.view_id == view_id]
    judged_rounds = {visit[0].round_id for visit in visits if visit} | {work.round_id}
    memories = {point_id: Memory() for point_id in point_ids}
    standing: dict[int, StoredVerdict] = {}
    for point_id in point_ids:
        before = []
        for one in stored.get(point_id, ()):
            if one.round_id in judged_rounds:
                standing[one.reading_id] = one
            else:
                before.append(one)
                work.kept[one.reading_id] = one.assessment_id
        _replay(work, memories[point_id], point_id, before)
    order = sorted(filter(None, visits), key=lambda visit: min(r.values.taken_at for r in visit))
    for visit in order:
        held = [standing[r.reading_id].criteria_id for r in visit if r.reading_id in standing]
        set_id = held[0] if held else work.set_id(visit[0].point)
        for judged in judge_visit(visit, memories, work.sets[set_id], instruments=work.instruments):
            remember(memories[judged.reading.point.id], judged, work.sets[set_id], proven_by=work.proven_by)
            held_before = standing.pop(judged.reading.reading_id, None)
            if held_before is not None and _same(held_before, judged, set_id):
                work.kept[held_before.reading_id] = held_before.assessment_id
                continue
            if held_before is not None:
                work.retired.append(held_before.assessment_id)
                work.replaces[held_before.reading_id] = held_before.assessment_id
            work.written.append((judged, set_id))
    work.retired += [one.assessment_id for one in standing.values()]
    work.memories.update(memories)


def _same(stored: StoredVerdict, judged: Judged, set_id: int) -> bool:
    return (
        stored.criteria_id == set_id
        and stored.episode == judged.reading.episode
        and stored.taken_at == judged.reading.values.taken_at
        and stored.inputs == judged.reading.inputs.to_text()
        and (stored.counts_level, stored.counts_trend) == (judged.counts_level, judged.counts_trend)
        and _plain(stored.verdict) == _plain(judged.verdict)
    )


def _plain(verdict: Verdict) -> Verdict:
    """A verdict as far as a row keeps it."""
    return replace(verdict, source="")
