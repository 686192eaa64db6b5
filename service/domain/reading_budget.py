"""What the uncertainty of one reading is made of, line by line, and what would improve it first."""

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from service.domain.criteria import Criteria
from service.domain.measuring import CAMERA_K, CAMERA_PERCENT, PANE_HALF_WIDTH_K, Measured, band_of, lay_out
from service.domain.rise_uncertainty import (
    AIR_U_K,
    CURRENT_U_SHARE,
    MEDIAN_OF_THREE,
    SAME_FRAME,
    scaled_interval_k,
)
from service.domain.settings import Inputs
from service.domain.verdicts import Verdict
from service.domain.words import ReferenceKind
from service.physics.assumptions import Assumptions, Input
from service.physics.coverage import needs_monte_carlo
from service.physics.monte_carlo import (
    Load,
    Propagated,
    Validation,
    propagate_over_air,
    propagate_over_like_parts,
    validate,
)
from service.physics.optics import Floats, Optics
from service.physics.uncertainty import made_budget

#: Terms of a ``Measured`` and the line of the table each belongs to.
LINES = {
    "camera": Input.CAMERA,
    "noise": Input.NOISE,
    "emissivity": Input.EMISSIVITY,
    "reflected": Input.REFLECTED,
    "path": Input.TRANSMISSION,
    "window": Input.WINDOW_TRANSMISSION,
    "pane": Input.WINDOW_TEMPERATURE,
    "band": Input.BAND,
    "placement": Input.PLACEMENT,
}
#: Room within which lines laid out anew give the uncertainty that is stored [K].
SLACK_K = 1e-6
_ROOT_3 = math.sqrt(3.0)
_PARTLY_SHARED = frozenset({"camera", "emissivity"})
_OWN = frozenset({"noise", "placement"})


class BudgetLine(NamedTuple):
    """One input: standard uncertainty that it brings by itself [K], and its share of the variance."""

    input: Input
    u_k: float | None
    share: float | None
    u_common_k: float | None
    share_common: float | None


class ReadingBudget(NamedTuple):
    """All lines of one reading; ``u_k`` and ``u_common_k`` are what they sum to.

    ``agrees`` says whether that is the stored uncertainty: where a like part was judged anew
    since, lines of today would not be those of the stored figure.
    """

    lines: tuple[BudgetLine, ...]
    u_k: float
    u_common_k: float | None
    agrees: bool

    @property
    def largest(self) -> BudgetLine:
        """What to improve first, by the figure as measured."""
        return max(self.lines, key=lambda line: line.u_k or 0.0)

    @property
    def largest_at_common_load(self) -> BudgetLine | None:
        """The same by the figure at common load."""
        if self.u_common_k is None:
            return None
        return max(self.lines, key=lambda line: line.u_common_k or 0.0)


class Trials(NamedTuple):
    """What Monte Carlo says of one reading, beside the closed form."""

    found: Propagated
    closed: tuple[float, float]
    at_common_load: bool
    validation: Validation


def budget_of_reading(
    verdict: Verdict, parts: Sequence[tuple[Measured, float]], *, criteria: Criteria
) -> ReadingBudget | None:
    """Lines whose squares sum to the variance of the rise that decided.

    Parameters
    ----------
    verdict : Verdict
        As stored.
    parts : sequence of (Measured, float)
        The judged part, then those of its reference, with the coefficients of the difference;
        the part alone for other references.
    criteria : Criteria
        By which it was judged: load exponent and its half width.

    Returns
    -------
    ReadingBudget or None
        None without a rise or without uncertainty terms.

    Notes
    -----
    The sums of :mod:`service.domain.rise_uncertainty`, term by term; a test holds both together.

    References
    ----------
    JCGM 100:2008, 5.1.2 and 5.2.2.
    """
    if verdict.value_k is None or verdict.u_k is None or not all(one.known for one, _w in parts):
        return None
    if verdict.reference is ReferenceKind.LIKE_PARTS:
        amounts = _over_like_parts(parts)
    elif verdict.reference is ReferenceKind.BASELINE:
        amounts = _over_baseline(parts[0][0])
    else:
        amounts = _alone(parts[0][0])
    u_k = math.hypot(*amounts.values())
    common = _at_common_load(verdict, amounts, criteria)
    u_common_k = math.hypot(*common.values()) if common else None
    inputs = [key for key in Input if amounts.get(key) or common.get(key)]
    lines = tuple(
        BudgetLine(
            key,
            amounts.get(key),
            _share(amounts.get(key), u_k),
            common.get(key),
            _share(common.get(key), u_common_k),
        )
        for key in inputs
    )
    return ReadingBudget(lines, u_k, u_common_k, abs(u_k - verdict.u_k) <= SLACK_K) if lines else None


def _share(amount: float | None, u: float | None) -> float | None:
    return None if amount is None or not u else (amount / u) ** 2


def _alone(one: Measured) -> dict[Input, float]:
    amounts = {key: abs(getattr(one, name)) for name, key in LINES.items()}
    return amounts | {Input.AIR: AIR_U_K}


def _over_baseline(one: Measured) -> dict[Input, float]:
    wider = math.sqrt(1.0 + MEDIAN_OF_THREE)
    each = {
        Input.CAMERA: one.camera,
        Input.NOISE: one.noise,
        Input.PLACEMENT: one.placement,
        Input.WINDOW_TEMPERATURE: one.pane,
    }
    return {key: wider * abs(amount) for key, amount in (each | {Input.AIR: AIR_U_K}).items()}


