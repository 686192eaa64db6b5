"""Judgement with an uncertainty budget: firm, possible, near the line, refused; and its sums."""

import math
from datetime import date
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.like_parts import difference_of
from service.domain.measuring import Measured, measure
from service.domain.presets import TWO_COLUMN
from service.domain.rise_uncertainty import over_air_u_k, over_like_parts_u_k
from service.domain.seen import SeenPoint
from service.domain.settings import Inputs, Setting, inputs_of_text
from service.domain.standing import StandingState, advance
from service.domain.verdicts import Verdict
from service.domain.words import Level, SettingSource
from service.physics.assumptions import Assumptions
from service.physics.budget_terms import surface_terms
from service.physics.compared_uncertainty import over_like_parts
from service.physics.median_weights import median_weights
from service.physics.optics import Optics
from tests.domain.views import judged, seen, view_of

ASSUMED, MEASURED = SettingSource.ASSUMED, SettingSource.MEASURED
#: All different: where two are equal, which of them is the middle one is chance.
TEMPERATURES = st.lists(
    st.integers(200, 1500).map(lambda tenths: tenths / 10), min_size=2, max_size=6, unique=True
)


def inputs(shown_c: float | None, **changes: Any) -> Inputs:
    """A reading with ε 0.95 ± 0.05 and surroundings of 25 ± 5 °C, set so in the instrument."""
    nothing = Inputs._make((*[None] * (len(Inputs._fields) - 1), ()))
    usual = nothing._replace(
        shown_c=shown_c,
        emissivity=Setting(0.95, 0.05, ASSUMED, "assumed"),
        reflected_c=Setting(25.0, 5.0, ASSUMED, "air"),
        transmission=Setting(1.0, 0.005, ASSUMED, "round"),
        ambient_c=25.0,
        window=False,
        band_low_um=8.0,
        band_high_um=14.0,
    )
    return usual._replace(**changes)


def measured(*shown_c: float, **changes: Any) -> list[Measured]:
    return measure([inputs(value, **changes) for value in shown_c])


def read(*shown_c: float, amps: float = 100.0, how: dict[str, Any] | None = None) -> tuple[Verdict, ...]:
    """Like parts with their uncertainty terms, at a load of so many of 100 A."""
    points = []
    for n, one in enumerate(measured(*shown_c, **(how or {}))):
        points.append(seen(one.surface_c, point_id=n + 1, measured=one, current_a=amps))
    return judged(view_of(*points, ambient_c=25.0))


@given(TEMPERATURES)
def test_one_rise_has_the_uncertainty_that_arrays_of_rises_have(shown_c: list[float]) -> None:
    apparent = np.array(shown_c)
    terms = measure([inputs(t, set_emissivity=1.0, set_transmission=1.0) for t in shown_c])
    assumptions = Assumptions(emissivity_half_width=0.05, reflected_half_width_k=5.0)
    expected = over_like_parts(
        surface_terms(apparent, Optics(0.95, 25.0), assumptions=assumptions), assumptions=assumptions
    )
    points = [seen(one.surface_c, point_id=n, measured=one) for n, one in enumerate(terms)]
    for n, point in enumerate(points):
        own = over_like_parts_u_k([(one.measured, w) for one, w in difference_of(point, points)])
        assert own == pytest.approx(float(expected.u[n]), rel=1e-6)


@given(TEMPERATURES)
def test_one_part_has_the_weights_that_arrays_of_parts_have(shown_c: list[float]) -> None:
    points = [seen(value, point_id=n) for n, value in enumerate(shown_c)]
    like = np.ones((len(shown_c), len(shown_c)), dtype=bool)
    for n, row in enumerate(median_weights(np.array(shown_c), like)):
        own = dict.fromkeys(range(len(shown_c)), 0.0)
        own |= {one.point_id: weight for one, weight in difference_of(points[n], points)}
        assert list(own.values()) == pytest.approx(list(row))


def test_chances_are_those_of_the_published_bands() -> None:
    """physics.md §4.2: 60 °C beside 45 °C at ε 0.95 is 15.6 K with u 0.87 K."""
    hot = read(60.0, 45.0, how={"set_emissivity": 1.0, "set_transmission": 1.0})[0]
    assert hot.value_k == pytest.approx(15.639, abs=0.002)
    assert hot.u_k == pytest.approx(0.869, abs=0.002)
    assert hot.chances is not None
    assert sum(hot.chances) == pytest.approx(1.0)
    over = 0.5 * math.erfc((15.0 - hot.value_k) / (hot.u_k * math.sqrt(2.0)))
    assert hot.chances[Level.ACT_NOW] == pytest.approx(over)
    assert hot.chance_from(Level.PLAN_REPAIR) == pytest.approx(1.0)


def test_look_again_at_once_needs_nine_chances_in_ten() -> None:
    near, sure = read(41.4, 40.0, 40.0)[0], read(42.4, 40.0, 40.0)[0]
    assert (near.level, near.near_line, near.clears) == (Level.NOTHING_FOUND, True, False)
    assert (sure.level, sure.near_line) == (Level.LOOK_AGAIN, False)


def test_common_load_raises_a_level_only_when_firm() -> None:
    firm, doubtful = read(46.5, 40.0, 40.0, amps=45.0)[0], read(43.5, 40.0, 40.0, amps=60.0)[0]
    assert firm.band == Level.PLAN_REPAIR
    assert (firm.level, firm.rule) == (Level.ACT_NOW, "1a.1 common load")
    assert firm.common_low_k is not None
    assert firm.common_low_k > 15.0
    assert doubtful.common_k is not None
    assert doubtful.common_k > 3.0
    assert doubtful.rule == "1a.2 similar"


