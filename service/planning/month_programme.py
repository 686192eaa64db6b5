"""The mixed-integer programme behind the months: columns, rows, prices, and HiGHS."""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from service.planning.month_groups import NOT_THIS_YEAR, DueGroups

if TYPE_CHECKING:
    from service.planning.month import Capacity

Floats = NDArray[np.float64]

#: Prices, in minutes of a technician; whole numbers, so that every machine adds them alike. Ours.
EARLY_PRICE = 1
LATE_PRICE = 60
FOUL_WEATHER_PRICE = 30
PEAK_PRICE = 5
OVER_PRICE = 500
#: Where the solver stops: a share of the objective, or nodes. Never seconds: those differ by machine.
GAP = 0.005
NODES = 2_000


@dataclass(frozen=True, slots=True)
class Slack:
    """Minutes beyond those offered, (t,), (t,) and (w, t)."""

    minutes: Floats
    qualified_min: Floats
    window_min: Floats


@dataclass(frozen=True, slots=True)
class Solved:
    """How many of each group begin in which month, and how good that is."""

    counts: list[dict[int, int]]
    over: Slack
    gap: float


@dataclass(slots=True)
class _Rows:
    """A sparse matrix in the making, with the bounds of its rows."""

    row: list[int] = field(default_factory=list)
    column: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def new(self, low: float, high: float) -> int:
        self.low.append(low)
        self.high.append(high)
        return len(self.low) - 1

    def put(self, row: int, column: int, value: float) -> None:
        self.row.append(row)
        self.column.append(column)
        self.value.append(value)


@dataclass(frozen=True, slots=True)
class _Columns:
    """Where what stands: beginnings (group, month), then site visits, peak, slack of each row."""

    begin: list[tuple[int, int]]
    first_visit: int
    peak: int
    first_slack: int
    total: int


def solve(groups: DueGroups, capacity: "Capacity") -> Solved:
    """The best beginnings within the hours; with hours exceeded only where nothing else is possible."""
    begin = [(g, month) for g in range(len(groups.site)) for month in groups.choices(g)]
    sites, months, windows = len(capacity.visit_min), groups.months, len(capacity.window_min)
    first_visit = len(begin)
    peak = first_visit + sites * months
    slacks = months * (2 + windows)
    columns = _Columns(begin, first_visit, peak, peak + 1, peak + 1 + slacks)
    rows = _rows(groups, capacity, columns)
    cost = _prices(groups, capacity, columns)
    found = _run(cost, rows, columns, slack=0.0)
    if found is None:
        found = _run(cost, rows, columns, slack=np.inf)
    if found is None:
        raise ArithmeticError("the programme of the months has no answer")
    values, gap = found
    counts: list[dict[int, int]] = [{} for _ in range(len(groups.site))]
    for (group, month), number in zip(begin, np.round(values[:first_visit]).astype(int), strict=True):
        if number:
            counts[group][month] = int(number)
    over = np.maximum(values[columns.first_slack :].reshape(2 + windows, months), 0.0)
    return Solved(counts, Slack(over[0], over[1], over[2:]), gap)


def _run(cost: Floats, rows: _Rows, columns: _Columns, *, slack: float) -> tuple[Floats, float] | None:
    """Values and gap; None where there is no answer."""
    high = np.full(columns.total, np.inf)
    high[columns.first_visit : columns.peak] = 1.0
    high[columns.first_slack :] = slack
    whole = np.zeros(columns.total)
    whole[: columns.peak] = 1
    matrix = coo_array((rows.value, (rows.row, rows.column)), shape=(len(rows.low), columns.total)).tocsc()
    found = milp(
        cost,
        integrality=whole,
        bounds=Bounds(np.zeros(columns.total), high),
        constraints=LinearConstraint(matrix, np.asarray(rows.low), np.asarray(rows.high)),
        options={"mip_rel_gap": GAP, "node_limit": NODES, "disp": False},
    )
    return None if found.x is None else (np.asarray(found.x), float(found.mip_gap or 0.0))


def _rows(groups: DueGroups, capacity: "Capacity", columns: _Columns) -> _Rows:
    rows = _Rows()
    months = groups.months
    whole = [rows.new(float(n), float(n)) for n in groups.count]
    limits = [capacity.minutes, capacity.qualified_min, *capacity.window_min]
    used = [[rows.new(-np.inf, float(most)) for most in limit] for limit in limits]
    for kind, row_of in enumerate(used):
        for month, row in enumerate(row_of):
            rows.put(row, columns.first_slack + kind * months + month, -1.0)
    share = capacity.minutes / max(float(capacity.minutes.mean()), 1e-9)
    level = [rows.new(-np.inf, 0.0) for _ in range(months)]
    links: dict[tuple[int, int], int] = {}
    for column, (group, begin) in enumerate(columns.begin):
        rows.put(whole[group], column, 1.0)
        for month in _chain(begin, int(groups.interval[group]), months):
            minutes = float(groups.read_min[group])
            rows.put(used[0][month], column, minutes)
            rows.put(level[month], column, minutes)
            if groups.qualified[group]:
                rows.put(used[1][month], column, minutes)
            if groups.load_window[group]:
                rows.put(used[1 + int(groups.load_window[group])][month], column, minutes)
            rows.put(_link(rows, links, group, month, groups=groups, columns=columns), column, 1.0)
    for site, visit_min in enumerate(capacity.visit_min):
        for month in range(months):
            visit = columns.first_visit + site * months + month
            rows.put(used[0][month], visit, float(visit_min))
            rows.put(level[month], visit, float(visit_min))
    for month in range(months):
        rows.put(level[month], columns.peak, -float(share[month]))
    return rows


def _link(
    rows: _Rows,
    links: dict[tuple[int, int], int],
    group: int,
    month: int,
    *,
    groups: DueGroups,
    columns: _Columns,
) -> int:
    """The row that lets a group be read in a month only where its site is visited."""
    if (group, month) not in links:
        row = links[group, month] = rows.new(-np.inf, 0.0)
        visit = columns.first_visit + int(groups.site[group]) * groups.months + month
        rows.put(row, visit, -float(groups.count[group]))
    return links[group, month]


def _prices(groups: DueGroups, capacity: "Capacity", columns: _Columns) -> Floats:
    cost = np.zeros(columns.total)
    for column, (group, begin) in enumerate(columns.begin):
        interval = int(groups.interval[group])
        when = groups.months if begin == NOT_THIS_YEAR else begin
        off = when - int(groups.due[group])
        late = max(1, round(LATE_PRICE * int(groups.criticality[group]) / interval))
        cost[column] = EARLY_PRICE * -off if off < 0 else late * off
        if groups.outdoor[group]:
            foul = [m for m in _chain(begin, interval, groups.months) if not capacity.fair_weather[m]]
            cost[column] += FOUL_WEATHER_PRICE * len(foul)
    visits = cost[columns.first_visit : columns.peak].reshape(len(capacity.visit_min), groups.months)
    visits[:] = np.round(capacity.visit_min)[:, None]
    cost[columns.peak] = PEAK_PRICE
    cost[columns.first_slack :] = OVER_PRICE
    return cost


def _chain(begin: int, interval: int, months: int) -> range:
    """Months of all visits of a group that begins then."""
    return range(0) if begin == NOT_THIS_YEAR else range(begin, months, interval)
