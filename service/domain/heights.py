"""Where a point's stroke begins and ends: its rise now and a year ago on its own action lines."""

import math
from dataclasses import dataclass
from datetime import datetime

from service.domain.criteria import Criteria
from service.domain.words import PointKind, ReferenceKind

Lines = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Rise:
    """A rise told by its kind of reference, as measured and at common load [K], or as a share [%]."""

    reference: ReferenceKind | None
    value_k: float | None
    common_k: float | None
    share_of_rated: float | None = None
    taken_at: datetime | None = None


def rungs_of(
    criteria: Criteria, reference: ReferenceKind | None, kind: PointKind, *, component: str
) -> Lines | None:
    """Action lines of levels 1 to 4, NaN where the column has none; None without a reference."""
    if reference is None:
        return None
    lines = dict.fromkeys(range(1, 5), math.nan)
    for level, line in criteria.lines_for(reference, kind, component):
        if level > 0:
            lines[int(level)] = line
    return lines[1], lines[2], lines[3], lines[4]


def stroke_values(now: Rise, then: Rise | None) -> tuple[float | None, float | None]:
    """The two rises that a stroke joins, both on one scale; the second None where there is none.

    Kinds of reference never mix, and neither do a rise at common load and one as measured.
    """
    if then is not None and then.reference is not now.reference:
        then = None
    if now.reference is ReferenceKind.RATED_SHARE:
        return now.share_of_rated, None if then is None else then.share_of_rated
    if then is None:
        return (now.value_k if now.common_k is None else now.common_k), None
    if now.common_k is not None and then.common_k is not None:
        return now.common_k, then.common_k
    return now.value_k, then.value_k
