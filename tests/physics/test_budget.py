"""Budgets: lines sum to the whole, shared errors cancel, what is not known is refused."""

from dataclasses import replace

import numpy as np
import pytest

from service.physics.assumptions import INPUT_REMEDIES, INPUT_WORDS, Assumptions, Input
from service.physics.budget_terms import Terms, over_air_terms, surface_terms, terms_at_common_load
from service.physics.cautions import Caution, has
from service.physics.compared_uncertainty import over_baseline, over_like_parts, over_twin
from service.physics.coverage import interval_95, needs_monte_carlo, wide_over_air
from service.physics.optics import Optics
from service.physics.radiance import BAND_7_5_13
from service.physics.refusals import Refusal
from service.physics.rise import over_like_parts as rise_over_like_parts
from service.physics.surface import surface_temperature
from service.physics.uncertainty import Budget, at_common_load, budget_of, share_of_rated_rise

NAN = float("nan")
GIVEN = Assumptions()
CASES = 500
#: Drawn once: apparent temperatures of two to four parts [°C], emissivities and correlations.
DRAWN = np.random.default_rng(41)
APPARENT = DRAWN.uniform(30.0, 150.0, (CASES, 4))
EMISSIVITY = DRAWN.uniform(0.5, 1.0, (CASES, 1))
CORRELATION = DRAWN.uniform(0.0, 1.0, CASES)


def over_air(apparent_c: object, optics: Optics | None = None, assumptions: Assumptions = GIVEN) -> Budget:
    optics = Optics(0.95, 25.0) if optics is None else optics
    return budget_of(over_air_terms(apparent_c, optics, ambient_c=25.0, assumptions=assumptions))


def over_parts(apparent_c: object, optics: Optics | None = None, assumptions: Assumptions = GIVEN) -> Budget:
    optics = Optics(0.95, 25.0) if optics is None else optics
    return over_like_parts(
        surface_terms(apparent_c, optics, assumptions=assumptions), assumptions=assumptions
    )


def squares(budget: Budget) -> np.ndarray:
    return np.asarray(sum(part**2 for part in budget.contributions.values()))


@pytest.mark.parametrize("parts", [2, 3, 4])
def test_squares_of_the_lines_sum_to_the_square_of_the_whole(parts: int) -> None:
    assumptions = Assumptions(camera_correlation=CORRELATION, emissivity_correlation=CORRELATION)
    optics = Optics(EMISSIVITY, 25.0)
    for budget in (over_air(APPARENT, optics), over_parts(APPARENT[:, :parts], optics, assumptions)):
        assert (budget.refusal == 0).all()
        assert squares(budget) == pytest.approx(budget.u**2, rel=1e-12)
        shares = np.asarray(sum(budget.share(key) for key in budget.contributions))
        assert shares == pytest.approx(np.ones(shares.shape), rel=1e-12)


def test_two_parts_that_change_places_change_the_sign_and_keep_u() -> None:
    assumptions = Assumptions(camera_correlation=CORRELATION, emissivity_correlation=CORRELATION)
    optics = Optics(EMISSIVITY[:, 0], 25.0)
    a, b = (surface_terms(APPARENT[:, k], optics, assumptions=assumptions) for k in (0, 1))
    there, back = over_twin(a, b, assumptions=assumptions), over_twin(b, a, assumptions=assumptions)
    assert (there.value == -back.value).all()
    assert there.u == pytest.approx(back.u, rel=1e-12)


@pytest.mark.parametrize("parts", [2, 3, 4])
def test_the_order_of_the_parts_in_a_view_does_not_matter(parts: int) -> None:
    apparent = APPARENT[:60, :parts]
    place = np.argsort(apparent, axis=-1)
    found, ordered = over_parts(apparent), over_parts(np.sort(apparent, axis=-1))
    assert np.take_along_axis(found.value, place, axis=-1) == pytest.approx(ordered.value)
    assert np.take_along_axis(found.u, place, axis=-1) == pytest.approx(ordered.u)


