"""Problems of one input, all of them: the first thousand in words, the rest as a count."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from service.domain.cells import shown
from service.errors import Invalid, Problem

MOST_TOLD = 1000


@dataclass
class Problems:
    """Collects while reading goes on; `refuse` raises once, with everything."""

    told: list[Problem] = field(default_factory=list)
    count: int = 0

    def add(self, where: str, field: str, found: object, *, message: str, remedy: str) -> None:
        self.take(Problem(where, field, shown(found), message, remedy))

    def take(self, problem: Problem) -> None:
        self.count += 1
        if len(self.told) < MOST_TOLD:
            self.told.append(problem)

    def take_all(self, problems: Iterable[Problem]) -> None:
        for problem in problems:
            self.take(problem)

    def refuse(self) -> None:
        """Raise `Invalid` when anything was collected.

        Raises
        ------
        service.errors.Invalid
            With the problems told and the full count.
        """
        if self.count:
            raise Invalid(self.told, total=self.count)


def one_problem(where: str, field: str, found: object, *, message: str, remedy: str) -> Invalid:
    """An input refused for one reason that makes looking further pointless."""
    return Invalid((Problem(where, field, shown(found), message, remedy),))
