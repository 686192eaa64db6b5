"""How calm the healthy part of the demonstration stays: the shares above Nothing found, held against the truth."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from seed_data.founding import ids_of
from seed_data.people import MANAGER, actors
from seed_data.world import World
from service.domain.register import Noun
from service.domain.words import NO_VERDICT, Level, ReferenceKind
from service.storage import assessments
from service.storage.unit import Store
from service.usecases.condition.overview import see_overview

#: Most of healthy readings over like parts, and of healthy standings, that may stand above
#: Nothing found at 0.5 K scatter and a mean load of 65 % (the study of like parts, §4).
MOST_READINGS = 0.02
MOST_STANDINGS = 0.04
LIKE_PARTS = ReferenceKind.LIKE_PARTS.value


@dataclass(slots=True)
class Share:
    """How many of how many stand above Nothing found."""

    above: int = 0
    of: int = 0

    @property
    def share(self) -> float:
        return self.above / self.of if self.of else 0.0

    def count(self, above: bool) -> None:
        self.above += above
        self.of += 1

    def __str__(self) -> str:
        return f"{100 * self.share:.2f} % ({self.above} of {self.of})"


@dataclass(slots=True)
class Calm:
    """Shares by kind of reference: of readings by year, of standings by day."""

    readings: dict[tuple[int, str], Share] = field(default_factory=dict)
    standings: dict[tuple[date, str], Share] = field(default_factory=dict)

    def readings_of(self, reference: str) -> Share:
        """All years together."""
        several = [share for (_, kind), share in self.readings.items() if kind == reference]
        return Share(sum(s.above for s in several), sum(s.of for s in several))

    def standings_on(self, day: date) -> Share:
        """All kinds of reference together."""
        several = [share for (on, _), share in self.standings.items() if on == day]
        return Share(sum(s.above for s in several), sum(s.of for s in several))

    def complaints(self) -> list[str]:
        """Where it is not calm enough, with the figures of every kind of reference."""
        found = []
        if self.readings_of(LIKE_PARTS).share > MOST_READINGS:
            kinds = sorted({kind for _, kind in self.readings})
            told = "; ".join(f"{kind} {self.readings_of(kind)}" for kind in kinds)
            found.append(f"healthy readings above Nothing found: {told}")
        for day in sorted({on for on, _ in self.standings}):
            if self.standings_on(day).share > MOST_STANDINGS:
                told = "; ".join(
                    f"{kind} {share}" for (on, kind), share in self.standings.items() if on == day
                )
                found.append(f"healthy standings above Nothing found on {day}: {told}")
        return found


def measure_calm(store: Store, world: World, *, now: datetime) -> Calm:
    """Measure a loaded demonstration.

    Parameters
    ----------
    store : Store
        What was loaded.
    world : World
        The truth it was loaded from; points that ever carry a fault or an oddity are left out.
    now : datetime
        The instant of loading: standings are measured then and at every year's end before.
    """
    manager = actors(store, [MANAGER], now=now)[MANAGER]
    references = {
        point.tag: point.reference
        for site in world.sites
        for _, view in site.views()
        for point in view.points
    }
    healthy = {
        point_id: references[tag]
        for tag, point_id in ids_of(store, manager, Noun.POINT).items()
        if tag not in world.faulty_tags
    }
    calm = Calm()
    with store.look() as unit:
        verdicts = assessments.standing_verdicts(unit, healthy)
    for several in verdicts.values():
        for one in several:
            if one.temperature_c is not None and one.verdict.reference is not None:
                key = one.taken_at.year, one.verdict.reference.value
                calm.readings.setdefault(key, Share()).count(bool(one.verdict.level))
    ends = [date(year, 12, 31) for year in range(world.first.year, world.last.year)]
    for day in [*ends, world.last]:
        overview = see_overview(store, manager, now=now, as_at=day)
        for strokes in overview.strokes.values():
            for point_id, level in zip(strokes.point_ids.tolist(), strokes.levels.tolist(), strict=True):
                if point_id in healthy:
                    calm.standings.setdefault((day, healthy[point_id]), Share()).count(level > 0)
    return calm


def found_faults(store: Store, world: World, *, now: datetime) -> Mapping[str, int | None]:
    """Level at which each point with a live fault stands now (None: No verdict), by tag."""
    manager = actors(store, [MANAGER], now=now)[MANAGER]
    live = {fault.tag for fault in world.faults if fault.mended is None}
    ids = {point_id: tag for tag, point_id in ids_of(store, manager, Noun.POINT).items() if tag in live}
    overview = see_overview(store, manager, now=now)
    found: dict[str, int | None] = {}
    for strokes in overview.strokes.values():
        for point_id, level in zip(strokes.point_ids.tolist(), strokes.levels.tolist(), strict=True):
            if point_id in ids:
                found[ids[point_id]] = None if level < 0 else level
    return found


def level_counts(store: Store, *, now: datetime) -> Counter[str]:
    """How many points stand at each level, in words."""
    manager = actors(store, [MANAGER], now=now)[MANAGER]
    overview = see_overview(store, manager, now=now)
    counts = Counter({Level(level).word: count for level, count in enumerate(overview.levels)})
    counts[NO_VERDICT] = overview.no_verdict
    return counts
