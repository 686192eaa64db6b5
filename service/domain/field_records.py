"""What comes in from the walk beside readings: visits of stops, tellings, checks, clocks; and what is held aside."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from service.domain.fahrenheit import kept_celsius
from service.domain.instrument_checks import Occasion

#: Longest note of what was seen, heard or smelt at a stop.
LONGEST_SEEN = 2000
#: What a device says by itself (web/field/sync.js) of a reading that stands for one that has left it before.
CORRECTED_ON_DEVICE = "corrected on the device"


class SendKind(StrEnum):
    """What one send from a device is."""

    READING = "reading"
    STOP_VISIT = "stop visit"
    TELLING = "telling"
    CHECK = "check"
    CAMERA_CLOCK = "camera clock"


class HeldState(StrEnum):
    """What became of a send that its round no longer took."""

    WAITING = "waiting"
    TAKEN_IN = "taken in"
    SET_ASIDE = "set aside"


@dataclass(frozen=True, slots=True)
class FieldSend:
    """One send as it came: its own id, what it is, and the device's clock.

    ``keep`` says that the device cannot ask anybody: what has no place is held aside, not refused.
    ``replaces`` are ids of earlier sends that this one stands for, stored or not.
    """

    uid: str
    kind: SendKind
    round_id: int
    body: Mapping[str, Any]
    content_hash: str
    device_time: str = ""
    skew_s: float | None = None
    replaces: tuple[str, ...] = ()
    keep: bool = False


@dataclass(frozen=True, slots=True)
class Receipt:
    """What a send is answered; the same for the same send. ``reason`` is empty unless it is held aside."""

    uid: str
    kind: SendKind
    round_id: int
    received_at: datetime
    reason: str = ""
    held_id: int | None = None
    finding_id: int | None = None


@dataclass(frozen=True, slots=True)
class StopVisit:
    """One visit of a stop as it was walked; instants put right, None where the clock was not believed."""

    uid: str
    stop_id: int
    person: str
    started_at: datetime | None
    ended_at: datetime | None
    cautions_at: datetime | None
    seen: str
    heard: str
    smelt: str
    device_time: str
    skew_s: float | None
    received_at: datetime


@dataclass(frozen=True, slots=True)
class CameraClock:
    """What a camera's clock showed: ``offset_s`` is how far it was ahead of true time [s]."""

    uid: str
    instrument_id: int
    instrument: str
    person: str
    at: datetime
    camera_time: str
    offset_s: float


@dataclass(frozen=True, slots=True)
class HeldSend:
    """A send that is kept aside, whole, until an engineer takes it in or sets it aside."""

    id: int
    uid: str
    kind: SendKind
    state: HeldState
    round_id: int
    round_code: str
    round_name: str
    site_id: int | None
    site_name: str
    time_zone: str
    person_id: int | None
    person: str
    device: str
    received_at: datetime
    body: Mapping[str, Any]
    device_time: str
    skew_s: float | None
    reason: str
    point_id: int | None
    point_tag: str
    point_name: str
    decided_at: datetime | None
    decided_by: str
    decision: str
    into_round_id: int | None

    @property
    def what(self) -> str:
        """What it is of, in words."""
        if self.point_id is not None:
            return f"{self.point_tag} {self.point_name}"
        place = self.body.get("place")
        return f"{self.kind}, {place}" if isinstance(place, str) and place else f"{self.kind}"

    @property
    def values(self) -> str:
        """What was typed, gravest first, in °C and A."""
        return values_told(self.kind, self.in_celsius)

    @property
    def in_celsius(self) -> Mapping[str, Any]:
        """What was typed with every temperature in °C, in whichever unit it came."""
        typed = {name: value for name, value in self.body.items() if name != "temperature_unit"}
        return _in_celsius(typed) if self.body.get("temperature_unit") == "°F" else typed


def _in_celsius(typed: Mapping[str, Any]) -> dict[str, Any]:
    """Temperatures typed in °F (names that end on ``_c``), also those within, in °C to the fourth decimal."""
    found: dict[str, Any] = {}
    for name, value in typed.items():
        if isinstance(value, Mapping):
            found[name] = _in_celsius(value)
        elif name.endswith("_c") and isinstance(value, int | float):
            found[name] = kept_celsius(value)
        else:
            found[name] = value
    return found


#: By kind: the fields told in one line, with their unit.
_TOLD: Mapping[SendKind, tuple[tuple[str, str, str], ...]] = {
    SendKind.READING: (
        ("temperature_c", "", " °C"),
        ("current_a", "", " A"),
        ("ambient_c", "air ", " °C"),
        ("reason", "not read: ", ""),
        ("note", "", ""),
    ),
    SendKind.STOP_VISIT: (("seen", "seen: ", ""), ("heard", "heard: ", ""), ("smelt", "smelt: ", "")),
    SendKind.TELLING: (("told_whom", "told ", ""), ("answer", "who answered: ", "")),
    SendKind.CHECK: (
        ("occasion", "", ""),
        ("shown_c", "showed ", " °C"),
        ("reference_c", "where ", " °C was true"),
        ("note", "", ""),
    ),
    SendKind.CAMERA_CLOCK: (("camera_time", "showed ", ""), ("offset_s", "off by ", " s")),
}


def values_told(kind: SendKind, body: Mapping[str, Any]) -> str:
    """The values of a send in one line, so that they can be judged without opening it."""
    told = []
    for name, before, after in _TOLD[kind]:
        value = body.get(name)
        if value is None or value == "":
            continue
        text = f"{value:g}" if isinstance(value, float) else str(value)
        told.append(f"{before}{text}{after}")
    return ", ".join(told) or "no values"


@dataclass(frozen=True, slots=True)
class VisitTyped:
    """What a device says of one visit of a stop; times as its clock showed them."""

    stop_id: int
    started_at: str = ""
    ended_at: str = ""
    cautions_at: str = ""
    seen: str = ""
    heard: str = ""
    smelt: str = ""


@dataclass(frozen=True, slots=True)
class TellingTyped:
    """Whom a technician told of an Act now: of a row, or of a part met off the round by its send."""

    told_whom: str
    told_at: str = ""
    answer: str = ""
    row_uid: str = ""
    off_round_uid: str = ""


@dataclass(frozen=True, slots=True)
class CheckTyped:
    """An instrument held against a reference on the walk [°C]."""

    occasion: Occasion
    reference_c: float
    shown_c: float
    at: str = ""
    note: str = ""
    instrument_id: int | None = None


@dataclass(frozen=True, slots=True)
class ClockTyped:
    """A camera's clock beside the device's; ``offset_s`` is the camera's lead over the device [s]."""

    instrument_id: int
    camera_time: str
    offset_s: float
    at: str = ""
