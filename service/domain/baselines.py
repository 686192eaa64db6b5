"""A point's own baseline: the median of its first clearing visits since the repair."""

from collections.abc import Sequence
from statistics import median

from service.domain.criteria import Criteria
from service.domain.judgement_rules import RULE_BASELINE_FORMING
from service.domain.verdicts import Verdict
from service.domain.words import UNSCALED_KINDS, Level, PointKind


def baseline_share_k(verdict: Verdict, kind: PointKind, *, criteria: Criteria) -> float | None:
    """What one visit gives to the baseline [K over air]; None if the visit may not count.

    Notes
    -----
    At common load, or as measured for kinds that are never scaled (physics.md §3.3), so that
    baseline and reading lie on one scale. A visit counts if its conditions were full and it
    accused nobody: it cleared, or had nothing to compare with only because the baseline was
    still forming.
    """
    fit = verdict.level is Level.NOTHING_FOUND or verdict.rule == RULE_BASELINE_FORMING
    if not (fit and verdict.trended) or verdict.rise_air_k is None:
        return None
    if kind in UNSCALED_KINDS:
        return verdict.rise_air_k
    # a trended visit of a scaled kind has a load of at least the least share
    assert verdict.load_ratio
    return float(verdict.rise_air_k * verdict.load_ratio**-criteria.exponent)


def baseline_k(shares_k: Sequence[float], criteria: Criteria) -> float | None:
    """Median of the first visits since the repair, oldest first; None while there are too few [K]."""
    first = shares_k[: criteria.baseline_visits]
    return float(median(first)) if len(first) == criteria.baseline_visits else None