def _over_like_parts(parts: Sequence[tuple[Measured, float]]) -> dict[Input, float]:
    amounts = {}
    for name, key in LINES.items():
        shared = sum(weight * getattr(one, name) for one, weight in parts)
        alone = math.hypot(*(weight * getattr(one, name) for one, weight in parts))
        if name in _OWN:
            amounts[key] = alone
        elif name in _PARTLY_SHARED:
            amounts[key] = math.sqrt(SAME_FRAME * shared**2 + (1.0 - SAME_FRAME) * alone**2)
        else:
            amounts[key] = abs(shared)
    return amounts


def _at_common_load(
    verdict: Verdict, amounts: Mapping[Input, float], criteria: Criteria
) -> dict[Input, float]:
    """Every line times the load factor, and the two that scaling brings."""
    load, value_k = verdict.load_ratio, verdict.value_k
    if verdict.common_k is None or verdict.u_common_k is None or not load or value_k is None:
        return {}
    factor = load**-criteria.exponent
    exponent_u = (criteria.exponent_high - criteria.exponent_low) / (2 * _ROOT_3)
    scaled = {key: factor * amount for key, amount in amounts.items()}
    y = abs(value_k * factor)
    scaled[Input.CURRENT] = y * criteria.exponent * CURRENT_U_SHARE
    scaled[Input.EXPONENT] = y * abs(math.log(load)) * exponent_u
    return scaled


# ---- Monte Carlo -----------------------------------------------------------------------------


def asks_for_trials(budget: ReadingBudget, verdict: Verdict, one: Measured) -> bool:
    """Whether the closed form is too rough for this reading (:mod:`service.physics.coverage`)."""
    scaled = budget.u_common_k is not None
    u, value = (budget.u_common_k, verdict.common_k) if scaled else (budget.u_k, verdict.value_k)
    lines = {Input.EXPONENT if scaled else Input.CAMERA: np.asarray(u, dtype=np.float64)}
    of_value = np.asarray(value, dtype=np.float64)
    made = made_budget(
        of_value, lines, refusal=np.zeros((), np.uint8), caution=np.asarray(one.caution, np.uint8)
    )
    return bool(needs_monte_carlo(made))


def trials_of(verdict: Verdict, parts: Sequence[Inputs], *, criteria: Criteria) -> Trials | None:
    """Propagate one reading by Monte Carlo, the same figure that the closed form gives.

    Parameters
    ----------
    verdict : Verdict
        As stored.
    parts : sequence of Inputs
        The judged part first, then its like parts where it was judged over them.
    criteria : Criteria
        Load exponent and its half width.

    Returns
    -------
    Trials or None
        None for a reference whose other visits are not propagated (own baseline, rated rise), or
        where parts were read in different wavebands.

    Notes
    -----
    Seeded: the same reading gives the same trials on every call.

    References
    ----------
    JCGM 101:2008, 5.9, 7 and 8.
    """
    band, _known = band_of(parts[0])
    if verdict.value_k is None or verdict.u_k is None or any(band_of(one)[0] != band for one in parts):
        return None
    laid = lay_out(parts, band)
    load = None
    if verdict.common_k is not None and verdict.load_ratio:
        load = Load(verdict.load_ratio, 1.0)
    given = _assumptions(parts, path_half=laid.path_half, window_half=laid.window_half, criteria=criteria)
    if verdict.reference is ReferenceKind.LIKE_PARTS and len(parts) > 1:
        found = propagate_over_like_parts(
            laid.apparent.value, laid.optics, assumptions=given, load=load, band=band
        )
    elif verdict.reference is ReferenceKind.AIR and verdict.rise_air_k is not None:
        ambient_c = float(laid.surface.value_c[0]) - verdict.rise_air_k
        one = Optics(*(np.asarray(cell).ravel()[0] for cell in laid.optics))
        single = _assumptions(
            parts[:1], path_half=laid.path_half[:1], window_half=laid.window_half[:1], criteria=criteria
        )
        found = propagate_over_air(
            float(laid.apparent.value[0]), one, ambient_c=ambient_c, assumptions=single, load=load, band=band
        )
    else:
        return None
    return _beside(verdict, found, scaled=load is not None)


def _beside(verdict: Verdict, found: Propagated, *, scaled: bool) -> Trials:
    value, u = (verdict.common_k, verdict.u_common_k) if scaled else (verdict.value_k, verdict.u_k)
    assert value is not None
    assert u is not None
    closed = scaled_interval_k(value, u) if scaled else (value - 2 * u, value + 2 * u)
    return Trials(found, closed, scaled, validate(*closed, u, found))


def _assumptions(
    parts: Sequence[Inputs], *, path_half: Floats, window_half: Floats, criteria: Criteria
) -> Assumptions:
    """The half widths that were in force for these readings."""

    def column(cells: Sequence[float]) -> float | Floats:
        return cells[0] if len(cells) == 1 else np.array(cells)

    exponent_half = (criteria.exponent_high - criteria.exponent_low) / 2
    return Assumptions(
        camera_half_width_k=column([CAMERA_K if p.accuracy_k is None else p.accuracy_k for p in parts]),
        camera_half_width_share=column(
            [(CAMERA_PERCENT if p.accuracy_percent is None else p.accuracy_percent) / 100.0 for p in parts]
        ),
        emissivity_half_width=column([p.emissivity.half_width for p in parts]),
        reflected_half_width_k=column([p.reflected_c.half_width for p in parts]),
        transmission_half_width=column(path_half.tolist()),
        window_transmission_half_width=column(window_half.tolist()),
        window_half_width_k=PANE_HALF_WIDTH_K,
        band_known=band_of(parts[0])[1],
        exponent=criteria.exponent,
        exponent_half_width=exponent_half,
    )
