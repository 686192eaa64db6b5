"""Visits in a row that gave no reading, each with its cause, and what would be a better time."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from service.domain.day_words import day_words
from service.domain.load_hours import load_hours_words, understood_hours
from service.domain.rounds import needs_permit
from service.domain.site_clock import minute_of_day
from service.domain.stop_facts import EquipmentFacts
from service.domain.sun_hours import AFTER_SUNSET_MIN, SunHours
from service.domain.words import Reason
from service.domain.working_days import PERMIT_LEAD_DAYS, asked_when

#: causes named one by one in a line; of older ones only the count is told
MOST_CAUSES = 4


@dataclass(frozen=True, slots=True)
class Unread:
    """One visit of a point that gave no usable reading."""

    point_id: int
    equipment_id: int
    on: date
    reason: Reason


@dataclass(frozen=True, slots=True)
class CarriedOver:
    """One equipment whose last visits gave no reading; ``visits`` are those of its worst point, newest first.

    ``points`` counts its points of which the last visit gave none.
    """

    equipment_id: int
    points: int
    visits: tuple[Unread, ...]

    @property
    def times(self) -> int:
        return len(self.visits)

    @property
    def last(self) -> Unread:
        return self.visits[0]

    @property
    def causes(self) -> str:
        """Off on 3 Nov, ran out of time on 5 Oct."""
        told = [f"{one.reason.word} on {day_words(one.on)}" for one in self.visits[:MOST_CAUSES]]
        more = self.times - len(told)
        return ", ".join([*told, f"and {more} before"] if more else told)

    @property
    def said(self) -> str:
        """Carried over 2 times in a row: …"""
        times = "once" if self.times == 1 else f"{self.times} times in a row"
        return f"carried over {times}: {self.causes}"


def carried_over(unread: Iterable[Unread]) -> dict[int, CarriedOver]:
    """By equipment, from the visits without a reading since each point was last read.

    Parameters
    ----------
    unread : iterable of Unread
        One per point and visit, in any order; none of them older than a usable reading.

    Notes
    -----
    The worst point is that with the longest run; of equals the one whose last visit is the latest.
    """
    runs: dict[int, list[Unread]] = {}
    for one in unread:
        runs.setdefault(one.point_id, []).append(one)
    of_equipment: dict[int, list[tuple[Unread, ...]]] = {}
    for run in runs.values():
        ordered = tuple(sorted(run, key=lambda one: (one.on, one.reason.value), reverse=True))
        of_equipment.setdefault(ordered[0].equipment_id, []).append(ordered)
    return {
        key: CarriedOver(key, len(here), max(here, key=lambda run: (len(run), run[0].on, -run[0].point_id)))
        for key, here in of_equipment.items()
    }


def better_time(
    carried: CarriedOver,
    facts: EquipmentFacts,
    *,
    day: date | None = None,
    today: date | None = None,
    sun: SunHours | None = None,
) -> str:
    """What would be a better time, by the cause of the last visit, in a clause.

    Parameters
    ----------
    carried : CarriedOver
        What came back.
    facts : EquipmentFacts
        The equipment.
    day : date, optional
        The day it is planned for; then what is to be asked of the site has a date.
    today : date, optional
        From which that date is looked at: one that has gone by is told as "at once".
    sun : SunHours, optional
        Of its site, where its place is known.

    Notes
    -----
    Common practice, no source; that warm surfaces need a while after sunset is
    `service.domain.sun_hours`.
    """
    by = "" if day is None else f" {asked_when(day, today=today)}"
    reason = carried.last.reason
    if reason is Reason.OFF:
        return _when_loaded(facts, by)
    if reason is Reason.WET_FOG_OR_SUN:
        return _when_fair(sun)
    if reason is Reason.LOCKED:
        what = "ask for the permit" if needs_permit(facts.access) else "ask for the key, or the permit"
        return f"{what}{by or _AHEAD}"
    return _BETTER[reason].format(by=by or _AHEAD)


_AHEAD = f" {PERMIT_LEAD_DAYS} working days ahead"
_BETTER: Mapping[Reason, str] = {
    Reason.NO_QUALIFIED_PERSON: "on a walk with a qualified person",
    Reason.COVERED: "ask the site{by} to have it uncovered, or fit a window",
    Reason.NOT_SAFE: "not before the site says that it is safe: ask{by}",
    Reason.BLOCKED: "ask the site{by} to clear the goods away",
    Reason.NOT_THERE: "put its place or tag right in the register first",
    Reason.OUT_OF_TIME: "first at its site on the next walk",
    Reason.OTHER: "by the note of that visit",
}


def _when_loaded(facts: EquipmentFacts, by: str) -> str:
    if facts.duty_group:
        return f"ask the site{by or _AHEAD} that it is the one of {facts.duty_group} that runs"
    if understood_hours(facts.load_hours) is not None:
        return f"in its load hours, {load_hours_words(facts.load_hours)}"
    return "ask the site when it runs, and keep that as its load hours"


def _when_fair(sun: SunHours | None) -> str:
    if sun is None:
        return f"on another, dry day, before sunrise or {AFTER_SUNSET_MIN} min after sunset"
    if sun.from_min >= sun.to_min:
        return "on another, dry day; the sun does not reach it then"
    return (
        f"on another, dry day, before {minute_of_day(sun.from_min)} or after {minute_of_day(sun.to_min)}, "
        "out of the sun"
    )