def test_in_fahrenheit_the_difference_and_its_u_are_nine_fifths_of_it() -> None:
    """Typed in °F: temperatures by 9/5 and 32, half widths and differences by 9/5 alone."""
    celsius = over_air(APPARENT, Optics(EMISSIVITY, 25.0))
    reading_f, air_f, camera_f, reflected_f, air_half_f = APPARENT * 1.8 + 32.0, 77.0, 3.6, 9.0, 1.8
    typed = replace(
        GIVEN,
        camera_half_width_k=camera_f / 1.8,
        reflected_half_width_k=reflected_f / 1.8,
        air_half_width_k=air_half_f / 1.8,
    )
    air_c = (air_f - 32.0) / 1.8
    terms = over_air_terms(
        (reading_f - 32.0) / 1.8, Optics(EMISSIVITY, air_c), ambient_c=air_c, assumptions=typed
    )
    rise_f, u_f = budget_of(terms).value * 1.8, budget_of(terms).u * 1.8
    assert rise_f == pytest.approx(celsius.value * 1.8, abs=1e-8)
    assert u_f == pytest.approx(celsius.u * 1.8, rel=1e-8)
    assert u_f / rise_f == pytest.approx(celsius.u / celsius.value, rel=1e-8)


def test_closer_related_errors_never_make_a_difference_worse() -> None:
    loose, close = (
        over_parts(
            APPARENT, Optics(EMISSIVITY, 25.0), Assumptions(camera_correlation=r, emissivity_correlation=0.5)
        ).contributions[Input.CAMERA]
        for r in (0.9 * CORRELATION, 0.9 * CORRELATION + 0.1)
    )
    equal = over_parts(np.full(3, 60.0), assumptions=Assumptions(camera_correlation=1.0))
    assert equal.contributions[Input.CAMERA] == pytest.approx(np.zeros(3), abs=1e-12)
    assert (close <= loose + 1e-12).all()


WIDTHS = [
    "camera_half_width_k",
    "noise_u_k",
    "emissivity_half_width",
    "reflected_half_width_k",
    "transmission_half_width",
    "placement_u_k",
    "air_half_width_k",
    "current_half_width_share",
    "exponent_half_width",
]


@pytest.mark.parametrize("width", WIDTHS)
def test_a_worse_input_makes_the_whole_worse_and_only_its_own_line(width: str) -> None:
    worse = replace(GIVEN, **{width: 2 * getattr(GIVEN, width)})

    def lines(assumptions: Assumptions) -> Budget:
        terms = over_air_terms(60.0, Optics(0.8, 35.0), ambient_c=25.0, assumptions=assumptions)
        return budget_of(terms_at_common_load(terms, 60.0, common_load_a=100.0, assumptions=assumptions))

    before, after = lines(GIVEN), lines(worse)
    assert after.u > before.u
    assert after.value == before.value
    changed = [k for k in before.contributions if after.contributions[k] != before.contributions[k]]
    assert len(changed) == 1
    assert after.contributions[changed[0]] == pytest.approx(2 * before.contributions[changed[0]])


@pytest.mark.parametrize("reflected_half_width", [0.0, 5.0, 20.0])
def test_what_all_parts_share_cancels_between_equal_parts(reflected_half_width: float) -> None:
    assumptions = Assumptions(
        reflected_half_width_k=reflected_half_width, camera_correlation=1.0, emissivity_correlation=1.0
    )
    equal = np.broadcast_to(APPARENT[:, :1], (CASES, 3))
    budget = over_parts(equal, Optics(EMISSIVITY, 25.0), assumptions)
    for key in (Input.CAMERA, Input.EMISSIVITY, Input.REFLECTED, Input.TRANSMISSION):
        assert budget.contributions[key] == pytest.approx(np.zeros(equal.shape), abs=1e-9)
    assert (budget.contributions[Input.PLACEMENT] > 0).all()


def test_a_part_level_with_the_others_is_not_certain_to_be() -> None:
    budget = over_parts([50.0, 50.0, 50.0])
    assert budget.value.tolist() == [0.0, 0.0, 0.0]
    assert budget.u == pytest.approx([budget.u[0]] * 3)
    assert budget.u[0] > 0.5


def test_the_air_thermometer_is_counted_once_though_air_stands_twice_in_the_model() -> None:
    far = Optics(0.95, 25.0, transmission=0.9, air_c=25.0)
    terms = over_air_terms(60.0, far, ambient_c=25.0, assumptions=GIVEN)
    warmer = [
        surface_temperature(60.0, far._replace(air_c=25.0 + step)).value_c - (25.0 + step)
        for step in (-0.5, 0.5)
    ]
    slope = warmer[1] - warmer[0]
    assert terms.amounts_k[Input.AIR] == pytest.approx(slope / np.sqrt(3.0), rel=1e-5)
    assert abs(terms.amounts_k[Input.AIR]) > 1.05 / np.sqrt(3.0)


