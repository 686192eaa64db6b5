"""What judging on the device rests on: a point's own settings, and sets of criteria without their prose."""

from datetime import datetime
from typing import Any

from pydantic import BaseModel

from service.domain.bands import BandRule, Limit, Template
from service.domain.criteria import Criteria
from service.domain.criteria_numbers import NUMBERS
from service.domain.packs import PackPoint
from service.domain.settings import emissivity_half_width
from service.domain.words import SettingSource


class SettingOut(BaseModel):
    value: float
    half_width: float | None
    standing: str | None = None


class JudgingOut(BaseModel):
    """What the register and earlier visits know of a point beside what the screen shows.

    ``brought_to_a`` is the load to which its rise is brought, ``scales`` whether that is allowed for
    its kind and its class of equipment. ``limit`` and ``templates`` are those that hold for it.
    """

    brought_to_a: float | None
    scales: bool
    neutral: bool
    coating: str
    emissivity: SettingOut | None
    reflected: SettingOut | None
    through_window: bool
    window: SettingOut | None
    settle_minutes: float | None
    outdoor: bool
    in_turn: bool
    previous_over_first_line: bool
    no_heat_answer: str | None
    greased_at: datetime | None
    limit: dict[str, Any] | None
    templates: list[dict[str, Any]]

    @classmethod
    def of(cls, told: PackPoint) -> "JudgingOut":
        point, optics = told.point, told.point.optics
        return cls(
            brought_to_a=point.common_load_a or point.rated_current_a,
            scales=told.scales,
            neutral=point.neutral,
            coating=point.coating,
            emissivity=_emissivity(told),
            reflected=_setting(optics.reflected_c, optics.reflected_half_width_k),
            through_window=optics.through_window,
            window=_setting(optics.window_transmission, optics.window_half_width),
            settle_minutes=optics.settle_minutes,
            outdoor=optics.outdoor,
            in_turn=point.in_turn,
            previous_over_first_line=told.before.previous_over_first_line,
            no_heat_answer=None if point.no_heat_answer is None else point.no_heat_answer.value,
            greased_at=point.greased_at,
            limit=None if told.limit is None else _limit_out(told.limit),
            templates=[_template_out(template) for template in told.templates],
        )


def _setting(value: float | None, half_width: float | None) -> SettingOut | None:
    return None if value is None else SettingOut(value=value, half_width=half_width)


def _emissivity(told: PackPoint) -> SettingOut | None:
    point = told.point
    if point.emissivity is None:
        return None
    standing = point.optics.emissivity_standing or SettingSource.ASSUMED
    given = point.optics.emissivity_half_width
    half_width = emissivity_half_width(standing) if given is None else given
    return SettingOut(value=point.emissivity, half_width=half_width, standing=standing.value)


def _limit_out(limit: Limit) -> dict[str, Any]:
    return {
        "part": limit.part,
        "total_c": limit.total_c,
        "rise_k": limit.rise_k,
        "edition": limit.edition,
        "cited": f"{limit.edition} [{limit.confidence.words}]",
    }


def _template_out(template: Template) -> dict[str, Any]:
    return {
        "measure": template.measure.value,
        "wind_max_m_s": template.wind_max_m_s,
        "rule": rule_out(template.rule),
    }


def rule_out(rule: BandRule) -> dict[str, Any]:
    """One column: its edges, each with whether it closes upward, and the level and words of every band."""
    return {
        "reference": rule.reference.value,
        "unit": rule.unit.value,
        "edges": [[edge.value, edge.closes_up] for edge in rule.edges],
        "levels": [int(level) for level in rule.levels],
        "bands": list(rule.bands),
        "cited": rule.cited,
    }


_COLUMNS = ("similar", "air", "baseline", "rated_share", "cold", "relative")


def criteria_out(criteria: Criteria) -> dict[str, Any]:
    """A set as far as a device judges by it; limits and templates go with their points."""
    body: dict[str, Any] = {"title": criteria.title, "relative_on": criteria.relative_on}
    body |= {name: rule_out(getattr(criteria, name)) for name in _COLUMNS}
    body["air_by_kind"] = {line.kind.value: rule_out(line.rule) for line in criteria.air_by_kind}
    return body | {name: getattr(criteria, name) for name in NUMBERS}
