"""A verdict in the making, and what the conditions of a visit allow."""

import math
from dataclasses import dataclass, field

from service.domain.bands import BandRule
from service.domain.criteria import Criteria
from service.domain.kind_notes import number_in
from service.domain.like_parts import DIGITS, SLACK, temperature
from service.domain.rise_uncertainty import scaled_u_k
from service.domain.seen import NoHeatAnswer, RangeEnd, SeenPoint, SeenView
from service.domain.words import (
    CURRENT_KINDS,
    MECHANICAL_KINDS,
    UNSCALED_KINDS,
    Level,
    PointKind,
    ReferenceKind,
)
from service.physics.cautions import Caution

_ROOT_3 = math.sqrt(3.0)
#: Members bound once: looking one up on its class costs more than a comparison.
_TOP = RangeEnd.TOP
_BARE_METAL = NoHeatAnswer.BARE_METAL
#: Plain numbers: an enumeration's own ``&`` makes a member each time.
_WEAK_WINDOW, _LONG_PATH = int(Caution.WEAK_WINDOW), int(Caution.LONG_PATH)
#: Kinds that run warm for a day or two after greasing.
GREASED_KINDS = frozenset({PointKind.BEARING, PointKind.COUPLING})


@dataclass(slots=True)
class Draft:
    """A verdict in the making: what is known of the reading, then what each rule makes of it."""

    point: SeenPoint
    view: SeenView
    criteria: Criteria
    air_k: float | None = None
    load: float | None = None
    scales: bool = False
    #: conditions in which heat would have shown: calm, settled, spot filled, within the range
    sees_heat: bool = True
    factor: float | None = None
    trended: bool = False
    share: float | None = None
    share_scaled: bool = False
    low_load: str = ""
    hidden: list[str] = field(default_factory=list)
    air_hidden: list[str] = field(default_factory=list)

    level: Level | None = None
    band: Level | None = None
    reference: ReferenceKind | None = None
    value_k: float | None = None
    common_k: float | None = None
    #: the value that met the column and its standard uncertainty, both in the column's unit
    judged: float | None = None
    judged_u: float | None = None
    column: BandRule | None = None
    u_k: float | None = None
    firm_at_common: bool = False
    first_line: float | None = None
    over_first_line: bool = False
    near_line: bool = False
    cold: bool = False
    unequal: bool = False
    members: tuple[int, ...] = ()
    rule: str = ""
    source: str = ""
    published_band: str = ""
    first: str = ""
    #: what decided, in words, where it was no rise
    told: str = ""
    notes: list[str] = field(default_factory=list)

    @property
    def exponent_u(self) -> float:
        """Standard uncertainty of the load exponent (rectangular)."""
        return (self.criteria.exponent_high - self.criteria.exponent_low) / (2 * _ROOT_3)

    def u_at_common_load(self, rise_k: float, u_k: float | None) -> float | None:
        """Standard uncertainty of a rise brought to common load [K]."""
        if self.factor is None or self.load is None or u_k is None:
            return None
        return scaled_u_k(
            rise_k, u_k, load=self.load, exponent=self.criteria.exponent, exponent_u=self.exponent_u
        )

    def at_common_load(self, rise_k: float) -> float | None:
        """A rise of this point brought to its common load; None where scaling is refused."""
        return None if self.factor is None else rise_k * self.factor

    def refuse(self, rule: str, note: str) -> None:
        """No verdict, and why."""
        self.level = None
        self.rule = rule
        self.notes.append(note)

    def raise_to(self, level: Level, rule: str, *, source: str, note: str) -> None:
        """Let a rule accuse; it never lowers what another said."""
        self.over_first_line = True
        self.notes.append(note)
        if self.level is None or level > self.level:
            self.level, self.rule, self.source = level, rule, source


def weigh(point: SeenPoint, view: SeenView, *, criteria: Criteria) -> Draft:
    """What the conditions of the visit allow: load, wind, scaling, clearing (rules 1 and 8)."""
    draft = Draft(point, view, criteria)
    if view.ambient_c is not None:
        draft.air_k = round(temperature(point) - view.ambient_c, DIGITS)
    brought_to = point.common_load_a or point.rated_current_a
    if point.current_a is not None and brought_to:
        draft.load = point.current_a / brought_to
    load_told = _weigh_load(draft)
    calm = _weigh_wind(draft)
    running = _weigh_running(draft)
    _weigh_sight(draft)
    settled = point.settled is not False
    draft.scales = point.kind not in UNSCALED_KINDS and _scales(criteria, point.equipment_class)
    if draft.scales and load_told and calm and settled and point.current_measured and draft.load:
        draft.factor = draft.load**-criteria.exponent
    draft.sees_heat = calm and settled and not point.spot_underfilled and point.range_end is None
    draft.trended = (
        (draft.factor is not None or not draft.scales)
        and load_told
        and calm
        and running
        and settled
        and not point.spot_underfilled
        and point.range_end is None
        and not greased_lately(draft)
    )
    if point.rated_rise_k:
        _weigh_share(draft, point.rated_rise_k)
    return draft


