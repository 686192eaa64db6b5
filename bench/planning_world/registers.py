"""Invented registers for the months: like those of a plant whose visits were never brought together."""

import numpy as np

from service.planning.intervals import interval_rule
from service.planning.month import visits_of
from service.planning.month_demand import Capacity, DueAssets

MONTHS = 12
NEEDS, GRADES = ("low", "medium", "high"), ("poor", "average", "good")
#: Shares of what wants a qualified person, what only shows its load in the morning, what stands outdoors.
QUALIFIED, MORNING, OUTDOOR = 0.25, 0.25, 0.10
#: What stops at 12 months; the rest may be this late.
ELECTRICAL, LATEST = 0.6, 3


def register(assets: int, sites: int, seed: int) -> DueAssets:
    """Equipment with the intervals of the usual rule and last visits on any date."""
    draw = np.random.default_rng(seed)
    need, grade = draw.choice(3, assets, p=[0.5, 0.3, 0.2]), draw.choice(3, assets, p=[0.2, 0.5, 0.3])
    rule = np.array([[interval_rule(n, g, electrical=True).months for g in GRADES] for n in NEEDS])
    interval = rule[need, grade].astype(np.int64)
    due = draw.integers(0, interval)
    electrical = draw.random(assets) < ELECTRICAL
    none = np.zeros(assets, dtype=bool)
    return DueAssets(
        key=np.arange(assets),
        site=draw.integers(0, sites, assets),
        read_min=draw.choice([3.0, 4.0, 5.0], assets),
        interval_months=interval,
        due_month=due,
        stop_month=np.where(electrical & (interval == 12), due, due + LATEST),
        qualified=draw.random(assets) < QUALIFIED,
        outdoor=draw.random(assets) < OUTDOOR,
        act_now=none,
        load_window=(draw.random(assets) < MORNING).astype(np.int64),
        criticality=np.array([1, 4, 15])[need],
        priority=draw.integers(0, 1000, assets),
        frozen_month=np.full(assets, -1),
    )


def own_months_minutes(due: DueAssets, visit_min: np.ndarray) -> np.ndarray:
    """Minutes a month where every asset is read in its own due month."""
    visits = visits_of(due.due_month, due.interval_months, months=MONTHS)
    reading = np.zeros((len(visit_min), MONTHS))
    np.add.at(reading, due.site, visits * due.read_min[:, None])
    minutes: np.ndarray = (reading + (reading > 0) * visit_min[:, None]).sum(axis=0)
    return minutes


def capacity_for(due: DueAssets, sites: int, *, share: float = 1.0) -> Capacity:
    """Months that offer so much of what the own due months take, winter without fair weather."""
    visit_min = np.full(sites, 55.0 + 30.0)
    mean = own_months_minutes(due, visit_min).mean()
    reading = visits_of(due.due_month, due.interval_months, months=MONTHS) * due.read_min[:, None]
    qualified = float(reading[due.qualified].sum()) / MONTHS
    morning = float(reading[due.load_window == 1].sum()) / MONTHS
    return Capacity(
        minutes=np.full(MONTHS, mean * share),
        qualified_min=np.full(MONTHS, qualified * 1.15),
        window_min=np.full((1, MONTHS), morning * 1.15),
        fair_weather=np.array([m not in (0, 1, 11) for m in range(MONTHS)]),
        visit_min=visit_min,
    )
