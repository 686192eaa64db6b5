"""Where points stand now, how that changed, and what was decided about it."""

from datetime import UTC, date, datetime, time, timedelta

import numpy as np
from numpy.random import Generator

from bench.fleet.columns import write
from bench.fleet.lives import YEAR_OF_VISITS, Lives, rise_k
from bench.fleet.register import STAMPS, Fleet, Ints
from bench.fleet.visits import DAYS_BETWEEN, LAST_DAY, day_of
from service.domain.words import FindingState, ReferenceKind, Trend
from service.storage.tables.findings import FindingRow, RepairRow, TellingRow
from service.storage.tables.readings import PointStateRow, SiteMonthRow, SiteStateRow, StandingChangeRow
from service.storage.tables.register import SeriesCutRow
from service.storage.unit import Unit

#: of twenty findings so many are in each state
STATES = (
    [FindingState.OPEN] * 7 + [FindingState.PLANNED] * 6 + [FindingState.REPAIRED] * 4
    + [FindingState.NOT_PROVEN, FindingState.SET_ASIDE, FindingState.PROVEN]
)  # fmt: skip
MENDED = (FindingState.REPAIRED, FindingState.NOT_PROVEN, FindingState.PROVEN)


def write_standings(unit: Unit, fleet: Fleet, lives: Lives, *, draw: Generator, ids: dict[str, int]) -> None:
    """Findings first: a point's state names the one that is on it."""
    finding_of = _write_findings(unit, fleet, lives, draw=draw, ids=ids)
    _write_states(unit, fleet, lives, finding_of=finding_of, draw=draw, ids=ids)
    _write_changes(unit, fleet, lives)
    _write_months(unit, fleet, lives)


def _write_states(
    unit: Unit, fleet: Fleet, lives: Lives, *, finding_of: dict[int, int], draw: Generator, ids: dict[str, int]
) -> None:  # fmt: skip
    size = fleet.size
    points, sites = np.arange(size.points), fleet.site_of_point.tolist()
    before = max(size.visits - 1 - YEAR_OF_VISITS, 0)
    level = lives.standings[:, -1]
    now, turns = lives.heights[:, -1], np.array(fleet.rotating)
    read_on = [datetime.combine(day_of(fleet, s, size.visits - 1), time(9), UTC) for s in range(size.sites)]
    wait = draw.integers(-40, 160, size.points).tolist()
    kinds = (ReferenceKind.LIKE_PARTS.value, ReferenceKind.BASELINE.value)
    write(
        unit, PointStateRow, size.points, point_id=points + 1, site_id=fleet.site_of_point + 1,
        equipment_id=fleet.equipment_of_point + 1, assessment_id=points + (size.visits - 1) * size.points + 1,
        level=level, reading_level=level, at_least=draw.random(size.points) < 0.05,
        since=[read_on[s].date() - timedelta(days=DAYS_BETWEEN * (k % 9)) for k, s in enumerate(sites)],
        last_read_at=[read_on[s] for s in sites], last_cleared_at=[read_on[s] for s in sites],
        last_temperature_c=rise_k(now) + 30, last_rule="1a.2 similar",
        last_sentence=[f"Over like parts: {k:.1f} K." for k in rise_k(now).tolist()],
        reference=[kinds[turn] for turn in turns.tolist()], value_k=rise_k(now),
        common_k=np.where(turns, np.nan, rise_k(now) * 1.3), load_ratio=np.where(turns, np.nan, 0.75),
        height_now=now, height_year_ago=np.where(lives.mended, np.nan, lives.heights[:, before]),
        act_line_k=15.0, trend=[(Trend.RISING if up else Trend.STEADY).value for up in lives.rising.tolist()],
        slope_k_month=np.where(lives.rising, 0.4, 0.0), slope_low=-0.02, slope_high=0.5, trend_p=0.02,
        trend_visits=min(size.visits, 24), episode=lives.mended * 1,
        due_on=[read_on[s].date() + timedelta(days=30 + w) for s, w in zip(sites, wait, strict=True)],
        due_reason="routine", finding_id=[finding_of.get(k) for k in range(size.points)], criteria_id=ids["criteria"],
    )  # fmt: skip


def _write_changes(unit: Unit, fleet: Fleet, lives: Lives) -> None:
    standings = lives.standings
    seen = np.nan_to_num(standings, nan=-1)
    moved = np.column_stack([seen[:, 0] >= 0, seen[:, 1:] != seen[:, :-1]])
    visits, points = np.nonzero(moved.T)
    was = np.where(visits > 0, standings[points, np.maximum(visits - 1, 0)], np.nan)
    sites = fleet.site_of_point[points]
    write(
        unit, StandingChangeRow, points.size, id=np.arange(points.size) + 1, point_id=points + 1, site_id=sites + 1,
        on=[day_of(fleet, s, v) for s, v in zip(sites.tolist(), visits.tolist(), strict=True)],
        level=standings[points, visits], was=was, trend=Trend.STEADY.value, height=lives.heights[points, visits],
    )  # fmt: skip


