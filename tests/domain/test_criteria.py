"""Criteria as data: round trip, closures, and every problem of an edited set at once."""

import json
from copy import deepcopy
from typing import Any

import pytest

from service.domain.bands import BandRule, Confidence, Edge, Unit
from service.domain.criteria import Criteria
from service.domain.presets import AIR, DEFAULT_CRITERIA, OFF_BY_DEFAULT, PRESETS, SIMILAR, TWO_COLUMN
from service.domain.words import Level, PointKind, ReferenceKind
from service.errors import Invalid
from tests.domain.views import alone, judged, phases, seen, view_of


def body() -> dict[str, Any]:
    return deepcopy(TWO_COLUMN.to_dict())


def problems_of(edited: dict[str, Any]) -> list[tuple[str, str]]:
    with pytest.raises(Invalid) as caught:
        Criteria.from_dict(edited)
    for problem in caught.value.problems:
        assert problem.message
        assert problem.remedy
    return [(problem.where, problem.field) for problem in caught.value.problems]


@pytest.mark.parametrize("criteria", PRESETS.values(), ids=PRESETS)
def test_a_preset_comes_back_from_json_as_it_was(criteria: Criteria) -> None:
    assert Criteria.from_dict(json.loads(json.dumps(criteria.to_dict()))) == criteria


def test_the_two_columns_are_in_force_where_nobody_chose() -> None:
    assert DEFAULT_CRITERIA is TWO_COLUMN
    assert list(PRESETS) == ["two-column", "navy-bands"]
    assert {"navy-bands"} == OFF_BY_DEFAULT


@pytest.mark.parametrize("criteria", PRESETS.values(), ids=PRESETS)
def test_every_rule_and_limit_says_its_source(criteria: Criteria) -> None:
    rules = [criteria.similar, criteria.air, criteria.baseline, criteria.rated_share, criteria.cold]
    rules += [criteria.relative, *(line.rule for line in criteria.air_by_kind)]
    assert all(rule.source and rule.confidence.words in rule.cited for rule in rules)
    assert all(limit.edition and limit.confidence for limit in criteria.limits)
    assert all(template.rule.confidence is Confidence.NO_SOURCE for template in criteria.templates)


def test_an_edge_carries_its_own_closure() -> None:
    rule = BandRule(
        reference=ReferenceKind.AIR,
        unit=Unit.KELVIN,
        edges=(Edge(5.0, closes_up=True), Edge(10.0)),
        levels=(Level.NOTHING_FOUND, Level.LOOK_AGAIN, Level.ACT_NOW),
        bands=("a", "b", "c"),
        source="test",
        confidence=Confidence.OWN,
    )
    assert [rule.level(v) for v in (4.99, 5.0, 10.0, 10.01)] == [0, 1, 1, 4]
    assert (rule.line(Level.PLAN_REPAIR), rule.line(Level.LOOK_AGAIN)) == (10.0, 5.0)


def test_lines_to_draw_are_those_the_judge_uses() -> None:
    like = TWO_COLUMN.lines_for(ReferenceKind.LIKE_PARTS, PointKind.JOINT)
    assert like == ((1, 1.0), (2, 3.0), (4, 15.0))
    own = TWO_COLUMN.lines_for(ReferenceKind.BASELINE, PointKind.BEARING)
    assert own == ((1, 3.5), (2, 10.0), (3, 20.0), (4, 40.0))
    assert TWO_COLUMN.act_now_line(ReferenceKind.AIR, PointKind.JOINT) == 40.0
    assert TWO_COLUMN.act_now_line(ReferenceKind.AIR, PointKind.BEARING) is None
    assert TWO_COLUMN.first_line(ReferenceKind.AIR, PointKind.MOTOR) is None


def test_every_problem_is_named_at_once() -> None:
    edited = body()
    edited["title"] = "  "
    edited["exponent"] = float("nan")
    edited["similar"]["edges"][1]["value"] = 99
    edited["baseline"]["levels"] = [1, 2, 3]
    edited["air"]["confidence"] = "sure"
    edited["limits"][0]["words"] = []
    edited["templates"][0]["kind"] = "kettle"
    edited["surprise"] = 1
    del edited["cold"]
    assert set(problems_of(edited)) == {
        ("criteria", "title"),
        ("criteria", "exponent"),
        ("similar", "edges"),
        ("baseline", "levels"),
        ("air", "confidence"),
        ("criteria, limits 1", "words"),
        ("criteria, templates 1", "kind"),
        ("criteria", "surprise"),
        ("cold", ""),
    }


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("min_load_share", 0.2),
        ("wind_strong_m_s", 8.0),
        ("wind_calm_m_s", 2.0),
        ("visits_to_fall", 1),
        ("proof_load_share", 0.1),
        ("version", 0),
        ("version", 1.5),
        ("exponent", True),
        ("exponent", "1.8"),
        ("exponent", 10**400),
        ("air_alone_from_level", 5),
        ("relative_on", "yes"),
        ("limits", "none"),
        ("title", 7),
        ("confidence", None),
    ],
)
def test_a_number_that_would_let_hiding_clear_or_means_nothing_is_refused(name: str, value: object) -> None:
    assert problems_of(body() | {name: value}) == [("criteria", name)]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"exponent": 1.5}, "exponent_low"),
        ({"exponent": 2.2}, "exponent"),
        ({"wind_calm_m_s": 1.0, "wind_strong_m_s": 0.5}, "wind_calm_m_s"),
        ({"two_u_k": 12.0}, "two_u_k"),
        ({"cold_twin_other_k": 1.0}, "cold_twin_air_k"),
        ({"window_refuse": 0.6}, "window_refuse"),
    ],
)
def test_numbers_that_do_not_go_together_are_refused(changes: dict[str, Any], field: str) -> None:
    assert problems_of(body() | changes) == [("criteria", field)]


