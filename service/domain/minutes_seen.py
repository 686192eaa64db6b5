"""Minutes at a stop as they were walked, beside those of the register."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from service.domain.covers import DRESSING_MIN
from service.domain.hours_seen import SeenPlace, SeenVisit

#: The latest walked stops that are taken, and how far they may move the register's figure (own rule).
WALKED, MOST_SHARE = 5, 0.5
#: Nearer to the register's figure than this share is no news (own rule).
SAME_SHARE = 0.1
#: A longer stay was broken off or typed in later (own rule) [min].
LONGEST_MIN = 240.0
LEAST_TIMES = 2


@dataclass(frozen=True, slots=True)
class MinutesSuggestion:
    """What the walks say; ``minutes`` is None with fewer than five, ``capped`` where they say more still."""

    place: SeenPlace
    minutes: int | None
    walked: tuple[float, ...]
    capped: bool

    @property
    def dressing_min(self) -> int:
        return DRESSING_MIN[self.place.access]

    @property
    def offered(self) -> bool:
        """Whether an engineer is asked to take it."""
        now = self.place.minutes
        return self.minutes is not None and abs(self.minutes - now) > SAME_SHARE * now

    @property
    def how(self) -> str:
        """How it was come by, as kept in the audit trail."""
        spans = ", ".join(f"{span:.0f}" for span in self.walked)
        return (
            f"Minutes learned from the last {len(self.walked)} walks: {spans} min there; from arrival to leaving "
            f"where that was noted, else first to last reading and {self.dressing_min} min of dressing"
        )


def suggested_minutes(place: SeenPlace, visits: Sequence[SeenVisit]) -> MinutesSuggestion:
    """Median of the last five walks, from arrival to leaving where noted; half the register's at most away.

    Parameters
    ----------
    place : SeenPlace
        The equipment with the minutes of the register.
    visits : sequence of SeenVisit
        In any order. Where arrival and leaving were not noted, first to last reading and the time of
        dressing stand for them; those whose readings all carry one time were not walked by the
        clock, and are left out.
    """
    dressing = DRESSING_MIN[place.access]
    walks = [
        visit
        for visit in sorted(visits, key=lambda visit: visit.began_at, reverse=True)
        if 0.0 < _stay_min(visit, dressing) <= LONGEST_MIN + dressing
    ][:WALKED]
    spans = tuple(_stay_min(visit, dressing) for visit in walks)
    if len(walks) < WALKED or place.minutes <= 0:
        return MinutesSuggestion(place, None, spans, False)
    found = median(spans)
    low, high = (1.0 - MOST_SHARE) * place.minutes, (1.0 + MOST_SHARE) * place.minutes
    held = min(max(found, low), high)
    return MinutesSuggestion(place, max(1, round(held)), spans, held != found)


def _stay_min(visit: SeenVisit, dressing_min: float) -> float:
    """Minutes at the stop; 0 where nothing tells them."""
    if visit.stay_min is not None:
        return visit.stay_min
    return visit.span_min + dressing_min if visit.times >= LEAST_TIMES and visit.span_min > 0.0 else 0.0