def _write_months(unit: Unit, fleet: Fleet, lives: Lives) -> None:
    size, sites = fleet.size, fleet.site_of_point
    standings = np.nan_to_num(lives.standings, nan=5).astype(np.int64)
    names = ("level_0", "level_1", "level_2", "level_3", "level_4", "no_verdict")
    for back in range(1, min(size.visits, 58)):
        end = _month_before(LAST_DAY, back)
        visit = max(size.visits - 1 - (LAST_DAY - end).days // DAYS_BETWEEN, 0)
        table = np.zeros((size.sites, 6), dtype=np.int64)
        np.add.at(table, (sites, standings[:, visit]), 1)
        write(
            unit, SiteMonthRow, size.sites, site_id=np.arange(size.sites) + 1, month=f"{end:%Y-%m}",
            points_read=table.sum(axis=1), **{name: table[:, k] for k, name in enumerate(names)},
        )  # fmt: skip
    write(
        unit, SiteStateRow, size.sites, site_id=np.arange(size.sites) + 1, data_version=size.visits,
        changed_at=STAMPS["changed_at"],
    )  # fmt: skip


def _month_before(day: date, back: int) -> date:
    month = day.year * 12 + day.month - 1 - back
    return date(month // 12, month % 12 + 1, 28)


def _write_findings(
    unit: Unit, fleet: Fleet, lives: Lives, *, draw: Generator, ids: dict[str, int]
) -> dict[int, int]:  # fmt: skip
    """Findings on the gravest points and on the mended ones; by point's place the finding's id."""
    size, level = fleet.size, np.nan_to_num(lives.standings[:, -1], nan=0).astype(np.int64)
    mended = np.flatnonzero(lives.mended)[: size.findings // 3]
    grave = np.argsort(-level + 0.5 * draw.random(size.points), kind="stable")[: size.findings - mended.size]
    points = np.concatenate([grave, np.setdiff1d(mended, grave)])
    states = [STATES[k % len(STATES)] for k in range(grave.size)]
    states += [
        FindingState.PROVEN if k % 2 else FindingState.REPAIRED for k in range(points.size - grave.size)
    ]
    keys = np.arange(points.size) + 1
    opened = [
        datetime.combine(LAST_DAY, time(9), UTC) - timedelta(days=int(d))
        for d in draw.integers(1, 300, keys.size)
    ]
    write(
        unit, FindingRow, keys.size, id=keys, client_id=fleet.client_id, site_id=fleet.site_of_point[points] + 1,
        point_id=points + 1, title=[f"{fleet.point_tags[k]}: hotter than its like parts" for k in points.tolist()],
        state=[state.value for state in states], level=np.where(level[points] > 0, level[points], 2),
        value_k=rise_k(lives.heights[points, -1]), opened_at=opened, opened_by_id=ids["engineer"],
        owner_id=[ids["engineer"] if k % 3 else None for k in range(keys.size)],
        due_on=[at.date() + timedelta(days=45) for at in opened], work_order=[f"{10000 + k}" for k in range(keys.size)],
        planned_for=[at.date() + timedelta(days=60) for at in opened], review_on=LAST_DAY, set_aside_reason="Spare feeder.",
        **STAMPS,
    )  # fmt: skip
    _write_mending(unit, points, states, opened=opened)
    told = [k for k, p in enumerate(points.tolist()) if level[p] == 4 and k % 2]
    write(
        unit, TellingRow, len(told), id=np.arange(len(told)) + 1, finding_id=np.array(told, dtype=np.int64) + 1,
        told_whom="Control room", told_at=[opened[k] for k in told], answer="Load taken off.", by_person_id=ids["engineer"],
    )  # fmt: skip
    _write_off_round(unit, fleet, first=keys.size + 1, ids=ids)
    live = {point: k + 1 for k, point in enumerate(points.tolist()) if states[k] is not FindingState.PROVEN}
    return live


def _write_mending(unit: Unit, points: Ints, states: list[FindingState], *, opened: list[datetime]) -> None:
    done = [k for k, state in enumerate(states) if state in MENDED]
    outcomes = {FindingState.PROVEN: "proven", FindingState.NOT_PROVEN: "not proven"}
    at = [opened[k] + timedelta(days=20) for k in done]
    write(
        unit, RepairRow, len(done), id=np.arange(len(done)) + 1, finding_id=np.array(done) + 1, attempt=1, repaired_at=at,
        outcome=[outcomes.get(states[k]) for k in done],
        outcome_at=[when + timedelta(days=30) if states[k] in outcomes else None for k, when in zip(done, at, strict=True)],
    )  # fmt: skip
    write(
        unit, SeriesCutRow, len(done), id=np.arange(len(done)) + 1, point_id=points[done] + 1, at=at, reason="repaired",
        finding_id=np.array(done) + 1,
    )  # fmt: skip


def _write_off_round(unit: Unit, fleet: Fleet, *, first: int, ids: dict[str, int]) -> None:
    """Hot parts met off the round: a place and a picture, no point."""
    count = min(fleet.size.sites, 10)
    write(
        unit, FindingRow, count, id=np.arange(first, first + count), client_id=fleet.client_id,
        site_id=np.arange(count) + 1, place="Behind the chlorine store", picture="IR_0042", title="Hot terminal box",
        level=2, opened_at=datetime.combine(LAST_DAY, time(9), UTC), opened_by_id=ids["walker"], **STAMPS,
    )  # fmt: skip
