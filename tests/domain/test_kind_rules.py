"""Kinds without a published band: silent until filled in, and then accusing, never clearing, what hides."""

from copy import deepcopy
from typing import Any

import pytest

from service.domain.bands import Measure, Template
from service.domain.boxes import Answer
from service.domain.criteria import Criteria
from service.domain.kind_notes import notes_of_boxes
from service.domain.kind_rules import KindJudged, Rises, heed_boxes, judge_templates
from service.domain.presets import TWO_COLUMN
from service.domain.seen import SeenPoint
from service.domain.words import Level, PointKind, ReferenceKind
from tests.domain.views import judged, seen, view_of


def filled(**edges_and_levels: Any) -> Criteria:
    """The two columns with the site's own numbers: by measure its edges and levels."""
    body = deepcopy(TWO_COLUMN.to_dict())
    for template in body["templates"]:
        measure = Measure(template["measure"])
        if measure.name in edges_and_levels:
            edges, levels = edges_and_levels[measure.name]
            template["rule"] |= {
                "edges": [{"value": value} for value in edges],
                "levels": levels,
                "bands": [f"band {n}" for n in range(len(levels))],
                "source": "Site rule 7",
                "confidence": "own proposal",
            }
    return Criteria.from_dict(body)


def judge(
    point: SeenPoint, criteria: Criteria = TWO_COLUMN, *, rises: Rises | None = None, **weather: Any
) -> KindJudged:
    templates = criteria.templates_for(point.kind, point.component)
    view = view_of(point, **weather)
    return judge_templates(point, view, templates=templates, rises=rises or Rises(), criteria=criteria)


def trap(**boxes: Answer) -> SeenPoint:
    return seen(150.0, kind=PointKind.STEAM_TRAP, boxes=boxes)


def wall(temperature_c: float) -> SeenPoint:
    return seen(temperature_c, kind=PointKind.REFRACTORY)


TRAPS = filled(INLET_OVER_OUTLET=([5, 20], [3, 2, 0]), INLET_UNDER_STEAM=([15, 40], [0, 1, 2]))
WALLS = filled(SURFACE=([90, 120], [0, 2, 4]))
# 9 bar by the gauge is 1.001325 MPa absolute: 453.0903 K, 179.9 °C (IAPWS R7-97)


@pytest.mark.parametrize("template", TWO_COLUMN.templates, ids=lambda t: f"{t.kind} {t.measure}")
def test_no_kind_without_a_band_is_judged_by_numbers_of_ours(template: Template) -> None:
    assert template.rule.silent
    point = seen(500.0, kind=template.kind, component=template.component, boxes={"inlet_c": 20.0})
    told = judge(point, rises=Rises(400.0, 400.0, 400.0, 400.0))
    assert told.level is None
    assert "fill in" in told.refused
    assert "no source" in told.source


@pytest.mark.parametrize(
    ("inlet_c", "outlet_c", "level"),
    [
        (178.0, 90.0, 0),
        (178.0, 158.5, 2),
        (178.0, 158.0, 2),  # exactly 20 K belongs to the band below its edge, the graver one
        (178.0, 157.9, 0),
        (178.0, 173.0, 3),
        (178.0, 180.0, 3),
        (150.0, 90.0, 1),
        (130.0, 90.0, 2),
    ],
)
def test_a_trap_is_judged_by_both_its_ends_and_the_graver_holds(
    inlet_c: float, outlet_c: float, level: int
) -> None:
    told = judge(trap(inlet_c=inlet_c, outlet_c=outlet_c, line_pressure_bar=9.0), TRAPS)
    assert told.level == level
    assert told.hidden == ()
    assert "Site rule 7" in told.source


def test_the_steam_of_the_line_tells_how_cold_an_inlet_is() -> None:
    only = filled(INLET_UNDER_STEAM=([15], [0, 2]))
    told = judge(trap(inlet_c=150.0, line_pressure_bar=9.0), only)
    assert told.value == pytest.approx(453.0903 - 273.15 - 150.0, abs=0.01)
    assert told.told == "inlet 29.9 K under the steam's temperature"


@pytest.mark.parametrize(
    ("boxes", "reason"),
    [
        ({"inlet_c": 178.0, "outlet_c": 90.0}, "line pressure not told"),
        ({"inlet_c": 178.0, "line_pressure_bar": 9.0}, "outlet not told"),
    ],
)
def test_a_box_that_is_missing_keeps_a_trap_from_being_cleared(boxes: dict[str, Answer], reason: str) -> None:
    told = judge(trap(**boxes), TRAPS)
    assert told.level is Level.NOTHING_FOUND
    assert told.hidden == (reason,)


def test_a_trap_without_boxes_has_no_verdict() -> None:
    told = judge(trap(), TRAPS)
    assert told.level is None
    assert told.refused == "inlet not told"


