"""Readings as typed and as stored, what an upload would do and what it did."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any

from service.domain.words import Level, LoadSource, PointKind, Reason, SettingSource, VisitKind
from service.errors import Problem

#: Measured beside the temperature, in the order in which a row and a table hold them.
MEASURED = (
    "ambient_c",
    "reflected_c",
    "humidity_percent",
    "wind_m_s",
    "fan_on_part",
    "current_a",
    "neutral_a",
    "distance_m",
    "minutes_at_load",
    "emissivity_set",
    "reflected_set_c",
    "transmission_set",
)
#: Found on this visit, and narrower than what the round and the point say; None where nothing was.
FOUND = (
    "emissivity",
    "emissivity_standing",
    "reflected_standing",
    "through_window",
    "window_transmission",
    "window_c",
    "path_transmission",
    "boxes",
)
#: What a reading holds besides whose and when: the fields a correction may change.
VALUE_FIELDS = (
    "taken_at",
    "visit_kind",
    "load_source",
    "not_assessable",
    "temperature_c",
    *MEASURED,
    *FOUND,
    "instrument_id",
    "picture",
    "note",
)


@dataclass(frozen=True, slots=True)
class ExpectedRow:
    """One row of a round as it went out: which point a returned row is of."""

    row_id: int
    uid: str
    stop_id: int
    stop_position: int
    view_id: int
    point_id: int
    site_id: int
    point_tag: str
    point_name: str
    phase: str
    kind: PointKind
    visit_kind: VisitKind
    time_zone: str
    chosen_source: str | None


@dataclass(frozen=True, slots=True)
class ExpectedRound:
    """What a returned file is held against.

    ``sites`` are the sites of the round by id with code, name and zone; ``instruments`` those
    of the client by serial, in small letters.
    """

    id: int
    code: str
    planned_on: date
    start_min: int
    instrument_id: int | None
    rows: tuple[ExpectedRow, ...]
    sites: Mapping[int, tuple[str, str, str]]
    instruments: Mapping[str, int]

    def with_instrument(self, instrument_id: int | None) -> "ExpectedRound":
        """The same with another instrument where a row names none."""
        return replace(self, instrument_id=instrument_id)


@dataclass(frozen=True, slots=True)
class TypedRow:
    """One returned row, ready to be stored.

    ``expected`` is None for a hot part met off the round; then ``place`` and ``site_id`` say
    where it is. ``time_typed`` is false where the row carried no time and was given one.
    ``uid`` is the client's own id of the reading, if it has one. ``typed`` holds the cells
    as they came. ``through_window`` None means as the equipment's access says; ``boxes`` are the
    answers to boxes that only some kinds of point ask for.
    """

    where: str
    expected: ExpectedRow | None
    uid: str
    site_id: int
    place: str
    taken_at: datetime
    time_typed: bool
    visit_kind: VisitKind
    load_source: LoadSource
    not_assessable: Reason | None
    temperature_c: float | None
    ambient_c: float | None
    reflected_c: float | None
    humidity_percent: float | None
    wind_m_s: float | None
    fan_on_part: bool
    current_a: float | None
    neutral_a: float | None
    distance_m: float | None
    minutes_at_load: float | None
    emissivity_set: float | None
    reflected_set_c: float | None
    transmission_set: float | None
    emissivity: float | None
    emissivity_standing: SettingSource | None
    reflected_standing: SettingSource | None
    through_window: bool | None
    window_transmission: float | None
    window_c: float | None
    path_transmission: float | None
    boxes: Mapping[str, Any] | None
    instrument_id: int | None
    picture: str
    note: str
    correction_reason: str
    device_time: str
    skew_s: float | None
    content_hash: str
    typed: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading as stored; a correction is a later revision that supersedes it."""

    id: int
    uid: str
    point_id: int
    round_id: int | None
    row_id: int | None
    source: str
    person_id: int | None
    device: str
    revision: int
    supersedes_id: int | None
    current: bool
    correction_reason: str
    content_hash: str
    received_at: datetime
    taken_at: datetime
    visit_kind: VisitKind
    load_source: LoadSource
    not_assessable: Reason | None
    temperature_c: float | None
    ambient_c: float | None
    reflected_c: float | None
    humidity_percent: float | None
    wind_m_s: float | None
    fan_on_part: bool
    current_a: float | None
    neutral_a: float | None
    distance_m: float | None
    minutes_at_load: float | None
    emissivity_set: float | None
    reflected_set_c: float | None
    transmission_set: float | None
    emissivity: float | None
    emissivity_standing: SettingSource | None
    reflected_standing: SettingSource | None
    through_window: bool | None
    window_transmission: float | None
    window_c: float | None
    path_transmission: float | None
    boxes: Mapping[str, Any] | None
    instrument_id: int | None
    picture: str
    note: str
    no_permit_recorded: bool
    typed: dict[str, Any] | None
    #: the device's clock as it showed, and how far that was ahead [s]
    device_time: str = ""
    skew_s: float | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """A field that would be corrected: what was stored, what is typed now."""

    where: str
    point_tag: str
    field: str
    was: str
    now: str


@dataclass(frozen=True, slots=True)
class UploadPreview:
    """What an upload would do. ``problems`` forbid it, ``warnings`` ask to look again."""

    round_id: int
    round_code: str
    rows_new: int
    rows_equal: int
    rows_corrected: int
    rows_second: int
    rows_blank: int
    off_round: int
    not_assessable: int
    without_permit: int
    still_not_read: int
    already_stored: bool
    changes: tuple[Change, ...]
    warnings: tuple[Problem, ...]
    problems: tuple[Problem, ...]
    problem_count: int
    decimal: str
    temperature_unit: str

    @property
    def storable(self) -> bool:
        return self.problem_count == 0


@dataclass(frozen=True, slots=True)
class ActNow:
    """A part that must not wait for the next round: tell somebody at once."""

    finding_id: int
    point_id: int
    point_tag: str
    title: str
    sentence: str


@dataclass(frozen=True, slots=True)
class SecondReading:
    """A point read twice on one round, by two people or devices: both are kept."""

    row_id: int
    point_id: int
    point_tag: str


@dataclass(frozen=True, slots=True)
class UploadResult:
    """What an upload did; the same upload again is answered with the same result."""

    upload_id: int
    round_id: int
    round_code: str
    received_at: datetime
    rows_new: int
    rows_equal: int
    rows_corrected: int
    rows_second: int
    off_round: int
    not_assessable: int
    without_permit: int
    still_not_read: int
    levels: Mapping[str, int]
    act_now: tuple[ActNow, ...] = ()
    second_readings: tuple[SecondReading, ...] = ()
    finding_ids: tuple[int, ...] = ()
    warnings: tuple[Problem, ...] = field(default=())


def source_of(person_id: int | None, device: str) -> str:
    """Whose row it is: a row of another source is a second reading, never a correction."""
    return f"device {device}" if device else f"person {person_id}"


def hash_of_content(values: tuple[Any, ...]) -> str:
    """A short name for the content of a row: equal content, equal name, however it was written.

    Examples
    --------
    >>> hash_of_content((36.7, None, "K")) == hash_of_content((36.70, None, "K"))
    True
    """
    return hashlib.blake2b(repr(values).encode("utf-8", "surrogatepass"), digest_size=16).hexdigest()


def level_word(level: Level | None) -> str:
    """The word under which a result counts a level."""
    return "No verdict" if level is None else level.word
