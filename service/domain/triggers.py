"""The figure of a sheet row above which the person reading tells control at once."""

import math
from dataclasses import dataclass

from service.domain.bands import BandRule
from service.domain.criteria import Criteria
from service.domain.words import UNSCALED_KINDS, Level, PointKind, ReferenceKind

#: The steepest exponent (plain I²R) gives the lowest figure: a trigger errs on the early side.
_TRIGGER_EXPONENT = 2.0
_OVER = {
    ReferenceKind.LIKE_PARTS: "over its like parts",
    ReferenceKind.AIR: "over air",
    ReferenceKind.BASELINE: "over air",
    ReferenceKind.RATED_SHARE: "over air",
}


#: Kinds told by total temperature too (standards.md §1a.9).
_TOTAL_KINDS = frozenset({PointKind.BEARING, PointKind.COUPLING})


@dataclass(frozen=True, slots=True)
class Trigger:
    """Figures printed on a row: whole kelvin, rounded down (standards.md §1a *Trigger*).

    A figure is None where its column has no line yet; ``total_c`` is the total temperature
    of a bearing or coupling [°C].
    """

    reference: ReferenceKind
    expected_load: float
    at_expected_load_k: int | None
    least_load: float
    at_least_load_k: int | None
    total_c: int | None = None

    @property
    def sentence(self) -> str:
        told = []
        if self.at_expected_load_k is not None:
            told.append(f"{self.at_expected_load_k} K {_OVER[self.reference]}")
            if self.at_least_load_k != self.at_expected_load_k:
                told[0] += f" ({self.at_least_load_k} K at {100 * self.least_load:.0f} % load)"
        if self.total_c is not None:
            told.append(f"{self.total_c} °C on the part")
        return f"Tell control above {' or '.join(told)}. Below it nothing is cleared."


@dataclass(frozen=True, slots=True, kw_only=True)
class RowPoint:
    """What a trigger stands on: the point of a row, its deciding column, and what is known of both.

    Attributes
    ----------
    reference : ReferenceKind
        The deciding column: like parts, share of rated rise, own baseline or air.
    expected_load : float or None
        Load expected on the round, share of common load [0, 1]; unknown is taken as full.
    common_to_rating : float
        Common load over rated current, for the share of rated rise.
    rated_rise_k, baseline_k : float or None
        Needed for their columns [K].
    """

    kind: PointKind
    reference: ReferenceKind
    component: str = ""
    expected_load: float | None = None
    common_to_rating: float = 1.0
    rated_rise_k: float | None = None
    baseline_k: float | None = None

    @property
    def scaled(self) -> bool:
        return self.kind not in UNSCALED_KINDS


def trigger(point: RowPoint, criteria: Criteria) -> Trigger | None:
    """What a row's reader compares with on the spot.

    Parameters
    ----------
    point : RowPoint
    criteria : Criteria

    Returns
    -------
    Trigger or None
        None where the column has no Act-now line, or what it needs is not known, and the kind
        has no total temperature either.

    Notes
    -----
    The lower of the Act-now line as measured and that line brought to the load with n = 2;
    unscaled for the kinds of physics.md §3.3. Over its own baseline the figure is told over
    air (baseline and line together), because that is what the instrument shows.
    """
    rule = criteria.rule_for(point.reference, point.kind, point.component)
    line_k = _line_at_common_load(point, rule)
    total_c = math.floor(criteria.bearing_total_c) if point.kind in _TOTAL_KINDS else None
    if line_k is None and total_c is None:
        return None
    least = criteria.min_load_share
    expected = 1.0 if point.expected_load is None else max(point.expected_load, least)
    return Trigger(
        reference=rule.reference,
        expected_load=expected,
        at_expected_load_k=_brought(line_k, point, load=expected),
        least_load=least,
        at_least_load_k=_brought(line_k, point, load=least),
        total_c=total_c,
    )


def _line_at_common_load(point: RowPoint, rule: BandRule) -> float | None:
    line = rule.line(Level.ACT_NOW)
    if line is None:
        return None
    if rule.reference is ReferenceKind.RATED_SHARE:
        if point.rated_rise_k is None:
            return None
        scale = point.common_to_rating**_TRIGGER_EXPONENT if point.scaled else 1.0
        return line / 100.0 * point.rated_rise_k * min(scale, 1.0)
    if rule.reference is ReferenceKind.BASELINE:
        return None if point.baseline_k is None else line + point.baseline_k
    return line


def _brought(line_k: float | None, point: RowPoint, *, load: float) -> int | None:
    if line_k is None:
        return None
    scale = min(load, 1.0) ** _TRIGGER_EXPONENT if point.scaled else 1.0
    # a hair is added so that 15 K at 80 % of 80 % stays what it is
    return math.floor(line_k * scale + 1e-9)
