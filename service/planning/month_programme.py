"""The mixed-integer programme behind the months: columns, rows, prices, and HiGHS."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from service.planning.month_demand import Capacity
from service.planning.month_groups import NOT_THIS_YEAR, DueGroups

Floats = NDArray[np.float64]

#: Prices, in minutes of a technician; whole numbers, so that every machine adds them alike. Ours.
EARLY_PRICE = 1
LATE_PRICE = 60
FOUL_WEATHER_PRICE = 30
PEAK_PRICE = 5
OVER_PRICE = 500
#: Where the solver stops: a share of the objective, or nodes. Never seconds: those differ by machine.
GAP = 0.01
NODES = 500
#: The programme may split assets and knows mean minutes of a group; so many readings, and such a share,
#: of each limit are kept back for what that leaves out.
KEPT_BACK_READINGS, KEPT_BACK_SHARE = 3, 0.005
#: And of the evenness one reading of a mean month, at most so much.
FOR_WHOLE_ASSETS = 0.003


@dataclass(frozen=True, slots=True)
class Solved:
    """How many of each group begin in which month, and how good that is."""

    counts: list[dict[int, int]]
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
    """Where what stands: beginnings (group, month), site visits, peak, minutes of months, slacks."""

    begin: list[tuple[int, int]]
    first_visit: int
    peak: int
    first_minutes: int
    first_slack: int
    total: int


def solve(groups: DueGroups, capacity: Capacity, *, peak_over_mean: float | None) -> Solved:
    """The best beginnings: level and within the hours; else not level; else beyond the hours."""
    begin = [(g, month) for g in range(len(groups.site)) for month in groups.choices(g)]
    sites, months, windows = len(capacity.visit_min), groups.months, len(capacity.window_min)
    first_visit = len(begin)
    peak = first_visit + sites * months
    slacks = months * (2 + windows)
    columns = _Columns(begin, first_visit, peak, peak + 1, peak + 1 + months, peak + 1 + months + slacks)
    cost = _prices(groups, capacity, columns)
    values, gap = _best(groups, capacity, columns, cost=cost, peak_over_mean=peak_over_mean)
    return Solved(_whole_assets(groups, columns, values), gap)


def _best(
    groups: DueGroups, capacity: Capacity, columns: _Columns, *, cost: Floats, peak_over_mean: float | None
) -> tuple[Floats, float]:
    """One wish after the other is given up, the hours last."""
    if peak_over_mean is not None:
        peak_over_mean -= _for_whole_assets(groups)
    for ratio, slack in dict.fromkeys(((peak_over_mean, 0.0), (None, 0.0), (None, np.inf))):
        rows = _rows(groups, capacity, columns, peak_over_mean=ratio)
        found = _solved(cost, rows, columns, slack=slack)
        if found is not None:
            return found
    raise ArithmeticError("the programme of the months has no answer")


def _for_whole_assets(groups: DueGroups) -> float:
    """What making assets whole may add to the fullest month, as a share of the mean one."""
    a_month = float((groups.count * groups.read_min / groups.interval).sum())
    one = float(groups.read_min.max(initial=0.0))
    return min(FOR_WHOLE_ASSETS, one / a_month) if a_month > 0 else FOR_WHOLE_ASSETS


def _solved(cost: Floats, rows: _Rows, columns: _Columns, *, slack: float) -> tuple[Floats, float] | None:
    """Site visits whole, assets in parts: those are made whole afterwards."""
    visits = slice(columns.first_visit, columns.peak)
    low, high = np.zeros(columns.total), np.full(columns.total, np.inf)
    high[visits], high[columns.first_slack :] = 1.0, slack
    whole = np.zeros(columns.total, dtype=np.int64)
    whole[visits] = 1
    return _run(cost, rows, whole, low=low, high=high)


def _whole_assets(groups: DueGroups, columns: _Columns, values: Floats) -> list[dict[int, int]]:
    """Parts of assets to whole ones, each to where the months are owed most minutes so far."""
    counts: list[dict[int, int]] = [{} for _ in range(len(groups.site))]
    parts: list[dict[int, float]] = [{} for _ in range(len(groups.site))]
    for (group, begin), value in zip(columns.begin, values[: columns.first_visit], strict=True):
        counts[group][begin] = int(np.floor(value + 1e-6))
        parts[group][begin] = max(float(value) - counts[group][begin], 0.0)
    owed = np.zeros((3, groups.months))
    for group, part in enumerate(parts):
        missing = int(groups.count[group]) - sum(counts[group].values())
        if not missing:
            continue
        kinds = [True, bool(groups.qualified[group]), bool(groups.load_window[group])]
        minutes = np.outer(kinds, np.full(groups.months, groups.read_min[group]))
        chains = {m: _chain(m, int(groups.interval[group]), groups.months) for m in part}
        for begin, share in part.items():
            owed[:, chains[begin]] += share * minutes[:, chains[begin]]
        open_months = [m for m in part if part[m] > 1e-6]
        for _ in range(missing):
            best = max(open_months, key=lambda m: (owed[:, chains[m]].sum() / max(len(chains[m]), 1), -m))
            counts[group][best] += 1
            open_months = [m for m in open_months if m != best]
            owed[:, chains[best]] -= minutes[:, chains[best]]
    return counts


def _run(
    cost: Floats, rows: _Rows, whole: NDArray[np.int64], *, low: Floats, high: Floats
) -> tuple[Floats, float] | None:
    """Values and gap; None where there is no answer."""
    # a third of a second of every start, and only who solves a programme needs it
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    matrix = coo_array((rows.value, (rows.row, rows.column)), shape=(len(rows.low), len(cost))).tocsc()
    found = milp(
        cost,
        integrality=whole,
        bounds=Bounds(low, high),
        constraints=LinearConstraint(matrix, np.asarray(rows.low), np.asarray(rows.high)),
        options={"mip_rel_gap": GAP, "node_limit": NODES, "disp": False},
    )
    return None if found.x is None else (np.asarray(found.x), float(found.mip_gap or 0.0))


def _rows(groups: DueGroups, capacity: Capacity, columns: _Columns, *, peak_over_mean: float | None) -> _Rows:
    rows, months = _Rows(), groups.months
    kept_back = KEPT_BACK_READINGS * float(groups.read_min.max(initial=0.0))
    whole = [rows.new(float(n), float(n)) for n in groups.count]
    spent = _minutes_rows(rows, capacity, columns, kept_back=kept_back, peak_over_mean=peak_over_mean)
    others = [capacity.qualified_min, *capacity.window_min]
    used = [
        [rows.new(-np.inf, float(most) * (1 - KEPT_BACK_SHARE) - kept_back) for most in limit]
        for limit in others
    ]
    for kind, row_of in enumerate(used, start=1):
        for month, row in enumerate(row_of):
            rows.put(row, columns.first_slack + kind * months + month, -1.0)
    links: dict[tuple[int, int], int] = {}
    for column, (group, begin) in enumerate(columns.begin):
        rows.put(whole[group], column, 1.0)
        minutes = float(groups.read_min[group])
        kinds = [0] * bool(groups.qualified[group])
        kinds += [int(groups.load_window[group])] * bool(groups.load_window[group])
        for month in _chain(begin, int(groups.interval[group]), months):
            rows.put(spent[month], column, minutes)
            for kind in kinds:
                rows.put(used[kind][month], column, minutes)
            rows.put(_link(rows, links, group, month, groups=groups, columns=columns), column, 1.0)
    return rows


def _minutes_rows(
    rows: _Rows, capacity: Capacity, columns: _Columns, *, kept_back: float, peak_over_mean: float | None
) -> list[int]:
    """Rows that add up each month's minutes, and what holds those: hours, peak, evenness."""
    months = len(capacity.minutes)
    spent = [rows.new(0.0, 0.0) for _ in range(months)]
    even = rows.new(-np.inf, 0.0)
    rows.put(even, columns.peak, 0.0 if peak_over_mean is None else 1.0)
    mean = max(float(capacity.minutes.mean()), 1e-9)
    for month, row in enumerate(spent):
        minutes = columns.first_minutes + month
        rows.put(row, minutes, -1.0)
        for site, visit_min in enumerate(capacity.visit_min):
            rows.put(row, columns.first_visit + site * months + month, float(visit_min))
        most = rows.new(-np.inf, float(capacity.minutes[month]) * (1 - KEPT_BACK_SHARE) - kept_back)
        rows.put(most, minutes, 1.0)
        rows.put(most, columns.first_slack + month, -1.0)
        level = rows.new(-np.inf, 0.0)
        rows.put(level, minutes, 1.0)
        rows.put(level, columns.peak, -float(capacity.minutes[month]) / mean)
        rows.put(even, minutes, -(peak_over_mean or 0.0) / months)
    return spent


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


def _prices(groups: DueGroups, capacity: Capacity, columns: _Columns) -> Floats:
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
