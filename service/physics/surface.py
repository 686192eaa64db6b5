"""Surface temperature from a reading: the measurement model, forwards and back."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from service.physics.cautions import Caution
from service.physics.optics import Codes, Floats, Layers, Optics, cautions_of, layers_of, refusals_of
from service.physics.radiance import BAND_8_14, Band, band_radiance, radiance_slope, temperature_of
from service.physics.refusals import Refusal
from service.physics.rise import Figure

#: From this gain on a figure is indicative.
INDICATIVE_GAIN = 1.7


class Surface(NamedTuple):
    """Surface temperatures [°C], a reason where one is NaN, and flags of caution."""

    value_c: Floats
    refusal: Codes
    caution: Codes


def apparent_temperature(surface_c: ArrayLike, optics: Optics, *, band: Band = BAND_8_14) -> Figure:
    """What an instrument set to ε = 1 and τ = 1 would show.

    Parameters
    ----------
    surface_c : array_like
        True surface temperature [°C].
    optics : Optics
        Settings that hold.
    band : Band
        Waveband of the instrument.

    Returns
    -------
    Figure
        T_app [°C]; NaN with the reason.

    Notes
    -----
    L_app = τ·{τ_w·[ε·L(T_o) + (1−ε)·L(T_r)] + (1−τ_w−ρ_w)·L(T_w) + ρ_w·L(T_rw)} + (1−τ)·L(T_a).
    One layer each, grey within the band, opaque part; the few centimetres between window and
    part are taken as clear. Own derivation.

    With a reading and the settings *of the instrument* it undoes what the instrument did.

    Examples
    --------
    >>> part = Optics(emissivity=[0.95, 0.3], reflected_c=20.0)
    >>> apparent_temperature(100.0, part).value.round(2).tolist()
    [96.85, 49.22]
    """
    layers = layers_of(optics, band)
    radiance = band_radiance(surface_c, band)
    apparent = temperature_of(_at_instrument(_leaving_part(radiance, layers), layers), band)
    refusal = refusals_of(surface_c, optics, layers)
    refusal = _first(refusal, np.isnan(radiance), Refusal.OUT_OF_RANGE)
    refusal = _first(refusal, np.isnan(apparent), Refusal.UNDEFINED)
    return Figure(np.where(refusal == 0, apparent, np.nan), refusal)


def surface_temperature(
    apparent_c: ArrayLike, optics: Optics, *, band: Band = BAND_8_14, should_be_hot: ArrayLike = False
) -> Surface:
    """Surface temperature that explains an apparent temperature.

    Parameters
    ----------
    apparent_c : array_like
        Apparent temperature: a reading at ε = 1 and τ = 1, or one with the instrument's own
        settings undone [°C].
    optics : Optics
        Settings that hold.
    band : Band
        Waveband of the instrument.
    should_be_hot : array_like of bool
        Whether the part carries load and is to be judged by its rise. Then a part that sends out
        no more than its surroundings is refused: its emissivity cannot be told from its coolness.

    Returns
    -------
    Surface
        T_o [°C]; NaN with the reason; flags of caution.

    Notes
    -----
    Closed steps, no iteration, monotone in T_app: air off, window off, reflection off, L⁻¹.
    Never clamped, never extrapolated, nowhere a T⁴. T_app = T_r gives T_r at every ε.

    Examples
    --------
    >>> part = Optics(emissivity=[0.95, 0.8, 0.1], reflected_c=25.0)
    >>> found = surface_temperature([60.0, 60.0, 10.0], part)
    >>> found.value_c.round(3).tolist(), Refusal(found.refusal[2]).name
    ([61.605, 67.472, nan], 'UNDEFINED')
    """
    layers = layers_of(optics, band)
    radiance = band_radiance(apparent_c, band)
    leaving = _off_window(_off_air(radiance, layers), layers)
    with np.errstate(divide="ignore", invalid="ignore"):
        own = (leaving - (1.0 - layers.emissivity) * layers.reflected) / layers.emissivity
        not_above = np.asarray(should_be_hot, dtype=bool) & (leaving <= layers.reflected)
    value = temperature_of(own, band)
    refusal = refusals_of(apparent_c, optics, layers)
    refusal = _first(refusal, np.isnan(radiance), Refusal.OUT_OF_RANGE)
    refusal = _first(refusal, not_above, Refusal.NOT_ABOVE_REFLECTED)
    refusal = _first(refusal, np.isnan(value), Refusal.UNDEFINED)
    value = np.where(refusal == 0, value, np.nan)
    gain = _gain(
        radiance_slope(apparent_c, band, radiance=radiance),
        radiance_slope(value, band, radiance=own),
        layers,
    )
    return Surface(value, refusal, _cautions(gain, optics))


def corrected_temperature(
    reading_c: ArrayLike,
    *,
    applied: Optics,
    optics: Optics,
    band: Band = BAND_8_14,
    should_be_hot: ArrayLike = False,
) -> Surface:
    """Surface temperature from a reading that the instrument has already compensated.

    Parameters
    ----------
    reading_c : array_like
        What the instrument showed [°C].
    applied : Optics
        Settings in the instrument at that moment; ε = 1 needs no reflected temperature.
    optics : Optics
        Settings that hold.
    band, should_be_hot
        As in :func:`surface_temperature`.

    Returns
    -------
    Surface
        T_o [°C]; a reason from either step.

    Examples
    --------
    Set to 0.95 and 20 °C it reads 60 °C; the truth is 0.80 and 35 °C:

    >>> found = corrected_temperature(60.0, applied=Optics(0.95, 20.0), optics=Optics(0.80, 35.0))
    >>> round(float(found.value_c), 2)
    63.51
    """
    apparent = apparent_temperature(reading_c, applied, band=band)
    found = surface_temperature(apparent.value, optics, band=band, should_be_hot=should_be_hot)
    return found._replace(refusal=np.where(apparent.refusal != 0, apparent.refusal, found.refusal))


def band_difference(apparent_c: ArrayLike, optics: Optics, *, read_as: Band, instrument: Band) -> Floats:
    """Error of the surface temperature when the instrument has another band than was taken [K].

    Parameters
    ----------
    apparent_c : array_like
        Apparent temperature [°C].
    optics : Optics
        Settings that hold.
    read_as, instrument : Band
        Band that was taken, band that it has.

    Returns
    -------
    ndarray of float
        Taken minus true [K]; NaN where either is refused. Its size is the half width of a term
        for an unknown band.

    Examples
    --------
    >>> from service.physics.radiance import BAND_7_5_13
    >>> dull = Optics(emissivity=0.6, reflected_c=20.0)
    >>> seen = apparent_temperature(100.0, dull, band=BAND_7_5_13).value
    >>> round(float(band_difference(seen, dull, read_as=BAND_8_14, instrument=BAND_7_5_13)), 2)
    0.68
    """
    taken = surface_temperature(apparent_c, optics, band=read_as).value_c
    return taken - surface_temperature(apparent_c, optics, band=instrument).value_c


def _leaving_part(own: Floats, layers: Layers) -> Floats:
    return layers.emissivity * own + (1.0 - layers.emissivity) * layers.reflected


def _at_instrument(leaving: Floats, layers: Layers) -> Floats:
    behind_air = layers.window_transmission * leaving + _of_window(layers)
    return layers.transmission * behind_air + (1.0 - layers.transmission) * layers.air


def _of_window(layers: Layers) -> Floats:
    return layers.window_emission * layers.window + layers.window_reflection * layers.window_reflected


def _off_air(radiance: Floats, layers: Layers) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        return (radiance - (1.0 - layers.transmission) * layers.air) / layers.transmission


def _off_window(radiance: Floats, layers: Layers) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        return (radiance - _of_window(layers)) / layers.window_transmission


def _first(refusal: Codes, holds: ArrayLike, code: Refusal) -> Codes:
    """The reason already found, else this one where it holds."""
    return np.where((refusal == 0) & np.asarray(holds), np.uint8(code), refusal)


def _gain(seen_slope: Floats, own_slope: Floats, layers: Layers) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        through = layers.transmission * layers.window_transmission * layers.emissivity
        return seen_slope / (through * own_slope)


def _cautions(gain: Floats, optics: Optics) -> Codes:
    with np.errstate(invalid="ignore"):
        high = np.where(gain > INDICATIVE_GAIN, np.uint8(Caution.HIGH_GAIN), np.uint8(0))
    return np.asarray(cautions_of(optics) | high)
