"""The common load that the visits of a point speak for, beside what the register says."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.physics.loads_seen import LEAST_VISITS, QUANTILE, common_load_seen

#: sources of a common load that say no more than a rating does
RATING_ONLY = frozenset({"", "rating"})
#: the latest visits that are looked at; older ones speak for another plant
MOST_VISITS = 400
SOURCE = "highest known"
#: a learned load nearer to the registered one than this share is no news
SAME_SHARE = 0.01


@dataclass(frozen=True, slots=True)
class LoadPlace:
    """A point with what the register says of its load; ``amps`` None where it says nothing."""

    point_id: int
    site_id: int
    version: int
    tag: str
    title: str
    amps: float | None
    source: str
    rated_current_a: float | None

    @property
    def rating_only(self) -> bool:
        """No load is typed, or the typed one is the rating."""
        return self.amps is None or self.source.strip().casefold() in RATING_ONLY

    @property
    def in_force_a(self) -> float | None:
        """The load that rises are brought to now: as typed, else the rated current."""
        return self.amps if self.amps is not None else self.rated_current_a


@dataclass(frozen=True, slots=True)
class LoadSuggestion:
    """What the visits say: ``amps`` None where there are too few of them.

    ``raises`` is set where it lies above what is in force; a load learned may replace a mere
    rating, and raise what somebody typed, but never lower that.
    """

    place: LoadPlace
    amps: float | None
    visits: int
    highest_a: float | None

    @property
    def percentile(self) -> int:
        return round(QUANTILE * 100)

    @property
    def least_visits(self) -> int:
        return LEAST_VISITS

    @property
    def raises(self) -> bool:
        now = self.place.in_force_a
        return self.amps is not None and (now is None or self.amps > now)

    @property
    def offered(self) -> bool:
        """Whether an engineer is asked to take it."""
        now = self.place.in_force_a
        if self.amps is None or (now is not None and abs(self.amps - now) <= SAME_SHARE * now):
            return False
        return self.place.rating_only or self.raises

    @property
    def how(self) -> str:
        """How it was come by, as kept with the new version of the load."""
        return f"{SOURCE}: {self.percentile}th percentile of the amps at {self.visits} visits"


def suggested_loads(
    places: Sequence[LoadPlace], currents: Sequence[Sequence[float]]
) -> tuple[LoadSuggestion, ...]:
    """What the visits of each point say, in the order of the points.

    Parameters
    ----------
    places : sequence of LoadPlace
    currents : sequence of sequences of float
        Measured currents in service of each [A], of any length.

    Notes
    -----
    Amps are rounded to three figures: more is not in an ammeter's reading.
    """
    if not places:
        return ()
    width = max((len(one) for one in currents), default=0)
    table = np.full((len(places), max(width, 1)), np.nan)
    for row, amps in enumerate(currents):
        table[row, : len(amps)] = amps
    seen = common_load_seen(table)
    return tuple(
        LoadSuggestion(place, _three(amps), int(visits), _three(highest))
        for place, amps, visits, highest in zip(
            places, seen.current_a.tolist(), seen.visits.tolist(), seen.highest_a.tolist(), strict=True
        )
    )


def _three(amps: float) -> float | None:
    return None if amps != amps else float(f"{amps:.3g}")
