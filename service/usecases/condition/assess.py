"""Judge visits and set what their points stand at: for uploads, corrections and re-evaluation."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any

from service.charts.rungs import heights
from service.domain.criteria import Criteria
from service.domain.due import Due, due_of
from service.domain.heights import Lines, Rise, rungs_of, stroke_values
from service.domain.judgement import METHOD_VERSION
from service.domain.readings import Reading
from service.domain.stop_facts import DuePoint
from service.domain.verdicts import Verdict
from service.domain.visits import (
    Judged,
    Memory,
    Values,
    VisitPoint,
    VisitReading,
    go_on,
    judge_visit,
    local_day,
    remember,
)
from service.domain.words import Level
from service.storage import assessments, criteria, point_state, readings, site_months
from service.storage.assessments import EarlierRise, StoredVerdict
from service.storage.bulk import reserve_keys
from service.storage.point_state import KnownPoint
from service.storage.unit import Unit

YEAR = timedelta(days=365)
#: A stroke begins 9 to 15 months back (look.md).
YEAR_GIVE = timedelta(days=91)


@dataclass(frozen=True, slots=True)
class FreshReading:
    """A reading of this transaction, not yet judged."""

    reading_id: int
    point_id: int
    view_id: int
    source: str
    chosen: str | None
    values: Values


@dataclass(frozen=True, slots=True)
class Assessed:
    """What judging brought: verdicts of the fresh readings, and points whose state was written.

    ``due_open`` are those of them whose due day hangs on more than their visits.
    """

    judged: dict[int, Judged]
    points: dict[int, KnownPoint]
    touched: tuple[int, ...]
    due_open: tuple[int, ...]


@dataclass(slots=True)
class _Work:
    """All that is known while the views of one call are judged."""

    unit: Unit
    round_id: int
    now: datetime
    known: dict[int, KnownPoint]
    sets: dict[int, Criteria]
    set_of_site: dict[int, int]
    ranges: dict[int, tuple[float | None, float | None]]
    cuts: dict[int, list[datetime]]
    proven_by: frozenset[int]
    memories: dict[int, Memory] = field(default_factory=dict)
    written: list[tuple[Judged, int]] = field(default_factory=list)
    retired: list[int] = field(default_factory=list)
    kept: dict[int, int] = field(default_factory=dict)
    refolded: set[int] = field(default_factory=set)

    def episode(self, point_id: int, taken_at: datetime) -> int:
        cuts = self.cuts.get(point_id)
        return sum(cut <= taken_at for cut in cuts) if cuts else 0

    def set_id(self, point: VisitPoint) -> int:
        return self.set_of_site[point.site_id]


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
    points = point_state.points_of_views(unit, views)
    known = {one.point.id: one for one in points}
    set_of_site = criteria.criteria_in_force(unit, {one.point.site_id for one in points}, now=now)
    work = _Work(
        unit=unit,
        round_id=round_id,
        now=now,
        known=known,
        sets=criteria.criteria_by_id(unit, set(set_of_site.values())),
        set_of_site=set_of_site,
        ranges=readings.instrument_ranges(unit, client_id),
        cuts=point_state.cuts_of(unit, known),
        proven_by=frozenset(),
    )
    fresh_ids = {one.reading_id for one in fresh}
    there = _stored_visit(work, views, without=fresh_ids) if began else {}
    arrived: dict[int, list[VisitReading]] = {}
    for one in fresh:
        point = known[one.point_id].point
        episode = work.episode(point.id, one.values.taken_at)
        arrived.setdefault(one.view_id, []).append(
            VisitReading(one.reading_id, point, round_id, one.source, one.chosen, episode, one.values)
        )
    again = [
        view_id
        for view_id in views
        if view_id in there or gone or not _follows(work, arrived.get(view_id, ()))
    ]
    _judge_following(work, [view for view in views if view not in set(again)], arrived)
    if again:
        _judge_again(work, again, arrived, there=there, gone=gone)
    due_open = _write(work, cause)
    judged = {one.reading.reading_id: one for one, _set_id in work.written}
    return Assessed(judged, known, tuple(work.memories), due_open)


def _follows(work: _Work, visit: Sequence[VisitReading]) -> bool:
    """True when every reading comes after all that is known of its point."""
    for reading in visit:
        last = work.known[reading.point.id].memory.last_visit_at
        if last is not None and reading.values.taken_at <= last:
            return False
    return True


def _judge_following(work: _Work, views: Sequence[int], arrived: Mapping[int, list[VisitReading]]) -> None:
    """Visits that go on from the states of their points."""
    visits = [arrived[view_id] for view_id in views if view_id in arrived]
    _recall_shares(work, [reading.point.id for visit in visits for reading in visit])
    for visit in visits:
        set_id = work.set_id(visit[0].point)
        criteria_set = work.sets[set_id]
        memories = {reading.point.id: work.known[reading.point.id].memory for reading in visit}
        for judged in judge_visit(visit, memories, criteria_set, ranges=work.ranges):
            remember(memories[judged.reading.point.id], judged, criteria_set)
            work.written.append((judged, set_id))
        work.memories.update(memories)


def _recall_shares(work: _Work, point_ids: Iterable[int]) -> None:
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


def _replay(work: _Work, memory: Memory, point_id: int, stored: Iterable[StoredVerdict]) -> None:
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


def _stored_visit(work: _Work, views: Iterable[int], *, without: set[int]) -> dict[int, list[VisitReading]]:
    """By view what this round has brought of it before."""
    return _visits(work, [work.round_id], views, without=without).get(work.round_id, {})


def _visits(
    work: _Work, round_ids: Iterable[int], views: Iterable[int], *, without: set[int]
) -> dict[int, dict[int, list[VisitReading]]]:
    """By round and view the valid readings stored."""
    found: dict[int, dict[int, list[VisitReading]]] = {}
    for view_id, chosen, reading in readings.current_of_views(work.unit, round_ids, views):
        if reading.id not in without and reading.point_id in work.known and reading.round_id is not None:
            visit = found.setdefault(reading.round_id, {}).setdefault(view_id, [])
            visit.append(_visit_reading(work, reading, chosen))
    return found


def _visit_reading(work: _Work, reading: Reading, chosen: str | None) -> VisitReading:
    point = work.known[reading.point_id].point
    episode = work.episode(point.id, reading.taken_at)
    return VisitReading(reading.id, point, reading.round_id, reading.source, chosen, episode, reading)


def _judge_again(
    work: _Work,
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
    work: _Work,
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
    work: _Work,
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
        for judged in judge_visit(visit, memories, work.sets[set_id], ranges=work.ranges):
            remember(memories[judged.reading.point.id], judged, work.sets[set_id], proven_by=work.proven_by)
            held_before = standing.pop(judged.reading.reading_id, None)
            if held_before is not None and _same(held_before, judged, set_id):
                work.kept[held_before.reading_id] = held_before.assessment_id
                continue
            if held_before is not None:
                work.retired.append(held_before.assessment_id)
            work.written.append((judged, set_id))
    work.retired += [one.assessment_id for one in standing.values()]
    work.memories.update(memories)


def _same(stored: StoredVerdict, judged: Judged, set_id: int) -> bool:
    return (
        stored.criteria_id == set_id
        and stored.episode == judged.reading.episode
        and stored.taken_at == judged.reading.values.taken_at
        and (stored.counts_level, stored.counts_trend) == (judged.counts_level, judged.counts_trend)
        and _plain(stored.verdict) == _plain(judged.verdict)
    )


def _plain(verdict: Verdict) -> Verdict:
    """A verdict as far as a row keeps it."""
    return replace(verdict, source="", chances=None)


# ---- writing -------------------------------------------------------------------------------


def _write(work: _Work, cause: str) -> tuple[int, ...]:
    unit = work.unit
    ids = list(reserve_keys(unit, "assessments", len(work.written)))
    rows = [
        _assessment(assessment_id, judged, set_id, now=work.now)
        for assessment_id, (judged, set_id) in zip(ids, work.written, strict=True)
    ]
    assessments.add_assessments(unit, rows)
    if work.retired:
        assessments.retire_assessments(unit, work.retired)
    criteria.lock_criteria(unit, {set_id for _judged, set_id in work.written})
    by_reading = work.kept | {
        judged.reading.reading_id: assessment_id
        for assessment_id, (judged, _set_id) in zip(ids, work.written, strict=True)
    }
    return _write_states(work, by_reading, cause)


def _assessment(assessment_id: int, judged: Judged, set_id: int, *, now: datetime) -> Sequence[Any]:
    reading, v = judged.reading, judged.verdict
    return (
        assessment_id,
        reading.reading_id,
        v.point_id,
        reading.round_id,
        reading.values.taken_at,
        now,
        set_id,
        METHOD_VERSION,
        True,
        judged.counts_level,
        judged.counts_trend,
        reading.episode,
        _number(v.level),
        _number(v.band),
        v.at_least,
        v.near_line,
        v.clears,
        v.trended,
        None if v.reference is None else v.reference.value,
        v.value_k,
        v.common_k,
        v.rise_air_k,
        v.load_ratio,
        v.share_of_rated,
        v.over_first_line,
        v.rule,
        v.sentence,
        v.published_band,
        v.cold,
        v.unequal_load,
        " ".join(map(str, v.members)),
        v.u_k,
    )


def _number(level: Level | None) -> int | None:
    return None if level is None else int(level)


def _write_states(work: _Work, by_reading: Mapping[int, int], cause: str) -> tuple[int, ...]:
    strokes = _strokes(work)
    repaired = point_state.under_repair(work.unit, work.memories)
    states, changes, due_open = [], [], []
    first_change = work.now.date()
    for point_id, memory in work.memories.items():
        known = work.known[point_id]
        if memory.last_reading_id is None and not known.has_state:
            continue
        set_id = work.set_id(known.point)
        lift = point_state.lift_of(known, work.sets[set_id])
        standing = memory.standing if lift is None else replace(memory.standing, trend_level=lift)
        level = standing.level
        stroke = strokes[point_id]
        day = _day_of_change(work, memory, known)
        since = known.since if level == known.was else day
        due = None if point_id in repaired else _due(known, memory, level)
        if due is None:
            due_open.append(point_id)
            due = Due(known.due_on, known.due_reason)
        states.append(_state(work, known, memory, by_reading, stroke, level=level, since=since, due=due))
        if level != known.was:
            first_change = min(first_change, day)
            changes.append(
                (
                    point_id,
                    known.point.site_id,
                    day,
                    _number(level),
                    _number(known.was),
                    memory.standing.at_least,
                    known.trend.value,
                    memory.common_k,
                    stroke.height_now,
                    cause,
                )
            )
    point_state.write_states(work.unit, states)
    point_state.add_changes(work.unit, changes)
    sites = {work.known[point_id].point.site_id for point_id in work.memories}
    site_months.roll_up(work.unit, sites, since=first_change, now=work.now)
    return tuple(due_open)


def _due(known: KnownPoint, memory: Memory, level: Level | None) -> Due | None:
    """When the point is due by its visits; None where it was never read."""
    if memory.last_read_at is None:
        return None
    full = memory.last_cleared_at
    if memory.last_could_clear and memory.last_visit_at is not None:
        full = memory.last_visit_at if full is None else max(full, memory.last_visit_at)
    point, wear = known.point, known.wear
    facts = DuePoint(
        point.id,
        point.site_id,
        point.equipment_id,
        point.kind.value,
        wear.criticality,
        wear.condition,
        wear.interval_months,
        wear.pf_interval_months,
        wear.repair_lead_days,
        wear.made_on,
        full,
        memory.last_read_at,
        _number(level),
        known.trend.value,
        repaired_at=None,
        retired=wear.retired,
        fresh_place=None,
        fresh_places=1,
        has_state=True,
        due_on=known.due_on,
        due_reason=known.due_reason,
    )
    return due_of(facts)


def _day_of_change(work: _Work, memory: Memory, known: KnownPoint) -> date:
    """The day of the visit; of a history told anew, the day it was told."""
    today = local_day(work.now, known.point.zone)
    if known.point.id in work.refolded or memory.last_visit_at is None:
        return today
    return min(today, local_day(memory.last_visit_at, known.point.zone))


@dataclass(frozen=True, slots=True)
class _Stroke:
    height_now: float | None = None
    height_then: float | None = None
    then_k: float | None = None
    then_on: date | None = None
    act_line_k: float | None = None


def _strokes(work: _Work) -> dict[int, _Stroke]:
    """Both ends of every touched point's stroke, warped onto the rungs in one go."""
    asked = [
        (point_id, memory.episode, at - YEAR - YEAR_GIVE, at - YEAR, at - YEAR + YEAR_GIVE)
        for point_id, memory in work.memories.items()
        if (at := memory.last_read_at) is not None and work.known[point_id].has_state
    ]
    earlier = assessments.rises_near(work.unit, asked)
    lines: dict[object, Lines | None] = {}
    ends: list[tuple[int, _Stroke, float, float, Lines]] = []
    strokes: dict[int, _Stroke] = {}
    for point_id, memory in work.memories.items():
        point = work.known[point_id].point
        set_id = work.set_id(point)
        mark = (set_id, memory.reference, point.kind, point.component)
        if mark not in lines:
            lines[mark] = rungs_of(work.sets[set_id], memory.reference, point.kind, component=point.component)
        rungs = lines[mark]
        then = _rise(earlier.get(point_id))
        now = Rise(memory.reference, memory.value_k, memory.common_k, memory.share_of_rated)
        value, before = stroke_values(now, then)
        on = None
        if before is not None and then is not None and then.taken_at is not None:
            on = local_day(then.taken_at, point.zone)
        act_line = None if rungs is None or rungs[3] != rungs[3] else rungs[3]
        stroke = strokes[point_id] = _Stroke(None, None, before, on, act_line)
        if rungs is not None and value is not None:
            ends.append((point_id, stroke, value, math.nan if before is None else before, rungs))
    if not ends:
        return strokes
    ids, drawn, values, befores, all_lines = zip(*ends, strict=True)
    high, low = heights(values, all_lines).tolist(), heights(befores, all_lines).tolist()
    for point_id, stroke, right, left in zip(ids, drawn, high, low, strict=True):
        strokes[point_id] = _Stroke(
            _known(right), _known(left), stroke.then_k, stroke.then_on, stroke.act_line_k
        )
    return strokes


