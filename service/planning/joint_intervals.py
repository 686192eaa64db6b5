"""One price for a technician's minute: how often each site is visited and each asset read, together."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.planning.delay_time import MONTHS_PER_YEAR, caught_shares

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Months between two visits of a site, and between two readings of an asset. As with power-of-two
#: policies (Roundy 1985, from memory) a coarse table costs little and lets visits fall together.
SITE_BASES: tuple[int, ...] = (1, 2, 3, 4, 6, 12)
INTERVALS: tuple[int, ...] = (1, 2, 3, 4, 6, 8, 9, 12, 18, 24, 36)
#: The ceilings, in the order in which an equal one is told.
CEILINGS: tuple[str, ...] = (
    "class of equipment",
    "critical class",
    "from first sign to failure, less the repair",
    "set by the site",
)
CRITICAL_CEILING_MONTHS = 3.0
MINUTES_PER_HOUR = 60.0
_STEPS = 44


@dataclass(frozen=True, slots=True)
class Assets:
    """What is to be read, each of shape (n,).

    Attributes
    ----------
    site : ndarray of int
        Index of the site, from 0.
    rate_per_year, pf_months, found_share : ndarray
        Faults begun a year; mean time from first sign to failure [months]; chance that one
        reading sees a plain fault [0, 1].
    weight : ndarray
        What a fault caught is worth.
    read_min : ndarray
        To read it, without the way [minutes].
    ceiling_months : ndarray, shape (n, len(CEILINGS))
        Hard ceilings [months]; infinite where one does not apply. Each asset needs a finite one.
    lead_months : ndarray
        From finding to mended [months].
    """

    site: Ints
    rate_per_year: Floats
    pf_months: Floats
    found_share: Floats
    weight: Floats
    read_min: Floats
    ceiling_months: Floats
    lead_months: Floats


@dataclass(frozen=True, slots=True)
class Sites:
    """What a visit costs before anything is read, each of shape (s,).

    ``setup_min``: drive and signing in [minutes]. ``walk_min``: the walk past all assets of the
    site [minutes]; the walk past a share q of them is √q of it.
    """

    setup_min: Floats
    walk_min: Floats


@dataclass(frozen=True, slots=True)
class JointIntervals:
    """The rhythm of sites and assets, and what set it.

    Attributes
    ----------
    base_months : ndarray, shape (s,)
        Between two visits of each site [months]; 0 for a site without assets.
    interval_months : ndarray, shape (n,)
        Between two readings of each asset [months]: a multiple of its site's base.
    priced_months : ndarray, shape (n,)
        What the price alone would have asked for at that site [months].
    ceiling : ndarray of int, shape (n,)
        Index into ``CEILINGS`` of the one that binds; -1 where the price set the interval.
    unmet : ndarray of bool, shape (n,)
        The ceiling lies below the shortest interval of the table: to be arranged by hand.
    price : float
        Worth of a technician's minute, in faults (times their weight).
    caught_per_year : ndarray, shape (n,)
        Faults caught a year of each asset, by the rates that were given.
    hours_per_month : float
        Used by this rhythm, on average.
    short_hours : float
        What the ceilings alone need a month beyond the hours given; 0 where they fit.
    """

    base_months: Ints
    interval_months: Ints
    priced_months: Ints
    ceiling: Ints
    unmet: Bools
    price: float
    caught_per_year: Floats
    hours_per_month: float
    short_hours: float


@dataclass(frozen=True, slots=True)
class _Table:
    """What every interval brings and takes, (n, k) and (k,), and which are allowed."""

    every: Ints
    gain: Floats
    per_month: Floats
    allowed: Bools
    site: Ints
    read_min: Floats
    sites: Sites
    members: Floats


@dataclass(frozen=True, slots=True)
class _Choice:
    """One answer for one price."""

    base: Ints
    column: Ints
    minutes: float


def joint_intervals(assets: Assets, sites: Sites, *, hours_per_month: float) -> JointIntervals:
    """Intervals of all assets and bases of all sites within the hours, by one price.

    Parameters
    ----------
    assets : Assets
    sites : Sites
    hours_per_month : float
        Technician hours on sites and on the road in a mean month [h].

    Returns
    -------
    JointIntervals

    Raises
    ------
    ValueError
        For an asset without a finite ceiling, or hours that are not above 0.

    Notes
    -----
    max Σ w·λ·P(I) subject to Σ minutes/I + Σ (setup + walk)/T ≤ hours, I a multiple of T and at
    most its ceilings. The price of the hours is found by bisection; for a price every site is
    solved exactly by trying all bases. What the last step of a base leaves over goes to shorter
    intervals at the bases found. Where the ceilings need more than the hours, they are kept all
    the same and ``short_hours`` says how much is missing.
    """
    if not hours_per_month > 0:
        raise ValueError(f"hours_per_month is above 0, got {hours_per_month}")
    least = assets.ceiling_months.min(axis=1)
    if not np.isfinite(least).all():
        raise ValueError(f"{int((~np.isfinite(least)).sum())} assets have no maximum interval")
    table = _table(assets, sites, least)
    budget = hours_per_month * MINUTES_PER_HOUR
    price, choice = _cheapest_that_fits(table, budget)
    if choice.minutes <= budget:
        price, choice = _fill(table, price, choice, budget)
    return _told(assets, table, choice, price=price, least=least, budget=budget)


def _table(assets: Assets, sites: Sites, least: Floats) -> _Table:
    months = np.asarray(INTERVALS, float)
    shares = caught_shares(
        assets.pf_months, assets.found_share, lead_months=assets.lead_months, intervals_months=months
    )
    allowed = months <= least[:, None] + 1e-9
    allowed[:, 0] = True
    gain = (assets.weight * assets.rate_per_year / MONTHS_PER_YEAR)[:, None] * shares
    members = np.bincount(assets.site, minlength=len(sites.setup_min)).astype(float)
    every = np.arange(len(assets.site))
    return _Table(every, gain, 1 / months, allowed, assets.site, assets.read_min, sites, members)


def _cheapest_that_fits(table: _Table, budget: float) -> tuple[float, _Choice]:
    """The lowest price at which the minutes fit; where none does, the fewest minutes there are."""
    high = float((table.gain.max(axis=1) / table.read_min).max()) * MONTHS_PER_YEAR * 3
    best = _priced(table, high)
    low, found = high * 1e-9, high
    if best.minutes > budget:
        return high, best
    for _ in range(_STEPS):
        middle = float(np.sqrt(low * found))
        tried = _priced(table, middle)
        if tried.minutes <= budget:
            found, best = middle, tried
        else:
            low = middle
        if found / low < 1 + 1e-4:
            break
    return found, best


def _fill(table: _Table, price: float, choice: _Choice, budget: float) -> tuple[float, _Choice]:
    """Lower the price further with the bases kept."""
    low, found, best = price * 1e-3, price, choice
    for _ in range(_STEPS // 2):
        middle = float(np.sqrt(low * found))
        columns = _best_columns(table, middle, choice.base)
        minutes = _minutes(table, choice.base, columns)
        if minutes <= budget:
            found, best = middle, _Choice(choice.base, columns, minutes)
        else:
            low = middle
    return found, best


def _priced(table: _Table, price: float) -> _Choice:
    """The best base of every site, and the best interval of every asset at it."""
    count = len(table.members)
    worth, columns, net = [], [], _net(table, price)
    for base in SITE_BASES:
        fits = np.flatnonzero(np.asarray(INTERVALS) % base == 0)
        at = net[:, fits].argmax(axis=1)
        column = fits[at]
        value = net[table.every, column]
        total = np.bincount(table.site, weights=value, minlength=count)
        worth.append(total - price * _visit_min(table, column, base) / base)
        columns.append(column)
    best = np.asarray(worth).argmax(axis=0)
    bases = np.where(table.members > 0, np.asarray(SITE_BASES)[best], 0)
    column = np.asarray(columns)[best[table.site], np.arange(len(table.site))]
    return _Choice(bases, column, _minutes(table, bases, column))


def _net(table: _Table, price: float) -> Floats:
    cost = (table.read_min + _walk_step(table)[table.site])[:, None] * table.per_month
    net: Floats = np.where(table.allowed, table.gain - price * cost, -np.inf)
    return net


def _best_columns(table: _Table, price: float, bases: Ints) -> Ints:
    net = _net(table, price)
    fits = np.asarray(INTERVALS) % np.maximum(bases, 1)[:, None] == 0
    return np.asarray(np.where(fits[table.site], net, -np.inf).argmax(axis=1))


def _walk_step(table: _Table) -> Floats:
    """Walk that one asset more adds to a visit [minutes]: the slope of √q, half of all being read."""
    step: Floats = table.sites.walk_min / (2 * np.sqrt(0.5) * np.maximum(table.members, 1))
    return step


def _visit_min(table: _Table, column: Ints, base: int | Ints) -> Floats:
    """Setup of a visit and what of its walk the assets have not been charged with [minutes]."""
    share, step = _share(table, column, base), _walk_step(table)
    charged = step * share * table.members
    left: Floats = table.sites.setup_min + table.sites.walk_min * np.sqrt(share) - charged
    return left


def _share(table: _Table, column: Ints, base: int | Ints) -> Floats:
    """Mean share of a site's assets that one visit reads."""
    often = np.bincount(table.site, weights=table.per_month[column], minlength=len(table.members))
    share: Floats = np.minimum(often * base / np.maximum(table.members, 1), 1.0)
    return share


