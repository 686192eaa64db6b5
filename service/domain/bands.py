"""Bands of a severity rule: edges with their closure, and the level of a value."""

from dataclasses import dataclass, field
from enum import StrEnum

from service.domain.words import Level, PointKind, ReferenceKind


class Confidence(StrEnum):
    """How sure we are that a number is what its source says; printed with the number."""

    SEEN = "seen"
    MEMORY = "from memory"
    PRACTICE = "common practice, no source"
    OWN = "own proposal"
    NO_SOURCE = "no source"

    @property
    def words(self) -> str:
        """As printed beside a number."""
        return "read in the source" if self is Confidence.SEEN else self.value


class Unit(StrEnum):
    KELVIN = "K"
    CELSIUS = "°C"
    PERCENT = "%"


#: On which side of 1 kV a limit holds; empty: on both.
VOLTAGES = LOW_VOLTAGE, HIGH_VOLTAGE = ("up to 1 kV", "above 1 kV")


class Measure(StrEnum):
    """What of a reading a template puts into its bands; its unit, and which end is grave."""

    RISE = "rise"
    SURFACE = "surface temperature"
    INLET_OVER_OUTLET = "inlet over outlet"
    INLET_UNDER_STEAM = "inlet under steam temperature"
    OVER_MAIN_TANK = "over the main tank"

    @property
    def unit(self) -> Unit | None:
        """The only unit of its bands; None where that hangs on what a rise is over."""
        return {Measure.RISE: None, Measure.SURFACE: Unit.CELSIUS}.get(self, Unit.KELVIN)

    @property
    def falling(self) -> bool:
        """The smaller it is the graver: a trap that blows through is as hot behind as before."""
        return self is Measure.INLET_OVER_OUTLET

    def fits(self, kind: PointKind) -> bool:
        """Whether a kind has the boxes for it."""
        only = _MEASURED_OF.get(self)
        return only is None or only is kind


_MEASURED_OF = {
    Measure.INLET_OVER_OUTLET: PointKind.STEAM_TRAP,
    Measure.INLET_UNDER_STEAM: PointKind.STEAM_TRAP,
    Measure.OVER_MAIN_TANK: PointKind.TRANSFORMER,
}


@dataclass(frozen=True, slots=True)
class Edge:
    """Where one band ends and the next begins.

    ``closes_up`` says whose the value itself is: true, the band above (1 K is already
    *possible*); false, the band below (15 K is not yet *over 15 K*).
    """

    value: float
    closes_up: bool = False


@dataclass(frozen=True, slots=True)
class BandRule:
    """One column of a severity table: ascending edges, and a level for each band.

    ``bands`` are the words of the table for each band, printed beside our level. A rule
    without edges is silent: it has no number and gives no level.
    """

    reference: ReferenceKind
    unit: Unit
    edges: tuple[Edge, ...]
    levels: tuple[Level, ...]
    bands: tuple[str, ...]
    source: str
    confidence: Confidence
    #: source and confidence, as printed with every verdict
    cited: str = field(init=False, repr=False, compare=False)
    steps: tuple[tuple[float, bool], ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "cited", f"{self.source} [{self.confidence.words}]")
        object.__setattr__(self, "steps", tuple((edge.value, edge.closes_up) for edge in self.edges))

    @property
    def silent(self) -> bool:
        return not self.edges

    def place(self, value: float) -> int:
        """Index of the band in which a value lies: 0 is below the first edge."""
        place = 0
        for edge, closes_up in self.steps:
            if value > edge or (closes_up and value == edge):
                place += 1
            else:
                break
        return place

    def level(self, value: float) -> Level:
        """Level of the band in which a value lies; edges must be there."""
        return self.levels[self.place(value)]

    def line(self, level: Level) -> float | None:
        """Action line of a level: the edge above which this rule gives it or a graver one."""
        for edge, above in zip(self.edges, self.levels[1:], strict=True):
            if above >= level:
                return edge.value
        return None

    @property
    def lines(self) -> tuple[tuple[Level, float], ...]:
        """Every action line with its level, gentlest first."""
        return tuple((level, edge.value) for edge, level in zip(self.edges, self.levels[1:], strict=True))


@dataclass(frozen=True, slots=True)
class Limit:
    """A standard's absolute limit for a part, its coating and the medium round it.

    ``words`` are the words by which a component is known to be such a part. An empty
    ``coating`` holds for every coating, an empty ``voltage`` for every voltage. ``rise_k`` is
    the rise at 40 °C of air or less.
    """

    part: str
    words: tuple[str, ...]
    coating: str
    medium: str
    total_c: float | None
    rise_k: float | None
    edition: str
    confidence: Confidence
    voltage: str = ""


@dataclass(frozen=True, slots=True)
class KindLine:
    """The air column of one kind, where the general one was not made for it."""

    kind: PointKind
    rule: BandRule


@dataclass(frozen=True, slots=True)
class Template:
    """A kind without a published band: its boxes, and the site's own rule once filled in.

    ``component`` narrows it to components with this word in them; empty holds for the kind.
    ``measure`` is what the rule judges. Above ``wind_max_m_s`` it may accuse and not clear; None
    leaves that to the wind of the whole set. The levels of a falling measure fall.
    """

    kind: PointKind
    component: str
    boxes: tuple[str, ...]
    rule: BandRule
    measure: Measure = Measure.RISE
    wind_max_m_s: float | None = None
