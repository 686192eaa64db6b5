"""Uncertainty of a rise in closed form, line by line: as measured, at common load, of rated rise."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.assumptions import Assumptions, Input
from service.physics.budget_terms import Terms, terms_at_common_load
from service.physics.load import MIN_SHARE
from service.physics.optics import Codes, Floats
from service.physics.refusals import Refusal

#: Coverage factor of the U that is printed.
EXPANDED_BY = 2.0


@dataclass(frozen=True, slots=True)
class Budget:
    """Values with their standard uncertainty and what each input contributes to it.

    Attributes
    ----------
    value, u : ndarray
        Value and standard uncertainty, in K (in % for a share of rated rise); NaN where refused.
    contributions : mapping of Input to ndarray
        Standard uncertainty by each input alone, in the unit of the value; their squares sum to
        u². An input that plays no part is not there.
    refusal, caution : ndarray of uint8
        Reasons, and flags of :class:`~service.physics.cautions.Caution`.
    scaled : bool
        Whether the value was brought to another load, so that its uncertainty is a factor.
    """

    value: Floats
    u: Floats
    contributions: Mapping[Input, Floats]
    refusal: Codes
    caution: Codes
    scaled: bool = False

    @property
    def expanded(self) -> Floats:
        """U = 2·u, as printed."""
        return EXPANDED_BY * self.u

    def share(self, of: Input) -> Floats:
        """Share of the variance that comes from one input, 0 to 1."""
        with np.errstate(invalid="ignore", divide="ignore"):
            found: Floats = (self.contributions.get(of, np.zeros(())) / self.u) ** 2
        return np.where(self.u > 0, found, np.nan)

    @property
    def largest(self) -> NDArray[np.uint8]:
        """The input with the largest contribution: what to improve first."""
        inputs = list(self.contributions)
        stacked = np.stack([np.broadcast_to(self.contributions[key], self.u.shape) for key in inputs])
        codes = np.array([int(key) for key in inputs], dtype=np.uint8)
        found: NDArray[np.uint8] = codes[np.argmax(np.nan_to_num(stacked, nan=-1.0), axis=0)]
        return found


def budget_of(terms: Terms) -> Budget:
    """Budget of values that stand alone: temperatures, or rises over air.

    Parameters
    ----------
    terms : Terms
        Of :func:`~service.physics.budget_terms.over_air_terms`, or those brought to common load.

    Returns
    -------
    Budget
        u² = Σ(c_i·u_i)², the inputs being independent.

    References
    ----------
    JCGM 100:2008, 5.1.2, equation 10.

    Examples
    --------
    >>> from service.physics.budget_terms import over_air_terms
    >>> from service.physics.optics import Optics
    >>> terms = over_air_terms(60.0, Optics(0.95, 25.0), ambient_c=25.0, assumptions=Assumptions())
    >>> budget = budget_of(terms)
    >>> round(float(budget.value), 3), round(float(budget.u), 3), Input(budget.largest).name
    (36.605, 1.686, 'CAMERA')
    """
    contributions = {key: np.abs(amount) for key, amount in terms.amounts_k.items()}
    return made_budget(terms.value, contributions, refusal=terms.refusal, caution=terms.caution)


def at_common_load(
    budget: Budget,
    current_a: ArrayLike,
    *,
    common_load_a: ArrayLike,
    assumptions: Assumptions,
    min_share: float = MIN_SHARE,
) -> Budget:
    """Budget of a rise brought to common load.

    Parameters
    ----------
    budget : Budget
        Of rises as measured [K]; over like parts of equal current, or over air.
    current_a, common_load_a : array_like
        Current of the visit and the load it is brought to [A].
    assumptions : Assumptions
        Uncertainty of current and exponent, and the exponent.
    min_share : float
        Below this share of the common load nothing is scaled.

    Returns
    -------
    Budget
        (u_y/y)² = (u/ΔT)² + (n·u_I/I)² + (ln ρ·u_n)².

    Examples
    --------
    >>> from service.physics.budget_terms import over_air_terms
    >>> from service.physics.optics import Optics
    >>> given = Assumptions()
    >>> rise = budget_of(over_air_terms(60.0, Optics(0.95, 25.0), ambient_c=25.0, assumptions=given))
    >>> found = at_common_load(rise, 60.0, common_load_a=100.0, assumptions=given)
    >>> round(float(found.value), 2), round(float(found.u), 2)
    (91.81, 7.44)
    """
    terms = Terms(budget.value, budget.contributions, budget.refusal, budget.caution)
    return budget_of(
        terms_at_common_load(
            terms, current_a, common_load_a=common_load_a, assumptions=assumptions, min_share=min_share
        )
    )


def share_of_rated_rise(
    budget: Budget,
    current_a: ArrayLike,
    *,
    rated_current_a: ArrayLike,
    rated_rise_k: ArrayLike,
    assumptions: Assumptions,
) -> Budget:
    """Budget of a rise as a share of what the rated rise would be at this current [%].

    Parameters
    ----------
    budget : Budget
        Of the rise over air as measured [K].
    current_a, rated_current_a : array_like
        Current of the visit and the rating [A].
    rated_rise_k : array_like
        Rise at the rating [K]; taken as exact, since it is what is promised.
    assumptions : Assumptions
        Uncertainty of current and exponent, and the exponent.

    Returns
    -------
    Budget
        In %, as :func:`~service.physics.load.share_of_rated_rise`; *no current* where a current
        or a rating is not above 0, *no number* without a rated rise.

    Examples
    --------
    >>> from service.physics.budget_terms import over_air_terms
    >>> from service.physics.optics import Optics
    >>> given = Assumptions()
    >>> rise = budget_of(over_air_terms(60.0, Optics(0.95, 25.0), ambient_c=25.0, assumptions=given))
    >>> found = share_of_rated_rise(rise, 60.0, rated_current_a=100.0, rated_rise_k=50.0, assumptions=given)
    >>> round(float(found.value), 1), round(float(found.u), 1)
    (183.6, 14.9)
    """
    amps, rating, rated = (_floats(v) for v in (current_a, rated_current_a, rated_rise_k))
    with np.errstate(invalid="ignore", divide="ignore"):
        flowing = np.where((amps > 0) & (rating > 0), amps, np.nan)
        percent = np.where(rated > 0, 100.0 / rated, np.nan)
    scaled = at_common_load(budget, flowing, common_load_a=rating, assumptions=assumptions, min_share=0.0)
    contributions = {key: part * percent for key, part in scaled.contributions.items()}
    return made_budget(scaled.value * percent, contributions, refusal=scaled.refusal, caution=budget.caution)


def made_budget(
    value: Floats, contributions: dict[Input, Floats], *, refusal: Codes, caution: Codes
) -> Budget:
    """Budget from its lines: u is the root of the sum of their squares; NaN with a reason."""
    variance = sum((part * part for part in contributions.values()), start=np.zeros(()))
    refusal = np.where((refusal == 0) & np.isnan(value), np.uint8(Refusal.NO_NUMBER), refusal)
    refusal = np.where((refusal == 0) & np.isnan(variance), np.uint8(Refusal.NO_UNCERTAINTY), refusal)
    sound = refusal == 0
    return Budget(
        np.where(sound, value, np.nan),
        np.where(sound, np.sqrt(variance), np.nan),
        contributions,
        refusal,
        caution,
        scaled=Input.EXPONENT in contributions,
    )


def _floats(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)
