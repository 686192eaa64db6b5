"""What lies between a surface and the instrument: part, surroundings, air and window."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.cautions import Caution
from service.physics.radiance import BAND_8_14, Band, band_radiance
from service.physics.refusals import Refusal

Floats = NDArray[np.float64]
Codes = NDArray[np.uint8]
Truths = NDArray[np.bool_]

#: Emissivity when nothing was chosen, and half of its range; to be marked *assumed*.
ASSUMED_EMISSIVITY, ASSUMED_EMISSIVITY_HALF_WIDTH = 0.95, 0.05
INDICATIVE_EMISSIVITY, COMPARISON_EMISSIVITY = 0.5, 0.3
INDICATIVE_WINDOW, OPAQUE_WINDOW = 0.5, 0.3
INDICATIVE_DISTANCE_M = 30.0
_SLACK = 1e-9


class Optics(NamedTuple):
    """Settings of the measurement model; arrays that broadcast against each other and the readings.

    Attributes
    ----------
    emissivity : array_like
        ε of the part, above 0 and at most 1. Of many parts at once: one each.
    reflected_c : array_like
        Reflected apparent temperature T_r [°C]; without meaning at ε = 1. There is no default:
        under a clear sky it lies far below air.
    transmission : array_like
        τ of the air, above 0 and at most 1.
    air_c : array_like
        Temperature of that air [°C]; needed where τ is below 1.
    distance_m : array_like
        Length of the path [m], for the caution only; NaN is not known.
    window : array_like of bool
        Whether the part was seen through an inspection window; if not, the next four are not read.
    window_transmission : array_like
        τ_w; give 0 for ordinary glass and acrylic, which are opaque in the band.
    window_c : array_like
        Temperature of the window [°C].
    window_reflection : array_like
        ρ_w; the window absorbs 1 − τ_w − ρ_w.
    window_reflected_c : array_like
        What the window mirrors on the side of the instrument [°C]; needed where ρ_w is above 0.

    Notes
    -----
    A named tuple, so that ``optics._replace(emissivity=trials)`` gives a variant.
    """

    emissivity: ArrayLike
    reflected_c: ArrayLike
    transmission: ArrayLike = 1.0
    air_c: ArrayLike = np.nan
    distance_m: ArrayLike = np.nan
    window: ArrayLike = False
    window_transmission: ArrayLike = np.nan
    window_c: ArrayLike = np.nan
    window_reflection: ArrayLike = 0.0
    window_reflected_c: ArrayLike = np.nan


class Layers(NamedTuple):
    """Shares and radiances of an ``Optics`` within a band; a part that has no share shines 0.

    Each keeps the shape of what it was made from, so that a setting common to a million readings
    is worked out once.
    """

    emissivity: Floats
    transmission: Floats
    window_transmission: Floats
    window_reflection: Floats
    window_emission: Floats
    reflected: Floats
    air: Floats
    window: Floats
    window_reflected: Floats


def layers_of(optics: Optics, band: Band = BAND_8_14) -> Layers:
    """Shares and radiances of each layer.

    Parameters
    ----------
    optics : Optics
        Settings.
    band : Band
        Waveband of the instrument.

    Returns
    -------
    Layers
        Shares as given (1, 0 and 0 where there is no window), radiances [W·m⁻²·sr⁻¹].

    Examples
    --------
    >>> layers = layers_of(Optics(emissivity=0.95, reflected_c=25.0))
    >>> float(layers.air), float(layers.window_transmission), round(float(layers.reflected), 4)
    (0.0, 1.0, 53.3965)
    """
    emissivity, transmission = _floats(optics.emissivity), _floats(optics.transmission)
    window = np.asarray(optics.window, dtype=bool)
    through = np.where(window, _floats(optics.window_transmission), 1.0)
    mirrored = np.where(window, _floats(optics.window_reflection), 0.0)
    return Layers(
        emissivity=emissivity,
        transmission=transmission,
        window_transmission=through,
        window_reflection=mirrored,
        window_emission=1.0 - through - mirrored,
        reflected=_shining(emissivity != 1.0, optics.reflected_c, band),
        air=_shining(transmission != 1.0, optics.air_c, band),
        window=_shining(window, optics.window_c, band),
        window_reflected=_shining(window & (mirrored != 0.0), optics.window_reflected_c, band),
    )


def refusals_of(temperature_c: ArrayLike, optics: Optics, layers: Layers) -> Codes:
    """Why these settings allow no figure.

    Parameters
    ----------
    temperature_c : array_like
        The reading, or the surface of which a reading is foretold [°C].
    optics, layers : Optics, Layers
        Settings and what :func:`layers_of` made of them.

    Returns
    -------
    ndarray of uint8
        :class:`Refusal`; the first that holds in the order *missing*, *wrong*, *out of range*.
    """
    t = _floats(temperature_c)
    window = np.asarray(optics.window, dtype=bool)
    eps, tau, through, mirrored = layers[:4]
    with np.errstate(invalid="ignore"):
        shares = (through >= 0) & (mirrored >= 0) & (through + mirrored <= 1.0 + _SLACK)
        reasons = {
            Refusal.NO_NUMBER: np.isnan(t),
            Refusal.NO_EMISSIVITY: np.isnan(eps),
            Refusal.BAD_EMISSIVITY: ~((eps > 0) & (eps <= 1)),
            Refusal.NO_REFLECTED: (eps != 1) & np.isnan(_floats(optics.reflected_c)),
            Refusal.BAD_TRANSMISSION: ~((tau > 0) & (tau <= 1)) | ~(shares | np.isnan(through)),
            Refusal.NO_AIR: (tau != 1) & np.isnan(_floats(optics.air_c)),
            Refusal.NO_WINDOW_TRANSMISSION: np.isnan(through),
            Refusal.WINDOW_OPAQUE: through < OPAQUE_WINDOW,
            Refusal.NO_WINDOW_TEMPERATURE: window & np.isnan(_floats(optics.window_c)),
            Refusal.NO_WINDOW_REFLECTED: window
            & (mirrored != 0)
            & np.isnan(_floats(optics.window_reflected_c)),
            Refusal.OUT_OF_RANGE: np.isnan(sum(layers[5:], start=np.zeros(()))),
        }
    found = np.select(list(reasons.values()), [int(code) for code in reasons], default=int(Refusal.NONE))
    return found.astype(np.uint8)


def cautions_of(optics: Optics) -> Codes:
    """How far a figure from these settings may be trusted; the gain is not yet in it.

    Parameters
    ----------
    optics : Optics
        Settings.

    Returns
    -------
    ndarray of uint8
        Flags of :class:`Caution`.

    Examples
    --------
    >>> Caution(int(cautions_of(Optics(emissivity=0.2, reflected_c=20.0, distance_m=40.0))))
    <Caution.LOW_EMISSIVITY|COMPARISON_ONLY|LONG_PATH: 19>
    """
    emissivity = _floats(optics.emissivity)
    window = np.asarray(optics.window, dtype=bool)
    with np.errstate(invalid="ignore"):
        flags = {
            Caution.LOW_EMISSIVITY: emissivity < INDICATIVE_EMISSIVITY,
            Caution.COMPARISON_ONLY: emissivity < COMPARISON_EMISSIVITY,
            Caution.WEAK_WINDOW: window & (_floats(optics.window_transmission) < INDICATIVE_WINDOW),
            Caution.LONG_PATH: _floats(optics.distance_m) > INDICATIVE_DISTANCE_M,
        }
    found = np.zeros((), dtype=np.uint8)
    for flag, on in flags.items():
        found = np.asarray(found | np.where(on, np.uint8(flag), np.uint8(0)))
    return found


def _shining(has_share: Truths, temperature_c: ArrayLike, band: Band) -> Floats:
    return np.where(has_share, band_radiance(temperature_c, band), 0.0)


def _floats(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)