def test_lines_are_the_change_of_the_value_when_an_input_moves() -> None:
    optics = Optics(
        DRAWN.uniform(0.3, 0.95, CASES), 30.0, transmission=DRAWN.uniform(0.9, 0.99, CASES), air_c=20.0
    )
    apparent = APPARENT[:, 0]
    terms = surface_terms(apparent, optics, assumptions=GIVEN)

    def moved(**steps: float) -> np.ndarray:
        """Central difference of the model itself, per unit."""
        ends = [
            surface_temperature(
                apparent,
                optics._replace(**{key: getattr(optics, key) + sign * step for key, step in steps.items()}),
            ).value_c
            for sign in (1, -1)
        ]
        return (ends[0] - ends[1]) / (2 * next(iter(steps.values())))

    for key, field, half in (
        (Input.EMISSIVITY, "emissivity", 0.05),
        (Input.REFLECTED, "reflected_c", 5.0),
        (Input.TRANSMISSION, "transmission", 0.005),
        (Input.AIR, "air_c", 1.0),
    ):
        slope = moved(**{field: 1e-3 if field.endswith("_c") else 1e-5})
        assert terms.amounts_k[key] == pytest.approx(slope * half / np.sqrt(3), rel=1e-3, abs=1e-5)
    warmer, cooler = (surface_temperature(apparent + step, optics).value_c for step in (1e-3, -1e-3))
    camera = Assumptions().camera_u_k(apparent)
    assert terms.amounts_k[Input.CAMERA] == pytest.approx((warmer - cooler) / 2e-3 * camera, rel=1e-4)


def test_a_window_has_its_own_lines_and_makes_things_worse() -> None:
    behind = Optics(
        0.95,
        25.0,
        window=True,
        window_transmission=0.8,
        window_c=30.0,
        window_reflection=0.05,
        window_reflected_c=25.0,
    )
    budget = over_air(60.0, behind)
    plain = over_air(float(over_air(60.0, behind).value) + 25.0)
    assert budget.u > plain.u
    for key in (Input.WINDOW_TRANSMISSION, Input.WINDOW_TEMPERATURE, Input.WINDOW_REFLECTED):
        assert budget.contributions[key] > 0
        assert key not in plain.contributions
    assert plain.largest == Input.CAMERA


def test_a_camera_of_unknown_waveband_has_a_line_and_it_cancels_between_like_parts() -> None:
    unknown = Assumptions(band_known=False)
    assert over_air(60.0, Optics(0.6, 25.0), unknown).contributions[Input.BAND] == pytest.approx(
        1.95 * 0.4 / np.sqrt(3)
    )
    assert over_parts([60.0, 45.0], Optics(0.6, 25.0), unknown).contributions[Input.BAND] == pytest.approx(
        [0.0, 0.0]
    )
    assert Input.BAND not in over_air(60.0, Optics(0.6, 25.0)).contributions


def test_above_a_hundred_degrees_the_share_of_the_camera_takes_over() -> None:
    assert Assumptions().camera_u_k([60.0, 100.0, 200.0]) * np.sqrt(3) == pytest.approx([2.0, 2.0, 4.0])


@pytest.mark.parametrize(
    ("apparent", "optics", "reason"),
    [
        (NAN, Optics(0.95, 25.0), Refusal.NO_NUMBER),
        (60.0, Optics(NAN, 25.0), Refusal.NO_EMISSIVITY),
        (60.0, Optics(0.95, NAN), Refusal.NO_REFLECTED),
        (10.0, Optics(0.1, 25.0), Refusal.UNDEFINED),
        (60.0, Optics(1.0, NAN), Refusal.NO_UNCERTAINTY),
    ],
)
def test_what_the_model_refuses_has_no_budget_and_keeps_its_reason(
    apparent: float, optics: Optics, reason: Refusal
) -> None:
    budget = over_air(apparent, optics)
    assert budget.refusal == reason
    assert np.isnan(budget.value)
    assert np.isnan(budget.u)
    assert np.isnan(budget.share(Input.CAMERA))
    assert not needs_monte_carlo(budget)
    assert np.isnan(interval_95(budget).low)


