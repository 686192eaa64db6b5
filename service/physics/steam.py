"""Steam: at which temperature water boils under a pressure."""

import numpy as np
from numpy.typing import ArrayLike

from service.physics.refusals import Refusal
from service.physics.rise import Figure

#: Standard atmosphere, added to what a gauge shows [bar].
ATMOSPHERE_BAR = 1.01325
#: Least and greatest pressure at which water boils: 273.15 K and the critical point [MPa].
LEAST_MPA, GREATEST_MPA = 611.213e-6, 22.064
_ZERO_C_IN_K = 273.15
_N = (
    *(0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5),
    *(-0.32325550322333e7, 0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6),
    *(-0.23855557567849, 0.65017534844798e3),
)


def saturation_k(pressure_mpa: ArrayLike) -> Figure:
    """Temperature at which water boils.

    Parameters
    ----------
    pressure_mpa : array_like
        Absolute pressure [MPa].

    Returns
    -------
    Figure
        Saturation temperature [K]; NaN with *out of range* outside 611.213 Pa … 22.064 MPa and
        with *no number* where the pressure is NaN.

    References
    ----------
    IAPWS, Revised Release on the Industrial Formulation 1997 (R7-97), section 8.2, eq. 31:
    backward equation of region 4, consistent with the saturation-pressure equation.

    Examples
    --------
    >>> saturation_k(1.0).value.round(6).item()
    453.035632
    """
    pressure = np.asarray(pressure_mpa, dtype=np.float64)
    inside = (pressure >= LEAST_MPA) & (pressure <= GREATEST_MPA)
    beta = np.where(inside, pressure, 1.0) ** 0.25
    e = beta**2 + _N[2] * beta + _N[5]
    f = _N[0] * beta**2 + _N[3] * beta + _N[6]
    g = _N[1] * beta**2 + _N[4] * beta + _N[7]
    d = 2 * g / (-f - np.sqrt(f**2 - 4 * e * g))
    sum_k = _N[9] + d
    boils_k = (sum_k - np.sqrt(sum_k**2 - 4 * (_N[8] + _N[9] * d))) / 2
    refusal = np.where(
        np.isnan(pressure), Refusal.NO_NUMBER, np.where(inside, Refusal.NONE, Refusal.OUT_OF_RANGE)
    ).astype(np.uint8)
    return Figure(np.where(inside, boils_k, np.nan), refusal)


def saturation_c(gauge_bar: ArrayLike) -> Figure:
    """Temperature of steam at what a gauge shows.

    Parameters
    ----------
    gauge_bar : array_like
        Pressure over the air outside [bar], as a gauge on the line shows it.

    Returns
    -------
    Figure
        Saturation temperature [°C], NaN as in `saturation_k`.

    Notes
    -----
    The air outside is taken as the standard atmosphere. A site 1000 m up has 0.11 bar less,
    which makes the steam cooler by 3.3 K at 0 bar and by 0.5 K at 10 bar.

    Examples
    --------
    >>> saturation_c([0.0, 10.0]).value.round(1)
    array([100. , 184.1])
    """
    figure = saturation_k((np.asarray(gauge_bar, dtype=np.float64) + ATMOSPHERE_BAR) / 10.0)
    return Figure(figure.value - _ZERO_C_IN_K, figure.refusal)
