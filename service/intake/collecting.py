"""Problems of one input, all of them: the first thousand in words, the rest as a count."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from service.domain.cells import shown
from service.errors import Invalid, Problem

MOST_TOLD = 1000
_ROW = re.compile(r"(?P<sheet>.*?)row (?P<row>\d+)")


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

    @property
    def in_row_order(self) -> list[Problem]:
        """As one goes through the file: what is said of the whole first, then row by row."""
        sheets: dict[str, int] = {}
        placed = []
        for problem in self.told:
            found = _ROW.fullmatch(problem.where)
            sheet = sheets.setdefault(found["sheet"], len(sheets)) if found else -1
            placed.append((sheet, int(found["row"]) if found else 0, problem))
        return [problem for _, _, problem in sorted(placed, key=lambda one: one[:2])]

    def refuse(self) -> None:
        """Raise `Invalid` when anything was collected.

        Raises
        ------
        service.errors.Invalid
            With the problems told and the full count.
        """
        if self.count:
            raise Invalid(self.in_row_order, total=self.count)


def one_problem(where: str, field: str, found: object, *, message: str, remedy: str) -> Invalid:
    """An input refused for one reason that makes looking further pointless."""
    return Invalid((Problem(where, field, shown(found), message, remedy),))
