"""Walks standards.md §1a rule by rule: the id of each case names the rule."""

from dataclasses import replace
from typing import Any

import pytest

from service.domain.judgement import air_column
from service.domain.presets import TWO_COLUMN
from service.domain.seen import NoHeatAnswer, RangeEnd
from service.domain.verdicts import Verdict
from service.domain.words import Level, PointKind, Reason, ReferenceKind
from tests.domain.views import alone, bearing, judged, phases, seen, view_of

LIKE, AIR = ReferenceKind.LIKE_PARTS, ReferenceKind.AIR
BASELINE, SHARE = ReferenceKind.BASELINE, ReferenceKind.RATED_SHARE
TWICE = {"previous_over_first_line": True}
WIND_3 = {"ambient_c": 20.0, "wind_m_s": 3.0}
BARE = {"coating": "bare copper"}


def second(*temperatures_c: float, **changes: Any) -> Verdict:
    """Verdict on the second of some like parts."""
    return judged(phases(*temperatures_c, **changes))[1]


def case(name: str, verdict: Verdict, **expected: Any) -> Any:
    return pytest.param(verdict, expected, id=name)


CASES = [
    # rule 0: over the median of like parts with like currents
    case("0 median of three", second(40, 52, 41), value_k=11.0, reference=LIKE, members=(1, 2, 3)),
    case("0 of two, minus the cooler", second(40, 52), value_k=12.0, members=(1, 2)),
    case("0 currents 10 % apart still compare", second(40, 52, 40, amps=(90, 100, 110)), value_k=12.0),
    case(
        "0 a part 11 % off is left out", second(40, 52, 41, amps=(89, 100, 100)), members=(2, 3), value_k=11
    ),
    case(
        "0 another component is no like part",
        judged(view_of(seen(40, component="clip"), seen(52, point_id=2, component="body")))[1],
        reference=AIR,
    ),
    # rule 1: published bands judge the difference as measured
    case(
        "1 as measured at 50 % load: 10 K is 2, at common load 34.8 K",
        second(40, 50, 40, current_a=50.0),
        level=2,
        band=2,
        value_k=10.0,
        common_k=pytest.approx(34.82, abs=0.01),
    ),
    case(
        "1 the common-load figure raises nothing yet",
        second(40, 46, 40, current_a=45.0),
        level=2,
        at_least=False,
    ),
    # rule 2: with a like part the similar column decides
    case(
        "2 similar column decides, air is shown",
        second(65, 66.5, 65, **TWICE),
        level=1,
        rise_air_k=46.5,
        rule="1a.2 similar",
    ),
    case(
        "2 an absolute limit raises the level",
        second(85, 91, 85, component="bolted joint", coating="bare"),
        level=4,
        rule="1a.2 limit",
    ),
    case(
        "2 a rise past the limit's rise, too",
        second(72, 73, 72, component="bolted joint", coating="bare"),
        level=3,
        rule="1a.2 limit",
        band=1,
    ),
    case(
        "2 a limit of another coating does not",
        second(85, 91, 85, component="bolted joint", coating="silver"),
        level=2,
    ),
    case("2 no coating typed, no limit guessed", second(85, 91, 85, component="bolted joint"), level=2),
    case(
        "2 bare metal below ε .5 is not held against a limit",
        second(85, 91, 85, component="bolted joint", coating="bare", emissivity=0.4),
        level=2,
        at_least=True,
    ),
    # rule 3: without a like part
    case(
        "3 share of rated rise: 69 % nothing",
        alone(34.5, rated_rise_k=50.0, rated_current_a=100.0),
        level=0,
        reference=SHARE,
        share_of_rated=69.0,
    ),
    case(
        "3 share of rated rise: 70 % is over its line",
        alone(35, rated_rise_k=50.0, rated_current_a=100.0, **TWICE),
        level=1,
    ),
    case("3 share of rated rise: 85 %", alone(42.5, rated_rise_k=50.0, rated_current_a=100.0), level=2),
    case("3 share of rated rise: 100 %", alone(50, rated_rise_k=50.0, rated_current_a=100.0), level=3),
    case("3 share of rated rise: 120 %", alone(60, rated_rise_k=50.0, rated_current_a=100.0), level=4),
    case(
        "3 the share decides though air says over 40 K",
        alone(45, rated_rise_k=90.0, rated_current_a=100.0),
        level=0,
        reference=SHARE,
    ),
    case(
        "3 own baseline at common load",
        alone(15, baseline_k=4.0, **TWICE),
        level=2,
        reference=BASELINE,
        value_k=11.0,
        common_k=11.0,
    ),
    case(
        "3 baseline and reading on one scale",
        alone(10, baseline_k=30.0, current_a=50.0),
        level=0,
        common_k=pytest.approx(4.82, abs=0.01),
        near_line=True,
    ),
    case("3 under 2u of the baseline: nothing", alone(17.4, baseline_k=14.0), level=0, near_line=False),
    case("3 at 2u of the baseline: over its line", alone(17.5, baseline_k=14.0, **TWICE), level=1),
    case("3 air alone speaks only above 20 K", alone(20.0), level=None, rule="1a.3 baseline forming"),
    case("3 air alone above 20 K", alone(20.1), level=3, reference=AIR, rule="1a.3 air"),
    case("3 air alone above 40 K", alone(40.1), level=4),
    case("3 air beside a baseline: the graver", alone(25, baseline_k=24.0), level=3, reference=AIR),
    case(
        "3 a transformer's design rise is no fault",
        alone(60, kind=PointKind.TRANSFORMER, baseline_k=59.0),
        level=0,
        reference=BASELINE,
    ),
    case("3 a warm motor without baseline: no verdict", alone(45, kind=PointKind.MOTOR), level=None),
    case(
        "3 no air temperature and no like part",
        judged(view_of(seen(90, reference=AIR), ambient_c=None))[0],
        level=None,
        rule="1a.3 no air temperature",
    ),
    # rule 4: Look again needs two visits running, or nine chances in ten
    case(
        "4 first visit over the line: near the line",
        second(40, 42, 40),
        level=0,
        near_line=True,
        clears=False,
        over_first_line=True,
        band=1,
    ),
    case("4 second visit running", second(40, 42, 40, **TWICE), level=1, near_line=False),
    case("4 nine chances in ten by u", second(40, 42, 40, u_k=0.7), level=1),
    case("4 eight chances in ten do not do", second(40, 42, 40, u_k=1.1), level=0, near_line=True),
    case("4 Plan repair needs no second visit", second(40, 43.1, 40), level=2),
    case(
        "4 clean again: the visit before does not count", second(40, 40.5, 40, **TWICE), level=0, clears=True
    ),
    # rule 5: unequal currents are said first
    case(
        "5 neutral has no like part",
        judged(view_of(seen(40), seen(40, point_id=2), seen(55, point_id=3, neutral=True)))[2],
        reference=AIR,
        level=3,
    ),
    case(
        "5 compared with nobody at half the current",
        second(60, 45, 60, amps=(100, 50, 100)),
        reference=AIR,
        unequal_load=True,
        level=3,
    ),
    # rule 6: cold is a fault too
    case("6 more than 3 K colder", second(40, 36.9, 40), level=1, cold=True, value_k=pytest.approx(-3.1)),
    case("6 exactly 3 K colder is not", second(40, 37, 40), level=0, cold=False),
    case("6 a tenth of the current", second(23, 22.5, 23, amps=(100, 9, 100)), level=1, cold=True),
    case(
        "6 cold on the first visit, at low load too", second(30, 21, 30, amps=(30, 0, 30)), level=1, cold=True
    ),
    case("6 half the current explains the cold", second(40, 26, 40, amps=(100, 50, 100)), cold=False),
    case("6 colder than half the current explains", second(40, 21, 40, amps=(100, 50, 100)), cold=True),
    case("6 of two, the cold one is the fault", second(40, 21.5), level=1, cold=True),
    case("6 of two, its neighbour is not called hot", judged(phases(31, 21.5))[0], reference=AIR, level=None),
    case("6 of two, at 2 K over air the hot one is", judged(phases(40, 22))[0], level=4, value_k=18.0),
    case(
        "6 a cold radiator, never scaled",
        judged(phases(50, 44, 50, kind=PointKind.TRANSFORMER))[1],
        cold=True,
        level=1,
    ),
    # rule 7: no heat seen
    case(
        "7 bare and 2 K over air under load: ask",
        second(22, 22, 22, **BARE),
        level=None,
        rule="1a.7 no heat seen",
    ),
    case("7 over 2 K is heat", second(22.1, 22.1, 22.1, **BARE), level=0),
    case("7 painted parts are not asked", second(22, 22, 22, coating="painted"), level=0),
    case("7 small parts are asked", second(22, 22, 22, small=True), level=None),
    case("7 answered: runs cool", second(22, 22, 22, no_heat_answer=NoHeatAnswer.RUNS_COOL, **BARE), level=0),
    case(
        "7 answered: no load never clears",
        second(22, 22, 22, no_heat_answer=NoHeatAnswer.NO_LOAD, **BARE),
        level=None,
        rule="1a.8 could not clear",
    ),
    case(
        "7 answered: bare metal never clears",
        second(22, 22, 22, no_heat_answer=NoHeatAnswer.BARE_METAL, **BARE),
        level=None,
    ),
    case("7 unanswered, yet it accuses", second(17, 22, 17, **BARE), level=2, at_least=True),
    # rule 8: accuse, never clear
    case(
        "8 12 K over like parts at 30 % load: at least Plan repair",
        second(30, 42, 30, current_a=30.0),
        level=2,
        at_least=True,
        trended=False,
        common_k=None,
    ),
    case(
        "8 31 % load and nothing seen: no verdict",
        second(30, 30, 30, current_a=31.0),
        level=None,
        sentence="No verdict: could not clear (load 31 %).",
    ),
    case("8 exactly 40 % load clears", second(30, 30, 30, current_a=40.0), level=0, clears=True),
    case("8 wind over 5 m/s", second(40, 52, 40, weather={"wind_m_s": 5.1}), level=2, at_least=True),
    case(
        "8 wind 3 m/s clears over like parts",
        second(40, 40, 40, weather=WIND_3),
        level=0,
        clears=True,
        trended=False,
        common_k=None,
    ),
    case(
        "8 wind 3 m/s does not clear over air",
        alone(30, rated_rise_k=90.0, rated_current_a=100.0, weather=WIND_3),
        level=None,
        rule="1a.8 could not clear",
    ),
    case(
        "8 a fan does not clear over air",
        alone(15, baseline_k=14.0, weather={"fan_on_part": True}),
        level=None,
    ),
    case(
        "8 spot not filled", second(40, 52, 40, spot_underfilled=True), level=2, at_least=True, trended=False
    ),
    case("8 top of the range", second(40, 52, 40, range_end=RangeEnd.TOP), level=2, at_least=True),
    case(
        "8 bottom of the range: no verdict",
        second(40, 40, 40, range_end=RangeEnd.BOTTOM),
        level=None,
        rule="1a.8 bottom of range",
    ),
    case("8 heat not settled", second(40, 52, 40, settled=False), level=2, at_least=True, common_k=None),
    case(
        "8 ε .4 keeps its level over like parts", second(40, 56, 40, emissivity=0.4), level=4, at_least=True
    ),
    case("8 ε .4 alone never above 2", alone(45, emissivity=0.4), level=2, at_least=True),
    case("8 ε .2 is compared with a twin only", alone(45, emissivity=0.2), level=None),
    case("8 load not known", second(40, 40, 40, current_a=None), level=None),
    # rule 9: bearings and couplings
    case("9 over 40 K, cool in total: Repair soon", bearing(41.0), level=3),
    case("9 over 40 K and over 80 °C: Act now", bearing(46.0), level=4),
    case("9 over 40 K and a second method: Act now", bearing(41.0, second_method_agrees=True), level=4),
    case(
        "9 over 80 °C whatever the baseline",
        bearing(1.0, baseline_k=35.0, ambient_c=45.0),
        level=2,
        rule="1a.9 total temperature",
    ),
    case(
        "9 greased yesterday: capped at 2",
        bearing(25.0, hours_since_greased=24.0),
        level=2,
        at_least=True,
        trended=False,
    ),
    case("9 greased three days ago", bearing(25.0, hours_since_greased=72.0), level=3, at_least=False),
    case("9 greased, but over 80 °C", bearing(46.0, hours_since_greased=24.0), level=4),
    case(
        "9 greased, but a second method agrees",
        bearing(25.0, hours_since_greased=24.0, second_method_agrees=True),
        level=3,
    ),
    case("9 a bearing over 40 K over air", alone(41, kind=PointKind.BEARING), level=2),
    case("9 a coupling likewise", bearing(41.0, kind=PointKind.COUPLING), level=3),
    # rule 11: kinds without a published band
    *(
        case(f"11 {kind}: no band, no verdict", alone(90, kind=kind), level=None, rule="1a.11 no band")
        for kind in (PointKind.STEAM_TRAP, PointKind.REFRACTORY, PointKind.PHOTOVOLTAIC)
    ),
    case("11 belt", alone(90, kind=PointKind.COUPLING, component="V-belt"), level=None, rule="1a.11 no band"),
    case(
        "11 tap changer",
        alone(90, kind=PointKind.TRANSFORMER, component="Tap changer"),
        level=None,
        rule="1a.11 no band",
    ),
    case(
        "11 an open string still reads cold",
        second(50, 40, 50, kind=PointKind.PHOTOVOLTAIC),
        cold=True,
        level=1,
    ),
]


