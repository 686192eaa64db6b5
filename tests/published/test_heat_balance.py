"""Where the exponent of load comes from: the heat balance of a bar with the correlations of ht."""

import itertools

import numpy as np
import pytest
from ht.conv_free_immersed import Nu_horizontal_cylinder_Churchill_Chu, Nu_vertical_plate_Churchill
from scipy.constants import g as gravity
from scipy.optimize import brentq

from service.physics.load import EXPONENT_HIGH, EXPONENT_IEC_61439, EXPONENT_LOW, to_common_load
from service.physics.radiance import SIGMA
from tests.published.evidence import BY_HAND, LIBRARY, MEMORY, PUBLISHED, evidence, named

AIR_C = 25.0
HEAT_BALANCE = "Heat balance with ht: Churchill plate, Churchill-Chu cylinder"
#: from and to [K]; least and largest n with constant resistance; the same for copper
SPANS = [
    (5, 10, (1.60, 1.78), (1.64, 1.82)),
    (10, 30, (1.59, 1.73), (1.68, 1.83)),
    (20, 50, (1.59, 1.68), (1.74, 1.85)),
    (50, 70, (1.57, 1.65), (1.84, 1.94)),
    (10, 60, (1.59, 1.70), (1.72, 1.85)),
]


def air_at(kelvin: float) -> tuple[float, float]:
    """Conductivity [W/mK] and kinematic viscosity [m²/s] of air by power laws from 300 K."""
    return 0.0263 * (kelvin / 300.0) ** 0.82, 15.89e-6 * (kelvin / 300.0) ** 1.76


@evidence("Incropera, table A.4", "air at 350 K within 1 %", MEMORY)
def test_power_laws_of_the_air() -> None:
    assert air_at(350.0) == pytest.approx((0.0300, 20.92e-6), rel=0.01)


def heat_flow(rise_k: float, length_m: float, emissivity: float, *, upright: bool) -> float:
    """Heat leaving a bar in free air [W/m²]."""
    air_k = AIR_C + 273.15
    film_k = air_k + rise_k / 2
    conductivity, viscosity = air_at(film_k)
    grashof = gravity / film_k * rise_k * length_m**3 / viscosity**2
    nusselt = (Nu_vertical_plate_Churchill if upright else Nu_horizontal_cylinder_Churchill_Chu)(
        0.707, grashof
    )
    radiated = emissivity * SIGMA * ((air_k + rise_k) ** 4 - air_k**4)
    return float(nusselt * conductivity / length_m * rise_k + radiated)


def exponents(low_k: float, high_k: float, *, copper: bool) -> np.ndarray:
    """n of ΔT ∝ Iⁿ between two rises for 24 bars: 4 sizes, 3 emissivities, plate and cylinder."""
    bars = itertools.product((0.02, 0.05, 0.1, 0.3), (0.1, 0.4, 0.9), (True, False))
    return np.array([exponent_of(bar, low_k, high_k, copper=copper) for bar in bars])


Bar = tuple[float, float, bool]


def exponent_of(bar: Bar, low_k: float, high_k: float, *, copper: bool) -> float:
    """n of ΔT ∝ Iⁿ between two rises for a bar of a length [m], an emissivity, upright or not."""
    ratio = square_of_current(bar, high_k, copper=copper) / square_of_current(bar, low_k, copper=copper)
    return float(2 * np.log(high_k / low_k) / np.log(ratio))


def square_of_current(bar: Bar, rise_k: float, *, copper: bool) -> float:
    length_m, emissivity, upright = bar
    resistance = 1 + 0.00393 * (AIR_C + rise_k - 20) if copper else 1.0
    return heat_flow(rise_k, length_m, emissivity, upright=upright) / resistance


@pytest.mark.parametrize(
    ("low_k", "high_k", "constant", "copper"),
    SPANS,
    ids=[f"{HEAT_BALANCE}, {a}→{b} K [{LIBRARY}]" for a, b, *_ in SPANS],
)
def test_exponent_of_a_bar_in_free_air(
    low_k: float, high_k: float, constant: tuple[float, float], copper: tuple[float, float]
) -> None:
    for is_copper, expected in ((False, constant), (True, copper)):
        found = exponents(low_k, high_k, copper=is_copper)
        assert (found.min(), found.max()) == pytest.approx(expected, abs=0.008)