def test_a_missing_box_never_hides_what_another_template_accuses() -> None:
    told = judge(trap(inlet_c=178.0, outlet_c=176.0), TRAPS)
    assert (told.level, told.hidden) == (Level.REPAIR_SOON, ("line pressure not told",))


@pytest.mark.parametrize(
    ("surface_c", "wind_m_s", "level", "hidden"),
    [
        (85.0, None, 0, ()),
        (85.0, 0.8, 0, ()),
        (85.0, 2.5, 0, ("wind 2.5 m/s",)),
        (95.0, 2.5, 2, ("wind 2.5 m/s",)),
        (121.0, None, 4, ()),
    ],
)
def test_wind_may_hide_a_hot_wall_and_never_clears_it(
    surface_c: float, wind_m_s: float | None, level: int, hidden: tuple[str, ...]
) -> None:
    told = judge(wall(surface_c), WALLS, wind_m_s=wind_m_s)
    assert (told.level, told.hidden) == (level, hidden)


def test_a_site_may_ask_for_less_wind_and_to_be_told_of_it() -> None:
    body = WALLS.to_dict()
    next(t for t in body["templates"] if t["measure"] == "surface temperature")["wind_max_m_s"] = 0.5
    strict = Criteria.from_dict(body)
    assert judge(wall(85.0), strict, wind_m_s=0.8).hidden == ("wind 0.8 m/s",)
    assert judge(wall(85.0), strict, wind_m_s=0.4).hidden == ()


def strings(**boxes: Answer) -> SeenPoint:
    return seen(60.0, kind=PointKind.PHOTOVOLTAIC, boxes=boxes)


PANELS = filled(RISE=([10], [0, 2]))


@pytest.mark.parametrize(
    ("boxes", "hidden"),
    [
        ({"irradiance_w_m2": 800.0}, ()),
        ({"irradiance_w_m2": 600.0}, ()),
        ({"irradiance_w_m2": 599.0}, ("irradiance 599 W/m², under 600",)),
        ({"irradiance_w_m2": 800.0, "irradiance_steady": False}, ("irradiance not steady",)),
        ({}, ("irradiance not told",)),
    ],
)
@pytest.mark.parametrize(("air_k", "level"), [(5.0, 0), (25.0, 2)])
def test_under_weak_sun_a_module_may_be_accused_and_is_never_cleared(
    boxes: dict[str, Answer], hidden: tuple[str, ...], air_k: float, level: int
) -> None:
    told = judge(strings(**boxes), PANELS, rises=Rises(air_k=air_k))
    assert (told.level, told.hidden) == (level, hidden)


def test_a_site_may_ask_for_more_sun_and_never_for_less() -> None:
    more = Criteria.from_dict(PANELS.to_dict() | {"irradiance_min_w_m2": 700.0})
    assert judge(strings(irradiance_w_m2=650.0), more, rises=Rises(air_k=5.0)).hidden


def test_a_rise_that_is_not_there_is_said() -> None:
    told = judge(strings(irradiance_w_m2=800.0), PANELS)
    assert told.level is None
    assert told.refused == f"nothing to compare with {ReferenceKind.AIR}"


def test_a_tap_changer_is_held_against_its_main_tank() -> None:
    own = filled(OVER_MAIN_TANK=([0, 10], [0, 2, 3]))
    tank = {"kind": PointKind.TRANSFORMER, "component": "tap changer"}
    assert judge(seen(62.0, boxes={"main_tank_c": 55.0}, **tank), own).told == "7.0 K over the main tank"
    assert judge(seen(52.0, boxes={"main_tank_c": 55.0}, **tank), own).level == 0
    assert judge(seen(52.0, **tank), own).refused == "main tank not told"


def test_what_was_told_of_greasing_on_the_visit_comes_first() -> None:
    boxes: dict[str, Answer] = {"greased_hours_before": 20.0, "second_method": "vibration"}
    point = seen(70.0, kind=PointKind.BEARING, hours_since_greased=900.0, boxes=boxes)
    heeded = heed_boxes(point)
    assert (heeded.hours_since_greased, heeded.greased_asked) == (20.0, True)
    assert not heeded.second_method_agrees
    assert heed_boxes(seen(70.0, boxes=boxes | {"second_method_agrees": True})).second_method_agrees


def test_a_second_method_that_does_not_agree_takes_nothing_away() -> None:
    found = seen(70.0, second_method_agrees=True, boxes={"second_method_agrees": False})
    assert heed_boxes(found).second_method_agrees