@pytest.mark.parametrize(("verdict", "expected"), CASES)
def test_rule(verdict: Verdict, expected: dict[str, Any]) -> None:
    assert {name: getattr(verdict, name) for name in expected} == expected


def test_5_unequal_currents_are_said_before_anything_else() -> None:
    verdict = second(60, 45, 60, amps=(100, 50, 100))
    assert verdict.sentence.startswith("Unequal currents (100 / 50 / 100 A): unequal load before bad joint.")
    assert "brought to common load, each by its own current" in verdict.sentence
    assert not second(60, 45, 60, amps=(100, 100, 100)).sentence.startswith("Unequal")


def test_5_rises_under_unequal_currents_compare_at_common_load() -> None:
    """25 K at half the current is 87.1 K at common load, 47.1 K over the others' 40 K [by hand]."""
    assert "47.1 K over its like parts" in second(60, 45, 60, amps=(100, 50, 100)).sentence


def test_6_a_blown_fuse_reads_cold_and_its_neighbours_are_not_hot() -> None:
    left, blown, right = judged(
        phases(30, 15, 30, kind=PointKind.FUSE, amps=(80, 0, 80), weather={"ambient_c": 14.0})
    )
    assert (blown.level, blown.cold) == (Level.LOOK_AGAIN, True)
    assert blown.sentence.startswith("Look again: open circuit?")
    assert (left.level, right.level) == (Level.NOTHING_FOUND, Level.NOTHING_FOUND)
    assert not left.over_first_line
    assert not left.unequal_load