@pytest.mark.parametrize(
    ("where", "change"),
    [
        ("similar", {"reference": "over air"}),
        ("similar", {"edges": [3]}),
        ("similar", {"levels": [0, 2, 1, 4]}),
        ("similar", {"levels": [0, 1, 2, 9]}),
        ("similar", {"bands": ["a"]}),
        ("similar", {"edges": []}),
    ],
)
def test_a_column_that_is_none_is_refused(where: str, change: dict[str, Any]) -> None:
    edited = body()
    edited[where] |= change
    assert all(place.startswith(where) for place, _ in problems_of(edited))


@pytest.mark.parametrize("list_name", ["limits", "templates", "air_by_kind"])
def test_an_entry_that_is_no_group_is_refused(list_name: str) -> None:
    assert problems_of(body() | {list_name: [3]}) == [(f"criteria, {list_name} 1", "")]


def test_a_limit_without_a_number_is_refused() -> None:
    edited = body()
    edited["limits"][0] |= {"total_c": None, "rise_k": None}
    assert problems_of(edited) == [("criteria, limits 1", "total_c")]


def test_a_site_may_be_stricter_about_load() -> None:
    stricter = Criteria.from_dict(body() | {"min_load_share": 0.6})
    assert judged(phases(30, 30, 30, current_a=50.0), stricter)[1].level is None


def test_a_template_judges_once_the_site_has_filled_it_in() -> None:
    edited = body()
    edited["templates"][0]["measure"] = "rise"
    edited["templates"][0]["rule"] |= {
        "edges": [{"value": 50.0}],
        "levels": [0, 2],
        "bands": ["up to 50 K", "over 50 K"],
        "source": "Site rule 7",
        "confidence": "own proposal",
    }
    own = Criteria.from_dict(edited)
    trap = view_of(seen(90, kind=PointKind.STEAM_TRAP, reference=ReferenceKind.AIR))
    verdict = judged(trap, own)[0]
    assert (verdict.level, verdict.rule) == (Level.PLAN_REPAIR, "1a.11 site's own band")
    assert "Site rule 7" in verdict.source
    assert judged(trap)[0].level is None


def test_a_filled_template_over_air_needs_the_air() -> None:
    edited = body()
    edited["templates"][0]["measure"] = "rise"
    edited["templates"][0]["rule"] |= {"edges": [{"value": 50.0}], "levels": [0, 2], "bands": ["a", "b"]}
    trap = view_of(seen(90, kind=PointKind.STEAM_TRAP, reference=ReferenceKind.AIR), ambient_c=None)
    assert judged(trap, Criteria.from_dict(edited))[0].level is None


@pytest.mark.parametrize(
    ("reference", "changes", "level"),
    [
        ("over like parts", {}, 2),
        ("over its own baseline", {"baseline_k": 30.0}, 2),
        ("over its own baseline", {"baseline_k": 35.0}, 0),
        ("over its own baseline", {}, None),
        ("share of rated rise", {"rated_rise_k": 50.0, "rated_current_a": 100.0}, 2),
    ],
)
def test_a_filled_template_may_be_over_any_reference(
    reference: str, changes: dict[str, Any], level: int | None
) -> None:
    edited = body()
    photovoltaic = next(t for t in edited["templates"] if t["kind"] == "photovoltaic string")
    photovoltaic["rule"] |= {
        "reference": reference,
        "unit": "%" if "share" in reference else "K",
        "edges": [{"value": 10.0}],
        "levels": [0, 2],
        "bands": ["a", "b"],
    }
    own = Criteria.from_dict(edited)
    sun = {"irradiance_w_m2": 800.0}
    strings = phases(50, 65, 50, kind=PointKind.PHOTOVOLTAIC, boxes=sun, **changes)
    assert judged(strings, own)[1].level == level


def test_the_navy_bands_judge_when_chosen() -> None:
    navy = PRESETS["navy-bands"]
    assert [v.level for v in judged(phases(40, 52, 40, previous_over_first_line=True), navy)] == [0, 1, 0]
    assert judged(phases(40, 66, 40), navy)[1].level == 2


