"""What may stand beside a U: every figure that is stored with its u, and a crawl that holds pages to it."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from sqlalchemy import select

from service.domain.measuring import measure
from service.domain.settings import inputs_of_text
from service.physics.significant import decimal_places
from service.storage.tables.readings import AssessmentRow
from service.storage.unit import Store

#: a figure, ±, its U: with a true minus, as a page prints it
PAIR = re.compile(r"(−?\d+(?:\.\d+)?)\s*±\s*(\d+(?:\.\d+)?)")
Pair = tuple[str, str]


def rule_of(y: float, u: float) -> Pair:
    """The rule by another way than the pages take: places of the batch function, half-up by hand."""
    places = int(decimal_places(2 * u))
    unit = Decimal(1).scaleb(-places)
    rounded = [
        f"{Decimal(repr(value)).quantize(unit, rounding='ROUND_HALF_UP') + 0:f}" for value in (y, 2 * u)
    ]
    return rounded[0].replace("-", "−"), rounded[1]


def allowed(store: Store, point_ids: Iterable[int] | None = None, *, surfaces: bool = True) -> set[Pair]:
    """What a page may print beside a U: rises, rises at common load and surfaces, of some points or of all."""
    query = select(AssessmentRow)
    if point_ids is not None:
        query = query.where(AssessmentRow.point_id.in_(list(point_ids)))
    with store.look() as unit:
        rows = unit.session.scalars(query).all()
        pairs = [(row.value_k, row.u_k) for row in rows] + [(row.common_k, row.u_common_k) for row in rows]
        inputs = [row.inputs for row in rows if row.inputs is not None] if surfaces else []
    pairs += [(one.surface_c, one.surface_u_k) for one in measure([inputs_of_text(text) for text in inputs])]
    return {rule_of(y, u) for y, u in pairs if y is not None and u is not None}


@dataclass
class Crawl:
    """Figures beside a U that were met, and those that no stored u allows."""

    met: int = 0
    wrong: list[str] = field(default_factory=list)

    def read(self, place: str, text: str, may_show: set[Pair]) -> None:
        """The words of a page."""
        for pair in PAIR.findall(text):
            self._meet(pair in may_show, f"{place}: {' ± '.join(pair)}")

    def take(self, place: str, says: Mapping[str, Any] | None) -> None:
        """What the API says of one reading."""
        for name in ("rise_k", "at_common_load_k"):
            figure = None if says is None else says[name]
            if figure is not None and figure["u"] is not None:
                told = "{} ± {}".format(*rule_of(figure["y"], figure["u"]))
                self._meet(figure["told"] == told, f"{place}: {figure}")

    def _meet(self, right: bool, told: str) -> None:
        self.met += 1
        if not right:
            self.wrong.append(told)
