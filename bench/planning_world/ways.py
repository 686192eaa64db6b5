"""The ways of planning that are compared: fixed rounds of four sorts, and ours."""

from dataclasses import dataclass

import numpy as np

from bench.planning_world.walking import Seen
from bench.planning_world.world import Bools, Floats, Ints, World
from service.planning.fault_rates import Record, learned_rates
from service.planning.first_signs import (
    Signs,
    chance_after_reading,
    chance_behind_sign,
    worth_of_reading_now,
)
from service.planning.intervals import (
    ELECTRICAL_CEILING_MONTHS,
    WORST_CONDITION_CEILING_MONTHS,
    neta_months,
)
from service.planning.joint_intervals import CEILINGS, Assets, JointIntervals, Sites, joint_intervals

NEEDS, GRADES = ("low", "medium", "high"), ("poor", "average", "good")
CRITICAL = 15.0


def fixed_months(world: World, name: str) -> Floats:
    """Months between two readings of each piece by a fixed rule."""
    critical = world.criticality >= CRITICAL
    if name == "annual":
        return np.where(critical, 3.0, 12.0)
    if name == "half_yearly":
        return np.full(world.assets, 6.0)
    if name == "quarterly":
        return np.full(world.assets, 3.0)
    need = np.searchsorted([1.0, 4.0, 15.0], world.criticality)
    table = np.array([[min(neta_months(n, g), ELECTRICAL_CEILING_MONTHS) for g in GRADES] for n in NEEDS])
    months: Floats = table[need, world.true_grade]
    return months


@dataclass(slots=True)
class FixedRounds:
    """All of a site on the same months, sites spread over the year."""

    world: World
    months: Floats

    def reads(self, month: int) -> Bools:
        due: Bools = (month + self.world.site) % self.months == 0
        return due

    def told(self, month: int, seen: Seen, failed: Bools) -> None:
        """Fixed rounds do not listen."""
