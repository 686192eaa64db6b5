"""One uncertainty budget after another with the `uncertainties` package, in two ways."""

import math
from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import Any

import numpy as np
from uncertainties import ufloat, wrap

from service.physics.optics import Optics
from service.physics.radiance import (
    BAND_8_14,
    C2,
    SIGMA,
    ZERO_C,
    band_radiance,
    radiance_slope,
    temperature_of,
)

ROOT_3 = math.sqrt(3.0)
EDGES_UM = (BAND_8_14.upper_um, BAND_8_14.lower_um)


@lru_cache(maxsize=16)
def radiance_and_slope(celsius: float) -> tuple[float, float]:
    """Band radiance and its derivative by the series, in ``math`` alone."""
    kelvin = celsius + ZERO_C
    share = edges = 0.0
    for edge_um, sign in zip(EDGES_UM, (1.0, -1.0), strict=True):
        x = C2 * 1e6 / (edge_um * kelvin)
        edges += sign * x**4 / math.expm1(x)
        for n in range(math.ceil(38.0 / x), 0, -1):
            share += sign * math.exp(-n * x) * (((x / n + 3 / n**2) * x + 6 / n**3) * x + 6 / n**4)
    scale = 15.0 / math.pi**4
    radiance = SIGMA * kelvin**4 / math.pi * scale * share
    return radiance, 4.0 * radiance / kelvin + SIGMA * kelvin**3 / math.pi * scale * edges


@lru_cache(maxsize=1)
def temperature(radiance: float) -> float:
    """Newton from a guess by the power law of the band."""
    celsius = 25.0
    for _ in range(50):
        value, slope = radiance_and_slope(celsius)
        step = value * math.log(radiance / value) / slope
        celsius += step
        if abs(step) < 1e-9:
            return celsius
    raise ArithmeticError(f"no temperature has the radiance {radiance}")


def _lean(celsius: float) -> float:
    return radiance_and_slope(celsius)[0]


Pair = tuple[Callable[[Any], Any], Callable[[Any], Any]]
#: the array functions of the service called with single numbers, and plain Python as lean as it goes:
#: radiance of a temperature, temperature of a radiance, each with its derivative
BY_ARRAY_FUNCTIONS: Pair = (
    wrap(lambda celsius: float(band_radiance(celsius)), [lambda celsius: float(radiance_slope(celsius))]),
    wrap(
        lambda radiance: float(temperature_of(radiance)),
        [lambda radiance: 1.0 / float(radiance_slope(temperature_of(radiance)))],
    ),
)
BY_PLAIN_PYTHON: Pair = (
    wrap(_lean, [lambda celsius: radiance_and_slope(celsius)[1]]),
    wrap(temperature, [lambda radiance: 1.0 / radiance_and_slope(temperature(radiance))[1]]),
)


def budget(
    apparent_c: float, optics: tuple[float, ...], *, ambient_c: float, amps: float, way: Pair
) -> tuple[float, ...]:
    """Rise at 100 A, its u and the line of each of nine inputs."""
    radiance_at, temperature_at = way
    camera = ufloat(apparent_c, max(2.0, 0.02 * abs(apparent_c)) / ROOT_3)
    noise, placement = ufloat(0.0, 0.1), ufloat(0.0, 0.3)
    emissivity, reflected = ufloat(optics[0], 0.05 / ROOT_3), ufloat(optics[1], 5.0 / ROOT_3)
    path, air = ufloat(optics[2], 0.005 / ROOT_3), ufloat(ambient_c, 1.0 / ROOT_3)
    current, exponent = ufloat(amps, amps * 0.03 / ROOT_3), ufloat(1.8, 0.2 / ROOT_3)
    leaving = (radiance_at(camera + noise) - (1 - path) * radiance_at(air)) / path
    own = (leaving - (1 - emissivity) * radiance_at(reflected)) / emissivity
    rise = (temperature_at(own) + placement - air) * (100.0 / current) ** exponent
    lines = rise.error_components()
    inputs = (camera, noise, emissivity, reflected, path, placement, air, current, exponent)
    return (rise.nominal_value, rise.std_dev, *(lines[one] for one in inputs))


def budgets(
    drawn: tuple[np.ndarray, Optics, np.ndarray, np.ndarray], many: int, way: Pair
) -> Iterator[tuple[float, ...]]:
    """The first so many of a draw."""
    apparent, optics, ambient, amps = drawn
    settings = zip(*(np.asarray(part)[:many].tolist() for part in optics[:3]), strict=True)
    rows = zip(apparent[:many].tolist(), settings, ambient[:many].tolist(), amps[:many].tolist(), strict=True)
    for seen, setting, air, current in rows:
        yield budget(seen, setting, ambient_c=air, amps=current, way=way)
