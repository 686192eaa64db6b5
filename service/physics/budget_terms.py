"""Terms of a budget: how far each input moves a value, with its sign, so that shared ones cancel."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from service.physics.assumptions import Assumptions, Input, rectangular
from service.physics.load import MIN_SHARE, load_ratio
from service.physics.optics import Codes, Floats, Optics
from service.physics.radiance import BAND_8_14, Band
from service.physics.refusals import Refusal
from service.physics.sensitivities import sensitivities
from service.physics.surface import surface_temperature


@dataclass(frozen=True, slots=True)
class Terms:
    """Values with the signed amount c·u of each input.

    Attributes
    ----------
    value : ndarray
        Temperature [°C] or rise [K]; NaN where refused.
    amounts_k : mapping of Input to ndarray
        Sensitivity times standard uncertainty [K]; an input that has none is not there.
    refusal, caution : ndarray of uint8
        Reasons, and flags of :class:`~service.physics.cautions.Caution`.
    """

    value: Floats
    amounts_k: Mapping[Input, Floats]
    refusal: Codes
    caution: Codes


def surface_terms(
    apparent_c: ArrayLike,
    optics: Optics,
    *,
    assumptions: Assumptions,
    band: Band = BAND_8_14,
    should_be_hot: ArrayLike = False,
) -> Terms:
    """Surface temperatures from readings, with their terms.

    Parameters
    ----------
    apparent_c : array_like
        Apparent temperatures; those of like parts along the last axis [°C].
    optics : Optics
        Settings that hold. Where the air is not known its temperature is taken as the reflected
        one, for the coefficient of τ alone.
    assumptions : Assumptions
        Uncertainty of each input.
    band, should_be_hot
        As in :func:`~service.physics.surface.surface_temperature`.

    Returns
    -------
    Terms
        Temperatures [°C]; *no uncertainty* where a coefficient depends on what is not known.

    References
    ----------
    JCGM 100:2008, 5.1 (law of propagation).

    Examples
    --------
    >>> found = surface_terms(60.0, Optics(0.95, 25.0), assumptions=Assumptions())
    >>> round(float(found.value), 3), round(float(found.amounts_k[Input.EMISSIVITY]), 3)
    (61.605, -0.97)
    """
    optics = optics._replace(air_c=_else(optics.air_c, optics.reflected_c))
    surface = surface_temperature(apparent_c, optics, band=band, should_be_hot=should_be_hot)
    slope = sensitivities(apparent_c, surface.value_c, optics, band=band)
    half = rectangular
    amounts: dict[Input, Floats] = {
        Input.CAMERA: slope.gain * assumptions.camera_u_k(apparent_c),
        Input.NOISE: slope.gain * _floats(assumptions.noise_u_k),
        Input.EMISSIVITY: slope.per_emissivity * half(assumptions.emissivity_half_width),
        Input.REFLECTED: slope.per_reflected_k * half(assumptions.reflected_half_width_k),
        Input.TRANSMISSION: slope.per_transmission * half(assumptions.transmission_half_width),
        Input.AIR: slope.per_air_k * half(assumptions.air_half_width_k),
        Input.PLACEMENT: _like(surface.value_c, assumptions.placement_u_k),
    }
    if np.any(optics.window):
        amounts |= {
            Input.WINDOW_TRANSMISSION: slope.per_window_transmission
            * half(assumptions.window_transmission_half_width),
            Input.WINDOW_TEMPERATURE: slope.per_window_k * half(assumptions.window_half_width_k),
            Input.WINDOW_REFLECTED: slope.per_window_reflected_k * half(assumptions.reflected_half_width_k),
        }
    if not np.all(assumptions.band_known):
        amounts[Input.BAND] = _like(surface.value_c, assumptions.band_u_k(optics.emissivity))
    return _terms(surface.value_c, amounts, new=amounts, refusal=surface.refusal, caution=surface.caution)


def over_air_terms(
    apparent_c: ArrayLike,
    optics: Optics,
    *,
    ambient_c: ArrayLike,
    assumptions: Assumptions,
    band: Band = BAND_8_14,
    should_be_hot: ArrayLike = False,
) -> Terms:
    """Rises over air, with their terms.

    Parameters
    ----------
    apparent_c, optics, assumptions, band, should_be_hot
        As in :func:`surface_terms`.
    ambient_c : array_like
        Air round the part [°C]; also that of the path, where no other is given.

    Returns
    -------
    Terms
        Rises [K].

    Notes
    -----
    Air enters twice, by the same thermometer: ∂(T_o − T_amb)/∂T_amb = ∂T_o/∂T_a − 1.

    Examples
    --------
    >>> found = over_air_terms(60.0, Optics(0.95, 25.0), ambient_c=25.0, assumptions=Assumptions())
    >>> round(float(found.value), 3), round(float(found.amounts_k[Input.AIR]), 3)
    (36.605, -0.577)
    """
    optics = optics._replace(air_c=_else(optics.air_c, ambient_c))
    terms = surface_terms(apparent_c, optics, assumptions=assumptions, band=band, should_be_hot=should_be_hot)
    amounts = dict(terms.amounts_k)
    amounts[Input.AIR] = amounts[Input.AIR] - rectangular(assumptions.air_half_width_k)
    new = {Input.AIR: amounts[Input.AIR]}
    no_air = (terms.refusal == 0) & np.isnan(_floats(ambient_c))
    refusal = np.where(no_air, np.uint8(Refusal.NO_NUMBER), terms.refusal)
    value = terms.value - _floats(ambient_c)
    return _terms(value, amounts, new=new, refusal=refusal, caution=terms.caution)


def terms_at_common_load(
    terms: Terms,
    current_a: ArrayLike,
    *,
    common_load_a: ArrayLike,
    assumptions: Assumptions,
    min_share: float = MIN_SHARE,
) -> Terms:
    """Terms of rises brought to common load, each by its own current.

    Parameters
    ----------
    terms : Terms
        Rises [K], over air or over like parts of equal current.
    current_a, common_load_a : array_like
        Current of the visit and the load it is brought to [A].
    assumptions : Assumptions
        Uncertainty of current and exponent, and the exponent.
    min_share : float
        Below this share of the common load nothing is scaled.

    Returns
    -------
    Terms
        y = ΔT·ρⁿ, ρ = I_ref/I; every amount times ρⁿ, and two more: −y·n·u_I/I and y·ln ρ·u_n.
        Reasons of :func:`~service.physics.load.load_ratio` besides those of the rise.

    Examples
    --------
    >>> rise = over_air_terms(60.0, Optics(0.95, 25.0), ambient_c=25.0, assumptions=Assumptions())
    >>> found = terms_at_common_load(rise, 60.0, common_load_a=100.0, assumptions=Assumptions())
    >>> round(float(found.value), 2), round(float(found.amounts_k[Input.EXPONENT]), 2)
    (91.81, 5.42)
    """
    exponent = _floats(assumptions.exponent)
    ratio, refused = load_ratio(current_a, common_load_a=common_load_a, min_share=min_share)
    factor = ratio**exponent
    value = terms.value * factor
    amounts = {key: amount * factor for key, amount in terms.amounts_k.items()}
    new = {
        Input.CURRENT: -value * (exponent * rectangular(assumptions.current_half_width_share)),
        Input.EXPONENT: value * np.log(ratio) * rectangular(assumptions.exponent_half_width),
    }
    refusal = np.where(terms.refusal != 0, terms.refusal, refused)
    return _terms(value, amounts | new, new=new, refusal=refusal, caution=terms.caution)


def _terms(
    value: Floats,
    amounts: dict[Input, Floats],
    *,
    new: Mapping[Input, Floats],
    refusal: Codes,
    caution: Codes,
) -> Terms:
    """Terms with NaN and a reason wherever the value or any new amount is not a number."""
    with np.errstate(invalid="ignore"):
        total = sum(new.values(), start=np.zeros(()))
    refusal = np.where((refusal == 0) & np.isnan(value), np.uint8(Refusal.NO_NUMBER), refusal)
    unknown = (refusal == 0) & np.isnan(total)
    refusal = np.where(unknown, np.uint8(Refusal.NO_UNCERTAINTY), refusal)
    return Terms(np.where(refusal == 0, value, np.nan), amounts, refusal, caution)


def _else(values: ArrayLike, instead: ArrayLike) -> Floats:
    given = _floats(values)
    return np.where(np.isnan(given), _floats(instead), given)


def _like(shape_of: Floats, values: ArrayLike) -> Floats:
    shaped: Floats = np.broadcast_arrays(_floats(values), shape_of)[0]
    return shaped


def _floats(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)
