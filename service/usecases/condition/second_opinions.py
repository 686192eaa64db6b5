"""Work out second opinions on the series of a point."""

from collections.abc import Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from service.domain.point_history import DrawnVisit, PointHistory
from service.domain.second_opinions import (
    ApartVisit,
    ChangeOpinion,
    ChartOpinion,
    OrderOpinion,
    RelatedOpinion,
    SecondOpinions,
    SlopeOpinion,
)
from service.trends import autocorrelation, control_charts, level_changes, outliers
from service.trends.fits import CONFIDENCE, fit
from service.trends.local_trends import local_trend
from service.trends.policy import DAYS_PER_MONTH, DAYS_PER_YEAR
from service.trends.ranks import LONGEST_EXACT
from service.trends.series import SeriesBlock, since_repair
from service.trends.unsaid import Unsaid

Floats = NDArray[np.float64]

SECONDS_A_DAY = 86_400
#: The latest visits that are looked at.
MOST_VISITS = 120
#: Visits below which an opinion says nothing: the smallest chance of an order is 0.04 at four visits,
#: and a chart that begins at the fifth cannot reach its line there.
LEAST_ORDERED, LEAST_CHARTED, LEAST_WANDERING = 5, 6, 5
_DEVIATE = float(ndtri(0.5 + CONFIDENCE / 2))


def second_opinions(history: PointHistory) -> SecondOpinions:
    """What an engineer may know from elsewhere, on the visits since repair.

    Parameters
    ----------
    history : PointHistory
        As ``see_point_history`` gave it, which asked for permission.

    Returns
    -------
    SecondOpinions
        None of them decides the trend. Each is told, or why it is not.

    Notes
    -----
    On the rises as they are drawn: at common load where there are such values, nothing that a
    round shares taken away, one visit a day (the middle reading), the latest 120. No visit is
    left out for lying apart.
    """
    kept, earlier = _one_a_day(history.series)
    days = np.array([visit.taken_at.timestamp() / SECONDS_A_DAY for visit in kept])
    rise_k = np.array([visit.rise_k for visit in kept], dtype=np.float64)
    u_k = np.array([visit.u_rise_k or np.nan for visit in kept], dtype=np.float64)
    slope, order = _ordered(days, rise_k)
    cusum, ewma = _charts(kept, rise_k, u_k)
    return SecondOpinions(
        visits=len(kept),
        same_day=len(history.series) - len(kept) - earlier,
        earlier=earlier,
        first_at=kept[0].taken_at if kept else None,
        slope=slope,
        order=order,
        related=_related(days, rise_k),
        change=_change(kept, rise_k),
        cusum=cusum,
        ewma=ewma,
        wander=_wander(days, rise_k, u_k),
        apart=_apart(kept, rise_k, u_k),
    )


def _one_a_day(series: Sequence[DrawnVisit]) -> tuple[list[DrawnVisit], int]:
    """The latest visits, one a day as the trend takes them, and how many days were before those."""
    count = len(series)
    rise_k = np.array([visit.rise_k for visit in series], dtype=np.float64)
    block = SeriesBlock(
        ids=np.zeros(1, dtype=np.int64),
        offsets=np.array([0, count]),
        days=np.array([visit.taken_at.timestamp() / SECONDS_A_DAY for visit in series]),
        rise_k=rise_k,
        u_own_k=np.full(count, np.nan),
        episode=np.zeros(count, dtype=np.int64),
        load_ratio=np.full(count, np.nan),
    )
    at = since_repair(block, rise_k).at.tolist()
    return [series[k] for k in at[-MOST_VISITS:]], max(0, len(at) - MOST_VISITS)


