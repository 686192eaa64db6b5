"""Design law 1: what can only cool or hide may accuse, and never clears."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.seen import NoHeatAnswer, RangeEnd
from service.domain.verdicts import Verdict
from service.domain.words import Level, PointKind
from tests.domain.views import alone, bearing, judged, phases

HIDING: dict[str, dict[str, Any]] = {
    "load 30 %": {"current_a": 30.0},
    "no load at all": {"current_a": 0.0},
    "load not known": {"current_a": None},
    "common load not known": {"common_load_a": None},
    "wind 6 m/s": {"weather": {"wind_m_s": 6.0}},
    "spot not filled": {"spot_underfilled": True},
    "top of the instrument's range": {"range_end": RangeEnd.TOP},
    "bottom of the instrument's range": {"range_end": RangeEnd.BOTTOM},
    "heat not settled": {"settled": False},
    "emissivity 0.45": {"emissivity": 0.45},
    "bare metal": {"no_heat_answer": NoHeatAnswer.BARE_METAL},
}
ACCUSING = {name: changes for name, changes in HIDING.items() if "bottom" not in name}


def second(*temperatures_c: float, **changes: Any) -> Verdict:
    return judged(phases(*temperatures_c, **changes))[1]


@pytest.mark.parametrize("changes", HIDING.values(), ids=HIDING)
def test_nothing_is_cleared(changes: dict[str, Any]) -> None:
    verdict = second(40, 40, 40, **changes)
    assert verdict.level is None
    assert not verdict.clears
    assert not verdict.could_clear
    assert verdict.sentence.startswith("No verdict: ")


@pytest.mark.parametrize("changes", ACCUSING.values(), ids=ACCUSING)
@pytest.mark.parametrize(
    ("rise_k", "level"), [(5.0, Level.PLAN_REPAIR), (16.0, Level.ACT_NOW)], ids=["5 K", "16 K"]
)
def test_it_accuses_all_the_same(changes: dict[str, Any], rise_k: float, level: Level) -> None:
    verdict = second(40, 40 + rise_k, 40, **changes)
    assert (verdict.level, verdict.at_least) == (level, True)
    assert verdict.sentence.startswith(f"At least {level.word}: ")
    assert not verdict.could_clear


@pytest.mark.parametrize("changes", HIDING.values(), ids=HIDING)
def test_it_is_no_baseline_of_later_visits_when_alone(changes: dict[str, Any]) -> None:
    verdict = alone(10.0, **changes)
    assert verdict.level is None
    assert verdict.rule != "1a.3 baseline forming"


def test_the_sentence_says_what_hid_it() -> None:
    verdict = second(40, 40, 40, current_a=31.0, weather={"wind_m_s": 6.0})
    assert verdict.sentence == "No verdict: could not clear (load 31 %, wind 6 m/s)."


def test_a_load_just_short_of_forty_percent_is_not_told_as_forty() -> None:
    assert "load 39 %" in second(40, 40, 40, current_a=39.9).sentence


def test_near_its_line_at_low_load_the_mark_stays() -> None:
    first = second(40, 42, 40, current_a=30.0)
    assert (first.level, first.near_line, first.over_first_line) == (None, True, True)
    again = second(40, 42, 40, current_a=30.0, previous_over_first_line=True)
    assert (again.level, again.at_least) == (Level.LOOK_AGAIN, True)


@pytest.mark.parametrize("weather", [{"wind_m_s": 1.1}, {"fan_on_part": True}], ids=["wind", "fan"])
def test_moving_air_hides_over_air_and_not_over_like_parts(weather: dict[str, Any]) -> None:
    assert second(40, 40, 40, weather=weather).clears
    assert alone(15.0, baseline_k=14.0, weather=weather).level is None
    hot = alone(60.0, rated_rise_k=50.0, rated_current_a=100.0, weather=weather)
    assert (hot.level, hot.at_least) == (Level.ACT_NOW, True)


def test_a_current_read_at_another_time_clears_over_like_parts_and_is_not_trended() -> None:
    verdict = second(40, 40, 40, current_measured=False)
    assert (verdict.level, verdict.clears, verdict.trended) == (Level.NOTHING_FOUND, True, False)
    assert verdict.common_k is None


def test_a_current_read_at_another_time_does_not_clear_over_the_baseline() -> None:
    assert alone(15.0, baseline_k=14.0, current_measured=False).level is None


def test_fresh_grease_never_lowers_what_was_said_before() -> None:
    capped = bearing(25.0, hours_since_greased=10.0)
    assert capped.level is Level.PLAN_REPAIR
    assert not capped.could_clear


@pytest.mark.parametrize("kind", [PointKind.BEARING, PointKind.MOTOR], ids=str)
def test_a_bearing_without_an_ammeter_may_be_cleared(kind: PointKind) -> None:
    assert bearing(1.0, kind=kind, previous_over_first_line=False).clears


@given(
    load=st.floats(0.0, 0.3999),
    readings=st.lists(st.floats(-20.0, 150.0), min_size=1, max_size=5),
    kind=st.sampled_from(PointKind),
    ambient_c=st.none() | st.floats(-20.0, 45.0),
    baseline_k=st.none() | st.floats(0.0, 60.0),
    rated_rise_k=st.none() | st.floats(10.0, 80.0),
    twice=st.booleans(),
)
def test_below_forty_percent_load_nothing_is_ever_found_clean(
    load: float,
    readings: list[float],
    kind: PointKind,
    ambient_c: float | None,
    baseline_k: float | None,
    rated_rise_k: float | None,
    twice: bool,
) -> None:
    for verdict in judged(
        phases(
            *readings,
            kind=kind,
            current_a=100.0 * load,
            rated_current_a=120.0,
            baseline_k=baseline_k,
            rated_rise_k=rated_rise_k,
            previous_over_first_line=twice,
            weather={"ambient_c": ambient_c},
        )
    ):
        assert verdict.level is not Level.NOTHING_FOUND
        assert not verdict.clears
        assert not verdict.trended
        assert not verdict.could_clear
