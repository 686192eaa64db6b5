"""What this visit could have missed: the smallest fault that a clean reading would not hide."""

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.assumptions import Assumptions, Input, rectangular
from service.physics.budget_terms import Terms, over_air_terms, surface_terms
from service.physics.cautions import indicative
from service.physics.compared_uncertainty import over_twin
from service.physics.load import EXPONENT_HIGH, EXPONENT_LOW, MIN_SHARE
from service.physics.median_weights import MEDIAN_LIFT
from service.physics.optics import Codes, Floats, Optics
from service.physics.radiance import BAND_8_14, Band
from service.physics.refusals import Refusal
from service.physics.settling import ACCEPTED_FROM, ESTIMATE_FROM, SETTLED_FROM
from service.physics.surface import apparent_temperature
from service.physics.uncertainty import budget_of

#: A fault counts as one that would have been seen from this chance on, and its normal quantile.
SEEN_FROM, SEEN_QUANTILE = 0.90, 1.2815515655446004
#: Above this wind nothing can be said [m/s].
CALM_M_S = 1.0
#: Below this filled share of the spot nothing can be said.
LEAST_FILL = 0.5
_ROUNDS = 8
_SLACK = 1e-9


class Conditions(NamedTuple):
    """Under what conditions a visit was made; arrays that broadcast against the readings.

    Attributes
    ----------
    load_share : array_like
        Current over common load; 1 for kinds whose rise does not follow a current. NaN is not
        known.
    settled_share : array_like
        Share s of the rise that had come about (:func:`~service.physics.settling.settled_share`);
        NaN is not known and taken as settled, which is then said.
    filled_share : array_like
        Share of the measuring spot that the part fills, 1 where it fills it; NaN says nothing.
    wind_m_s : array_like
        Wind at the part [m/s], 0 indoors; NaN says nothing.
    fan_on_part : array_like of bool
        Whether forced air blows on it.
    """

    load_share: ArrayLike
    settled_share: ArrayLike = np.nan
    filled_share: ArrayLike = 1.0
    wind_m_s: ArrayLike = 0.0
    fan_on_part: ArrayLike = False


class SmallestFault(NamedTuple):
    """The smallest fault that would have been seen.

    Attributes
    ----------
    at_common_load_k : ndarray
        Over its reference, at common load and settled [K]; NaN: cannot be said. To be rounded up.
    as_measured_k : ndarray
        The same as it would have shown on this visit [K].
    taken_as_settled : ndarray of bool
        Whether that rests on heat having settled, which is not known.
    refusal : ndarray of uint8
        Why it cannot be said.
    """

    at_common_load_k: Floats
    as_measured_k: Floats
    taken_as_settled: NDArray[np.bool_]
    refusal: Codes