def _minutes(table: _Table, bases: Ints, column: Ints) -> float:
    """Minutes of a mean month."""
    visits = np.where(bases > 0, 1 / np.maximum(bases, 1), 0.0)
    walk = table.sites.walk_min * np.sqrt(_share(table, column, bases))
    reading = (table.read_min * table.per_month[column]).sum()
    return float(reading + (visits * (table.sites.setup_min + walk)).sum())


def _told(
    assets: Assets, table: _Table, choice: _Choice, *, price: float, least: Floats, budget: float
) -> JointIntervals:
    months = np.asarray(INTERVALS)
    open_table = replace(table, allowed=np.ones_like(table.allowed))
    interval = months[choice.column]
    priced = months[_best_columns(open_table, price, choice.base)]
    binds = priced > interval
    gained = table.gain[table.every, choice.column] / assets.weight * MONTHS_PER_YEAR
    return JointIntervals(
        base_months=choice.base,
        interval_months=interval,
        priced_months=priced,
        ceiling=np.where(binds, assets.ceiling_months.argmin(axis=1), -1),
        unmet=interval > least + 1e-9,
        price=price,
        caught_per_year=gained,
        hours_per_month=choice.minutes / MINUTES_PER_HOUR,
        short_hours=max(0.0, (choice.minutes - budget) / MINUTES_PER_HOUR),
    )