def test_3_over_its_baseline_the_figure_told_is_the_one_that_was_judged() -> None:
    """15 K over air at half load is 52.23 K at common load, n 1.8 [worked by hand]."""
    low = alone(15.0, current_a=50.0, baseline_k=40.0)
    assert low.sentence == "Plan repair: 12.2 K over its own baseline at common load."
    assert (low.value_k, low.common_k) == (pytest.approx(3.51, abs=0.01), pytest.approx(12.23, abs=0.01))


@pytest.mark.parametrize(
    ("weather", "trended", "clears"),
    [({"wind_m_s": 1.0}, True, True), ({"wind_m_s": 5.0}, False, True), ({"wind_m_s": 5.01}, False, False)],
)
def test_8_wind_on_its_lines_is_still_the_calmer(
    weather: dict[str, float], trended: bool, clears: bool
) -> None:
    verdict = second(40, 40, 40, weather=weather)
    assert (verdict.trended, verdict.clears) == (trended, clears)


def test_8_a_neighbour_at_the_bottom_of_the_range_is_no_reference() -> None:
    """Its true temperature lies lower, so it would make the others look cooler than they are."""
    verdicts = judged(
        view_of(seen(31), seen(35, point_id=2), seen(33, point_id=3, range_end=RangeEnd.BOTTOM))
    )
    assert verdicts[1].members == (1, 2)
    assert verdicts[1].value_k == 4.0


