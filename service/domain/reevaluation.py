"""Settings changed after the visits: what may be changed, and what a reading's figures then rest on."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.domain.settings import (
    ASSUMED_EMISSIVITY_HALF_WIDTH,
    PATH_HALF_WIDTH,
    REFLECTED_HALF_WIDTH_K,
    WINDOW_HALF_WIDTH,
    Inputs,
    Setting,
    emissivity_half_width,
)
from service.domain.words import Level, PointKind, ReevaluationTarget, SettingSource
from service.errors import Invalid, Problem

#: Whose setting it is after a re-evaluation.
PLACE = "re-evaluation"
MOST_REASON = 1000


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number that may be changed after the visit.

    ``setting`` ones carry a half-width and how they were come by; ``register`` is the point's
    field that holds the same from now on.
    """

    name: str
    label: str
    unit: str
    low: float
    high: float
    setting: bool = False
    register: str = ""


QUANTITIES = {
    one.name: one
    for one in (
        Quantity("emissivity", "Emissivity", "", 0.01, 1.0, setting=True, register="emissivity"),
        Quantity(
            "reflected_c", "Reflected temperature", "°C", -90.0, 1000.0, setting=True, register="reflected_c"
        ),
        Quantity("ambient_c", "Air temperature", "°C", -60.0, 80.0),
        Quantity("humidity_percent", "Relative humidity", "%", 0.0, 100.0),
        Quantity("distance_m", "Distance", "m", 0.05, 100.0, register="distance_m"),
        Quantity("transmission", "Transmission of the air", "", 0.01, 1.0, setting=True),
        Quantity(
            "window_transmission",
            "Transmission of the window",
            "",
            0.01,
            1.0,
            setting=True,
            register="window_transmission",
        ),
        Quantity("window_c", "Temperature of the window", "°C", -60.0, 200.0),
        Quantity("current_a", "Load at the visit", "A", 0.0, 100_000.0),
        Quantity("common_load_a", "Common load", "A", 0.1, 100_000.0, register="common_load_a"),
    )
}


@dataclass(frozen=True, slots=True)
class NewValue:
    """What a quantity is set to; ``how`` says in words how it was found."""

    value: float
    half_width: float | None = None
    standing: SettingSource = SettingSource.MEASURED
    how: str = ""


@dataclass(frozen=True, slots=True)
class Asked:
    """A re-evaluation as asked for.

    ``kind`` and ``coating`` narrow it to some points; ``since`` to visits from a day on.
    ``from_now_on`` sets the register too, for later visits. ``criteria_id`` judges by another
    set.
    """

    target: ReevaluationTarget
    target_id: int
    changes: Mapping[str, NewValue]
    criteria_id: int | None = None
    kind: PointKind | None = None
    coating: str = ""
    since: datetime | None = None
    from_now_on: bool = False

    def to_dict(self) -> dict[str, Any]:
        """Plain JSON values, as kept."""
        return {
            "changes": {
                name: {
                    "value": new.value,
                    "half_width": new.half_width,
                    "standing": new.standing.value,
                    "how": new.how,
                }
                for name, new in self.changes.items()
            },
            "criteria_id": self.criteria_id,
            "kind": None if self.kind is None else self.kind.value,
            "coating": self.coating,
            "since": None if self.since is None else self.since.isoformat(),
            "from_now_on": self.from_now_on,
        }


@dataclass(frozen=True, slots=True)
class Moved:
    """One reading whose level or rise is another by the new figures."""

    reading_id: int
    point_id: int
    point_tag: str
    title: str
    taken_at: datetime
    zone: str
    level_before: Level | None
    level_after: Level | None
    at_least_before: bool
    at_least_after: bool
    value_before_k: float | None
    value_after_k: float | None
    u_before_k: float | None
    u_after_k: float | None

    @property
    def level_moves(self) -> bool:
        return (self.level_before, self.at_least_before) != (self.level_after, self.at_least_after)


@dataclass(frozen=True, slots=True)
class StandingMoved:
    """One point that stands elsewhere afterwards."""

    point_id: int
    point_tag: str
    title: str
    before: Level | None
    after: Level | None


