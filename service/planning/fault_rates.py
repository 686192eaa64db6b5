"""How often faults begin: typed guesses, put right by what the record counts, and never wildly apart."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: What a condition is worth before the record speaks: poor, average, good. Assumed, no source.
GRADE_FACTORS: tuple[float, ...] = (1.8, 1.0, 0.6)
#: How wrong each guess may be (sd of its logarithm): of a kind, of a grade. Assumed, no source.
KIND_SD, GRADE_SD = 0.5, 0.3
#: How far a guess for one piece of equipment is believed against that of its kind, and how wrong that is.
BELIEF, BELIEF_SD = 0.4, 0.3
#: Variance of what makes one piece worse than its like and is not seen. Assumed, no source.
HIDDEN_VARIANCE = 0.6
#: No rate is told further from its kind's than by this factor.
MOST_APART = 4.0
_PASSES = 12


@dataclass(frozen=True, slots=True)
class Record:
    """What is known of each piece of equipment, arrays of shape (n,).

    Attributes
    ----------
    kind : ndarray of int
        Index of its kind, from 0.
    grade : ndarray of int
        Index into ``GRADE_FACTORS``; -1 where the condition is not known.
    guess_per_year : ndarray
        Faults a year as typed for it (its kind's figure where nobody typed one), at average condition.
    faults : ndarray of int
        Faults on record: those found, and those that failed unseen. Counting only the found ones
        would call equipment bad because it is read often.
    years : ndarray
        Years that the record spans.
    """

    kind: Ints
    grade: Ints
    guess_per_year: Floats
    faults: Ints
    years: Floats


def learned_rates(record: Record) -> Floats:
    """Faults a year of each piece of equipment, after what the record counts.

    Parameters
    ----------
    record : Record

    Returns
    -------
    ndarray, shape (n,)
        Faults that begin in a year.

    Notes
    -----
    Poisson regression of the counts on kind, condition and the typed guess, each held to its
    guess by a normal prior on the logarithm; then a gamma-Poisson correction for each piece,
    (1/v + n)/(1/v + expected), with v = ``HIDDEN_VARIANCE``; last the cap of ``MOST_APART``.
    The correction is textbook empirical Bayes (Efron & Morris 1973, from memory).
    """
    typed, design, start, spread = _design(record)
    beta = start.copy()
    for _ in range(_PASSES):
        expected = record.years * np.exp(np.clip(typed + design @ beta, -12.0, 5.0))
        # A hidden factor of variance v makes counts vary by more than their mean.
        trust = 1 / (1 + HIDDEN_VARIANCE * expected)
        slope = design.T @ (trust * (record.faults - expected)) - (beta - start) / spread**2
        curve = (design * (trust * expected)[:, None]).T @ design + np.diag(1 / spread**2)
        beta = beta + np.clip(np.linalg.solve(curve, slope), -1.0, 1.0)
    rate = np.exp(np.clip(typed + design @ beta, -12.0, 5.0))
    own = (1 / HIDDEN_VARIANCE + record.faults) / (1 / HIDDEN_VARIANCE + rate * record.years)
    return _held_together(rate * own, record.kind)


def _design(record: Record) -> tuple[Floats, Floats, Floats, Floats]:
    """Logarithm of the kind's guess; columns kind, grade, typed guess; their priors and spreads."""
    kinds, grades = int(record.kind.max()) + 1, len(GRADE_FACTORS)
    guess = np.log(record.guess_per_year)
    of_kind = np.array(
        [np.median(guess[record.kind == k]) if (record.kind == k).any() else 0.0 for k in range(kinds)]
    )
    typed = of_kind[record.kind]
    columns = [np.eye(kinds)[record.kind], np.eye(grades)[record.grade] * (record.grade >= 0)[:, None]]
    design = np.column_stack([*columns, guess - typed])
    start = np.concatenate([np.zeros(kinds), np.log(GRADE_FACTORS), [BELIEF]])
    spread = np.concatenate([np.full(kinds, KIND_SD), np.full(grades, GRADE_SD), [BELIEF_SD]])
    return typed, design, start, spread


def _held_together(rate: Floats, kind: Ints) -> Floats:
    count = np.bincount(kind)
    mean = np.bincount(kind, weights=rate) / np.maximum(count, 1)
    held: Floats = np.clip(rate, mean[kind] / MOST_APART, mean[kind] * MOST_APART)
    return held
