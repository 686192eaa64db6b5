"""Planted faults against what a look back says of them: when each began, was flagged, confirmed and mended."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from seed_data.faults import LAST, Fault
from seed_data.founding import ids_of
from seed_data.people import MANAGER, actors
from seed_data.world import World, month_start
from service.domain.hindsight import PastFlag
from service.domain.register import Noun
from service.storage.unit import Store
from service.usecases.condition.hindsight import see_hindsight

_DAYS_A_MONTH = 365.25 / 12


@dataclass(frozen=True, slots=True)
class Flagged:
    """One planted fault; ``flag`` is the first that fell between its beginning and its repair."""

    fault: Fault
    began_on: date
    mended_on: date | None
    grown_k: float
    flag: PastFlag | None

    def __str__(self) -> str:
        mended = "not mended" if self.mended_on is None else f"mended {self.mended_on}"
        told = "never flagged"
        if self.flag is not None:
            told = f"first sign {self.flag.first_on}, confirmed {self.flag.confirmed_on or 'never'}"
        return f"{self.fault.tag:<18}{self.fault.shape:<14}{self.grown_k:6.1f} K  began {self.began_on}  {told}  {mended}"


def flagged_faults(store: Store, world: World, *, now: datetime) -> tuple[Flagged, ...]:
    """Every planted fault, in the order in which they began."""
    manager = actors(store, [MANAGER], now=now)[MANAGER]
    tags = {point_id: tag for tag, point_id in ids_of(store, manager, Noun.POINT).items()}
    flags = sorted(see_hindsight(store, manager, site_id=None, now=now).flags, key=lambda flag: flag.first_on)
    of_tag: dict[str, list[PastFlag]] = {}
    for flag in flags:
        of_tag.setdefault(tags[flag.point_id], []).append(flag)
    told = (_told(world, fault, of_tag.get(fault.tag, [])) for fault in world.faults)
    return tuple(sorted(told, key=lambda one: one.began_on))


def _told(world: World, fault: Fault, flags: list[PastFlag]) -> Flagged:
    began = _day(world, fault.onset)
    mended = None if fault.mended is None else _day(world, fault.until)
    end = min(fault.until, LAST + 1.0)
    within = _within(flags, began, mended)
    return Flagged(fault, began, mended, fault.extra_k(end - 1e-6), next(within, None))


def _within(flags: list[PastFlag], began: date, mended: date | None) -> Iterator[PastFlag]:
    return (flag for flag in flags if flag.first_on >= began and (mended is None or flag.first_on <= mended))


def _day(world: World, month: float) -> date:
    whole = int(month)
    return month_start(world.last, whole) + timedelta(days=(month - whole) * _DAYS_A_MONTH)