@pytest.mark.parametrize(
    ("kind", "boxes", "note"),
    [
        (PointKind.MOTOR, {"insulation_class": "F"}, "155 °C in the winding"),
        (PointKind.MOTOR, {"cooling_clear": False}, "fins not clear"),
        (PointKind.CABLE_END, {"warm_place": "body"}, "voltage"),
        (PointKind.FUSE, {"fuse_rating_a": 80.0}, "80 A where the register says 63 A"),
        (PointKind.FUSE, {"warm_end": "line end"}, "clip"),
        (PointKind.STEAM_TRAP, {"line_pressure_bar": 9.0}, "180 °C"),
        (PointKind.STEAM_TRAP, {"outlet_c": 119.0, "return_pressure_bar": 1.0}, "flash steam"),
        (PointKind.TRANSFORMER, {"top_oil_gauge_c": 61.0}, "61 °C where the picture shows 40 °C"),
    ],
)
def test_boxes_tell_what_else_it_could_be(kind: PointKind, boxes: dict[str, Answer], note: str) -> None:
    (told,) = notes_of_boxes(seen(40.0, kind=kind, boxes=boxes, rated_current_a=63.0))
    assert note in told


@pytest.mark.parametrize(
    ("kind", "boxes"),
    [
        (PointKind.MOTOR, {"cooling_clear": True}),
        (PointKind.CABLE_END, {"warm_place": "lug"}),
        (PointKind.FUSE, {"fuse_rating_a": 63.0}),
        (PointKind.STEAM_TRAP, {"outlet_c": 90.0, "return_pressure_bar": 1.0}),
        (PointKind.JOINT, None),
    ],
)
def test_boxes_that_tell_nothing_new_say_nothing(kind: PointKind, boxes: dict[str, Answer] | None) -> None:
    assert notes_of_boxes(seen(40.0, kind=kind, boxes=boxes, rated_current_a=63.0)) == ()


# ---- as the verdict says it ------------------------------------------------------------------


def test_a_trap_that_leaks_is_accused_in_the_words_of_its_boxes() -> None:
    leaking = trap(inlet_c=178.0, outlet_c=173.0, line_pressure_bar=9.0)
    verdict = judged(view_of(leaking, ambient_c=25.0), TRAPS)[0]
    assert (verdict.level, verdict.at_least, verdict.rule) == (3, False, "1a.11 site's own band")
    assert "inlet 5.0 K over outlet" in verdict.sentence
    assert "Site rule 7" in verdict.source
    assert verdict.value_k == 125.0, "the rise over air is kept for information"
    assert verdict.chances is None, "no uncertainty of its boxes is known"


def test_a_trap_of_which_a_box_is_missing_is_not_cleared() -> None:
    verdict = judged(view_of(trap(inlet_c=178.0, outlet_c=90.0), ambient_c=25.0), TRAPS)[0]
    assert verdict.level is None
    assert "could not clear (line pressure not told)" in verdict.sentence


def test_a_kind_that_no_site_has_filled_in_has_no_verdict() -> None:
    verdict = judged(view_of(trap(inlet_c=178.0, outlet_c=90.0), ambient_c=25.0))[0]
    assert (verdict.level, verdict.rule) == (None, "1a.11 no band")
    assert "fill in the site's own" in verdict.sentence


def test_a_wall_is_told_by_its_surface_and_wind_keeps_it_from_being_cleared() -> None:
    windy = judged(view_of(wall(85.0), wind_m_s=2.5), WALLS)[0]
    assert "could not clear (wind 2.5 m/s)" in windy.sentence, "said once"
    calm = judged(view_of(wall(85.0), wind_m_s=0.5), WALLS)[0]
    assert (calm.level, calm.clears) == (Level.NOTHING_FOUND, True)
    assert "85.0 °C on the surface" in calm.sentence


def test_greasing_told_on_the_visit_caps_a_bearing() -> None:
    bearing = {"kind": PointKind.BEARING, "baseline_k": 20.0}
    assert judged(view_of(seen(75.0, **bearing)))[0].level == Level.REPAIR_SOON
    greased = judged(view_of(seen(75.0, boxes={"greased_hours_before": 20.0}, **bearing)))[0]
    assert (greased.level, greased.at_least, greased.trended) == (Level.PLAN_REPAIR, True, False)


def test_what_a_box_tells_stands_beside_the_level() -> None:
    fuse = seen(40.0, kind=PointKind.FUSE, rated_current_a=63.0, boxes={"fuse_rating_a": 80.0})
    verdict = judged(view_of(fuse, seen(40.0, point_id=2, kind=PointKind.FUSE)))[0]
    assert "the fuse says 80 A where the register says 63 A" in verdict.sentence


@pytest.mark.parametrize(
    ("voltage", "level"),
    [("11 kV", Level.ACT_NOW), ("400 V", Level.NOTHING_FOUND), ("", Level.NOTHING_FOUND)],
)
def test_a_limit_holds_on_its_side_of_one_kilovolt_only(voltage: str, level: Level) -> None:
    body = TWO_COLUMN.to_dict()
    body["limits"] = [
        body["limits"][0]
        | {"words": ["own part"], "coating": "", "voltage": "above 1 kV", "total_c": 60.0, "rise_k": None}
    ]
    own = Criteria.from_dict(body)
    pair = [seen(75.0, point_id=n, component="own part", voltage_class=voltage) for n in (1, 2)]
    assert judged(view_of(*pair, ambient_c=25.0), own)[0].level == level
