"""What a plan leaves unseen, and what it would not show even where it looks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from service.domain.words import Access
from service.planning.delay_time import FOUND_SHARE_BY_ACCESS, risk_that_stays
from service.planning.fault_rates import Record, learned_rates
from service.planning.intervals import DAYS_PER_MONTH

#: Faults a year of one piece of equipment before the record speaks: assumed, no source.
GUESS_PER_YEAR = 0.03
#: From first sign to failure where nobody typed it [months]: assumed, no source.
USUAL_PF_MONTHS = 6.0
#: Since the last visit that could have cleared, of what was never read [months]: assumed, no source.
NEVER_READ_MONTHS = 24.0
GRADES = {"poor": 0, "average": 1, "good": 2}
_FOUND = {
    Access.CLOSED_FRONT: FOUND_SHARE_BY_ACCESS["closed door"],
    Access.HINGED_COVER: FOUND_SHARE_BY_ACCESS["open"],
    Access.BOLTED_COVER: FOUND_SHARE_BY_ACCESS["open"],
    Access.WINDOW: FOUND_SHARE_BY_ACCESS["window"],
}


@dataclass(frozen=True, slots=True)
class AtRisk:
    """One equipment as its points stand; the greatest chance, and the largest fault that hid last time.

    ``smallest_fault_k`` is what the last reading would have shown at least, brought to common
    load; ``load_share`` the share of common load it was seen at. ``faults`` were found on it.
    """

    equipment_id: int
    equipment_class: str
    condition: str
    access: Access
    outdoor: bool
    pf_months: float | None
    made_on: date
    last_full_on: date | None
    due_on: date | None
    chance_12: float | None
    smallest_fault_k: float | None
    load_share: float | None
    faults: int


@dataclass(frozen=True, slots=True)
class Risk:
    """What may happen to one equipment before it is seen next, and why that is thought.

    ``by_trend`` says that a trend of its own tells the chance; else it comes from how often
    equipment of its class has failed, with guesses where nothing is on record.
    """

    at: AtRisk
    seen_on: date | None
    until: date
    chance: float
    by_trend: bool


@dataclass(frozen=True, slots=True)
class RiskThatStays:
    """The month's honest table. ``expected`` counts faults among what is not seen."""

    unseen: tuple[Risk, ...]
    seen: tuple[Risk, ...]
    expected: float


def risks_of(
    equipment: Sequence[AtRisk], seen_on: Mapping[int, date], *, last: date, today: date
) -> RiskThatStays:
    """Chances until the next visit, the greatest first.

    Parameters
    ----------
    equipment : sequence of AtRisk
        Everything in use at the plan's sites.
    seen_on : mapping of int to date
        Day of the walk that takes each equipment in.
    last : date
        Of the month.
    today : date
        Where the record ends.

    Returns
    -------
    RiskThatStays

    Notes
    -----
    What is not seen waits until its due day, or to the end of the month after where that has
    passed. Delay-time model of `service.planning.delay_time`; its times and found shares are
    assumed where the register says nothing, so that the figures order equipment rather than
    foretell a number of failures.
    """
    if not equipment:
        return RiskThatStays((), (), 0.0)
    rates = learned_rates(_record(equipment, today=today))
    until = [_until(one, seen_on.get(one.equipment_id), last) for one in equipment]
    waits = np.array([max((day - today).days, 0) / DAYS_PER_MONTH for day in until])
    told = risk_that_stays(
        rates,
        [one.pf_months or USUAL_PF_MONTHS for one in equipment],
        found_share=[_found_share(one) for one in equipment],
        months_since=[_since(one, today) for one in equipment],
        months_until=waits,
        chance_12_months=[np.nan if one.chance_12 is None else one.chance_12 for one in equipment],
    )
    crossing = np.nan_to_num(told.crossing, nan=-1.0)
    risks = [
        Risk(one, seen_on.get(one.equipment_id), day, float(chance), bool(of_trend >= failing))
        for one, day, chance, of_trend, failing in zip(
            equipment, until, told.chance, crossing, told.failing, strict=True
        )
    ]
    unseen = [risk for risk in risks if risk.seen_on is None]
    seen = [risk for risk in risks if risk.seen_on is not None and risk.at.smallest_fault_k is not None]
    return RiskThatStays(
        unseen=tuple(sorted(unseen, key=lambda risk: (-risk.chance, risk.at.equipment_id))),
        seen=tuple(sorted(seen, key=lambda risk: (-(risk.at.smallest_fault_k or 0), risk.at.equipment_id))),
        expected=sum(risk.chance for risk in unseen),
    )


def _record(equipment: Sequence[AtRisk], *, today: date) -> Record:
    classes = sorted({one.equipment_class for one in equipment})
    return Record(
        kind=np.array([classes.index(one.equipment_class) for one in equipment]),
        grade=np.array([GRADES.get(one.condition, -1) for one in equipment]),
        guess_per_year=np.full(len(equipment), GUESS_PER_YEAR),
        faults=np.array([one.faults for one in equipment]),
        years=np.array([max((today - one.made_on).days, 30) / 365.25 for one in equipment]),
    )


def _until(one: AtRisk, seen: date | None, last: date) -> date:
    if seen is not None:
        return seen
    after = date.fromordinal(last.toordinal() + round(DAYS_PER_MONTH))
    return after if one.due_on is None or one.due_on <= last else one.due_on


def _since(one: AtRisk, today: date) -> float:
    if one.last_full_on is None:
        return NEVER_READ_MONTHS
    return max((today - one.last_full_on).days, 0) / DAYS_PER_MONTH


def _found_share(one: AtRisk) -> float:
    return FOUND_SHARE_BY_ACCESS["in the open air"] if one.outdoor else _FOUND[one.access]
