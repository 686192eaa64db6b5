"""Black-body radiance against handbook tables, quadrature and reference libraries."""

import mpmath
import numpy as np
import pytest
from ht.radiation import blackbody_spectral_radiance, q_rad
from scipy import constants, optimize

from service.physics.radiance import (
    BAND_7_5_13,
    BAND_8_14,
    C1L,
    C2,
    SIGMA,
    ZERO_C,
    Band,
    band_radiance,
    exact_band_radiance,
    fraction_below,
    radiance_slope,
    spectral_radiance,
    temperature_of,
)
from tests.published.evidence import BY_HAND, GUARD, LIBRARY, MEMORY, PUBLISHED, evidence, named

KUTZ = "Kutz (ed.), Mechanical Engineers' Handbook, vol. 4"
SI = "CODATA / SI Brochure 2019"

# value, expected, relative tolerance, source, clause, kind
CONSTANTS = [
    (C1L, 1.1910429724e-16, 5e-11, SI, "first radiation constant for radiance 2hc²", PUBLISHED),
    (C2, 0.01438776877504, 5e-14, SI, "second radiation constant hc/k", PUBLISHED),
    (SIGMA, 5.670374419e-8, 1e-10, SI, "Stefan-Boltzmann constant", PUBLISHED),
    (SIGMA, constants.Stefan_Boltzmann, 1e-10, "scipy.constants", "Stefan_Boltzmann", LIBRARY),
]


@pytest.mark.parametrize(("value", "expected", "within"), named(CONSTANTS))
def test_radiation_constant(value: float, expected: float, within: float) -> None:
    assert value == pytest.approx(expected, rel=within)


@evidence(SI, "Wien b", PUBLISHED)
def test_wien_displacement_is_where_the_spectrum_peaks() -> None:
    """b = 2.897771955e-3 m·K, x = 4.965114232; our spectrum peaks there."""
    x = optimize.brentq(lambda x: x - 5 * (1 - np.exp(-x)), 4, 6, xtol=1e-14)
    assert x == pytest.approx(4.965114232, abs=5e-10)
    assert C2 / x == pytest.approx(2.897771955e-3, abs=5e-13)
    peak = optimize.minimize_scalar(
        lambda um: -float(spectral_radiance(um, 26.85)), bounds=(5.0, 15.0), options={"xatol": 1e-9}
    )
    assert peak.x == pytest.approx(2897.771955 / 300.0, abs=1e-5)


#: λT [µm·K] and F(0→λT) as printed
KUTZ_TABLE_16 = """
400 .1864e-11  500 .1298e-8   600 .9290e-7   700 .1838e-5   800 .1643e-4   900 .8701e-4
1000 .3207e-3  1100 .9111e-3  1200 .2134e-2  1300 .4316e-2  1400 .7789e-2  1500 .1285e-1
1600 .1972e-1  1700 .2853e-1  1800 .3934e-1  1900 .5210e-1  2000 .6673e-1  2100 .8305e-1
2200 .1009     2300 .1200     2400 .1402     2500 .1613     2600 .1831     2700 .2053
2800 .2279     2900 .2505     3000 .2732     3100 .2958     3200 .3181     3300 .3401
3400 .3617     3500 .3829     3600 .4036     3700 .4238     3800 .4434     3900 .4624
4000 .4809     4100 .4987     4200 .5160     4300 .5327     4400 .5488     4500 .5643
4600 .5793     4700 .5937     4800 .6075     4900 .6209     5000 .6337     5100 .6461
5200 .6579     5300 .6694     5400 .6803     5500 .6909     5600 .7010     5700 .7108
5800 .7201     5900 .7291     6000 .7378     6100 .7461     6200 .7541     6300 .7618
6400 .7692     6500 .7763     6600 .7832     6800 .7961     7000 .8081     7200 .8192
7400 .8295     7600 .8391     7800 .8480     8000 .8562     8200 .8640     8400 .8712
8600 .8779     8800 .8841     9000 .8900     10000 .9142    11000 .9318    12000 .9451
13000 .9551    14000 .9628    15000 .9689    20000 .9856    25000 .9922    30000 .9953
35000 .9970    40000 .9979    45000 .9985    50000 .9989    55000 .9992    60000 .9994
"""
CELLS = [float(cell) for cell in KUTZ_TABLE_16.split()]