def test_9_exactly_eighty_degrees_and_forty_eight_hours_count_as_not_yet_and_still() -> None:
    assert bearing(45.0).level is Level.REPAIR_SOON
    assert bearing(45.1).level is Level.ACT_NOW
    assert bearing(25.0, hours_since_greased=48.0).level is Level.PLAN_REPAIR
    assert bearing(25.0, hours_since_greased=48.1).level is Level.REPAIR_SOON
    assert bearing(25.0, hours_since_greased=-1.0).level is Level.REPAIR_SOON


def test_7_at_exactly_forty_percent_load_it_is_asked() -> None:
    assert second(22, 22, 22, current_a=40.0, **BARE).rule == "1a.7 no heat seen"


def test_8_an_emissivity_on_its_line_is_still_believed() -> None:
    assert alone(45.0, emissivity=0.3).level is Level.PLAN_REPAIR
    assert second(40, 40, 40, emissivity=0.5).clears


def test_6_exactly_a_tenth_of_the_current_is_not_cold() -> None:
    assert not second(23, 23, 23, amps=(100, 10, 100)).cold


def test_2_at_exactly_forty_degrees_of_air_the_limit_in_kelvin_still_holds() -> None:
    part = {"component": "assembly terminal"}
    assert second(110.5, 111, 110.5, weather={"ambient_c": 40.0}, **part).rule == "1a.2 limit"