def smallest_fault(
    line_k: ArrayLike,
    u_of: Callable[[Floats], Floats],
    *,
    conditions: Conditions,
    assumptions: Assumptions,
    lift_k: ArrayLike = 0.0,
) -> SmallestFault:
    """Smallest fault whose reading would have passed the first line in nine of ten visits.

    Parameters
    ----------
    line_k : array_like
        First line of the deciding column, as measured [K].
    u_of : callable
        Standard uncertainty of the reading of a fault that shows as many kelvin [K].
    conditions : Conditions
        Load, settling, spot and wind of the visit.
    assumptions : Assumptions
        Uncertainty of the current.
    lift_k : array_like
        By how much the reference may lie too high on average [K].

    Returns
    -------
    SmallestFault
        NaN with *no current*, *low load* (under 40 %), *not settled* (under two time constants),
        *spot not filled* (under half), *wind* (over 1 m/s, or a fan) or *no uncertainty*.

    Notes
    -----
    A clean reading is one at or below the line: not even *near the line*. A true difference of a
    kelvin reads above the line with a chance of 0.9 if

        a = line + lift + z·√(u(a)² + (n·u_I·a)²),  z = 1.2816.

    That is a detection limit with the line as the critical value. At common load it
    is a/(Lⁿ·s·f) with load share L, settled share s and filled share f, each at the end that
    makes the fault larger: n = 2.0 below common load and 1.6 above; s rounded down to that of 2,
    3 or 5 time constants, from a start without any rise; f as if the rest of the spot were no
    warmer than the part. The fixed point is reached from below within 1e-6 K.

    Wind is not widened by: how much it takes away is not known within a factor of two.
    It speaks of a fault that was there on that day, and of nothing that came after.

    References
    ----------
    ISO 11843-1 (critical value and least detectable value) [from memory].

    Examples
    --------
    >>> found = smallest_fault(
    ...     1.0, lambda k: 0.8 + 0 * k, conditions=Conditions(load_share=0.52), assumptions=Assumptions()
    ... )
    >>> round(float(found.as_measured_k), 2), round(float(found.at_common_load_k), 1)
    (2.03, 7.5)
    """
    share, settled, filled, wind = (_floats(part) for part in conditions[:4])
    fan = np.asarray(conditions.fan_on_part, dtype=bool)
    line = _floats(line_k)
    exponent = np.where(share < 1.0, EXPONENT_HIGH, EXPONENT_LOW)
    by_current = EXPONENT_HIGH * rectangular(assumptions.current_half_width_share)
    start = line + _floats(lift_k)
    shown = np.broadcast_arrays(start, share)[0]
    for _ in range(_ROUNDS):
        shown = start + SEEN_QUANTILE * np.hypot(u_of(shown), by_current * shown)
    shown_share = _rounded_down(settled)
    with np.errstate(invalid="ignore", divide="ignore"):
        common = shown / (share**exponent * shown_share * np.minimum(filled, 1.0))
        reasons = {
            Refusal.NO_NUMBER: np.isnan(line),
            Refusal.NO_CURRENT: ~(share > 0),
            Refusal.LOW_LOAD: share < MIN_SHARE - _SLACK,
            Refusal.WIND: fan | ~(wind <= CALM_M_S),
            Refusal.NOT_SETTLED: np.isnan(shown_share),
            Refusal.SPOT_NOT_FILLED: ~(filled >= LEAST_FILL),
            Refusal.NO_UNCERTAINTY: ~(shown > 0),
        }
    reasons = dict(zip(reasons, np.broadcast_arrays(common, *reasons.values())[1:], strict=True))
    refusal = np.select(list(reasons.values()), [int(code) for code in reasons], default=0).astype(np.uint8)
    return SmallestFault(
        np.where(refusal == 0, common, np.nan),
        np.where(refusal == 0, shown, np.nan),
        (refusal == 0) & np.isnan(settled),
        refusal,
    )


def smallest_fault_over_like_parts(
    like_c: ArrayLike,
    optics: Optics,
    *,
    parts: ArrayLike,
    line_k: ArrayLike,
    conditions: Conditions,
    assumptions: Assumptions,
    band: Band = BAND_8_14,
) -> SmallestFault:
    """The same for a part that is judged over its like parts.

    Parameters
    ----------
    like_c : array_like
        Surface temperature of the healthy parts of the view [°C].
    optics : Optics
        Settings that hold for part and reference alike.
    parts : array_like of int
        How many parts are compared, the judged one included; 2 or more.
    line_k, conditions, assumptions
        As in :func:`smallest_fault`.
    band : Band
        Waveband of the instrument.

    Returns
    -------
    SmallestFault
        Also NaN with *no like part*, or *indicative* where optics allow nothing to be cleared.

    Notes
    -----
    The foretold reading of a part a kelvin warmer gives u, against one part as reference: for
    four parts and more this is on the safe side. Where healthy parts are truly equal, their
    median with a hot one among them lies too high by up to 0.56 of one part's own error: the lift.

    Examples
    --------
    >>> found = smallest_fault_over_like_parts(
    ...     35.0,
    ...     Optics(0.95, 20.0),
    ...     parts=3,
    ...     line_k=1.0,
    ...     conditions=Conditions(load_share=[1.0, 0.52]),
    ...     assumptions=Assumptions(),
    ... )
    >>> found.at_common_load_k.round(1).tolist()
    [2.2, 8.3]
    """
    like = _foretold(_floats(like_c), optics, assumptions=assumptions, band=band)
    count = np.asarray(parts)
    lift = np.asarray(MEDIAN_LIFT)[np.clip(count, 1, len(MEDIAN_LIFT) - 1)]

    def u_of(shown: Floats) -> Floats:
        hot = _foretold(_floats(like_c) + shown, optics, assumptions=assumptions, band=band)
        return over_twin(hot, like, assumptions=assumptions).u

    found = smallest_fault(
        line_k,
        u_of,
        conditions=conditions,
        assumptions=assumptions,
        lift_k=lift * _own(like, assumptions),
    )
    alone = np.where(count < 2, np.uint8(Refusal.NO_LIKE_PART), np.uint8(0))
    return _refused(found, np.where(alone != 0, alone, _optics_forbid(like)))


