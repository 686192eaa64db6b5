"""All that is known while the views of one call are judged."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from service.domain.criteria import Criteria
from service.domain.settings import Inputs, Instrument, RoundSettings
from service.domain.visits import Judged, Memory, VisitPoint
from service.storage.known_points import KnownPoint
from service.storage.unit import Unit


@dataclass(slots=True)
class Work:
    """Points with their memories, and what is to be written of them.

    ``memories`` are those of the points touched so far. ``written`` holds new verdicts with the
    set each was judged by, ``retired`` assessments that others replace, ``kept`` by reading those
    that still hold. ``refolded`` points had their history told anew. ``held`` are the inputs by
    reading with which it was judged before, ``changed`` what a re-evaluation makes of them, and
    ``set_of_reading`` the criteria that it names.
    """

    unit: Unit
    round_id: int
    now: datetime
    known: dict[int, KnownPoint]
    sets: dict[int, Criteria]
    set_of_view: dict[int, int]
    instruments: dict[int, Instrument]
    cuts: dict[int, list[datetime]]
    proven_by: frozenset[int]
    memories: dict[int, Memory] = field(default_factory=dict)
    written: list[tuple[Judged, int]] = field(default_factory=list)
    retired: list[int] = field(default_factory=list)
    kept: dict[int, int] = field(default_factory=dict)
    refolded: set[int] = field(default_factory=set)
    round_settings: dict[int, RoundSettings] = field(default_factory=dict)
    held: dict[int, str] = field(default_factory=dict)
    changed: Mapping[int, Callable[[Inputs], Inputs]] = field(default_factory=dict)
    set_of_reading: Mapping[int, int] = field(default_factory=dict)
    replaces: dict[int, int] = field(default_factory=dict)
    reevaluation_id: int | None = None

    def episode(self, point_id: int, taken_at: datetime) -> int:
        cuts = self.cuts.get(point_id)
        return sum(cut <= taken_at for cut in cuts) if cuts else 0

    def set_id(self, point: VisitPoint) -> int:
        return self.set_of_view[point.view_id]
