"""Rules of kinds without a published band: templates that a site has filled in."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from service.domain.bands import Measure, Template, Unit
from service.domain.criteria import Criteria
from service.domain.kind_notes import number_in
from service.domain.like_parts import DIGITS, temperature
from service.domain.seen import SeenPoint, SeenView
from service.domain.words import Level, PointKind, ReferenceKind
from service.physics.steam import saturation_c


class Rises(NamedTuple):
    """Rises of the point that is judged, each None where there is none: [K], the share in [%]."""

    like_k: float | None = None
    air_k: float | None = None
    baseline_k: float | None = None
    share: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KindJudged:
    """What the templates of a kind say of one reading.

    Attributes
    ----------
    level : Level or None
        The gravest level of the templates that could be judged; None where none could.
    template : Template or None
        The one that decided.
    value : float or None
        What it put into its bands, in ``template.rule.unit``.
    band, source : str
        Words of the band, and source with confidence.
    told : str
        The value in words, "inlet 4.0 K over outlet".
    refused : str
        Why there is no level.
    hidden : tuple of str
        Why the reading may accuse and not clear.
    """

    level: Level | None
    template: Template | None = None
    value: float | None = None
    band: str = ""
    source: str = ""
    told: str = ""
    refused: str = ""
    hidden: tuple[str, ...] = ()


def judge_templates(
    point: SeenPoint, view: SeenView, *, templates: Sequence[Template], rises: Rises, criteria: Criteria
) -> KindJudged:
    """Judge a point of a kind without a published band by the numbers its site has filled in.

    Parameters
    ----------
    point : SeenPoint
        The point, read, with its boxes.
    view : SeenView
        What it was seen under.
    templates : sequence of Template
        ``criteria.templates_for(point.kind, point.component)``, not empty.
    rises : Rises
        Its rises, as measured.
    criteria : Criteria
        The set in force.

    Returns
    -------
    KindJudged
        The gravest of what the filled templates say.

    Notes
    -----
    A template that nobody filled in is silent; where all are, there is no verdict. One that is
    filled in and lacks a box or a rise keeps the others from clearing: what it would have said is
    not known. A wind above the template's own, or weak irradiance, may only hide.

    Examples
    --------
    >>> from service.domain.presets import TWO_COLUMN
    >>> trap = SeenPoint(point_id=1, kind=PointKind.STEAM_TRAP, temperature_c=150.0)
    >>> templates = TWO_COLUMN.templates_for(trap.kind)
    >>> view = SeenView(points=(trap,), ambient_c=25.0)
    >>> judge_templates(trap, view, templates=templates, rises=Rises(), criteria=TWO_COLUMN).refused
    "Steam trap, inlet over outlet: no band shipped [no source]: fill in the site's own"
    """
    filled = [template for template in templates if not template.rule.silent]
    if not filled:
        first = templates[0].rule
        return KindJudged(level=None, source=first.cited, refused=f"{first.cited}: fill in the site's own")
    judged: list[KindJudged] = []
    hidden = list(_hidden(point, criteria))
    for template in filled:
        value, lacking = _measure(template, point, rises)
        if value is None:
            hidden.append(lacking)
            continue
        hidden += _hidden_by_wind(template, view, criteria)
        judged.append(_place(template, value))
    hidden = list(dict.fromkeys(hidden))
    if not judged:
        return KindJudged(level=None, source=filled[0].rule.cited, refused="; ".join(hidden))
    gravest = max(judged, key=lambda one: one.level or Level.NOTHING_FOUND)
    return replace(gravest, hidden=tuple(hidden))


def heed_boxes(point: SeenPoint) -> SeenPoint:
    """The point as its boxes tell it: greasing and a second method's finding (rule 9).

    Hours since greasing told on the visit come before the register's day. A second method that
    was asked and does not agree takes nothing away from what the reading says.
    """
    boxes = point.boxes
    if not boxes:
        return point
    hours = number_in(point, "greased_hours_before")
    if hours is not None:
        point = replace(point, hours_since_greased=hours, greased_asked=True)
    if boxes.get("second_method_agrees") is True:
        point = replace(point, second_method_agrees=True)
    return point


def _place(template: Template, value: float) -> KindJudged:
    rule = template.rule
    place = rule.place(value)
    return KindJudged(
        level=rule.levels[place],
        template=template,
        value=value,
        band=rule.bands[place],
        source=rule.cited,
        told=_told(template, value),
    )


def _hidden(point: SeenPoint, criteria: Criteria) -> tuple[str, ...]:
    """Under weak sun no fault of a module shows."""
    if point.kind is not PointKind.PHOTOVOLTAIC:
        return ()
    sun = number_in(point, "irradiance_w_m2")
    least = criteria.irradiance_min_w_m2
    if sun is None:
        return ("irradiance not told",)
    if sun < least:
        return (f"irradiance {sun:g} W/m², under {least:g}",)
    if (point.boxes or {}).get("irradiance_steady") is False:
        return ("irradiance not steady",)
    return ()


def _hidden_by_wind(template: Template, view: SeenView, criteria: Criteria) -> tuple[str, ...]:
    """Wind cools a wall: a site may ask for less of it than the whole set does, and to be told."""
    if template.measure is Measure.SURFACE and view.wind_m_s is not None:
        most = criteria.wind_calm_m_s if template.wind_max_m_s is None else template.wind_max_m_s
        return (f"wind {view.wind_m_s:g} m/s",) if view.wind_m_s > most else ()
    if template.wind_max_m_s is None:
        return ()
    if view.wind_m_s is None:
        return ("wind not told",)
    return (f"wind {view.wind_m_s:g} m/s",) if view.wind_m_s > template.wind_max_m_s else ()


def _measure(template: Template, point: SeenPoint, rises: Rises) -> tuple[float | None, str]:
    """What a template judges, or what is lacking for it."""
    if template.measure is Measure.RISE:
        return _rise(template, rises)
    if template.measure is Measure.SURFACE:
        return temperature(point), ""
    if template.measure is Measure.OVER_MAIN_TANK:
        return _difference(temperature(point), number_in(point, "main_tank_c"), "main tank not told")
    inlet_c = number_in(point, "inlet_c")
    if inlet_c is None:
        return None, "inlet not told"
    if template.measure is Measure.INLET_OVER_OUTLET:
        return _difference(inlet_c, number_in(point, "outlet_c"), "outlet not told")
    return _difference(_steam_c(point), inlet_c, "line pressure not told")


def _rise(template: Template, rises: Rises) -> tuple[float | None, str]:
    reference = template.rule.reference
    value = {
        ReferenceKind.LIKE_PARTS: rises.like_k,
        ReferenceKind.AIR: rises.air_k,
        ReferenceKind.BASELINE: rises.baseline_k,
        ReferenceKind.RATED_SHARE: rises.share,
    }[reference]
    return value, f"nothing to compare with {reference}"


def _difference(more: float | None, less: float | None, lacking: str) -> tuple[float | None, str]:
    if more is None or less is None:
        return None, lacking
    return round(more - less, DIGITS), ""


def _steam_c(point: SeenPoint) -> float | None:
    """Temperature of the steam in the line; None where the pressure is not told or is out of range."""
    gauge_bar = number_in(point, "line_pressure_bar")
    if gauge_bar is None:
        return None
    steam_c = float(saturation_c(gauge_bar).value)
    return steam_c if steam_c == steam_c else None


def _told(template: Template, value: float) -> str:
    measure, unit = template.measure, template.rule.unit
    if measure is Measure.SURFACE:
        return f"{value:.1f} °C on the surface"
    if measure is Measure.OVER_MAIN_TANK:
        return f"{abs(value):.1f} K {'over' if value >= 0 else 'under'} the main tank"
    if measure is Measure.INLET_OVER_OUTLET:
        return f"inlet {abs(value):.1f} K {'over' if value >= 0 else 'under'} outlet"
    if measure is Measure.INLET_UNDER_STEAM:
        return f"inlet {abs(value):.1f} K {'under' if value >= 0 else 'over'} the steam's temperature"
    if unit is Unit.PERCENT:
        return f"{value:.0f} % of its rated rise"
    return f"{value:.1f} K {template.rule.reference}"