def smallest_fault_over_air(
    ambient_c: ArrayLike,
    optics: Optics,
    *,
    line_k: ArrayLike,
    conditions: Conditions,
    assumptions: Assumptions,
    band: Band = BAND_8_14,
) -> SmallestFault:
    """The same for a part that stands alone and is judged over air.

    Parameters
    ----------
    ambient_c : array_like
        Air round the part [°C].
    optics, line_k, conditions, assumptions, band
        As in :func:`smallest_fault_over_like_parts`.

    Returns
    -------
    SmallestFault
        The whole rise over air, healthy warmth included.

    Examples
    --------
    >>> found = smallest_fault_over_air(
    ...     20.0,
    ...     Optics(0.95, 20.0),
    ...     line_k=20.0,
    ...     conditions=Conditions(load_share=0.8),
    ...     assumptions=Assumptions(),
    ... )
    >>> round(float(found.as_measured_k), 1), round(float(found.at_common_load_k), 1)
    (22.2, 34.6)
    """
    air = _floats(ambient_c)
    cold = surface_terms(air, optics, assumptions=assumptions, band=band)

    def u_of(shown: Floats) -> Floats:
        apparent = apparent_temperature(air + shown, optics, band=band).value
        terms = over_air_terms(apparent, optics, ambient_c=air, assumptions=assumptions, band=band)
        return budget_of(terms).u

    found = smallest_fault(line_k, u_of, conditions=conditions, assumptions=assumptions)
    return _refused(found, _optics_forbid(cold))


def _foretold(surface_c: Floats, optics: Optics, *, assumptions: Assumptions, band: Band) -> Terms:
    """Terms of the reading that a surface of this temperature would give."""
    apparent = apparent_temperature(surface_c, optics, band=band)
    terms = surface_terms(apparent.value, optics, assumptions=assumptions, band=band)
    return replace(terms, refusal=np.where(apparent.refusal != 0, apparent.refusal, terms.refusal))


def _own(terms: Terms, assumptions: Assumptions) -> Floats:
    """Standard uncertainty of what no other part of the view shares [K]."""
    related = {
        Input.CAMERA: _floats(assumptions.camera_correlation),
        Input.EMISSIVITY: _floats(assumptions.emissivity_correlation),
    }
    alone = {Input.NOISE: np.zeros(()), Input.PLACEMENT: np.zeros(())}
    variance = sum(
        ((1.0 - r) * terms.amounts_k[key] ** 2 for key, r in (related | alone).items()), start=np.zeros(())
    )
    return np.sqrt(variance)


def _rounded_down(settled_share: Floats) -> Floats:
    """Settled share of two, three or five time constants below it; 1 where it is not known, else NaN."""
    steps = -np.expm1(-np.array([ESTIMATE_FROM, ACCEPTED_FROM, SETTLED_FROM]))
    with np.errstate(invalid="ignore"):
        reached = [settled_share >= step - _SLACK for step in steps[::-1]]
    return np.select([np.isnan(settled_share), *reached], [1.0, *steps[::-1]], default=np.nan)


def _optics_forbid(terms: Terms) -> Codes:
    """Why readings by these optics clear nothing, whatever the visit."""
    unsure = np.where(indicative(terms.caution), np.uint8(Refusal.INDICATIVE), np.uint8(0))
    return np.where(terms.refusal != 0, terms.refusal, unsure)


def _refused(found: SmallestFault, before: Codes) -> SmallestFault:
    """The same with reasons that come before those already found."""
    refusal = np.where(before != 0, before, found.refusal)
    sound = refusal == 0
    return SmallestFault(
        np.where(sound, found.at_common_load_k, np.nan),
        np.where(sound, found.as_measured_k, np.nan),
        found.taken_as_settled & sound,
        refusal,
    )


def _floats(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)