def test_2_a_part_exactly_at_its_limit_is_not_past_it() -> None:
    part = {"component": "bolted joint", "coating": "bare"}
    assert second(90, 90, 90, weather={"ambient_c": 40.0}, **part).level == 0
    assert second(90, 90.1, 90, weather={"ambient_c": 40.0}, **part).level == 3
    assert second(90, 100, 90, weather={"ambient_c": 50.0}, **part).level == 3
    assert second(90, 100.1, 90, weather={"ambient_c": 50.0}, **part).level == 4


def test_6_without_an_air_temperature_less_current_explains_the_cold() -> None:
    view = {"ambient_c": None}
    assert not second(40, 21, 40, amps=(100, 50, 100), weather=view).cold
    assert second(40, 21, 40, weather=view).cold


def test_2_a_limit_in_kelvin_alone_holds_up_to_forty_degrees_of_air() -> None:
    part = {"component": "assembly terminal"}
    assert second(92, 93, 92, **part).rule == "1a.2 limit"
    assert second(112, 112.5, 112, weather={"ambient_c": 41.0}, **part).level == 0


def test_6_a_cold_part_says_nothing_of_an_earlier_hot_one() -> None:
    assert not second(40, 30, 40).could_clear


def test_6_where_half_of_the_view_is_cold_the_other_half_may_be_hot() -> None:
    verdicts = judged(phases(45, 45, 30, 30))
    assert [v.level for v in verdicts] == [2, 2, 1, 1]