def test_low_load_is_never_raised_by_scaling() -> None:
    verdict = read(46.0, 40.0, 40.0, amps=30.0)[0]
    assert (verdict.level, verdict.at_least, verdict.common_k) == (Level.PLAN_REPAIR, True, None)


def test_a_dull_or_weakly_windowed_part_accuses_and_never_clears() -> None:
    dull = {"emissivity": Setting(0.45, 0.05, ASSUMED, "point")}
    weak = {
        "window": True,
        "window_transmission": Setting(0.4, 0.05, ASSUMED, "point"),
        "window_c": 25.0,
    }
    for how in (dull, weak):
        calm, hot = read(40.0, 40.0, 40.0, how=how)[0], read(60.0, 40.0, 40.0, how=how)[0]
        assert (calm.level, calm.clears) == (None, False)
        assert hot.level == Level.ACT_NOW
        assert hot.at_least


@pytest.mark.parametrize(
    ("lacking", "remedy"),
    [
        ({"window_transmission": None, "window_c": 25.0}, "type what the window lets through"),
        ({"window_transmission": Setting(0.8, 0.05, ASSUMED, "point")}, "type the temperature of the window"),
        ({"window_transmission": Setting(0.2, 0.05, ASSUMED, "point"), "window_c": 25.0}, "open the cover"),
    ],
)
def test_a_window_of_which_too_little_is_known_gives_no_verdict(lacking: dict[str, Any], remedy: str) -> None:
    verdict = read(80.0, how={"window": True} | lacking)[0]
    assert verdict.level is None
    assert remedy in verdict.sentence


def test_a_reading_past_the_formula_stands_as_shown_and_accuses() -> None:
    verdict = read(1200.0, 40.0, 40.0)[0]
    assert (verdict.level, verdict.at_least, verdict.u_k) == (Level.ACT_NOW, True, None)


def test_the_smallest_fault_told_would_have_been_seen() -> None:
    """Read at 52 %: a fault of that size at common load, n = 2, lies over its line nine times in ten."""
    calm = read(40.0, 40.0, 40.0, amps=52.0)[0]
    assert calm.smallest_fault_k is not None
    as_measured_k = calm.smallest_fault_k * 0.52**2
    shown = read(40.0 + as_measured_k, 40.0, 40.0, amps=52.0)[0]
    over_first_line = shown.chance_from(Level.LOOK_AGAIN)
    assert over_first_line is not None
    assert over_first_line >= 0.895
    assert calm.smallest_fault_k > read(40.0, 40.0, 40.0)[0].smallest_fault_k  # type: ignore[operator]


def test_what_conditions_hide_is_not_put_into_a_number() -> None:
    point = SeenPoint(
        **{name: getattr(seen(40.0), name) for name in ("point_id", "kind", "temperature_c", "current_a")},
        common_load_a=100.0,
        measured=measured(40.0)[0],
        settled=False,
    )
    verdict = judged(view_of(point, seen(40.0, point_id=2, measured=measured(40.0)[0]), ambient_c=25.0))[0]
    assert verdict.smallest_fault_k is None


@pytest.mark.parametrize(
    ("value_k", "u_k", "level"),
    [(13.0, 0.5, Level.PLAN_REPAIR), (14.5, 0.5, Level.ACT_NOW), (13.0, 2.0, Level.ACT_NOW)],
)
def test_a_standing_falls_only_past_its_guard_band(value_k: float, u_k: float, level: Level) -> None:
    """Down from Act now at 15 K: at once where 1.645 u lies between, else not."""
    over = 0.5 * math.erfc((15.0 - value_k) / (u_k * math.sqrt(2.0)))
    template = read(41.0, 40.0, 40.0)[0]
    fields = {name: getattr(template, name) for name in Verdict.__dataclass_fields__}
    lower = Verdict(
        **(fields | {"level": Level.PLAN_REPAIR, "band": Level.PLAN_REPAIR, "near_line": False})
        | {"at_least": False, "chances": (0.0, 0.0, 1.0 - over, 0.0, over), "clears": False}
    )
    stands = StandingState(reading_level=Level.ACT_NOW)
    assert advance(stands, lower, when=date(2026, 1, 5), criteria=TWO_COLUMN).level == level


def test_inputs_come_back_from_their_text_as_they_were() -> None:
    told = inputs(61.3, window=True, window_transmission=Setting(0.8, 0.05, ASSUMED, "point"))
    told = told._replace(reevaluated=("emissivity", "current_a"))
    assert inputs_of_text(told.to_text()) == told


def test_a_pane_read_to_two_kelvin_is_part_of_what_is_not_known() -> None:
    """Its slope is −(1 − τ)·L′(T_w)/(τ·ε·L′(T_o)); over like parts behind one pane it cancels."""
    pane = {"window": True, "window_transmission": Setting(0.6, 0.0, MEASURED, "point"), "window_c": 25.0}
    one, other = measured(60.0, 60.0, **pane)
    assert measured(60.0)[0].pane == 0.0
    assert one.pane < 0
    assert surface_of(60.0, pane, 27.0) - surface_of(60.0, pane, 25.0) == pytest.approx(
        one.pane * math.sqrt(3.0), rel=0.02
    )
    told = over_air_u_k(one)
    assert told is not None
    assert told > (over_air_u_k(one._replace(pane=0.0)) or 0.0)
    alike = [(one, 1.0), (other, -1.0)]
    bare = [(part._replace(pane=0.0), weight) for part, weight in alike]
    assert over_like_parts_u_k(alike) == over_like_parts_u_k(bare)


def surface_of(shown_c: float, pane: dict[str, Any], window_c: float) -> float:
    found = measured(shown_c, **(pane | {"window_c": window_c}))[0].surface_c
    assert found is not None
    return found