def test_without_air_there_is_no_rise_over_air_and_still_one_over_like_parts() -> None:
    terms = over_air_terms(60.0, Optics(0.95, 25.0), ambient_c=NAN, assumptions=GIVEN)
    assert budget_of(terms).refusal == Refusal.NO_NUMBER
    assert (over_parts([60.0, 45.0]).refusal == 0).all()


def test_a_part_not_read_takes_nobody_else_along() -> None:
    budget = over_parts([[60.0, NAN, 45.0], [60.0, NAN, NAN]])
    assert budget.refusal.tolist() == [
        [Refusal.NONE, Refusal.NO_NUMBER, Refusal.NONE],
        [Refusal.NO_LIKE_PART, Refusal.NO_NUMBER, Refusal.NO_NUMBER],
    ]
    assert budget.u[0, [0, 2]] == pytest.approx([0.869, 0.869], abs=1e-3)


def test_parts_chosen_by_the_judge_are_the_ones_compared() -> None:
    """A cold part left out: the other two are a pair."""
    terms = surface_terms([30.0, 45.0, 60.0], Optics(0.95, 25.0), assumptions=GIVEN)
    warm = np.array([[True, True, True], [False, True, True], [False, True, True]])
    budget = over_like_parts(terms, assumptions=GIVEN, like=warm)
    expected = rise_over_like_parts(terms.value, like=warm)
    assert budget.value == pytest.approx(expected.value)
    assert budget.u[2] == pytest.approx(0.869, abs=1e-3)


def test_unequal_currents_part_the_view() -> None:
    terms = surface_terms([60.0, 45.0, 44.0], Optics(0.95, 25.0), assumptions=GIVEN)
    budget = over_like_parts(terms, assumptions=GIVEN, current_a=[100.0, 60.0, 62.0])
    assert budget.refusal.tolist() == [Refusal.NO_LIKE_PART, Refusal.NONE, Refusal.NONE]


def test_scaling_first_and_last_give_the_same_over_air() -> None:
    amps = np.linspace(40.0, 200.0, 33)
    terms = over_air_terms(60.0, Optics(0.95, 25.0), ambient_c=25.0, assumptions=GIVEN)
    first = budget_of(terms_at_common_load(terms, amps, common_load_a=100.0, assumptions=GIVEN))
    last = at_common_load(budget_of(terms), amps, common_load_a=100.0, assumptions=GIVEN)
    assert first.u == pytest.approx(last.u, rel=1e-12)
    relative = (budget_of(terms).u / budget_of(terms).value) ** 2
    relative = relative + (1.8 * 0.03) ** 2 / 3 + np.log(amps / 100.0) ** 2 * 0.2**2 / 3
    assert (last.u / last.value) ** 2 == pytest.approx(relative, rel=1e-9)


def test_less_load_never_makes_a_scaled_rise_surer() -> None:
    amps = np.linspace(40.0, 100.0, 61)
    found = at_common_load(over_air(60.0), amps, common_load_a=100.0, assumptions=GIVEN)
    assert (np.diff(found.u / found.value) < 0).all()


def test_scaling_is_refused_for_the_reasons_of_the_load() -> None:
    found = at_common_load(over_air([60.0] * 3), [30.0, NAN, 60.0], common_load_a=100.0, assumptions=GIVEN)
    assert found.refusal.tolist() == [Refusal.LOW_LOAD, Refusal.NO_CURRENT, Refusal.NONE]
    assert np.isnan(found.u[:2]).all()


def test_share_of_rated_rise_needs_current_rating_and_rated_rise() -> None:
    found = share_of_rated_rise(
        over_air([60.0] * 4),
        [60.0, 0.0, 60.0, 60.0],
        rated_current_a=[100.0, 100.0, NAN, 100.0],
        rated_rise_k=[50.0, 50.0, 50.0, 0.0],
        assumptions=GIVEN,
    )
    assert found.refusal.tolist() == [Refusal.NONE, Refusal.NO_CURRENT, Refusal.NO_CURRENT, Refusal.NO_NUMBER]


def baseline(now_c: float, before_c: list[float], **correlations: float) -> Budget:
    optics = Optics(0.95, 25.0)
    now = over_air_terms(now_c, optics, ambient_c=25.0, assumptions=GIVEN)
    return over_baseline(
        now, over_air_terms(before_c, optics, ambient_c=25.0, assumptions=GIVEN), **correlations
    )


