"""A plan of one month: its walks with their stops, what was left out and why, and its versions."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any

#: Code of what needs no walk of this plan.
ON_ANOTHER_ROUND = "on another round"


@dataclass(frozen=True, slots=True)
class PlannedStop:
    """One equipment on a walk [min from local midnight].

    ``pinned_min`` is a start typed by the engineer; ``held`` says that a hand put it on this walk;
    ``anyway`` is the reason typed for keeping it against its load hours or the end of the day.
    ``worth`` and ``due`` are those of the day on which it was planned.
    """

    equipment_id: int
    minutes: int
    arrive_min: float = 0.0
    start_min: float = 0.0
    end_min: float = 0.0
    way_min: float = 0.0
    pinned_min: float | None = None
    held: bool = False
    anyway: str = ""
    worth: int = 0
    points: int = 0
    must: bool = False
    early: bool = False
    due_on: date | None = None
    #: visits in a row that gave no reading
    carried: int = 0
    why: str = ""


@dataclass(frozen=True, slots=True)
class Walk:
    """One day of one person, with the stops in walking order [min from local midnight].

    ``lost`` is why nobody walks that day, empty when somebody does; ``frozen`` walks are never
    planned over. ``indoors_only`` keeps outdoor stops off, ``forecast`` says why.
    """

    key: str
    day: date
    person_id: int
    start_min: int
    end_min: int
    second_id: int | None = None
    qualified: bool = False
    category: int = 0
    latitude: float | None = None
    longitude: float | None = None
    frozen: bool = False
    indoors_only: bool = False
    forecast: str = ""
    lost: str = ""
    #: kept free for outdoor readings, and by whom (service.domain.reserve_days)
    reserve: str = ""
    stops: tuple[PlannedStop, ...] = ()
    leave_min: float = 0.0
    back_min: float = 0.0
    break_min: float | None = None
    break_before: int | None = None

    @property
    def open(self) -> bool:
        """True where a plan may still put stops or take them away."""
        return not self.frozen and not self.lost

    @property
    def named(self) -> str:
        """Its day in a sentence: Tue 8 Dec."""
        return f"{self.day:%a} {self.day.day} {self.day:%b}"

    @property
    def minutes(self) -> float:
        return self.back_min - self.leave_min if self.stops else 0.0

    @property
    def emptied(self) -> "Walk":
        """The same day with nothing on it."""
        return replace(self, stops=(), leave_min=0.0, back_min=0.0, break_min=None, break_before=None)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """One equipment that is due and on no walk: the rule that decided, and its figures.

    ``code`` and ``also`` are the planner's words for rules (``service.planning.reasons.Code``), or
    ``excluded``, ``on another round`` with ``said`` in words.
    """

    equipment_id: int
    code: str
    also: tuple[str, ...] = ()
    figures: Mapping[str, float] = field(default_factory=dict)
    walk: str = ""
    said: str = ""
    worth: int = 0
    points: int = 0
    due_on: date | None = None
    must: bool = False
    carried: int = 0


@dataclass(frozen=True, slots=True)
class Shut:
    """A site that a plan keeps away from between two days, both included."""

    site_id: int
    from_on: date
    to_on: date
    reason: str

    def covers(self, site_id: int, day: date) -> bool:
        return site_id == self.site_id and self.from_on <= day <= self.to_on


@dataclass(frozen=True, slots=True)
class PlanBody:
    """Everything a plan says at one of its versions; ``bound`` is what no plan can exceed."""

    month_on: date
    site_ids: tuple[int, ...]
    walks: tuple[Walk, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    excluded: Mapping[int, str] = field(default_factory=dict)
    shut: tuple[Shut, ...] = ()
    notes: tuple[str, ...] = ()
    value: int = 0
    bound: int | None = None
    seed: int = 0
    steps: int = 0
    #: reading minutes that one opened cover was worth when it was drawn up
    cover_minutes: float = 0.0
    drawn: bool = False

    def walk(self, key: str) -> Walk | None:
        return next((walk for walk in self.walks if walk.key == key), None)

    def walk_of(self, equipment_id: int) -> Walk | None:
        """The walk that takes this equipment in."""
        for walk in self.walks:
            if any(stop.equipment_id == equipment_id for stop in walk.stops):
                return walk
        return None

    def with_walks(self, changed: Iterable[Walk]) -> "PlanBody":
        """The same plan with these walks in the place of theirs."""
        new = {walk.key: walk for walk in changed}
        return replace(self, walks=tuple(new.get(walk.key, walk) for walk in self.walks))

    @property
    def stops(self) -> int:
        return sum(len(walk.stops) for walk in self.walks)

    @property
    def minutes(self) -> float:
        return sum(walk.minutes for walk in self.walks)

    @property
    def put_off(self) -> tuple[LeftOut, ...]:
        """What nobody sees this month; what another round takes in is not among it."""
        return tuple(one for one in self.left_out if one.code != ON_ANOTHER_ROUND)

    @property
    def on_walks(self) -> frozenset[int]:
        """Equipment that some walk takes in."""
        return frozenset(stop.equipment_id for walk in self.walks for stop in walk.stops)

    @property
    def equipment_ids(self) -> frozenset[int]:
        """Everything the plan speaks of."""
        return self.on_walks | {one.equipment_id for one in self.left_out} | set(self.excluded)


@dataclass(frozen=True, slots=True)
class PlanVersion:
    """One state of a plan, with what led to it."""

    number: int
    parent: int
    aside: bool
    at: datetime
    by_name: str
    what: str


@dataclass(frozen=True, slots=True)
class Working:
    """How far the drawing up of a version is; ``value`` is the best one found so far."""

    what: str
    base: int
    done: int = 0
    of: int = 0
    value: int = 0
    #: names the order that is being worked on, so that a later one is not ended by an earlier
    order: str = ""


@dataclass(frozen=True, slots=True)
class MonthPlan:
    """A plan; ``current`` is the number of the version that counts."""

    id: int
    client_id: int
    month_on: date
    name: str
    current: int
    newest: int
    working: Working | None
    version: int


def walk_key(day: date, person_id: int) -> str:
    """The walk of a person on a day.

    >>> walk_key(date(2026, 12, 1), 7)
    '2026-12-01.7'
    """
    return f"{day.isoformat()}.{person_id}"


def body_to_json(body: PlanBody) -> dict[str, Any]:
    """A body as plain JSON, defaults left out: a plan of thousands of stops is kept many times."""
    found = _plain(body)
    found["walks"] = [_plain(walk) | {"stops": [_plain(stop) for stop in walk.stops]} for walk in body.walks]
    found["left_out"] = [_plain(one) for one in body.left_out]
    found["shut"] = [_plain(one) for one in body.shut]
    found["excluded"] = {str(key): said for key, said in sorted(body.excluded.items())}
    return found


def body_from_json(found: Mapping[str, Any]) -> PlanBody:
    """The body of a stored version."""
    rest = {k: v for k, v in found.items() if k not in ("walks", "left_out", "shut", "excluded")}
    return PlanBody(
        **(rest | {"month_on": _day(found["month_on"]), "site_ids": tuple(found["site_ids"])})
        | {"notes": tuple(found.get("notes", ()))},
        walks=tuple(_walk(one) for one in found.get("walks", ())),
        left_out=tuple(
            LeftOut(**one | {"also": tuple(one.get("also", ())), "due_on": _day(one.get("due_on"))})
            for one in found.get("left_out", ())
        ),
        shut=tuple(
            Shut(**one | {"from_on": _day(one["from_on"]), "to_on": _day(one["to_on"])})
            for one in found.get("shut", ())
        ),
        excluded={int(key): said for key, said in found.get("excluded", {}).items()},
    )


def _walk(found: Mapping[str, Any]) -> Walk:
    stops = tuple(PlannedStop(**one | {"due_on": _day(one.get("due_on"))}) for one in found.get("stops", ()))
    return Walk(**{**found, "day": _day(found["day"]), "stops": stops})


def _day(text: str | None) -> Any:
    return None if text is None else date.fromisoformat(text)


def _plain(record: Any) -> dict[str, Any]:
    """Fields that differ from their defaults, dates as text."""
    found: dict[str, Any] = {}
    for name, one in record.__dataclass_fields__.items():
        value = getattr(record, name)
        if name in ("walks", "stops", "left_out", "shut", "excluded"):
            continue
        if value == one.default or value in ((), {}):
            continue
        if isinstance(value, date):
            value = value.isoformat()
        elif isinstance(value, Mapping):
            value = dict(value)
        elif isinstance(value, tuple):
            value = list(value)
        found[name] = value
    if isinstance(record, PlanBody):
        found |= {"month_on": record.month_on.isoformat(), "site_ids": list(record.site_ids)}
    return found