# λT, F, tolerance, source, clause, kind
FRACTIONS = [
    *(
        (
            product,
            share,
            min(7e-5, 6e-4 * share) if product < 2200 else 7e-5,
            KUTZ,
            f"Table 16 at {product:g} µm·K",
            PUBLISHED,
        )
        for product, share in zip(CELLS[::2], CELLS[1::2], strict=True)
    ),
    (
        2000.0,
        0.0667,
        7e-5,
        "Kreith, Principles of Heat Transfer, 7th ed.",
        "Table 9.1 at 2000 µm·K",
        PUBLISHED,
    ),
    (
        4000.0,
        0.4809,
        7e-5,
        "Kreith, Principles of Heat Transfer, 7th ed.",
        "Table 9.1 at 4000 µm·K",
        PUBLISHED,
    ),
    (10000.0, 0.9142, 7e-5, "Brewster, Thermal Radiative Transfer", "table of F at 10000 µm·K", PUBLISHED),
    (2898.0, 0.25011, 1e-5, "definition", "a quarter lies below the peak, 2898 µm·K", BY_HAND),
    (2897.771955, 0.25005, 1e-5, "definition", "the same at Wien's b", BY_HAND),
    (4107.0, 0.49996, 1e-5, "definition", "half lies below 4107 µm·K", MEMORY),
]


@pytest.mark.parametrize(("product", "share", "within"), named(FRACTIONS))
def test_share_of_radiation_below_a_wavelength(product: float, share: float, within: float) -> None:
    assert float(fraction_below(product)) == pytest.approx(share, abs=within)


@evidence(KUTZ, "Table 16", GUARD)
def test_the_handbook_table_was_typed_whole() -> None:
    assert len(CELLS) == 2 * 90
    assert np.all(np.diff(CELLS[::2]) > 0)
    assert np.all(np.diff(CELLS[1::2]) > 0)


@evidence(SI, "σT⁴ of 400 K is 1451.6158 W/m²", PUBLISHED)
def test_all_radiation_of_400_k() -> None:
    assert pytest.approx(1451.6158, abs=1e-4) == SIGMA * 400.0**4


@evidence("ht", "q_rad of 400 K is 1451.6140 W/m²", LIBRARY)
def test_all_radiation_of_400_k_against_ht() -> None:
    """Its σ 5.670367e-8 is the older one."""
    assert q_rad(1.0, 400.0) == pytest.approx(1451.6140, abs=1e-4)
    assert q_rad(1.0, 400.0) == pytest.approx(SIGMA * 400.0**4, rel=2e-6)


@evidence(KUTZ, "all 90 cells of Table 16: at most 6.1e-5 off, at 2900 µm·K", PUBLISHED)
def test_the_handbook_table_differs_most_at_2900() -> None:
    product, share = np.array(CELLS[::2]), np.array(CELLS[1::2])
    off = np.abs(fraction_below(product) - share)
    assert off.max() == pytest.approx(6.1e-5, abs=1e-6)
    assert product[off.argmax()] == 2900.0
    assert float(fraction_below(2900.0)) == pytest.approx(0.25056, abs=5e-6)
    assert (off / share)[product < 2200].max() <= 5.5e-4


KELVIN = (273.15, 293.15, 298.15, 323.15, 353.15, 373.15, 473.15)
L_8_14 = (35.151962, 49.372895, 53.396539, 76.386382, 110.333566, 136.778339, 311.429399)
L_7_5_13 = (32.057010, 45.967580, 49.950727, 73.019748, 107.815746, 135.366436, 323.117067)

# band, kelvin, W/m²sr, source, clause, kind
RADIANCES = [
    (
        band,
        kelvin,
        radiance,
        "mpmath, 30 digits",
        f"{band.lower_um:g}–{band.upper_um:g} µm at {kelvin} K",
        LIBRARY,
    )
    for band, row in ((BAND_8_14, L_8_14), (BAND_7_5_13, L_7_5_13))
    for kelvin, radiance in zip(KELVIN, row, strict=True)
]


@pytest.mark.parametrize(("band", "kelvin", "radiance"), named(RADIANCES))
def test_radiance_within_a_band(band: Band, kelvin: float, radiance: float) -> None:
    assert float(exact_band_radiance(kelvin - ZERO_C, band)) == pytest.approx(radiance, abs=1e-6)
    assert float(band_radiance(kelvin - ZERO_C, band)) == pytest.approx(radiance, abs=1e-6)


