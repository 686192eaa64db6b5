"""What an opened cover weighs in the choice of a month: minutes of other reading that it must be worth."""

from collections.abc import Sequence
from dataclasses import replace

from service.domain.plan_visits import Visit
from service.domain.rounds import needs_permit


def priced(visits: Sequence[Visit], cover_minutes: float) -> tuple[Visit, ...]:
    """The visits with the price of the cover that each opens, in units of worth.

    Parameters
    ----------
    visits : sequence of Visit
        What a plan may take in.
    cover_minutes : float
        Minutes of reading that one opened cover is worth [min]; 0: covers are counted only.

    Notes
    -----
    A minute is worth what the visits that are due tell on average for each minute on the spot, so
    that the price moves with the register and not with a unit. Common practice, no source. It
    never touches a rule: what cannot wait keeps its place before all that can.
    """
    if cover_minutes <= 0:
        return tuple(visits)
    due = [visit for visit in visits if not visit.early] or list(visits)
    spent = sum(visit.facts.minutes for visit in due)
    if not spent:
        return tuple(visits)
    price = round(cover_minutes * sum(visit.worth for visit in due) / spent)
    return tuple(
        replace(visit, cover_price=price) if needs_permit(visit.facts.access) else visit for visit in visits
    )