@evidence(HEAT_BALANCE, "240 cells", LIBRARY)
def test_the_shipped_exponents_hold_nine_of_ten_bars() -> None:
    """1.571…1.943; the 21 outside have constant resistance and lie below 1.6."""
    cells = {
        copper: np.concatenate([exponents(a, b, copper=copper) for a, b, *_ in SPANS]) for copper in (0, 1)
    }
    everything = np.concatenate(list(cells.values()))
    assert everything.size == 240
    assert (everything.min(), everything.max()) == pytest.approx((1.571, 1.943), abs=0.005)
    inside = (everything >= EXPONENT_LOW) & (everything <= EXPONENT_HIGH)
    assert inside.sum() == 219
    assert (everything[~inside] < EXPONENT_LOW).all()
    assert ((cells[1] >= EXPONENT_LOW) & (cells[1] <= EXPONENT_HIGH)).all()


@evidence(HEAT_BALANCE, "10→60 K: 46 of 48 inside, means 1.652 and 1.792", LIBRARY)
def test_exponents_of_the_widest_span() -> None:
    spans = [exponents(10, 60, copper=c) for c in (False, True)]
    both = np.concatenate(spans)
    assert ((both >= EXPONENT_LOW) & (both <= EXPONENT_HIGH)).sum() == 46
    assert [span.mean() for span in spans] == pytest.approx([1.652, 1.792], abs=0.002)


# from and to K, least and most that copper adds to n, tolerance; source, clause, kind
COPPER_ADDS = [
    (10, 60, 0.13, 0.15, 5e-3, HEAT_BALANCE, "copper adds .13–.15 over 10→60 K", LIBRARY),
    (50, 70, 0.27, 0.30, 5e-3, HEAT_BALANCE, "copper adds .27–.30 over 50→70 K", LIBRARY),
]


@pytest.mark.parametrize(("low_k", "high_k", "least", "most", "tolerance"), named(COPPER_ADDS))
def test_resistance_that_rises_with_heat_adds_to_the_exponent(
    low_k: float, high_k: float, least: float, most: float, tolerance: float
) -> None:
    adds = exponents(low_k, high_k, copper=True) - exponents(low_k, high_k, copper=False)
    assert (adds.min(), adds.max()) == pytest.approx((least, most), abs=tolerance)


@evidence(HEAT_BALANCE, "100 mm plate at 100 K: 1.48–1.61, copper 1.87–2.07", LIBRARY)
def test_exponent_near_100_kelvin() -> None:
    """Copper adds .38–.46: 1/n falls by α·ΔT/2/(1 + α·(T − 20 °C)) [worked by hand]."""
    constant, copper = (
        np.array([exponent_of((0.1, e, True), 99.0, 101.0, copper=c) for e in (0.1, 0.4, 0.9)])
        for c in (False, True)
    )
    assert (constant.min(), constant.max()) == pytest.approx((1.48, 1.61), abs=5e-3)
    assert (copper.min(), copper.max()) == pytest.approx((1.865, 2.07), abs=5e-3)
    less = 0.00393 * 100.0 / 2 / (1 + 0.00393 * (AIR_C + 100.0 - 20.0))
    assert copper == pytest.approx(1 / (1 / constant - less), abs=1e-3)
    assert constant.min() < EXPONENT_IEC_61439 < copper.max()


BUSBAR = "Copper Development Association, P = 7.66·θ^1.25/H^0.25"


@evidence(BUSBAR, "h = 6.44 W/m²K at 100 mm, 50 K, Churchill 6.37", PUBLISHED)
def test_busbar_rule_and_churchill_plate_give_the_same_heat() -> None:
    rule = 7.66 * 50.0**0.25 / 100.0**0.25
    assert rule == pytest.approx(6.44, abs=5e-3)
    assert heat_flow(50.0, 0.1, 0.0, upright=True) / 50.0 == pytest.approx(6.37, abs=0.01)


