"""What would change with other hours, one more qualified person, or a closed site."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.planning.crew_days import Work
from service.planning.day_routes import STEPS, PlannedDays, plan_days

#: Seeds of a what-if: their range shows what is search and what is gained.
SEEDS = (0, 1, 2)


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Plans of changed work, one per seed, each begun from the plan in force."""

    plans: tuple[PlannedDays, ...]

    @property
    def low(self) -> int:
        return min(plan.value for plan in self.plans)

    @property
    def high(self) -> int:
        return max(plan.value for plan in self.plans)


def what_if(changed: Work, plan: PlannedDays, *, seeds: Sequence[int] = SEEDS, steps: int = STEPS) -> WhatIf:
    """Plan changed work from the plan in force, once per seed.

    Parameters
    ----------
    changed : Work
    plan : PlannedDays
        No answer is worth less than what of it still keeps every rule.
    seeds : sequence of int
    steps : int

    Returns
    -------
    WhatIf
    """
    return WhatIf(
        tuple(plan_days(changed, seed=seed, steps=steps, incumbent=plan, bounded=False) for seed in seeds)
    )