def quadrature(band: Band, kelvin: float) -> float:
    """∫ of Planck's law over a band with 30 digits, from h, c and k alone."""
    with mpmath.workdps(30):
        h, c, k = (mpmath.mpf(repr(value)) for value in (constants.h, constants.c, constants.k))
        t = mpmath.mpf(kelvin)

        def planck(wavelength: mpmath.mpf) -> mpmath.mpf:
            return 2 * h * c**2 / wavelength**5 / mpmath.expm1(h * c / (wavelength * k * t))

        edges = mpmath.linspace(mpmath.mpf(band.lower_um) / 10**6, mpmath.mpf(band.upper_um) / 10**6, 4)
        return float(mpmath.quad(planck, edges))


@pytest.mark.parametrize("band", [BAND_8_14, BAND_7_5_13], ids=str)
@pytest.mark.parametrize("kelvin", [173.25, 233.15, 273.15, 298.15, 323.15, 373.15, 473.15, 773.15, 1273.0])
@evidence("mpmath", "quadrature with 30 digits", LIBRARY)
def test_series_against_mpmath_quadrature(band: Band, kelvin: float) -> None:
    """Kind: reference library (mpmath). Celsius and back costs a few ulp of the temperature."""
    celsius = kelvin - ZERO_C
    assert float(exact_band_radiance(celsius, band)) == pytest.approx(
        quadrature(band, celsius + ZERO_C), rel=2e-14
    )


@evidence("astropy", "BlackBody at 323.15 K", LIBRARY)
def test_spectral_radiance_and_band_integral_against_astropy() -> None:
    """Kind: reference library (astropy.modeling BlackBody; trapezoids over its values)."""
    from astropy import units
    from astropy.modeling.models import BlackBody

    body = BlackBody(323.15 * units.K, scale=1 * units.W / (units.m**2 * units.sr * units.um))
    micron = np.linspace(8.0, 14.0, 20_001)
    theirs = body(micron * units.um).value
    assert spectral_radiance(micron, 50.0) == pytest.approx(theirs, rel=1e-13)
    assert np.trapezoid(theirs, micron) == pytest.approx(76.386382, abs=1e-6)
    assert float(exact_band_radiance(50.0)) == pytest.approx(np.trapezoid(theirs, micron), rel=1e-8)


@pytest.mark.parametrize("micron", [1.0, 4.0, 8.0, 10.0, 14.0, 30.0])
@pytest.mark.parametrize("celsius", [-40.0, 25.0, 80.0, 500.0])
@evidence("ht", "blackbody_spectral_radiance", LIBRARY)
def test_spectral_radiance_against_ht(micron: float, celsius: float) -> None:
    """Kind: reference library (ht; its constants are those of CODATA 2014)."""
    theirs = blackbody_spectral_radiance(celsius + ZERO_C, micron * 1e-6) * 1e-6
    assert float(spectral_radiance(micron, celsius)) == pytest.approx(theirs, rel=1e-5)


@pytest.mark.parametrize(
    ("kelvin", "slope"),
    [
        pytest.param(298.15, 0.823722, id="numeric derivative, 8–14 µm, 298.15 K [worked by hand]"),
        pytest.param(353.15, 1.246640, id="numeric derivative, 8–14 µm, 353.15 K [worked by hand]"),
    ],
)
def test_slope_of_the_radiance(kelvin: float, slope: float) -> None:
    assert float(radiance_slope(kelvin - ZERO_C)) == pytest.approx(slope, abs=1e-6)


@pytest.mark.parametrize("band", [BAND_8_14, BAND_7_5_13], ids=str)
@pytest.mark.parametrize("celsius", [-40.0, 25.0, 80.0, 500.0])
@evidence("mpmath", "central differences of 0.02 K", LIBRARY)
def test_slope_against_differences_of_the_quadrature(band: Band, celsius: float) -> None:
    """Kind: reference library (mpmath), central differences of 0.02 K."""
    kelvin, h = celsius + ZERO_C, 0.01
    numeric = (quadrature(band, kelvin + h) - quadrature(band, kelvin - h)) / (2 * h)
    assert float(radiance_slope(celsius, band)) == pytest.approx(numeric, rel=2e-8)


@pytest.mark.parametrize("band", [BAND_8_14, BAND_7_5_13], ids=str)
@evidence("definition", "there by the series, back by the spline", BY_HAND)
def test_inverse_of_the_series_errs_by_less_than_twenty_nanokelvin(band: Band) -> None:
    """Kind: worked by hand: there by the series, back by the spline, between the knots too."""
    celsius = np.linspace(-100.0, 1000.0, 110_001)
    assert np.abs(temperature_of(exact_band_radiance(celsius, band), band) - celsius).max() < 2e-8
    assert np.abs(temperature_of(band_radiance(celsius, band), band) - celsius).max() < 2e-7