def _rise(earlier: EarlierRise | None) -> Rise | None:
    if earlier is None:
        return None
    return Rise(
        earlier.reference, earlier.value_k, earlier.common_k, earlier.share_of_rated, earlier.taken_at
    )


def _known(value: float) -> float | None:
    return None if value != value else value


def _state(
    work: _Work,
    known: KnownPoint,
    memory: Memory,
    by_reading: Mapping[int, int],
    stroke: _Stroke,
    *,
    level: Level | None,
    since: date | None,
    due: Due,
) -> Sequence[Any]:
    point, standing = known.point, memory.standing
    last = memory.last_reading_id
    return (
        point.id,
        point.site_id,
        point.equipment_id,
        known.assessment_id if last is None else by_reading.get(last, known.assessment_id),
        _number(level),
        standing.at_least,
        since,
        _number(standing.reading_level),
        standing.lower_run,
        standing.clear_run,
        _number(standing.lower_peak),
        memory.previous_over_first_line,
        memory.last_read_at,
        memory.last_cleared_at,
        memory.last_temperature_c,
        memory.last_current_a,
        memory.last_rule,
        memory.last_sentence,
        None if memory.reference is None else memory.reference.value,
        memory.value_k,
        memory.common_k,
        memory.load_ratio,
        stroke.height_now,
        stroke.height_then,
        stroke.then_k,
        stroke.then_on,
        stroke.act_line_k,
        True,
        memory.baseline_k,
        memory.baseline_visits,
        memory.episode,
        work.set_id(point),
        known.data_version + 1,
        due.on,
        due.reason,
    )
