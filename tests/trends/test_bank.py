"""The shape bank: what it finds, what it must not find, and what may not touch it."""

import numpy as np
import pytest
from scipy import optimize, stats

from service.trends.bank import QUADRATIC, RAMP, STEP, surest_shape
from service.trends.joint import surest_of_three

YEARS = np.arange(16) / 4.0


def drawn(series: int, *, seed: int = 3) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    u = rng.uniform(0.6, 1.8, (series, len(YEARS)))
    return np.broadcast_to(YEARS, u.shape), 8 + rng.normal(size=u.shape) * u, u


@pytest.mark.parametrize(
    ("shape", "course"),
    [
        (STEP, lambda x: np.where(x > 0, 9.0, 0.0)),
        (RAMP, lambda x: 5.0 * np.maximum(x, 0)),
        (QUADRATIC, lambda x: 3.0 * np.maximum(x, 0) ** 2),
    ],
    ids=["step", "ramp", "quadratic"],
)
def test_each_shape_is_named_dated_and_sized(shape, course):
    x = YEARS - 1.5
    wobble = 0.2 * np.cos(np.arange(16) * 2.1)
    found = surest_shape(YEARS[None], (6 + course(x) + wobble)[None], np.full((1, 16), 0.3))
    assert (int(found.shape[0]), int(found.onset[0])) == (shape, 6)
    assert found.rise_k[0] == pytest.approx(course(x)[-1], rel=0.05)
    assert found.level_k[0] == pytest.approx(6, abs=0.2)


def test_a_fall_is_no_rise():
    found = surest_shape(YEARS[None], (20 - 3 * YEARS)[None], np.ones((1, 16)))
    assert found.z[0] < 0


def test_one_wild_reading_in_the_middle_is_no_change():
    years, rise_k, u = drawn(1)
    wild = rise_k.copy()
    wild[0, 8] += 15
    assert surest_shape(years, wild, u).z[0] < 3


def test_sureness_is_what_students_t_says_of_the_change():
    """Against scipy: the densities of t with four degrees of freedom about the step, and about the best level."""
    u = np.full(14, 0.7)
    rises = np.where(np.arange(14) < 9, 8.0, 12.0) + 0.5 * np.cos(np.arange(14) * 2.3)
    rises[4] += 6
    found = surest_shape(YEARS[None, :14], rises[None], u[None], passes=60)
    assert (int(found.shape[0]), int(found.onset[0])) == (STEP, 8)

    def unlikely(course: np.ndarray) -> float:
        return -float(stats.t.logpdf((rises - course) / u, 4).sum())

    stepped = np.arange(14) > 8
    step = optimize.minimize(
        lambda p: unlikely(p[0] + p[1] * stepped), (8, 4), method="Nelder-Mead", tol=1e-9
    )
    flat = min(
        optimize.minimize_scalar(
            lambda level: unlikely(np.full(14, level)), bounds=ends, method="bounded"
        ).fun
        for ends in ((7.0, 9.0), (9.0, 12.5))
    )
    assert found.sureness[0] == pytest.approx(np.sqrt(2 * (flat - step.fun)), rel=1e-3)


def test_of_two_changes_with_one_z_that_of_a_lone_reading_is_less_sure():
    quiet = 8 + 0.3 * np.cos(np.arange(16) * 2.1)
    lone, held = quiet.copy(), quiet.copy()
    lone[-1] += 6.2
    held[-4:] += 3.4
    found = surest_shape(YEARS[None].repeat(2, axis=0), np.stack((lone, held)), np.ones((2, 16)))
    assert found.z[0] > found.z[1] > 5
    assert found.sureness[0] < found.sureness[1]
    further = quiet.copy()
    further[-1] += 60
    assert surest_shape(YEARS[None], further[None], np.ones((1, 16))).sureness[0] < 7


def test_a_fall_is_surely_no_rise():
    falls = surest_shape(YEARS[None], (20 - 3 * YEARS)[None], np.ones((1, 16)))
    assert falls.sureness[0] <= 0


def test_a_real_step_is_not_taken_for_outliers():
    years, rise_k, u = drawn(50)
    stepped = rise_k + np.where(YEARS > 2.4, 8.0, 0.0)
    assert np.median(surest_shape(years, stepped, u).z) > 8


def test_the_scores_of_a_fleet_do_not_depend_on_its_order_or_its_parts():
    years, rise_k, u = drawn(3000)
    whole = surest_shape(years, rise_k, u)
    back = surest_shape(years[::-1], rise_k[::-1], u[::-1])
    part = surest_shape(years[1000:1700], rise_k[1000:1700], u[1000:1700])
    np.testing.assert_array_equal(whole.z, back.z[::-1])
    np.testing.assert_array_equal(whole.onset[1000:1700], part.onset)
    np.testing.assert_allclose(whole.z[1000:1700], part.z, rtol=1e-12)


def test_another_origin_of_time_and_of_rise_changes_nothing():
    years, rise_k, u = drawn(200)
    here, there = surest_shape(years, rise_k, u), surest_shape(years + 2026.9, rise_k + 40, u)
    np.testing.assert_allclose(here.z, there.z, atol=1e-8)
    np.testing.assert_array_equal(here.onset, there.onset)


def test_another_unit_changes_no_score():
    years, rise_k, u = drawn(200)
    fahrenheit = surest_shape(years, rise_k * 1.8, u * 1.8)
    np.testing.assert_allclose(surest_shape(years, rise_k, u).z, fahrenheit.z, rtol=1e-9)


def test_a_missing_figure_in_one_series_touches_no_other():
    years, rise_k, u = drawn(40)
    spoiled = rise_k.copy()
    spoiled[7, 3] = np.nan
    with np.errstate(invalid="ignore"):
        found = surest_shape(years, spoiled, u)
    kept = np.arange(40) != 7
    np.testing.assert_array_equal(found.z[kept], surest_shape(years, rise_k, u).z[kept])


def test_two_readings_of_one_date_have_no_onset_between_them():
    years = np.array([[0.0, 1, 2, 2, 3]])
    found = surest_shape(years, np.array([[1.0, 1, 1, 9, 9]]), np.ones((1, 5)))
    assert int(found.onset[0]) != 2


@pytest.mark.parametrize("visits", [0, 1])
def test_without_two_visits_there_is_no_score(visits):
    empty = np.ones((3, visits))
    assert np.isnan(surest_shape(empty, empty, empty).z).all()


# ---- three like parts -----------------------------------------------------------------------------


def view(seed: int = 5) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    return YEARS[None], rng.normal(0, 0.5, (1, 3, 16)), np.full((1, 16), 0.5)


def test_the_part_that_leaves_the_other_two_is_named():
    years, rise_k, u = view()
    rise_k[0, 2] += 4 * np.maximum(YEARS - 1.5, 0)
    scores = [float(part.z[0]) for part in surest_of_three(years, rise_k, u)]
    assert scores[2] > 8
    assert max(scores[:2]) < 4


def test_what_all_three_share_is_nothing():
    years, rise_k, u = view()
    shared = rise_k + 10 * np.sin(np.arange(16))
    for alone, together in zip(
        surest_of_three(years, rise_k, u), surest_of_three(years, shared, u), strict=True
    ):
        np.testing.assert_allclose(alone.z, together.z, atol=1e-7)


def test_a_slip_of_one_part_is_not_laid_at_anothers_door():
    """Half of it would show on the other two: the weights know that those two disagree."""
    years, rise_k, u = view()
    rise_k[0, 0, -1] -= 12
    assert max(float(part.z[0]) for part in surest_of_three(years, rise_k, u)[1:]) < 4
