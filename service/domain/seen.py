"""What was seen on one visit: the points of a view and what they were seen under."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from service.domain.measuring import Measured
from service.domain.words import PointKind, Reason, ReferenceKind


class NoHeatAnswer(StrEnum):
    """Answer given once for a point to "load or bare metal?"."""

    NO_LOAD = "no load"
    BARE_METAL = "bare metal"
    RUNS_COOL = "runs cool"


class RangeEnd(StrEnum):
    """Which end of the instrument's range a reading stands at."""

    TOP = "top"
    BOTTOM = "bottom"


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenPoint:
    """One reading with what the register and earlier visits know of its point.

    Attributes
    ----------
    reference : ReferenceKind
        The register's kind of reference; only points *over like parts* are compared.
    temperature_c : float or None
        Surface temperature [°C]; None only with a reason.
    current_a, common_load_a, rated_current_a : float or None
        Current of the visit, the load it is brought to, and the rating [A]. The rating
        stands in where the common load is not known.
    current_measured : bool
        The current was measured within 15 minutes of the reading.
    baseline_k : float or None
        Median of the first three clearing visits since the repair, over air [K]: at common
        load, or as measured for kinds that are never scaled. See ``baselines``.
    previous_over_first_line : bool
        The visit before this one stood over its first line (``Verdict.over_first_line``).
    hours_since_greased : float or None
        Hours between greasing and reading; ``greased_asked`` says that somebody asked.
    second_method_agrees : bool
        Vibration, ultrasound or the like found the same.
    no_heat_answer : NoHeatAnswer or None
        Answer given once for the point (rule 7).
    small : bool
        So small that it may not show its heat.
    neutral : bool
        The neutral: it has no like part.
    settled : bool or None
        Whether its heat had settled; None is taken as settled.
    u_k : float or None
        Standard uncertainty of the deciding rise [K], where it is known otherwise.
    measured : Measured or None
        How the temperature was come by, with its uncertainty terms.
    equipment_class : str
        Class of the equipment: some are never scaled with load.
    voltage_class : str
        Voltage of the equipment in words: some limits hold on one side of 1 kV only.
    in_turn : bool
        Its equipment runs in turn with others (duty and standby), one at a time.
    boxes : mapping or None
        Answers to the boxes that its kind asks for.
    """

    point_id: int
    kind: PointKind
    temperature_c: float | None
    reference: ReferenceKind = ReferenceKind.LIKE_PARTS
    component: str = ""
    coating: str = ""
    medium: str = "air"
    current_a: float | None = None
    current_measured: bool = True
    common_load_a: float | None = None
    rated_current_a: float | None = None
    rated_rise_k: float | None = None
    baseline_k: float | None = None
    previous_over_first_line: bool = False
    hours_since_greased: float | None = None
    greased_asked: bool = False
    second_method_agrees: bool = False
    no_heat_answer: NoHeatAnswer | None = None
    small: bool = False
    neutral: bool = False
    emissivity: float | None = None
    spot_underfilled: bool = False
    range_end: RangeEnd | None = None
    settled: bool | None = None
    u_k: float | None = None
    measured: Measured | None = None
    equipment_class: str = ""
    voltage_class: str = ""
    in_turn: bool = False
    boxes: Mapping[str, Any] | None = None
    not_assessable: Reason | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenView:
    """Points framed from one place on one visit, and the weather they were seen in.

    ``wind_m_s`` None is still air (indoors). ``wet_fog_or_sun`` makes the whole view not
    assessable.
    """

    points: tuple[SeenPoint, ...]
    ambient_c: float | None
    wind_m_s: float | None = None
    fan_on_part: bool = False
    wet_fog_or_sun: bool = False
