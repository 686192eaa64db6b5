"""What a budget assumes of each input where nobody said better, and what would improve it."""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: Correlation of the error of one camera between parts of one frame, of two frames, and of two
#: cameras: the first two are a judgement, no source.
SAME_FRAME, SAME_CAMERA, OTHER_CAMERA = 0.9, 0.5, 0.0
#: Correlation of an assumed emissivity between parts of one finish, and between visits to one part.
SAME_FINISH, OTHER_FINISH = 0.9, 0.0
#: Half width of an emissivity from a table or assumed, and of one measured on the part.
EMISSIVITY_ASSUMED, EMISSIVITY_MEASURED = 0.05, 0.02
#: Half width of a reflected temperature judged by eye, and of one measured on the spot [K].
REFLECTED_ASSUMED_K, REFLECTED_MEASURED_K = 5.0, 1.0
#: Half width per unit of 1 − ε where the waveband of the instrument is not known [K].
UNKNOWN_BAND_K = 1.95


class Input(IntEnum):
    """An input of a budget: a line of its table."""

    CAMERA = 0
    NOISE = 1
    EMISSIVITY = 2
    REFLECTED = 3
    TRANSMISSION = 4
    WINDOW_TRANSMISSION = 5
    WINDOW_TEMPERATURE = 6
    WINDOW_REFLECTED = 7
    BAND = 8
    PLACEMENT = 9
    AIR = 10
    CURRENT = 11
    EXPONENT = 12


#: The inputs in plain words.
INPUT_WORDS = {
    Input.CAMERA: "accuracy of the camera",
    Input.NOISE: "noise of the camera",
    Input.EMISSIVITY: "emissivity",
    Input.REFLECTED: "reflected temperature",
    Input.TRANSMISSION: "air between camera and part",
    Input.WINDOW_TRANSMISSION: "what the window lets through",
    Input.WINDOW_TEMPERATURE: "temperature of the window",
    Input.WINDOW_REFLECTED: "what the window mirrors",
    Input.BAND: "waveband of the camera",
    Input.PLACEMENT: "place and size of the spot",
    Input.AIR: "air temperature",
    Input.CURRENT: "current",
    Input.EXPONENT: "how the rise follows the load",
}
#: What makes the part of an input smaller.
INPUT_REMEDIES = {
    Input.CAMERA: "compare with a like part in the same frame",
    Input.NOISE: "take the mean of nine pixels",
    Input.EMISSIVITY: "find the emissivity by comparison on the part itself, when it is isolated and proved dead",
    Input.REFLECTED: "measure the reflected temperature on the spot",
    Input.TRANSMISSION: "go closer, as far as the permit allows, or note distance and humidity",
    Input.WINDOW_TRANSMISSION: "find out what this window lets through",
    Input.WINDOW_TEMPERATURE: "read the temperature of the window itself",
    Input.WINDOW_REFLECTED: "shade the window or stand aside",
    Input.BAND: "enter the waveband of the camera",
    Input.PLACEMENT: "go closer, as far as the permit allows, or use a longer lens",
    Input.AIR: "measure the air close by and in the shade",
    Input.CURRENT: "measure the current while reading",
    Input.EXPONENT: "read again at a load nearer to the common load",
}


@dataclass(frozen=True, slots=True)
class Assumptions:
    """Uncertainty of each input; numbers or arrays that broadcast against the readings.

    Half widths are of rectangular distributions (u = a/√3), ``_u_`` are standard uncertainties
    of normal ones.

    Attributes
    ----------
    camera_half_width_k, camera_half_width_share : array_like
        Accuracy of the instrument: the larger of so many kelvin and such a share of the
        apparent temperature in °C. The common form of a specification.
    noise_u_k : array_like
        Of the mean of nine pixels [K] [from memory].
    emissivity_half_width, reflected_half_width_k, transmission_half_width : array_like
        Of ε, of T_r [K], of τ of the air.
    window_transmission_half_width, window_half_width_k : array_like
        Of τ_w, and of the temperature of a window [K]; own proposal, no source.
    band_known : array_like of bool
        Whether the waveband of the instrument is known.
    placement_u_k : array_like
        Place and size of the spot [K]; a judgement, no source.
    air_half_width_k : array_like
        Of the air temperature [K].
    current_half_width_share : array_like
        Of the current, as a share of it.
    exponent, exponent_half_width : array_like
        n of ΔT ∝ Iⁿ and half of its band.
    camera_correlation, emissivity_correlation : array_like
        Between the parts that are compared, 0 to 1; of the shape of a view, without the axis of
        its parts.

    References
    ----------
    JCGM 100:2008, 4.3.7 (rectangular distribution), F.2.3.

    Examples
    --------
    >>> Assumptions(emissivity_half_width=EMISSIVITY_MEASURED).noise_u_k
    0.1
    """

    camera_half_width_k: ArrayLike = 2.0
    camera_half_width_share: ArrayLike = 0.02
    noise_u_k: ArrayLike = 0.1
    emissivity_half_width: ArrayLike = EMISSIVITY_ASSUMED
    reflected_half_width_k: ArrayLike = REFLECTED_ASSUMED_K
    transmission_half_width: ArrayLike = 0.005
    window_transmission_half_width: ArrayLike = 0.05
    window_half_width_k: ArrayLike = 2.0
    band_known: ArrayLike = True
    placement_u_k: ArrayLike = 0.3
    air_half_width_k: ArrayLike = 1.0
    current_half_width_share: ArrayLike = 0.03
    exponent: ArrayLike = 1.8
    exponent_half_width: ArrayLike = 0.2
    camera_correlation: ArrayLike = SAME_FRAME
    emissivity_correlation: ArrayLike = SAME_FINISH

    def camera_u_k(self, apparent_c: ArrayLike) -> NDArray[np.float64]:
        """Standard uncertainty of the instrument at an apparent temperature [K]."""
        share = np.abs(np.asarray(apparent_c, dtype=np.float64)) * np.asarray(self.camera_half_width_share)
        return rectangular(np.maximum(np.asarray(self.camera_half_width_k), share))

    def band_u_k(self, emissivity: ArrayLike) -> NDArray[np.float64]:
        """Standard uncertainty by an unknown waveband, for an emissivity [K]."""
        dull = 1.0 - np.asarray(emissivity, dtype=np.float64)
        return rectangular(np.where(np.asarray(self.band_known, dtype=bool), 0.0, UNKNOWN_BAND_K * dull))


def rectangular(half_width: ArrayLike) -> NDArray[np.float64]:
    """Standard uncertainty of something anywhere within ± a half width: a/√3.

    Examples
    --------
    >>> round(float(rectangular(2.0)), 3)
    1.155
    """
    u: NDArray[np.float64] = np.asarray(half_width, dtype=np.float64) / np.sqrt(3.0)
    return u
