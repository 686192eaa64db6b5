"""Load hours that past visits speak for, beside those that somebody typed."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np
from numpy.typing import NDArray

from service.domain.load_hours import DAYS, MIDNIGHT, LoadHours, Window, parse_load_hours
from service.domain.site_clock import zone_of
from service.domain.words import Access
from service.physics.load_windows import LOADED_SHARE, SLOT_MIN, LoadSlots, SlotState, load_slots

Mask = NDArray[np.bool_]

#: Older visits speak for another plant (own choice).
LOOK_BACK_DAYS = 3 * 365
#: Days that are taken together, and their name.
GROUPS: tuple[tuple[str, tuple[int, ...]], ...] = (("Mon to Fri", (0, 1, 2, 3, 4)), ("Sat and Sun", (5, 6)))
#: Months of the half-years that are told apart where both have enough visits.
SEASONS: tuple[tuple[str, frozenset[int]], ...] = (
    ("April to September", frozenset(range(4, 10))),
    ("October to March", frozenset({10, 11, 12, 1, 2, 3})),
)
#: The longest text that the register keeps for load hours.
LONGEST = 200


@dataclass(frozen=True, slots=True)
class SeenPlace:
    """An equipment with what the register says of its hours and minutes."""

    equipment_id: int
    site_id: int
    version: int
    tag: str
    name: str
    zone: str
    load_hours: str
    minutes: int
    access: Access


@dataclass(frozen=True, slots=True)
class SeenVisit:
    """One round at one equipment: mean load as a share of common load, None without amps.

    ``times`` counts different times among its readings, ``span_min`` lies between the first and last;
    ``stay_min`` from arrival to leaving, dressing included, None where no device noted them.
    """

    began_at: datetime
    share: float | None
    span_min: float
    times: int
    stay_min: float | None = None


@dataclass(frozen=True, slots=True)
class GroupSeen:
    """What the visits of days of one sort say, in a half-year or all year."""

    name: str
    season: str
    minutes: tuple[float, ...]
    loaded: tuple[bool, ...]
    loaded_windows: tuple[Window, ...]
    idle_windows: tuple[Window, ...]

    @property
    def says_something(self) -> bool:
        return bool(self.loaded_windows or self.idle_windows)


@dataclass(frozen=True, slots=True)
class HoursSuggestion:
    """What the visits say of the load hours; ``text`` is empty where they cannot tell.

    Where they say nothing the typed hours stay; with none typed, hours nobody came in are left out.
    ``groups`` holds the half-years only where both have enough and they differ.
    """

    place: SeenPlace
    groups: tuple[GroupSeen, ...]
    typed: LoadHours | None
    text: str
    visits: int
    days: int
    loaded: int
    first: date | None
    last: date | None

    @property
    def offered(self) -> bool:
        """Whether an engineer is asked to take it."""
        return bool(self.text) and len(self.text) <= LONGEST and parse_load_hours(self.text) != self.typed

    @property
    def can_tell(self) -> bool:
        return any(group.says_something for group in self.groups)

    @property
    def by_season(self) -> bool:
        return any(group.season for group in self.groups)

    @property
    def how(self) -> str:
        """How it was come by, as kept in the audit trail."""
        return (
            f"Load hours learned from visits: {self.loaded} of {self.visits} visits on {self.days} days "
            f"at {round(100 * LOADED_SHARE)} % load or more, {self.first} to {self.last}"
        )


def suggested_hours(place: SeenPlace, visits: Sequence[SeenVisit]) -> HoursSuggestion:
    """What the visits of an equipment say of its load hours.

    Parameters
    ----------
    place : SeenPlace
        The equipment.
    visits : sequence of SeenVisit
        Its visits; those without amps are left out.
    """
    known = [visit for visit in visits if visit.share is not None]
    local = [visit.began_at.astimezone(zone_of(place.zone)) for visit in known]
    shares = [float(visit.share or 0.0) for visit in known]
    try:
        typed = parse_load_hours(place.load_hours)
    except ValueError:
        typed = None
    groups = [group for one in GROUPS for group in _seen(one, local, shares)]
    return HoursSuggestion(
        place=place,
        groups=tuple(groups),
        typed=typed,
        text=_merged_text(groups, typed),
        visits=len(known),
        days=len({at.date() for at in local}),
        loaded=sum(share >= LOADED_SHARE for share in shares),
        first=min((at.date() for at in local), default=None),
        last=max((at.date() for at in local), default=None),
    )


def _seen(
    group: tuple[str, tuple[int, ...]], local: Sequence[datetime], shares: Sequence[float]
) -> list[GroupSeen]:
    """The days of one sort: all year, or its half-years where both have enough and differ."""
    name, days = group
    of_days = _of(name, "", local, shares, where=lambda at: at.weekday() in days)
    seasons = [_of(name, season, local, shares, where=_within(days, months)) for season, months in SEASONS]
    differ = (seasons[0].loaded_windows, seasons[0].idle_windows) != (
        seasons[1].loaded_windows,
        seasons[1].idle_windows,
    )
    return seasons if differ and all(one.says_something for one in seasons) else [of_days]


def _within(days: tuple[int, ...], months: frozenset[int]) -> Callable[[datetime], bool]:
    return lambda at: at.weekday() in days and at.month in months


def _of(
    name: str,
    season: str,
    local: Sequence[datetime],
    shares: Sequence[float],
    *,
    where: Callable[[datetime], bool],
) -> GroupSeen:
    picked = [(at, share) for at, share in zip(local, shares, strict=True) if where(at)]
    minutes = [60.0 * at.hour + at.minute for at, _ in picked]
    slots = load_slots(minutes, [share for _, share in picked], [at.toordinal() for at, _ in picked])
    return GroupSeen(
        name=name,
        season=season,
        minutes=tuple(minutes),
        loaded=tuple(share >= LOADED_SHARE for _, share in picked),
        loaded_windows=_windows(slots, SlotState.LOADED),
        idle_windows=_windows(slots, SlotState.IDLE),
    )


def _windows(slots: LoadSlots, state: SlotState) -> tuple[Window, ...]:
    """Pieces of one state that touch, as windows."""
    return _from_mask(np.repeat(slots.state == state, SLOT_MIN))


def _from_mask(mask: Mask) -> tuple[Window, ...]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return tuple((int(low), int(high)) for low, high in edges.reshape(-1, 2))


def _mask(windows: Sequence[Window]) -> Mask:
    mask = np.zeros(MIDNIGHT, dtype=bool)
    for low, high in windows:
        mask[low:high] = True
    return mask


def _merged_text(groups: Sequence[GroupSeen], typed: LoadHours | None) -> str:
    """Typed hours, with what is seen loaded added and what is seen idle in any half-year taken out."""
    if not any(group.says_something for group in groups):
        return ""
    by_day = []
    for name, days in GROUPS:
        of_days = [group for group in groups if group.name == name]
        seen = np.logical_or.reduce([_mask(group.loaded_windows) for group in of_days])
        idle = np.logical_or.reduce([_mask(group.idle_windows) for group in of_days])
        for day in days:
            kept = _mask(() if typed is None else typed.on(day))
            by_day.append(_from_mask((kept | seen) & ~idle))
    return hours_text(LoadHours(tuple(by_day)))


def hours_text(hours: LoadHours) -> str:
    """Load hours as people type them; empty where no hour is left.

    Examples
    --------
    >>> hours_text(LoadHours((((420, 690), (795, 900)),) * 5 + ((),) * 2))
    'mon-fri 07:00-11:30, 13:15-15:00'
    """
    parts = []
    day = 0
    while day < len(DAYS):
        last = day
        while last + 1 < len(DAYS) and hours.on(last + 1) == hours.on(day):
            last += 1
        if hours.on(day):
            times = ", ".join(f"{_clock(low)}-{_clock(high)}" for low, high in hours.on(day))
            parts.append(f"{DAYS[day]}{f'-{DAYS[last]}' if last > day else ''} {times}")
        day = last + 1
    return "; ".join(parts)


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"
