"""Chances of the five levels, and what a clean reading could have missed."""

from service.domain.draft import Draft
from service.domain.rise_uncertainty import chance_over
from service.domain.words import Level, ReferenceKind

#: Normal deviate that nine chances in ten lie above, one-sided.
NINE_IN_TEN = 1.2816
#: Exponent with which a fault is brought up to common load: the highest of the published band, so
#: that what could have been missed is never understated.
STEEPEST_EXPONENT = 2.0
_LEVELS = tuple(Level)


def chances_of(draft: Draft) -> tuple[float, ...] | None:
    """Chances of the levels 0 to 4 by the column that decided; None without a budget.

    Notes
    -----
    P(level j) = Φ((b_j − y)/u) − Φ((b_{j−1} − y)/u), bands of one level added up.

    References
    ----------
    JCGM 106:2012, 7.2 to 7.4.
    """
    column, value, u = draft.column, draft.judged, draft.judged_u
    if column is None or value is None or u is None or draft.cold:
        return None
    chances = [0.0] * len(_LEVELS)
    before = 1.0
    lines = column.lines
    if draft.reference is ReferenceKind.BASELINE and draft.first_line is not None:
        lines = ((column.levels[0], draft.first_line), *lines)
        level = Level.NOTHING_FOUND
    else:
        level = column.levels[0]
    for above, line in lines:
        over = min(before, chance_over(value, line, u=u))
        chances[level] += before - over
        before, level = over, above
    chances[level] += before
    return tuple(chances)


def smallest_fault_k(draft: Draft) -> float | None:
    """Smallest fault at common load that a clean reading under these conditions would have shown [K].

    Notes
    -----
    The least rise over the reference that would have read past the first line with nine chances
    in ten, brought from the load of the visit to common load with n = 2. For kinds that are
    never scaled it is told as measured. None where conditions hide more than can be said: wind,
    a fan, heat not settled, a spot not filled, the end of the range, no number at all; and where
    load is not known for a part that carries current.
    """
    line, u = draft.first_line, draft.judged_u
    if draft.reference in (ReferenceKind.RATED_SHARE, None) or line is None or u is None or draft.cold:
        return None
    if not draft.sees_heat:
        return None
    seen_k = max(line, 0.0) + NINE_IN_TEN * u
    if draft.reference is ReferenceKind.BASELINE and draft.factor is not None:
        return seen_k  # the line lies at common load already
    if not draft.scales or draft.load is None:
        return seen_k if not draft.scales else None
    up: float = draft.load**-STEEPEST_EXPONENT
    return seen_k * max(up, 1.0)
