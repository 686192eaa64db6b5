"""How much a surface temperature moves with each input: the coefficients of a budget."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from service.physics.optics import Floats, Optics, layers_of
from service.physics.radiance import BAND_8_14, Band, band_radiance, radiance_slope


class Sensitivities(NamedTuple):
    """Partial derivatives of the surface temperature T_o, all of one shape.

    Attributes
    ----------
    gain : ndarray of float
        ∂T_o/∂T_app [K/K].
    per_emissivity : ndarray of float
        ∂T_o/∂ε [K per unit].
    per_reflected_k : ndarray of float
        ∂T_o/∂T_r [K/K].
    per_transmission : ndarray of float
        ∂T_o/∂τ [K per unit]; also at τ = 1, where it needs the air temperature.
    per_air_k : ndarray of float
        ∂T_o/∂T_a [K/K].
    per_window_transmission, per_window_k, per_window_reflection, per_window_reflected_k : ndarray
        ∂T_o/∂τ_w, ∂T_o/∂T_w, ∂T_o/∂ρ_w, ∂T_o/∂T_rw; 0 where there is no window.
    """

    gain: Floats
    per_emissivity: Floats
    per_reflected_k: Floats
    per_transmission: Floats
    per_air_k: Floats
    per_window_transmission: Floats
    per_window_k: Floats
    per_window_reflection: Floats
    per_window_reflected_k: Floats


def sensitivities(
    apparent_c: ArrayLike, surface_c: ArrayLike, optics: Optics, *, band: Band = BAND_8_14
) -> Sensitivities:
    """Partial derivatives of the surface temperature at a solution of the model.

    Parameters
    ----------
    apparent_c : array_like
        Apparent temperature [°C].
    surface_c : array_like
        What :func:`~service.physics.surface.surface_temperature` made of it [°C]; NaN stays NaN.
    optics : Optics
        Settings that hold.
    band : Band
        Waveband of the instrument.

    Returns
    -------
    Sensitivities
        A derivative is NaN where it depends on something not known: ∂T_o/∂τ without an air
        temperature, ∂T_o/∂ε without a reflected one, ∂T_o/∂ρ_w without a T_rw.

    Notes
    -----
    With L′ = dL/dT and D = τ·τ_w·ε·L′(T_o): ∂/∂T_app = L′(T_app)/D =: G;
    ∂/∂ε = −(L(T_o) − L(T_r))/(ε·L′(T_o)); ∂/∂T_r = −((1−ε)/ε)·L′(T_r)/L′(T_o);
    ∂/∂τ = −(L(T_app) − L(T_a))/(τ·D); ∂/∂T_a = −(1−τ)·L′(T_a)/D;
    ∂/∂τ_w = −(L₂ − L(T_w))/(τ_w·ε·L′(T_o)), L₂ what leaves the part;
    ∂/∂T_w = −(1−τ_w−ρ_w)·L′(T_w)/(τ_w·ε·L′(T_o)), and so on. Own derivation.

    Examples
    --------
    >>> found = sensitivities(60.0, 67.4724, Optics(emissivity=0.8, reflected_c=25.0))
    >>> round(float(found.gain), 3), round(float(found.per_emissivity), 1)
    (1.187, -45.5)
    """
    layers = layers_of(optics, band)
    eps, tau, through, mirrored = layers[:4]
    own, own_slope = _radiance_and_slope(surface_c, band)
    seen, seen_slope = _radiance_and_slope(apparent_c, band)
    reflected, reflected_slope = _radiance_and_slope(optics.reflected_c, band)
    air, air_slope = _radiance_and_slope(optics.air_c, band)
    window = np.asarray(optics.window, dtype=bool)
    mirror, mirror_slope = _radiance_and_slope(optics.window_reflected_c, band)
    leaving = eps * own + (1.0 - eps) * layers.reflected
    with np.errstate(divide="ignore", invalid="ignore"):
        behind_window = through * eps * own_slope
        behind_air = tau * behind_window
        window_slope = radiance_slope(optics.window_c, band)
        found = (
            seen_slope / behind_air,
            -through * (own - reflected) / behind_window,
            -through * _emits(1.0 - eps, reflected_slope) / behind_window,
            -(seen - air) / (tau * behind_air),
            -_emits(1.0 - tau, air_slope) / behind_air,
            -np.where(window, leaving - layers.window, 0.0) / behind_window,
            -_emits(np.where(window, layers.window_emission, 0.0), window_slope) / behind_window,
            np.where(window, layers.window - mirror, 0.0) / behind_window,
            -_emits(mirrored, mirror_slope) / behind_window,
        )
    return Sensitivities(*np.broadcast_arrays(*found))


def _radiance_and_slope(temperature_c: ArrayLike, band: Band) -> tuple[Floats, Floats]:
    radiance = band_radiance(temperature_c, band)
    return radiance, radiance_slope(temperature_c, band, radiance=radiance)


def _emits(share: Floats, slope: Floats) -> Floats:
    """Share of a layer times its dL/dT; 0 without a share, whatever its temperature."""
    return np.where(share == 0.0, 0.0, share * slope)
