"""What a point may cost within a year: how likely, how much an hour, how long."""

from dataclasses import dataclass

HOURS_A_DAY = 24
#: Days that a repair takes to arrange where the register does not say: common practice, no source.
USUAL_LEAD_DAYS = 1


@dataclass(frozen=True, slots=True)
class Loss:
    """Chance of reaching Act now within 12 months, money an hour down, days until it is mended.

    The days are those that a repair takes to arrange: what stands still if it fails unplanned.
    """

    chance_12: float
    cost_per_hour: float
    lead_days: int

    @property
    def expected(self) -> float:
        """In the client's money."""
        return self.chance_12 * self.cost_per_hour * self.lead_days * HOURS_A_DAY


def loss_of(chance_12: float | None, cost_per_hour: float | None, lead_days: int | None) -> Loss | None:
    """None where the chance or the money is not known: nothing is made up for an order.

    >>> loss_of(0.5, 100.0, 2).expected
    2400.0
    """
    if chance_12 is None or cost_per_hour is None:
        return None
    return Loss(chance_12, cost_per_hour, USUAL_LEAD_DAYS if lead_days is None else lead_days)