def _weigh_load(draft: Draft) -> bool:
    """False where the load is too low, or not known though the part carries current."""
    if draft.load is None:
        if draft.point.kind in CURRENT_KINDS:
            draft.low_load = "load not known"
            return False
        return True
    if draft.load < draft.criteria.min_load_share - SLACK:
        draft.low_load = f"load {percent(draft.load)}"
        return False
    return True


def _weigh_wind(draft: Draft) -> bool:
    wind = draft.view.wind_m_s or 0.0
    if wind > draft.criteria.wind_strong_m_s:
        draft.hidden.append(f"wind {wind:g} m/s")
    elif wind > draft.criteria.wind_calm_m_s:
        draft.air_hidden.append(f"wind {wind:g} m/s")
    if draft.view.fan_on_part:
        draft.air_hidden.append("fan on the part")
    return wind <= draft.criteria.wind_calm_m_s and not draft.view.fan_on_part


def _weigh_running(draft: Draft) -> bool:
    """False for a machine that stands, or runs in turn with others and nobody said that it ran."""
    point = draft.point
    if point.kind not in MECHANICAL_KINDS:
        return True
    told = [number_in(point, "speed_rpm"), number_in(point, "load_share_percent"), point.current_a]
    known = [value for value in told if value is not None]
    if 0.0 in known:
        draft.hidden.append("not running")
    elif point.in_turn and not known:
        draft.hidden.append("runs in turn, not said that it ran")
    else:
        return True
    return False


def _weigh_sight(draft: Draft) -> None:
    point = draft.point
    if point.spot_underfilled:
        draft.hidden.append("spot not filled")
    if point.range_end is _TOP:
        draft.hidden.append("top of the instrument's range")
    if point.settled is False:
        draft.hidden.append("heat not settled")
    why = indicative(draft)
    if why:
        draft.hidden.append(why)
    if point.measured is not None and point.measured.surface_c is not None and not point.measured.known:
        draft.hidden.append("outside the range of the correction")
    if point.no_heat_answer is _BARE_METAL:
        draft.hidden.append("bare metal")


def _weigh_share(draft: Draft, rated_rise_k: float) -> None:
    point = draft.point
    if draft.air_k is None:
        return
    rated = rated_rise_k
    draft.share_scaled = not draft.scales
    if draft.factor is not None and point.current_a and point.rated_current_a:
        rated *= (point.current_a / point.rated_current_a) ** draft.criteria.exponent
        draft.share_scaled = True
    draft.share = round(100.0 * draft.air_k / rated, DIGITS)


def indicative(draft: Draft) -> str:
    """Why a reading is only indicative; empty where it is not."""
    point, criteria = draft.point, draft.criteria
    if point.emissivity is not None and point.emissivity < criteria.emissivity_indicative:
        return f"emissivity {point.emissivity:g}"
    measured = point.measured
    if measured is None:
        return ""
    if measured.caution & _WEAK_WINDOW:
        return "weak window"
    if measured.caution & _LONG_PATH:
        return "long path through the air"
    if measured.gain > criteria.gain_indicative:
        return "small errors much enlarged"
    return ""


#: Answers of ``scales_class`` so far, by the list and the class: a few dozen.
_SCALES: dict[tuple[tuple[str, ...], str], bool] = {}


def _scales(criteria: Criteria, equipment_class: str) -> bool:
    if not equipment_class:
        return True
    asked = criteria.unscaled_classes, equipment_class
    if asked not in _SCALES:
        _SCALES[asked] = criteria.scales_class(equipment_class)
    return _SCALES[asked]


def greased_lately(draft: Draft) -> bool:
    hours = draft.point.hours_since_greased
    return (
        draft.point.kind in GREASED_KINDS
        and hours is not None
        and 0 <= hours <= draft.criteria.greasing_cap_hours
    )


def percent(share: float) -> str:
    """A load told without rounding up, so that 39.6 % does not read as 40 %."""
    return f"{math.floor(100 * share + SLACK)} %"