@dataclass(frozen=True, slots=True)
class Reevaluated:
    """What a re-evaluation does, or did: before and after.

    ``readings`` had something changed; ``moved`` are those of them and of later visits whose
    level or rise is another, gravest change first. ``trends_changed`` counts points whose trend
    has another word; None where the trend follows in the background.
    """

    readings: int
    moved: tuple[Moved, ...]
    standings: tuple[StandingMoved, ...]
    trends_changed: int | None
    reevaluation_id: int | None = None

    @property
    def levels_changed(self) -> int:
        return sum(one.level_moves for one in self.moved)


@dataclass(frozen=True, slots=True)
class KeptReevaluation:
    """A re-evaluation as recorded."""

    id: int
    uid: str
    target: ReevaluationTarget
    target_id: int
    site_id: int | None
    changes: Mapping[str, Any]
    reason: str
    at: datetime
    by_name: str
    undoes_id: int | None
    undone_by_id: int | None
    readings: int
    levels_changed: int
    points_changed: int


def check_asked(asked: Asked, *, reason: str | None) -> None:
    """Refuse what cannot be: nothing asked, numbers out of range, no reason.

    Raises
    ------
    Invalid
        With every problem at once.
    """
    problems = []
    if not asked.changes and asked.criteria_id is None:
        problems.append(
            Problem("re-evaluation", "changes", "", "Nothing would change.", "Give at least one new number.")
        )
    for name, new in asked.changes.items():
        problems += _problems_of(name, new)
    if reason is not None and not 3 <= len(reason.strip()) <= MOST_REASON:
        problems.append(
            Problem(
                "re-evaluation",
                "reason",
                reason[:60],
                "A re-evaluation needs its reason.",
                f"Say in 3 to {MOST_REASON} characters why the figures are wrong now.",
            )
        )
    if problems:
        raise Invalid(problems)


def _problems_of(name: str, new: NewValue) -> list[Problem]:
    quantity = QUANTITIES.get(name)
    if quantity is None:
        remedy = f"One of: {', '.join(QUANTITIES)}."
        return [Problem("re-evaluation", name, str(new.value), "This cannot be changed.", remedy)]
    found = []
    if not quantity.low <= new.value <= quantity.high:
        remedy = f"A number from {quantity.low:g} to {quantity.high:g} {quantity.unit}".rstrip() + "."
        found.append(Problem("re-evaluation", name, f"{new.value:g}", "Out of range.", remedy))
    half = new.half_width
    widest = 0.5 if quantity.unit == "" else 100.0
    if half is not None and not (quantity.setting and 0.0 <= half <= widest):
        what = f"from 0 to {widest:g}" if quantity.setting else "left out: this number has none"
        found.append(
            Problem(
                "re-evaluation", f"{name}_half_width", f"{half:g}", "Not a half-width.", f"Type it {what}."
            )
        )
    return found


def edit_of(changes: Mapping[str, NewValue]) -> Callable[[Inputs], Inputs]:
    """What the changes make of any reading's inputs; what does not apply to it is left alone.

    Notes
    -----
    Surroundings that were taken from the air follow the air.
    """

    def edit(inputs: Inputs) -> Inputs:
        told: dict[str, Any] = {}
        for name, new in changes.items():
            if name in ("window_transmission", "window_c") and not inputs.window:
                continue
            told[name] = _setting(name, new) if QUANTITIES[name].setting else new.value
        if "ambient_c" in told and "reflected_c" not in told and inputs.reflected_c.place == "air":
            told["reflected_c"] = inputs.reflected_c._replace(value=told["ambient_c"])
        names = sorted(set(inputs.reevaluated) | set(told))
        return inputs._replace(**told, reevaluated=tuple(names)) if told else inputs

    return edit


_HALF_WIDTHS = {
    "transmission": PATH_HALF_WIDTH,
    "window_transmission": WINDOW_HALF_WIDTH,
    "emissivity": ASSUMED_EMISSIVITY_HALF_WIDTH,
}


def half_width_of(name: str, new: NewValue) -> float:
    """The half-width that goes with a new value: as given, else the usual one of its source."""
    if new.half_width is not None:
        return new.half_width
    if name == "emissivity":
        return emissivity_half_width(new.standing)
    if name == "reflected_c":
        return REFLECTED_HALF_WIDTH_K[new.standing]
    return _HALF_WIDTHS[name]


def _setting(name: str, new: NewValue) -> Setting:
    return Setting(new.value, half_width_of(name, new), new.standing, PLACE)
