"""Like assets of a site as one group with the months it may begin in; and back from counts to assets."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.planning.month_demand import DueAssets

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NOT_THIS_YEAR = -1
#: A visit may come a quarter of its interval early, at least one month where the interval is longer.
EARLY_SHARE = 0.25
#: And as late, where its stop allows.
LATE_SHARE = 0.25


@dataclass(frozen=True, slots=True)
class DueGroups:
    """Groups of assets that differ in nothing the months care for, each of shape (g,).

    ``first`` and ``last``: months in which the first visit may fall; ``last`` at or past
    ``months`` allows that none falls into the plan. ``of_asset``, shape (n,): its group.
    """

    months: int
    site: Ints
    count: Ints
    read_min: Floats
    interval: Ints
    due: Ints
    first: Ints
    last: Ints
    qualified: Bools
    outdoor: Bools
    load_window: Ints
    criticality: Ints
    of_asset: Ints

    def choices(self, group: int) -> list[int]:
        """Months in which a group may begin; `NOT_THIS_YEAR` last, where allowed."""
        inside = list(range(int(self.first[group]), min(int(self.last[group]), self.months - 1) + 1))
        return inside + [NOT_THIS_YEAR] * bool(self.last[group] >= self.months)


def grouped(due: DueAssets, *, months: int, frozen_months: int) -> DueGroups:
    """Groups of a register, in a fixed order."""
    first, last = _windows(due, months=months, frozen_months=frozen_months)
    of_when = [due.site, first, last, due.interval_months, np.clip(due.due_month, -1, months)]
    of_what = [due.criticality, due.load_window, due.qualified, due.outdoor]
    rows = np.column_stack([*of_when, *of_what]).astype(np.int64)
    alike, of_asset, count = np.unique(rows, axis=0, return_inverse=True, return_counts=True)
    site, first, last, interval, due_month, criticality, window, qualified, outdoor = alike.T
    return DueGroups(
        months=months,
        site=site,
        count=count.astype(np.int64),
        # Tenths of a minute: whole numbers add up alike on every machine.
        read_min=np.round(np.bincount(of_asset.ravel(), weights=due.read_min) / count, 1),
        interval=interval,
        due=due_month,
        first=first,
        last=last,
        qualified=qualified.astype(bool),
        outdoor=outdoor.astype(bool),
        load_window=window,
        criticality=criticality,
        of_asset=of_asset.ravel().astype(np.int64),
    )


def hand_out(groups: DueGroups, counts: list[dict[int, int]], *, priority: Ints, key: Ints) -> Ints:
    """First months of assets: within a group the earliest month to the highest priority, then by key."""
    order = np.lexsort((key, -priority, groups.of_asset))
    month = np.empty(len(key), dtype=np.int64)
    at = 0
    for chosen in counts:
        # Not this year comes after all months.
        for begin in sorted(chosen, key=lambda begin: (begin == NOT_THIS_YEAR, begin)):
            month[order[at : at + chosen[begin]]] = begin
            at += chosen[begin]
    return month


def _windows(due: DueAssets, *, months: int, frozen_months: int) -> tuple[Ints, Ints]:
    """First and last month of each asset's first visit."""
    interval = due.interval_months
    early = np.where(interval > 1, np.maximum(1, np.floor(EARLY_SHARE * interval)), 0).astype(np.int64)
    late = np.floor(LATE_SHARE * interval).astype(np.int64)
    first = np.maximum(due.due_month - early, frozen_months)
    last = np.minimum(due.due_month + late, due.stop_month)
    last = np.maximum(last, frozen_months)
    first = np.minimum(first, last)
    fixed = np.where(due.frozen_month >= 0, due.frozen_month, np.where(due.act_now, 0, -1))
    first, last = np.where(fixed >= 0, fixed, first), np.where(fixed >= 0, fixed, last)
    return np.minimum(first, months), np.minimum(last, months)