def test_a_rise_over_the_own_baseline_is_taken_from_the_median_of_its_visits() -> None:
    found = baseline(60.0, [45.0, 44.0, 47.0])
    twin = over_parts([60.0, 45.0])
    assert found.value == pytest.approx(twin.value[0])
    assert squares(found) == pytest.approx(found.u**2)
    assert found.u > twin.u[0]


def test_the_same_instrument_and_more_visits_make_a_baseline_better() -> None:
    other, same = (baseline(60.0, [45.0, 44.0, 47.0], camera_correlation=r).u for r in (0.0, 0.5))
    assert same < other
    assert baseline(60.0, [45.0, 44.0, 47.0, 45.0, 45.0]).u < other


def test_fewer_than_three_visits_are_no_baseline() -> None:
    found = baseline(60.0, [45.0, NAN, 47.0])
    assert found.refusal == Refusal.TOO_FEW_VISITS
    assert np.isnan(found.u)


def test_an_exponent_shared_by_reading_and_baseline_partly_cancels() -> None:
    optics = Optics(0.95, 25.0)
    now = over_air_terms(60.0, optics, ambient_c=25.0, assumptions=GIVEN)
    before = over_air_terms([45.0, 44.0, 47.0], optics, ambient_c=25.0, assumptions=GIVEN)

    def scaled(terms: Terms) -> Terms:
        return terms_at_common_load(terms, 60.0, common_load_a=100.0, assumptions=GIVEN)

    alone = budget_of(scaled(now)).contributions[Input.EXPONENT]
    assert over_baseline(scaled(now), scaled(before)).contributions[Input.EXPONENT] < alone


def test_wide_or_dull_readings_ask_for_monte_carlo() -> None:
    dull = over_air([60.0, 60.0], Optics([0.95, 0.45], 25.0))
    assert needs_monte_carlo(dull).tolist() == [False, True]
    assert has(dull.caution, Caution.LOW_EMISSIVITY).tolist() == [False, True]
    small = over_air([27.0, 60.0])
    assert needs_monte_carlo(small).tolist() == [False, False]
    scaled = at_common_load(small, 60.0, common_load_a=100.0, assumptions=GIVEN)
    assert needs_monte_carlo(scaled).tolist() == [True, False]
    assert interval_95(scaled).refusal.tolist() == [Refusal.TOO_WIDE, Refusal.NONE]


def test_the_interval_of_a_scaled_rise_is_longer_upwards() -> None:
    scaled = at_common_load(over_air(60.0), 60.0, common_load_a=100.0, assumptions=GIVEN)
    found = interval_95(scaled)
    assert found.high - scaled.value > scaled.value - found.low > 0
    assert found.high * found.low == pytest.approx(scaled.value**2)


def test_a_rise_over_air_is_wide_only_above_its_first_line() -> None:
    budget = over_air([30.0, 26.5, 60.0])
    assert wide_over_air(budget, first_line_k=1.0).tolist() == [True, True, False]
    assert wide_over_air(budget, first_line_k=10.0).tolist() == [False, False, False]


def test_every_input_has_words_and_a_remedy() -> None:
    assert set(INPUT_WORDS) == set(INPUT_REMEDIES) == set(Input)
    assert all(INPUT_WORDS.values())


def test_assumptions_may_differ_from_reading_to_reading() -> None:
    many = Assumptions(emissivity_half_width=np.array([0.05, 0.02]), camera_half_width_k=np.array([2.0, 1.0]))
    found = over_air([60.0, 60.0], assumptions=many)
    one = [
        float(over_air(60.0, assumptions=Assumptions(emissivity_half_width=e, camera_half_width_k=c)).u)
        for e, c in ((0.05, 2.0), (0.02, 1.0))
    ]
    assert found.u == pytest.approx(one)


def test_the_band_of_the_instrument_is_the_one_asked_for() -> None:
    narrow = over_air_terms(60.0, Optics(0.6, 25.0), ambient_c=25.0, assumptions=GIVEN, band=BAND_7_5_13)
    assert budget_of(narrow).value == pytest.approx(
        surface_temperature(60.0, Optics(0.6, 25.0), band=BAND_7_5_13).value_c - 25.0
    )
