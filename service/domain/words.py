"""The glossary as enums: levels, trends, states, kinds and reasons, with the words shown."""

from enum import IntEnum, StrEnum


class Level(IntEnum):
    """How bad a reading is; *No verdict* is the absence of a level (None)."""

    NOTHING_FOUND = 0
    LOOK_AGAIN = 1
    PLAN_REPAIR = 2
    REPAIR_SOON = 3
    ACT_NOW = 4

    @property
    def word(self) -> str:
        return LEVEL_WORDS[self]


LEVEL_WORDS = {
    Level.NOTHING_FOUND: "Nothing found",
    Level.LOOK_AGAIN: "Look again",
    Level.PLAN_REPAIR: "Plan repair",
    Level.REPAIR_SOON: "Repair soon",
    Level.ACT_NOW: "Act now",
}
NO_VERDICT = "No verdict"


class Trend(StrEnum):
    TOO_FEW_VISITS = "too few visits"
    CANNOT_TELL = "cannot tell"
    STEADY = "steady"
    FIRST_SIGN = "first sign"
    HAS_RISEN = "has risen"
    RISING = "rising"
    RISING_FASTER = "rising faster"
    STEPPED_UP = "stepped up"
    EASING = "easing"

    @property
    def worsening(self) -> bool:
        return self in WORSENING


WORSENING = frozenset(
    {Trend.FIRST_SIGN, Trend.HAS_RISEN, Trend.RISING, Trend.RISING_FASTER, Trend.STEPPED_UP}
)


class Found(StrEnum):
    """What a repair found when the part was opened: the memory by which flags are judged."""

    FAULT = "fault found"
    NO_FAULT = "no fault found"
    WRONG_LOAD = "the load was wrong"


class PointKind(StrEnum):
    JOINT = "joint"
    FUSE = "fuse"
    BEARING = "bearing"
    COUPLING = "coupling or belt"
    MOTOR = "motor"
    TRANSFORMER = "transformer"
    CABLE_END = "cable end"
    STEAM_TRAP = "steam trap"
    REFRACTORY = "refractory or insulation"
    PHOTOVOLTAIC = "photovoltaic string"
    OTHER = "other"


#: Kinds whose rise is never scaled by load (science/physics.md §3.3): iron, rotating parts,
#: electronics, and what carries no current at all.
UNSCALED_KINDS = frozenset(PointKind) - {PointKind.JOINT, PointKind.FUSE, PointKind.CABLE_END}
#: Kinds judged by the experience-based mechanical bands.
MECHANICAL_KINDS = frozenset({PointKind.BEARING, PointKind.COUPLING, PointKind.MOTOR})
#: Kinds that carry current, so that load and amps are asked for.
CURRENT_KINDS = frozenset(
    {PointKind.JOINT, PointKind.FUSE, PointKind.CABLE_END, PointKind.TRANSFORMER, PointKind.PHOTOVOLTAIC}
)


class ReferenceKind(StrEnum):
    """What a rise is over; kinds never mix in one series."""

    LIKE_PARTS = "over like parts"
    AIR = "over air"
    BASELINE = "over its own baseline"
    RATED_SHARE = "share of rated rise"


class RoundState(StrEnum):
    DRAFT = "draft"
    ISSUED = "issued"
    RETURNED = "returned"
    SIGNED_OFF = "signed off"
    WITHDRAWN = "withdrawn"


class PermitState(StrEnum):
    ASKED = "asked"
    GRANTED = "granted"
    CLOSED = "closed"


class RunRequestState(StrEnum):
    """What a site said when asked to have a machine run for a visit."""

    ASKED = "asked"
    AGREED = "agreed"
    REFUSED = "refused"


class FindingState(StrEnum):
    OPEN = "open"
    PLANNED = "planned"
    REPAIRED = "repaired"
    PROVEN = "proven"
    NOT_PROVEN = "not proven"
    SET_ASIDE = "set aside"


class VisitKind(StrEnum):
    ACCEPTANCE = "acceptance"
    BASELINE = "baseline"
    ROUTINE = "routine"
    READ_AGAIN = "read again"
    AFTER_EVENT = "after an event"
    ON_COMPLAINT = "on complaint"


class LoadSource(StrEnum):
    SERVICE = "service"
    LOAD_BANK = "load bank"
    INJECTION = "injection"


class Reason(StrEnum):
    """Why a point has no usable reading: the ten reasons, by the letter of the sheet."""

    LOCKED = "K"
    NO_QUALIFIED_PERSON = "Q"
    OFF = "O"
    COVERED = "C"
    WET_FOG_OR_SUN = "W"
    NOT_SAFE = "S"
    BLOCKED = "B"
    NOT_THERE = "N"
    OUT_OF_TIME = "T"
    OTHER = "X"

    @property
    def word(self) -> str:
        return REASON_WORDS[self]


REASON_WORDS = {
    Reason.LOCKED: "locked or no permit",
    Reason.NO_QUALIFIED_PERSON: "no qualified person",
    Reason.OFF: "off",
    Reason.COVERED: "covered",
    Reason.WET_FOG_OR_SUN: "wet, fog or sun",
    Reason.NOT_SAFE: "not safe",
    Reason.BLOCKED: "blocked by goods",
    Reason.NOT_THERE: "not there or wrong tag",
    Reason.OUT_OF_TIME: "ran out of time",
    Reason.OTHER: "other",
}


class Access(StrEnum):
    CLOSED_FRONT = "closed front"
    HINGED_COVER = "hinged cover"
    BOLTED_COVER = "bolted cover"
    WINDOW = "window"

    @property
    def behind_cover(self) -> bool:
        return self in (Access.HINGED_COVER, Access.BOLTED_COVER)


class Role(StrEnum):
    TECHNICIAN = "technician"
    ENGINEER = "engineer"
    MANAGER = "manager"
    ADMINISTRATOR = "administrator"


class SettingSource(StrEnum):
    """How a number that the figures rest on was come by."""

    MEASURED = "measured"
    TABLE = "table"
    ASSUMED = "assumed"


class ReevaluationTarget(StrEnum):
    """Whose readings are evaluated again."""

    READING = "reading"
    POINT = "point"
    ROUND = "round"
    SITE = "site"


class TemperatureUnit(StrEnum):
    """In which unit a person reads and types temperatures; stored is °C."""

    CELSIUS = "c"
    FAHRENHEIT = "f"
