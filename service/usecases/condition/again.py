"""Judge visits of views anew, with every later one: after corrections, late readings, re-evaluations."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from service.domain.verdicts import Verdict
from service.domain.visits import Judged, Memory, VisitReading, go_on, judge_visit, remember
from service.storage import assessments, criteria, point_state, readings
from service.storage.assessments import StoredVerdict
from service.usecases.condition.figures import Bare, with_figures
from service.usecases.condition.visit_work import Work

ByPoint = Mapping[int, list[StoredVerdict]]


def replay(work: Work, memory: Memory, point_id: int, stored: Iterable[StoredVerdict]) -> None:
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


def visits_of(
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


def judge_again(
    work: Work,
    views: Sequence[int],
    arrived: Mapping[int, list[VisitReading]],
    *,
    there: Mapping[int, list[VisitReading]],
    gone: frozenset[int],
) -> None:
    """Fold the points of these views again, judging this visit and every later one anew."""
    stored = _recall(work, views)
    here = {view_id: [*there.get(view_id, ()), *arrived.get(view_id, ())] for view_id in views}
    begins = {view_id: _begins(view_id, here[view_id], stored, work=work, gone=gone) for view_id in views}
    _fold(work, here, begins, stored)


def judge_changed(work: Work, begins: Mapping[int, datetime]) -> None:
    """Fold the points of these views again from an instant each, whatever round the visits are of."""
    stored = _recall(work, begins)
    _fold(work, {view_id: [] for view_id in begins}, begins, stored)


def _recall(work: Work, views: Iterable[int]) -> ByPoint:
    """Every standing verdict of the points of some views, and the criteria they were given by."""
    again = set(views)
    point_ids = [one.point.id for one in work.known.values() if one.point.view_id in again]
    stored = assessments.standing_verdicts(work.unit, point_ids)
    work.proven_by = point_state.proving_readings(work.unit, point_ids)
    work.refolded.update(point_ids)
    used = {one.criteria_id for several in stored.values() for one in several} - set(work.sets)
    work.sets |= criteria.criteria_by_id(work.unit, used) if used else {}
    return stored


def _fold(
    work: Work,
    here: Mapping[int, list[VisitReading]],
    begins: Mapping[int, datetime],
    stored: ByPoint,
) -> None:
    later = {
        one.round_id
        for point_id, several in stored.items()
        for one in several
        if one.round_id not in (None, work.round_id)
        and one.taken_at >= begins[work.known[point_id].point.view_id]
    }
    after = visits_of(work, [r for r in later if r is not None], here, without=set()) if later else {}
    for view_id, visit_here in here.items():
        visits = [visit_here]
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
        replay(work, memories[point_id], point_id, before)
    order = sorted(filter(None, visits), key=lambda visit: min(r.values.taken_at for r in visit))
    for visit in order:
        set_id = _set_of_visit(work, visit, standing)
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


def _set_of_visit(work: Work, visit: Sequence[VisitReading], standing: Mapping[int, StoredVerdict]) -> int:
    """The criteria a re-evaluation names, else those it was judged by, else those now in force."""
    named = [work.set_of_reading[r.reading_id] for r in visit if r.reading_id in work.set_of_reading]
    held = [standing[r.reading_id].criteria_id for r in visit if r.reading_id in standing]
    return (named or held or [work.set_id(visit[0].point)])[0]


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
