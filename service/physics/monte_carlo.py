"""Propagation of one reading by Monte Carlo, and whether the closed form agrees with it."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from service.physics.assumptions import Assumptions, rectangular
from service.physics.optics import Floats, Optics
from service.physics.radiance import BAND_8_14, Band
from service.physics.surface import surface_temperature

#: Trials of one reading, and how many are held at once.
TRIALS, BLOCK = 200_000, 20_000
SEED = 101
COVERAGE = 0.95
_UNIT = float(np.sqrt(3.0))


class Load(NamedTuple):
    """Current of the visit and the load to which a rise is brought [A]."""

    current_a: float
    common_load_a: float


class Propagated(NamedTuple):
    """What the trials of one reading say.

    Attributes
    ----------
    trials : ndarray
        Values of the measurand, ascending; those without a solution are not among them.
    refused : float
        Share of the trials without a solution, 0 to 1: where it is not 0 the rest is cut off.
    mean, sd : float
    low, high : float
        95 % interval with 2.5 % of the trials at either side.
    shortest_low, shortest_high : float
        Shortest interval that holds 95 % of the trials.
    """

    trials: Floats
    refused: float
    mean: float
    sd: float
    low: float
    high: float
    shortest_low: float
    shortest_high: float


class Validation(NamedTuple):
    """Whether an interval in closed form is good enough.

    Attributes
    ----------
    tolerance : float
        δ: half a unit of the second significant digit of u.
    low_apart, high_apart : float
        Distance of the lower and of the upper ends.
    agrees : bool
        Whether neither exceeds the tolerance.
    """

    tolerance: float
    low_apart: float
    high_apart: float
    agrees: bool


def propagate_over_air(
    apparent_c: float,
    optics: Optics,
    *,
    ambient_c: float,
    assumptions: Assumptions,
    load: Load | None = None,
    band: Band = BAND_8_14,
    trials: int = TRIALS,
    seed: int = SEED,
) -> Propagated:
    """Distribution of one rise over air.

    Parameters
    ----------
    apparent_c : float
        Apparent temperature [°C].
    optics : Optics
        Settings that hold, one number each.
    ambient_c : float
        Air round the part; also that of the path, where no other is given [°C].
    assumptions : Assumptions
        The same as for the closed form, one number each.
    load : Load, optional
        Where the rise is to be brought to common load.
    band : Band
        Waveband of the instrument.
    trials, seed : int
        Number of trials, and where the random numbers begin.

    Returns
    -------
    Propagated
        Of the rise [K].

    Notes
    -----
    The whole model, not its derivatives. Emissivity and τ are cut at 1, which they cannot pass:
    near 1 the mean lies a little above the value and the spread a little below that of the
    closed form.

    References
    ----------
    JCGM 101:2008, 5.9 and 7.

    Examples
    --------
    >>> given = Assumptions()
    >>> found = propagate_over_air(60.0, Optics(0.8, 25.0), ambient_c=25.0, assumptions=given, trials=20_000)
    >>> round(found.sd, 1)
    2.1
    """
    optics = _with_air(optics, ambient_c)
    made = []
    for draw in _blocks(trials, seed):
        air = draw.rectangle(assumptions.air_half_width_k)
        parts = _surfaces(np.array([apparent_c]), optics, draw, air=air, assumptions=assumptions, band=band)
        rise = parts[:, 0] - ambient_c - air[:, 0]
        made.append(_brought(rise, load, draw, assumptions))
    return summary_of_trials(np.concatenate(made))


def propagate_over_like_parts(
    apparent_c: ArrayLike,
    optics: Optics,
    *,
    assumptions: Assumptions,
    judged: int = 0,
    load: Load | None = None,
    band: Band = BAND_8_14,
    trials: int = TRIALS,
    seed: int = SEED,
) -> Propagated:
    """Distribution of one part's rise over the median of its like parts.

    Parameters
    ----------
    apparent_c : array_like, shape (parts,)
        Apparent temperatures of the parts that are compared [°C].
    optics : Optics
        Settings that hold, one number each or one for each part.
    assumptions : Assumptions
        As for the closed form; correlations as numbers.
    judged : int
        Place of the part whose rise is asked for.
    load, band, trials, seed
        As in :func:`propagate_over_air`.

    Returns
    -------
    Propagated
        Of the rise [K] over the median; of two, over the cooler.

    Notes
    -----
    A correlation r is drawn as √r·shared + √(1−r)·own. Drawing "shared" or "own" with chance r
    has the same correlation and heavier tails.

    Examples
    --------
    >>> given = Assumptions()
    >>> found = propagate_over_like_parts([60.0, 45.0], Optics(0.95, 25.0), assumptions=given, trials=20_000)
    >>> round(found.sd, 2)
    0.87
    """
    apparent = np.asarray(apparent_c, dtype=np.float64)
    optics = _with_air(optics, optics.reflected_c)
    made = []
    for draw in _blocks(trials, seed):
        air = draw.rectangle(assumptions.air_half_width_k)
        parts = _surfaces(apparent, optics, draw, air=air, assumptions=assumptions, band=band)
        reference = parts.min(axis=1) if apparent.size == 2 else np.median(parts, axis=1)
        made.append(_brought(parts[:, judged] - reference, load, draw, assumptions))
    return summary_of_trials(np.concatenate(made))


def summary_of_trials(values: ArrayLike, *, coverage: float = COVERAGE) -> Propagated:
    """Mean, spread and coverage intervals of trials.

    Parameters
    ----------
    values : array_like
        Values of the measurand; NaN is a trial without a solution.
    coverage : float
        Share of the trials within the intervals.

    Returns
    -------
    Propagated
        NaN throughout without any trial that has a solution.

    References
    ----------
    JCGM 101:2008, 7.5 to 7.7.

    Examples
    --------
    >>> found = summary_of_trials(np.arange(1.0, 101.0))
    >>> found.mean, found.low, found.high, found.shortest_low, found.shortest_high
    (50.5, 3.0, 98.0, 1.0, 96.0)
    """
    drawn = np.asarray(values, dtype=np.float64).ravel()
    kept = np.sort(drawn[np.isfinite(drawn)])
    if kept.size < 2:
        nothing = (np.nan,) * 6
        return Propagated(kept, 1.0 if drawn.size else np.nan, *nothing)
    within = min(int(coverage * kept.size + 0.5), kept.size - 1)
    first = max((kept.size - within + 1) // 2 - 1, 0)
    shortest = int(np.argmin(kept[within:] - kept[: kept.size - within]))
    return Propagated(
        trials=kept,
        refused=1.0 - kept.size / drawn.size,
        mean=float(kept.mean()),
        sd=float(kept.std(ddof=1)),
        low=float(kept[first]),
        high=float(kept[first + within]),
        shortest_low=float(kept[shortest]),
        shortest_high=float(kept[shortest + within]),
    )


def validate(low: float, high: float, u: float, found: Propagated) -> Validation:
    """Compare an interval in closed form with that of the trials.

    Parameters
    ----------
    low, high : float
        95 % interval in closed form.
    u : float
        Its standard uncertainty.
    found : Propagated
        The trials of the same reading.

    Returns
    -------
    Validation

    Notes
    -----
    u = c·10^l with two digits c; δ = 10^l/2. Compared is the interval with equal chances on both
    sides.

    References
    ----------
    JCGM 101:2008, 7.9.2 and 8.1.

    Examples
    --------
    >>> trials = summary_of_trials(np.random.default_rng(1).normal(0.0, 2.0, 100_000))
    >>> validate(-3.92, 3.92, 2.0, trials).agrees
    True
    """
    exponent = int(np.floor(np.log10(u))) - 1 if u > 0 else 0
    if round(u / 10.0**exponent) >= 100:
        exponent += 1
    tolerance = 0.5 * 10.0**exponent
    apart = abs(low - found.low), abs(high - found.high)
    return Validation(tolerance, *apart, agrees=max(apart) <= tolerance)


class _Draw:
    """Random numbers of one block of trials: columns of one, or one for each part."""

    def __init__(self, generator: np.random.Generator, trials: int) -> None:
        self._generator, self._trials = generator, trials

    def unit(self, parts: int = 1) -> Floats:
        """Rectangular, of variance 1."""
        return self._generator.uniform(-_UNIT, _UNIT, (self._trials, parts))

    def rectangle(self, half_width: ArrayLike) -> Floats:
        """Rectangular, the same for all parts."""
        return self.unit() * rectangular(half_width)

    def normal(self, parts: int) -> Floats:
        return self._generator.standard_normal((self._trials, parts))

    def related(self, parts: int, correlation: ArrayLike) -> Floats:
        """Rectangular, shared between the parts as far as they are correlated."""
        r = np.asarray(correlation, dtype=np.float64)
        related: Floats = np.sqrt(r) * self.unit() + np.sqrt(1.0 - r) * self.unit(parts)
        return related


def _blocks(trials: int, seed: int) -> Iterator[_Draw]:
    generator = np.random.default_rng(seed)
    for start in range(0, trials, BLOCK):
        yield _Draw(generator, min(BLOCK, trials - start))


def _surfaces(
    apparent: Floats, optics: Optics, draw: _Draw, *, air: Floats, assumptions: Assumptions, band: Band
) -> Floats:
    """Surface temperatures of one block, shape (trials, parts) [°C]."""
    parts, given = apparent.size, assumptions
    camera = given.camera_u_k(apparent) * draw.related(parts, given.camera_correlation)
    noise = np.asarray(given.noise_u_k) * draw.normal(parts)
    half = rectangular(given.emissivity_half_width)
    emissivity = half * draw.related(parts, given.emissivity_correlation)
    path = draw.rectangle(given.transmission_half_width)
    moved = optics._replace(
        emissivity=np.minimum(_plus(optics.emissivity, emissivity), 1.0),
        reflected_c=_plus(optics.reflected_c, draw.rectangle(given.reflected_half_width_k)),
        transmission=np.minimum(_plus(optics.transmission, path), 1.0),
        air_c=_plus(optics.air_c, air),
    )
    if np.any(optics.window):
        moved = _through_window(moved, draw, given)
    found = surface_temperature(apparent + camera + noise, moved, band=band).value_c
    unknown_band = given.band_u_k(optics.emissivity) * draw.unit()
    return found + unknown_band + np.asarray(given.placement_u_k) * draw.normal(parts)


def _through_window(optics: Optics, draw: _Draw, given: Assumptions) -> Optics:
    """The window's own trials; it lets through no more than it leaves after mirroring."""
    through = _plus(optics.window_transmission, draw.rectangle(given.window_transmission_half_width))
    return optics._replace(
        window_transmission=np.minimum(through, _plus(1.0, -np.asarray(optics.window_reflection))),
        window_c=_plus(optics.window_c, draw.rectangle(given.window_half_width_k)),
        window_reflected_c=_plus(optics.window_reflected_c, draw.rectangle(given.reflected_half_width_k)),
    )


def _brought(rise: Floats, load: Load | None, draw: _Draw, assumptions: Assumptions) -> Floats:
    if load is None:
        return rise
    share = draw.rectangle(assumptions.current_half_width_share)[:, 0]
    exponent = np.asarray(assumptions.exponent) + draw.rectangle(assumptions.exponent_half_width)[:, 0]
    brought: Floats = rise * (load.common_load_a / (load.current_a * (1.0 + share))) ** exponent
    return brought


def _with_air(optics: Optics, instead_c: ArrayLike) -> Optics:
    """Settings as arrays; where the air is not known, another temperature in its place."""
    known = Optics(*(np.asarray(part) for part in optics))
    air = np.asarray(known.air_c, dtype=np.float64)
    return known._replace(air_c=np.where(np.isnan(air), np.asarray(instead_c, dtype=np.float64), air))


def _plus(values: ArrayLike, steps: Floats) -> Floats:
    return np.asarray(values, dtype=np.float64) + steps
