"""CUSUM and EWMA against worked examples of a handbook and the tabled average run lengths.

The series and figures of the handbook and the run lengths are from memory: whoever quotes them
as published opens the source once. An average run length says after how many values a chart
signals; here by an integral equation (of this file, a referee of the tables), and the charts of
the service are held to it by simulation.
"""

import numpy as np
import pytest
from scipy.stats import norm

from service.trends.control_charts import cusum, ewma, ewma_half_width, off_baseline
from tests.published.evidence import BY_HAND, MEMORY, evidence, named

CUSUM_PAGE = "NIST/SEMATECH e-Handbook 6.3.2.3, CUSUM"
EWMA_PAGE = "NIST/SEMATECH e-Handbook 6.3.2.4, EWMA"
MONTGOMERY = "Montgomery, Introduction to Statistical Quality Control, CUSUM with k = 0.5"
LUCAS = "Lucas and Saccucci (1990), EWMA"

# ---- the handbook ------------------------------------------------------------------------------------

TARGET, SLACK, LINE = 325.0, 0.3175, 4.1959
MEANS = np.array(
    [
        324.93, 324.68, 324.73, 324.35, 325.35, 325.23, 324.13, 324.53, 325.23, 324.60,
        324.63, 325.15, 328.33, 327.25, 327.83, 328.50, 326.68, 327.78, 326.88, 328.35,
    ]
)  # fmt: skip
SUMS = named(
    [
        (group, above, CUSUM_PAGE, f"upper sum at group {group}", MEMORY)
        for group, above in ((1, 0.0), (5, 0.0325), (12, 0.0), (13, 3.0125), (14, 4.945))
    ]
)


@pytest.mark.parametrize(("group", "above"), SUMS)
def test_the_sum_of_what_lies_above(group, above):
    assert cusum(MEANS, target=TARGET, slack=SLACK)[0][group - 1] == pytest.approx(above, abs=1e-9)


@evidence(CUSUM_PAGE, "upper sum at group 20, two decimals", MEMORY)
def test_the_last_sum_of_what_lies_above():
    assert cusum(MEANS, target=TARGET, slack=SLACK)[0][-1] == pytest.approx(19.06, abs=5e-3)


@evidence(CUSUM_PAGE, "first signal at group 14, h = 4.1959", MEMORY)
def test_the_first_signal_comes_at_group_fourteen():
    above, below = cusum(MEANS, target=TARGET, slack=SLACK)
    assert int(np.argmax(above > LINE)) + 1 == 14
    assert not (below > LINE).any()


VALUES = np.array(
    [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
        49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
    ]
)  # fmt: skip
AVERAGES = (
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
)  # fmt: skip
MEANS_THAT_FORGET = named(
    [(k, value, EWMA_PAGE, f"average {k + 1} of 20, share 0.3", MEMORY) for k, value in enumerate(AVERAGES)]
)


@pytest.mark.parametrize(("place", "average"), MEANS_THAT_FORGET)
def test_the_mean_that_forgets(place, average):
    assert ewma(VALUES, target=50.0, share=0.3)[place] == pytest.approx(average, abs=5.1e-3)


@evidence(EWMA_PAGE, "limits 52.5884 and 47.4115, s = 2.0539", MEMORY)
def test_the_limits_of_the_mean_that_forgets():
    """The handbook cuts the lower one after its fourth decimal; it is 47.41157."""
    half = 2.0539 * ewma_half_width(0.3, 3.0)
    assert 50 + half == pytest.approx(52.5884, abs=5e-5)
    assert 50 - half == pytest.approx(47.4115, abs=1e-4)


# ---- run lengths -------------------------------------------------------------------------------------

NODES = 80


def cusum_run(line, shift, slack=0.5):
    """Average run length of the upper sum from 0, values N(shift, 1), by quadrature."""
    x, w = np.polynomial.legendre.leggauss(NODES)
    x, w = (x + 1) * line / 2, w * line / 2
    starts = np.concatenate(([0.0], x))
    # back to 0 with the first column, on to x with the others
    matrix = np.column_stack(
        [norm.cdf(slack - shift - starts), w * norm.pdf(x[None] + slack - shift - starts[:, None])]
    )
    return float(np.linalg.solve(np.eye(NODES + 1) - matrix, np.ones(NODES + 1))[0])


def two_sided(line, shift):
    return 1 / (1 / cusum_run(line, shift) + 1 / cusum_run(line, -shift))