def test_8_second_opinion_at_low_load_is_told_only_where_a_site_wants_it() -> None:
    low = phases(30, 42, 30, current_a=30.0)
    assert "second opinion" not in judged(low)[1].sentence
    wanted = judged(low, replace(TWO_COLUMN, relative_on=True))[1]
    assert "relative difference 55 %, second opinion Plan repair" in wanted.sentence
    assert (wanted.level, wanted.at_least) == (Level.PLAN_REPAIR, True)
    for rise_k, told in ((9.9, False), (10.0, True)):
        cool = phases(24, 20 + rise_k, 24, current_a=30.0)
        sentence = judged(cool, replace(TWO_COLUMN, relative_on=True))[1].sentence
        assert ("second opinion" in sentence) == told


def test_9_the_last_greasing_is_asked_for() -> None:
    assert "ask when it was last greased" in bearing(15.0, greased_asked=False).sentence
    assert "ask:" not in bearing(15.0, hours_since_greased=500.0, greased_asked=False).sentence


@pytest.mark.parametrize("kind", [PointKind.OTHER, PointKind.MOTOR, PointKind.TRANSFORMER])
def test_kinds_that_are_never_scaled_are_trended_as_measured(kind: PointKind) -> None:
    verdict = alone(15.0, kind=kind, current_a=50.0)
    assert (verdict.trended, verdict.common_k) == (True, None)


def test_what_carries_no_current_is_judged_without_an_ammeter() -> None:
    verdict = alone(15.0, kind=PointKind.OTHER, current_a=None, common_load_a=None, baseline_k=14.0)
    assert verdict.clears
    assert verdict.trended


def test_the_air_column_is_shown_beside_another_verdict() -> None:
    assert air_column(46.5, TWO_COLUMN) == (Level.ACT_NOW, "1 serious: over 40 K")


def test_12_every_verdict_with_a_band_prints_its_source() -> None:
    for case_ in CASES:
        verdict = case_.values[0]
        if verdict.band is not None:
            assert verdict.source, case_.id
            assert "[" in verdict.source, case_.id


@pytest.mark.parametrize("reason", Reason)
def test_only_the_ten_reasons_make_a_visit_not_assessable(reason: Reason) -> None:
    verdict = judged(view_of(seen(None, not_assessable=reason)))[0]
    assert (verdict.level, verdict.rule) == (None, "not assessable")
    assert reason.word in verdict.sentence


def test_wet_fog_or_sun_makes_the_whole_view_not_assessable() -> None:
    verdicts = judged(phases(40, 60, 40, weather={"wet_fog_or_sun": True}))
    assert {(v.level, v.rule) for v in verdicts} == {(None, "not assessable")}
    assert all("wet, fog or sun" in v.sentence for v in verdicts)


def test_an_unread_part_leaves_its_neighbours_comparable() -> None:
    verdicts = judged(
        view_of(seen(40), seen(None, point_id=2, not_assessable=Reason.COVERED), seen(52, point_id=3))
    )
    assert [v.level for v in verdicts] == [0, None, 2]
    assert [v.point_id for v in verdicts] == [1, 2, 3]


@pytest.mark.parametrize("number", [None, float("nan")])
def test_a_reading_without_a_number_has_no_verdict(number: float | None) -> None:
    verdict = judged(view_of(seen(number), seen(40, point_id=2)))[0]
    assert (verdict.level, verdict.rule) == (None, "no number")


def test_kinds_never_mix_in_one_comparison() -> None:
    """A bearing beside two joints is no like part of theirs, nor are two ends of a shaft."""
    joint, hot, bearing_end = judged(
        view_of(seen(40), seen(52, point_id=2), seen(70, point_id=3, kind=PointKind.BEARING))
    )
    assert joint.members == hot.members == (1, 2)
    assert bearing_end.reference is not ReferenceKind.LIKE_PARTS
    ends = judged(phases(40, 55, kind=PointKind.BEARING))
    assert all(v.reference is not ReferenceKind.LIKE_PARTS for v in ends)