@evidence(BUSBAR, "n of a 100 mm plate over 10→60 K within .005", PUBLISHED)
@pytest.mark.parametrize("copper", [False, True], ids=["constant", "copper"])
@pytest.mark.parametrize("emissivity", [0.1, 0.4, 0.9])
def test_busbar_rule_gives_the_same_exponent(emissivity: float, copper: bool) -> None:
    def square(rise_k: float) -> float:
        hot_k, air_k = AIR_C + 273.15 + rise_k, AIR_C + 273.15
        lost = 7.66 * rise_k**1.25 / 100.0**0.25 + 5.7e-8 * emissivity * (hot_k**4 - air_k**4)
        return lost / (1 + 0.00393 * (AIR_C + rise_k - 20) if copper else 1.0)

    by_rule = 2 * np.log(60.0 / 10.0) / np.log(square(60.0) / square(10.0))
    assert by_rule == pytest.approx(exponent_of((0.1, emissivity, True), 10, 60, copper=copper), abs=5e-3)


# load, least and greatest error K of a true 40 K; source, clause, kind
TRUE_40_K = [
    (0.4, -0.9, 6.6, HEAT_BALANCE, "50 mm plate, 40 K seen at 40 %", LIBRARY),
    (0.5, -0.7, 5.0, HEAT_BALANCE, "50 mm plate, 40 K seen at 50 %", LIBRARY),
    (0.6, -0.6, 3.7, HEAT_BALANCE, "50 mm plate, 40 K seen at 60 %", LIBRARY),
    (0.8, -0.3, 1.6, HEAT_BALANCE, "50 mm plate, 40 K seen at 80 %", LIBRARY),
]


@pytest.mark.parametrize(("load", "least", "most"), named(TRUE_40_K))
def test_default_exponent_errs_on_the_alarming_side(load: float, least: float, most: float) -> None:
    """Six bars: ε .1, .4, .9, constant resistance and copper; the truth lies in every drawn band."""
    errors = []
    for emissivity, copper in itertools.product((0.1, 0.4, 0.9), (False, True)):
        bar = (0.05, emissivity, True)
        goal = load**2 * square_of_current(bar, 40.0, copper=copper)
        seen = brentq(lambda k: square_of_current(bar, k, copper=copper) - goal, 0.1, 40.0)  # noqa: B023
        found = to_common_load(seen, load, common_load_a=1.0)
        errors.append(float(found.rise_k) - 40.0)
        assert found.low_k <= 40.0 <= found.high_k
    assert (min(errors), max(errors)) == pytest.approx((least, most), abs=0.05)


@pytest.mark.parametrize("load", [0.4, 0.5, 0.6, 0.8])
@evidence(HEAT_BALANCE, "true 40 K", LIBRARY)
def test_the_top_of_the_drawn_band_never_lies_below_the_true_rise(load: float) -> None:
    """True 40 K at full load, seen at part load, brought back: the same heat balance.

    The low end lies up to 1 % above the truth for small radiating bars: the alarming side.
    """
    for copper, (length, emissivity, upright) in itertools.product(
        (False, True), itertools.product((0.02, 0.1, 0.3), (0.1, 0.9), (True, False))
    ):
        bar = (length, emissivity, upright)
        rises = np.linspace(0.5, 40.0, 400)
        currents = np.sqrt([square_of_current(bar, rise, copper=copper) for rise in rises])
        seen = np.interp(load * currents[-1], currents, rises)
        found = to_common_load(seen, load, common_load_a=1.0)
        assert found.high_k >= 40.0
        assert found.low_k <= 40.0 * 1.01


@evidence("Heat balance, h = 20 W/m²K", "1.97 and 2.18", BY_HAND)
def test_a_fan_takes_the_exponent_out_of_the_band() -> None:
    """1.97 with constant resistance, 2.18 with copper."""
    low_k, high_k = 10.0, 60.0

    def exponent(*, copper: bool) -> float:
        squares = []
        for rise in (low_k, high_k):
            hot = AIR_C + 273.15 + rise
            radiated = 0.4 * SIGMA * (hot**4 - (AIR_C + 273.15) ** 4)
            squares.append((20 * rise + radiated) / (1 + 0.00393 * (AIR_C + rise - 20) if copper else 1.0))
        return float(2 * np.log(high_k / low_k) / np.log(squares[1] / squares[0]))

    assert exponent(copper=False) == pytest.approx(1.97, abs=0.01)
    assert exponent(copper=True) == pytest.approx(2.18, abs=0.02)
    assert exponent(copper=True) > EXPONENT_HIGH
