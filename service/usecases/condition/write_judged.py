"""Write what judging brought: assessments, states of points, changes of standing, month-ends."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from service.charts.rungs import heights
from service.domain.due import Due, due_of
from service.domain.heights import Lines, Rise, rungs_of, stroke_values
from service.domain.judgement import METHOD_VERSION
from service.domain.site_clock import local_day
from service.domain.stop_facts import DuePoint
from service.domain.visits import Judged, Memory
from service.domain.words import Level
from service.storage import assessments, criteria, known_points, point_state, site_months
from service.storage.assessments import EarlierRise
from service.storage.bulk import reserve_keys
from service.storage.known_points import KnownPoint
from service.usecases.condition.visit_work import Work

YEAR = timedelta(days=365)
#: A stroke begins 9 to 15 months back (look.md).
YEAR_GIVE = timedelta(days=91)


def write_judged(work: Work, cause: str) -> tuple[int, ...]:
    """Write assessments, states, changes and month-ends.

    Returns
    -------
    tuple of int
        Points whose due day hangs on more than their visits.
    """
    unit = work.unit
    ids = list(reserve_keys(unit, "assessments", len(work.written)))
    rows = [
        _assessment(assessment_id, judged, set_id, work=work)
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


_NO_CHANCES = (None,) * len(Level)


def _assessment(assessment_id: int, judged: Judged, set_id: int, *, work: Work) -> Sequence[Any]:
    reading, v = judged.reading, judged.verdict
    return (
        assessment_id,
        reading.reading_id,
        v.point_id,
        reading.round_id,
        reading.values.taken_at,
        work.now,
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
        v.u_common_k,
        v.common_low_k,
        v.common_high_k,
        reading.measured.surface_c,
        *(v.chances or _NO_CHANCES),
        reading.inputs.to_text(),
        " ".join(v.cautions),
        v.smallest_fault_k,
        work.reevaluation_id,
        work.replaces.get(reading.reading_id),
    )


def _number(level: Level | None) -> int | None:
    return None if level is None else int(level)


def _write_states(work: Work, by_reading: Mapping[int, int], cause: str) -> tuple[int, ...]:
    strokes = _strokes(work)
    repaired = point_state.under_repair(work.unit, work.memories)
    states, changes, due_open = [], [], []
    first_change = work.now.date()
    for point_id, memory in work.memories.items():
        known = work.known[point_id]
        if memory.last_reading_id is None and not known.has_state:
            continue
        set_id = work.set_id(known.point)
        lift = known_points.lift_of(known, work.sets[set_id])
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


def _day_of_change(work: Work, memory: Memory, known: KnownPoint) -> date:
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


def _strokes(work: Work) -> dict[int, _Stroke]:
    """Both ends of every touched point's stroke, warped onto the rungs in one go."""
    spans: dict[datetime, tuple[datetime, datetime, datetime]] = {}
    asked = []
    for point_id, memory in work.memories.items():
        at = memory.last_read_at
        if at is None or not work.known[point_id].has_state:
            continue
        span = spans.get(at)  # many points are read in one minute
        if span is None:
            span = spans[at] = (at - YEAR - YEAR_GIVE, at - YEAR, at - YEAR + YEAR_GIVE)
        asked.append((point_id, memory.episode, *span))
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
    work: Work,
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
        memory.u_k,
        memory.u_common_k,
        memory.smallest_fault_k,
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
