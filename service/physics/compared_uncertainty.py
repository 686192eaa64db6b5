"""Uncertainty of a rise over like parts, over a twin and over a part's own baseline."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.assumptions import OTHER_CAMERA, SAME_FINISH, Assumptions, Input, rectangular
from service.physics.budget_terms import Terms
from service.physics.median_weights import MEDIAN_VARIANCE, median_weights
from service.physics.optics import Floats
from service.physics.refusals import Refusal
from service.physics.rise import alike
from service.physics.rise import over_like_parts as rise_over_like_parts
from service.physics.rise import relative_difference as figure_of_relative_difference
from service.physics.uncertainty import Budget, made_budget

#: Inputs that are the same for all parts seen at one time by one camera.
_SHARED = frozenset(
    {
        Input.REFLECTED,
        Input.TRANSMISSION,
        Input.WINDOW_TRANSMISSION,
        Input.WINDOW_TEMPERATURE,
        Input.WINDOW_REFLECTED,
        Input.BAND,
        Input.AIR,
        Input.EXPONENT,
    }
)


def over_twin(part: Terms, twin: Terms, *, assumptions: Assumptions) -> Budget:
    """Budget of the plain difference of two parts, warmer or colder.

    Parameters
    ----------
    part, twin : Terms, shape (...)
        Temperatures of the judged part and of the one it is compared with.
    assumptions : Assumptions
        Correlations of camera and emissivity between the two.

    Returns
    -------
    Budget
        Below 0 where the part is the colder one.

    Notes
    -----
    u² = a² + b² − 2·r·a·b for each input; with r = 1 what both share cancels as far as their
    coefficients are equal.

    Examples
    --------
    >>> from service.physics.budget_terms import surface_terms
    >>> from service.physics.optics import Optics
    >>> given = Assumptions(camera_correlation=0.5, emissivity_correlation=0.5)
    >>> hot, cool = (surface_terms(t, Optics(0.95, 25.0), assumptions=given) for t in (60.0, 45.0))
    >>> round(float(over_twin(hot, cool, assumptions=given).u), 3)
    1.539
    """
    correlations = _correlations(assumptions)
    contributions = _combined(_pairs(part, twin), np.array([[1.0, -1.0]]), correlations=correlations)
    return made_budget(
        part.value - twin.value,
        {key: found[..., 0] for key, found in contributions.items()},
        refusal=np.where(part.refusal != 0, part.refusal, twin.refusal),
        caution=part.caution | twin.caution,
    )


def over_like_parts(
    terms: Terms,
    *,
    assumptions: Assumptions,
    current_a: ArrayLike | None = None,
    like: ArrayLike | None = None,
) -> Budget:
    """Budget of each part's rise over the median of its like parts.

    Parameters
    ----------
    terms : Terms, shape (..., parts)
        Surface temperatures of the parts of each view; or their rises over air brought to common
        load each by its own current, where the currents differ.
    assumptions : Assumptions
        Correlations of camera and emissivity between the parts, of shape (...).
    current_a : array_like, shape (..., parts), optional
        Currents, to choose the like ones as :func:`~service.physics.rise.alike` does.
    like : array_like of bool, shape (..., parts, parts), optional
        Which parts enter the median of which, where that was chosen otherwise.

    Returns
    -------
    Budget, shape (..., parts)
        Each part's own reason, or *no like part*.

    Notes
    -----
    With the weights w of :func:`~service.physics.median_weights.median_weights` and the
    correlation r of each input, u² = Σ_i [(1 − r_i)·Σ(w_p·a_ip)² + r_i·(Σ w_p·a_ip)²]. Noise,
    place of the spot and current are each part's own (r = 0; one clamp for all would make it
    smaller); reflected temperature, air, window, waveband and exponent are shared (r = 1).

    References
    ----------
    JCGM 100:2008, 5.2.2, equation 16 (correlated inputs).

    Examples
    --------
    >>> from service.physics.budget_terms import surface_terms
    >>> from service.physics.optics import Optics
    >>> terms = surface_terms([60.0, 45.0], Optics(0.95, 25.0), assumptions=Assumptions())
    >>> found = over_like_parts(terms, assumptions=Assumptions())
    >>> round(float(found.value[0]), 3), round(float(found.u[0]), 3)
    (15.639, 0.869)
    """
    members = alike(terms.value, current_a=current_a) if like is None else np.asarray(like, dtype=bool)
    read = ~np.isnan(terms.value)
    rise = rise_over_like_parts(terms.value, like=members)
    weights = median_weights(terms.value, members & read[..., None, :])
    contributions = _combined(
        {key: np.where(read, amount, 0.0) for key, amount in terms.amounts_k.items()},
        weights,
        correlations=_correlations(assumptions),
    )
    refusal = np.where(terms.refusal != 0, terms.refusal, rise.refusal).astype(np.uint8)
    return made_budget(rise.value, contributions, refusal=refusal, caution=terms.caution)


def over_baseline(
    now: Terms,
    visits: Terms,
    *,
    camera_correlation: ArrayLike = OTHER_CAMERA,
    emissivity_correlation: ArrayLike = SAME_FINISH,
    least_visits: int = 3,
) -> Budget:
    """Budget of a rise over the point's own baseline, the median of earlier visits.

    Parameters
    ----------
    now : Terms, shape (...)
        Rise over air of this visit, at common load or as measured.
    visits : Terms, shape (..., visits)
        Rises of the visits of the baseline on the same scale; NaN is left out.
    camera_correlation : array_like
        Of the camera's error between visits: 0 for different instruments, 0.5 for the same one
        (a judgement). 0 where it is not known: the larger u.
    emissivity_correlation : array_like
        Of the emissivity: the surface is the same, and so is what is wrong with the number.
    least_visits : int
        Fewer give *too few visits*.

    Returns
    -------
    Budget

    Notes
    -----
    The visits are taken for so many readings of one constant: what is each visit's own shrinks
    as the variance κ_n of a median of n normal values (κ_3 = 0.449), what is shared does not.
    u_i² = (1 − r)·[a² + κ_n·mean(a_v²)] + r·(a − mean(a_v))². Air, reflected temperature, path,
    noise, place and current are of the day (r = 0), the exponent is the part's (r = 1).

    That the visits truly differ (another season, another load) is not in u; more of it shows in
    their scatter than any budget knows. Own derivation.

    Examples
    --------
    >>> from service.physics.budget_terms import over_air_terms
    >>> from service.physics.optics import Optics
    >>> optics, given = Optics(0.95, 25.0), Assumptions()
    >>> now = over_air_terms(60.0, optics, ambient_c=25.0, assumptions=given)
    >>> before = over_air_terms([44.0, 45.0, 47.0], optics, ambient_c=25.0, assumptions=given)
    >>> found = over_baseline(now, before)
    >>> round(float(found.value), 3), round(float(found.u), 2)
    (15.639, 1.73)
    """
    kept = ~np.isnan(visits.value)
    count = kept.sum(axis=-1)
    known = np.minimum(count, len(MEDIAN_VARIANCE) - 1)
    shrunk = np.asarray(MEDIAN_VARIANCE)[known]
    enough = count >= max(least_visits, 1)
    correlations = {
        Input.CAMERA: _floats(camera_correlation),
        Input.EMISSIVITY: _floats(emissivity_correlation),
        Input.EXPONENT: np.ones(()),
    }
    contributions = {}
    for key in {**now.amounts_k, **visits.amounts_k}:
        own = now.amounts_k.get(key, np.zeros(()))
        before = np.where(kept, visits.amounts_k.get(key, np.zeros(())), 0.0)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean, mean_square = before.sum(axis=-1) / count, (before**2).sum(axis=-1) / count
        r = correlations.get(key, np.zeros(()))
        apart = (1.0 - r) * (own**2 + shrunk * mean_square)
        contributions[key] = np.sqrt(apart + r * (own - mean) ** 2)
    refusal = np.where(now.refusal != 0, now.refusal, np.where(enough, 0, Refusal.TOO_FEW_VISITS))
    value = now.value - _median(visits.value, count)
    return made_budget(value, contributions, refusal=refusal.astype(np.uint8), caution=now.caution)


def relative_difference(
    hot: Terms,
    like: Terms,
    *,
    ambient_c: ArrayLike,
    assumptions: Assumptions,
    min_rise_k: float = 10.0,
) -> Budget:
    """Budget of the relative difference (T1 − T2)/(T1 − T0) of a hot part and a like part [%].

    Parameters
    ----------
    hot, like : Terms, shape (...)
        Surface temperatures T1 and T2.
    ambient_c : array_like
        T0 [°C].
    assumptions : Assumptions
        Correlations between the two, and uncertainty of the air.
    min_rise_k : float
        Least rise T1 − T0 for which it is given [K].

    Returns
    -------
    Budget
        In %, as :func:`~service.physics.rise.relative_difference`; NaN with *too cool*.

    Notes
    -----
    With R = T1 − T0: ∂δ/∂T1 = (T2 − T0)/R², ∂δ/∂T2 = −1/R, ∂δ/∂T0 = (T1 − T2)/R².

    Examples
    --------
    >>> from service.physics.budget_terms import surface_terms
    >>> from service.physics.optics import Optics
    >>> given = Assumptions()
    >>> hot, like = (surface_terms(t, Optics(0.95, 25.0), assumptions=given) for t in (60.0, 40.0))
    >>> found = relative_difference(hot, like, ambient_c=25.0, assumptions=given)
    >>> round(float(found.value), 1), round(float(found.u), 1)
    (57.0, 2.6)
    """
    difference = figure_of_relative_difference(hot.value, like.value, air_c=ambient_c, min_rise_k=min_rise_k)
    rise = hot.value - _floats(ambient_c)
    with np.errstate(invalid="ignore", divide="ignore"):
        by_hot = 100.0 * (like.value - _floats(ambient_c)) / rise**2
        by_like, by_air = -100.0 / rise, 100.0 * (hot.value - like.value) / rise**2
    weights = np.stack(np.broadcast_arrays(by_hot, by_like), axis=-1)[..., None, :]
    pairs = _pairs(hot, like)
    found = _combined(pairs, weights, correlations=_correlations(assumptions))
    contributions = {key: part[..., 0] for key, part in found.items()}
    path = np.einsum("...p,...p->...", weights[..., 0, :], pairs[Input.AIR])
    contributions[Input.AIR] = np.abs(path + by_air * rectangular(assumptions.air_half_width_k))
    refusal = np.where(
        hot.refusal != 0, hot.refusal, np.where(like.refusal != 0, like.refusal, difference.refusal)
    )
    return made_budget(difference.value, contributions, refusal=refusal, caution=hot.caution | like.caution)


def _correlations(assumptions: Assumptions) -> dict[Input, Floats]:
    """Correlation of each input between parts seen at one time; 0 where it is not named."""
    return dict.fromkeys(_SHARED, np.ones(())) | {
        Input.CAMERA: _floats(assumptions.camera_correlation)[..., None],
        Input.EMISSIVITY: _floats(assumptions.emissivity_correlation)[..., None],
    }


def _pairs(part: Terms, twin: Terms) -> dict[Input, Floats]:
    """Amounts of two parts side by side along a last axis."""
    none = np.zeros(())
    return {
        key: np.stack(
            np.broadcast_arrays(part.amounts_k.get(key, none), twin.amounts_k.get(key, none)), axis=-1
        )
        for key in {**part.amounts_k, **twin.amounts_k}
    }


def _combined(
    amounts: Mapping[Input, Floats], weights: Floats, *, correlations: Mapping[Input, Floats]
) -> dict[Input, Floats]:
    """Contribution of each input to Σ w_p·T_p for each row of weights, by the parts' amounts."""
    squares = weights**2
    found = {}
    for key, amount in amounts.items():
        r = correlations.get(key, np.zeros(()))
        apart = (1.0 - r) * np.einsum("...jp,...p->...j", squares, amount**2)
        together = r * np.einsum("...jp,...p->...j", weights, amount) ** 2
        found[key] = np.sqrt(apart + together)
    return found


def _median(values: Floats, count: NDArray[np.int64]) -> Floats:
    """Median along the last axis, NaN left out."""
    ordered = np.sort(values, axis=-1)
    places = ((count - 1) // 2, count // 2)
    ends = [np.take_along_axis(ordered, np.maximum(p, 0)[..., None], axis=-1)[..., 0] for p in places]
    middle: Floats = (ends[0] + ends[1]) / 2.0
    return middle


def _floats(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)