def ewma_run(width, share, shift):
    """Average run length of the EWMA from its target, within its limits after many values."""
    half = width * np.sqrt(share / (2 - share))
    x, w = np.polynomial.legendre.leggauss(NODES + 1)
    x, w = x * half, w * half
    matrix = w * norm.pdf((x[None] - (1 - share) * x[:, None]) / share - shift) / share
    return float(np.linalg.solve(np.eye(NODES + 1) - matrix, np.ones(NODES + 1))[NODES // 2])


SHIFTS = (0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4)
RUNS = {
    4: (168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71),
    5: (465, 139, 38.0, 17.0, 10.4, 5.75, 4.01, 3.11, 2.57, 2.01),
}
CUSUM_RUNS = named(
    [
        (line, shift, run, MONTGOMERY, f"two-sided, h = {line}, shift {shift}", MEMORY)
        for line, runs in RUNS.items()
        for shift, run in zip(SHIFTS, runs, strict=True)
    ]
)


def last_digit(printed):
    """One unit of the last digit printed, three figures: tables round here and cut there."""
    return 10.0 ** (np.floor(np.log10(printed)) - 2)


@pytest.mark.parametrize(("line", "shift", "run"), CUSUM_RUNS)
def test_run_lengths_of_a_cusum_are_the_tabled_ones(line, shift, run):
    assert two_sided(line, shift) == pytest.approx(run, abs=last_digit(run))


MORE_DIGITS = named(
    [
        (two_sided, (4, 0), 167.68, "integral equation", "CUSUM two-sided, h = 4", BY_HAND),
        (two_sided, (4, 0.25), 74.22, "integral equation", "CUSUM two-sided, h = 4, shift 0.25", BY_HAND),
        (two_sided, (4, 0.5), 26.63, "integral equation", "CUSUM two-sided, h = 4, shift 0.5", BY_HAND),
        (two_sided, (4, 0.75), 13.29, "integral equation", "CUSUM two-sided, h = 4, shift 0.75", BY_HAND),
        (two_sided, (4, 1), 8.38, "integral equation", "CUSUM two-sided, h = 4, shift 1", BY_HAND),
        (two_sided, (5, 0), 465.44, "integral equation", "CUSUM two-sided, h = 5", BY_HAND),
        (two_sided, (5, 0.25), 139.49, "integral equation", "CUSUM two-sided, h = 5, shift 0.25", BY_HAND),
        (two_sided, (5, 0.5), 38.00, "integral equation", "CUSUM two-sided, h = 5, shift 0.5", BY_HAND),
        (two_sided, (5, 0.75), 17.05, "integral equation", "CUSUM two-sided, h = 5, shift 0.75", BY_HAND),
        (two_sided, (5, 1), 10.38, "integral equation", "CUSUM two-sided, h = 5, shift 1", BY_HAND),
        (cusum_run, (4, 0), 335.37, "integral equation", "CUSUM one-sided, h = 4", BY_HAND),
        (cusum_run, (5, 0), 930.89, "integral equation", "CUSUM one-sided, h = 5", BY_HAND),
    ]
)


@pytest.mark.parametrize(("of", "chart", "run"), MORE_DIGITS)
def test_run_lengths_with_more_digits(of, chart, run):
    assert of(*chart) == pytest.approx(run, abs=5.1e-3)


EWMA_CHARTS = ((3.054, 0.4), (2.998, 0.25), (2.962, 0.2), (2.814, 0.1), (2.615, 0.05))
EWMA_RUNS = named(
    [
        (width, share, shift, run, within, LUCAS, f"L = {width}, share {share}, shift {shift}", MEMORY)
        for (width, share), at_one in zip(EWMA_CHARTS, (14.3, 11.1, 10.5, 10.3, 11.4), strict=True)
        for shift, run, within in ((0, 500, 0.5), (1, at_one, 0.051))
    ]
)
EWMA_DIGITS = named(
    [
        (
            width,
            share,
            shift,
            run,
            5.1e-3,
            "integral equation",
            f"EWMA, share {share}, shift {shift}",
            BY_HAND,
        )
        for (width, share), runs in zip(
            EWMA_CHARTS,
            ((499.95, 14.26), (499.84, 11.14), (499.74, 10.54), (499.58, 10.33), (499.93, 11.38)),
            strict=True,
        )
        for shift, run in enumerate(runs)
    ]
)


@pytest.mark.parametrize(("width", "share", "shift", "run", "within"), EWMA_RUNS + EWMA_DIGITS)
def test_run_lengths_of_an_ewma(width, share, shift, run, within):
    assert ewma_run(width, share, shift) == pytest.approx(run, abs=within)


SIMULATED = named(
    [
        (chart, shift, "run length by simulation", f"{chart}, shift {shift}", BY_HAND)
        for chart in ("CUSUM h = 4", "CUSUM h = 5", "EWMA share 0.2")
        for shift in (0.5, 1, 2)
    ]
)


@pytest.mark.parametrize(("chart", "shift"), SIMULATED)
def test_the_charts_of_the_service_run_as_long_as_the_equation_says(chart, shift):
    """Within four standard errors of 2,000 runs."""
    x = np.random.default_rng(17).normal(shift, 1, (2000, 600))
    if chart.startswith("CUSUM"):
        line = float(chart[-1])
        above, below = cusum(x, target=0.0, slack=0.5)
        over, expected = (above > line) | (below > line), two_sided(line, shift)
    else:
        over = np.abs(ewma(x, target=0.0, share=0.2)) > ewma_half_width(0.2, 2.962)
        expected = ewma_run(2.962, 0.2, shift)
    assert over.any(axis=1).all()
    runs = over.argmax(axis=1) + 1
    assert abs(runs.mean() - expected) < 4 * runs.std() / np.sqrt(len(runs))


@evidence("sums written out", "the recursion of Page (1954)", BY_HAND)
def test_whole_sums_less_their_lowest_are_the_recursion():
    x = np.random.default_rng(3).normal(0.2, 1, 60)
    above = below = 0.0
    for k, (up, down) in enumerate(zip(*cusum(x, target=0.1, slack=0.4), strict=True)):
        above, below = max(0.0, above + x[k] - 0.5), max(0.0, below - x[k] - 0.3)
        assert (up, down) == (pytest.approx(above, abs=1e-12), pytest.approx(below, abs=1e-12))


@evidence("variance of a median", "baseline of four visits, pi / 8 of u squared", BY_HAND)
def test_a_baseline_carries_its_own_uncertainty():
    _, off = off_baseline(np.array([1.0, 1, 1, 1, 3]), np.full(5, 1.5))
    assert off[0] == pytest.approx(2 / (1.5 * np.sqrt(1 + np.pi / 8)), rel=1e-12)