def test_each_kind_of_rise_has_its_own_column() -> None:
    joint, bearing_ = PointKind.JOINT, PointKind.BEARING
    assert TWO_COLUMN.rule_for(ReferenceKind.LIKE_PARTS, joint) is SIMILAR
    assert TWO_COLUMN.rule_for(ReferenceKind.LIKE_PARTS, bearing_) is TWO_COLUMN.baseline
    assert TWO_COLUMN.rule_for(ReferenceKind.AIR, joint) is AIR
    assert TWO_COLUMN.rule_for(ReferenceKind.AIR, bearing_).edges == (Edge(40.0),)
    assert TWO_COLUMN.rule_for(ReferenceKind.RATED_SHARE, joint) is TWO_COLUMN.rated_share
    assert TWO_COLUMN.rule_for(ReferenceKind.AIR, PointKind.STEAM_TRAP).silent


def test_a_silent_column_gives_no_level() -> None:
    assert alone(80.0, kind=PointKind.MOTOR).level is None


def test_looking_limits_up_forgets_nothing_it_should_keep() -> None:
    book = Criteria.from_dict(body()).book
    for n in range(5000):
        assert book.find(f"bolted joint {n}", "bare", "air") is not None
    assert book.find("", "bare", "air") is None


def test_a_set_kept_before_its_newest_numbers_reads_on() -> None:
    older = body()
    newest = ("firm_chance", "guard_chance", "higher_chance", "gain_indicative", "window_indicative")
    for name in (*newest, "window_refuse", "unscaled_classes"):
        del older[name]
    assert Criteria.from_dict(older) == TWO_COLUMN


@pytest.mark.parametrize(
    ("told", "scales"),
    [
        ("inverter feeder board", True),
        ("", True),
        ("Rectifiers", False),
        ("frequency converter (90 kW)", False),
        ("Motors", True),
        ("oil transformer (11 kV)", True),
        ("Iron-core coil", False),
        ("electronics", False),
        ("tool drive", True),
    ],
)
def test_a_class_is_never_scaled_by_its_last_words_only(told: str, scales: bool) -> None:
    assert TWO_COLUMN.scales_class(told) is scales


def test_words_that_say_nothing_are_refused() -> None:
    assert problems_of(body() | {"unscaled_classes": ["motor", " "]}) == [("criteria", "unscaled_classes")]


def template_of(edited: dict[str, Any], measure: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in edited["templates"] if one["measure"] == measure)
    return found


def test_lines_of_a_measure_that_is_no_rise_are_never_drawn_on_rises() -> None:
    edited = body()
    template_of(edited, "surface temperature")["rule"] |= {
        "edges": [{"value": 90.0}],
        "levels": [0, 3],
        "bands": ["up to 90 °C", "over 90 °C"],
    }
    own = Criteria.from_dict(edited)
    (template,) = own.templates_for(PointKind.REFRACTORY)
    assert template.rule.level(91.0) == 3
    assert own.lines_for(ReferenceKind.AIR, PointKind.REFRACTORY) == ()
    assert own.act_now_line(ReferenceKind.AIR, PointKind.REFRACTORY) is None


def test_a_template_of_the_component_comes_before_that_of_its_kind() -> None:
    edited = body()
    whole_kind = deepcopy(template_of(edited, "over the main tank")) | {"component": "", "measure": "rise"}
    edited["templates"].append(whole_kind)
    own = Criteria.from_dict(edited)
    assert [t.component for t in own.templates_for(PointKind.TRANSFORMER, "Tap changer")] == ["tap changer"]
    assert [t.component for t in own.templates_for(PointKind.TRANSFORMER, "bushing")] == [""]
    assert own.templates_for(PointKind.JOINT) == ()


@pytest.mark.parametrize(
    ("measure", "change", "field"),
    [
        ("inlet over outlet", {"kind": "bearing"}, "measure"),
        ("surface temperature", {"wind_max_m_s": 4.0}, "wind_max_m_s"),
        ("surface temperature", {"measure": "colour"}, "measure"),
    ],
)
def test_a_template_that_cannot_be_judged_is_refused(
    measure: str, change: dict[str, Any], field: str
) -> None:
    edited = body()
    template_of(edited, measure).update(change)
    assert field in {name for _, name in problems_of(edited)}


@pytest.mark.parametrize(
    ("measure", "levels", "good"),
    [
        ("inlet over outlet", [3, 2, 0], True),
        ("inlet over outlet", [0, 2, 3], False),
        ("inlet under steam temperature", [0, 2, 3], True),
        ("inlet under steam temperature", [3, 2, 0], False),
    ],
)
def test_the_grave_end_of_a_measure_gets_the_grave_levels(
    measure: str, levels: list[int], good: bool
) -> None:
    edited = body()
    rule = {"edges": [{"value": 5.0}, {"value": 20.0}], "levels": levels, "bands": ["a", "b", "c"]}
    template_of(edited, measure)["rule"] |= rule
    if good:
        assert Criteria.from_dict(edited)
    else:
        assert {field for _, field in problems_of(edited)} == {"levels"}


@pytest.mark.parametrize(
    ("where", "unit"), [("similar", "%"), ("rated_share", "K"), ("relative", "°C"), ("air", "°C")]
)
def test_a_column_has_the_unit_of_what_it_is_over(where: str, unit: str) -> None:
    edited = body()
    edited[where]["unit"] = unit
    assert problems_of(edited) == [(where, "unit")]