def _ordered(days: Floats, rise_k: Floats) -> tuple[SlopeOpinion | Unsaid, OrderOpinion | Unsaid]:
    if len(days) < LEAST_ORDERED:
        return Unsaid.TOO_FEW_VISITS, Unsaid.TOO_FEW_VISITS
    found = fit(days[None], rise_k[None])
    n = len(days)
    _, alike = np.unique(rise_k, return_counts=True)
    tied_pairs = int((alike * (alike - 1) // 2).sum())
    order = OrderOpinion(
        s=int(found.s[0]),
        pairs=n * (n - 1) // 2,
        tied_pairs=tied_pairs,
        p=float(found.p[0]),
        exact=n <= LONGEST_EXACT and not tied_pairs,
    )
    per_month = (float(part[0]) * DAYS_PER_MONTH for part in (found.slope, found.slope_lo, found.slope_hi))
    return SlopeOpinion(*per_month), order


def _related(days: Floats, rise_k: Floats) -> RelatedOpinion | Unsaid:
    found = autocorrelation.related_ranks(days[None], rise_k[None])
    if found.reason[0]:
        return Unsaid(int(found.reason[0]))
    return RelatedOpinion(z=float(found.z[0]), factor=float(found.factor[0]), p=float(found.p[0]))


def _change(kept: Sequence[DrawnVisit], rise_k: Floats) -> ChangeOpinion | Unsaid:
    found = level_changes.level_change(rise_k[None])
    if found.reason[0]:
        return Unsaid(int(found.reason[0]))
    at = int(found.last_before[0])
    return ChangeOpinion(
        last_before=kept[at].taken_at,
        visits_before=at + 1,
        before_k=float(np.median(rise_k[: at + 1])),
        since_k=float(np.median(rise_k[at + 1 :])),
        size=float(found.size[0]),
        p=float(found.p[0]),
    )


def _charts(
    kept: Sequence[DrawnVisit], rise_k: Floats, u_k: Floats
) -> tuple[ChartOpinion | Unsaid, ChartOpinion | Unsaid]:
    if len(kept) < LEAST_CHARTED:
        return Unsaid.TOO_FEW_VISITS, Unsaid.TOO_FEW_VISITS
    if not np.isfinite(u_k).all():
        return Unsaid.NO_UNCERTAINTY, Unsaid.NO_UNCERTAINTY
    baseline, off = control_charts.off_baseline(rise_k, u_k)
    above, below = control_charts.cusum(off, target=0.0, slack=control_charts.SLACK)
    mean = control_charts.ewma(off, target=0.0, share=control_charts.SHARE)
    when = [visit.taken_at for visit in kept[control_charts.BASELINE_VISITS :]]
    larger = np.where(above >= below, above, -below)
    half = control_charts.ewma_half_width(control_charts.SHARE)
    return (
        _chart(larger, when, line=control_charts.CUSUM_LINE, baseline_k=float(baseline)),
        _chart(mean, when, line=half, baseline_k=float(baseline)),
    )


def _chart(values: Floats, when: Sequence[datetime], *, line: float, baseline_k: float) -> ChartOpinion:
    over = np.abs(values) > line
    beyond = np.flatnonzero(over)
    within = np.flatnonzero(~over)
    begins = int(within[-1]) + 1 if within.size else 0
    return ChartOpinion(
        baseline_k=baseline_k,
        now=float(values[-1]),
        line=line,
        over_since=when[begins] if over[-1] else None,
        last_over=when[beyond[-1]] if beyond.size else None,
        last_over_up=bool(beyond.size and values[beyond[-1]] > 0),
    )


def _wander(days: Floats, rise_k: Floats, u_k: Floats) -> SlopeOpinion | Unsaid:
    if len(days) < LEAST_WANDERING:
        return Unsaid.TOO_FEW_VISITS
    if not np.isfinite(u_k).all():
        return Unsaid.NO_UNCERTAINTY
    found = local_trend((days - days[0]) / DAYS_PER_YEAR, rise_k, u_k)
    slope, half = float(found.slope[-1]) / 12, _DEVIATE * float(found.slope_sd[-1]) / 12
    return SlopeOpinion(slope, slope - half, slope + half)


def _apart(kept: Sequence[DrawnVisit], rise_k: Floats, u_k: Floats) -> tuple[ApartVisit, ...] | Unsaid:
    if len(kept) < outliers.WINDOW:
        return Unsaid.TOO_FEW_VISITS
    found = outliers.apart(rise_k[None], np.nan_to_num(u_k, nan=0.0)[None])
    return tuple(
        ApartVisit(kept[k].reading_id, kept[k].taken_at, float(rise_k[k]), float(found.off_k[0, k]))
        for k in np.flatnonzero(found.marked[0]).tolist()
    )
