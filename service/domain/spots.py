"""Whether the spot of an instrument fits on what is to be seen, and from where it may be read.

Stand-off ≤ reading distance ≤ distance at which the smallest part fills three pixels. Where that
cannot be, the remedy is a longer lens, a window, or no reading: never a place inside the stand-off.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service.physics.spot import farthest_m, filling

#: views told one by one; the others are counted
MOST_TOLD = 12


@dataclass(frozen=True, slots=True)
class Target:
    """The smallest width to be seen at one point of a view [mm], and from where it is read [m]."""

    view_id: int
    view: str
    width_mm: float | None
    distance_m: float | None
    equipment_id: int = 0


@dataclass(frozen=True, slots=True)
class Unfilled:
    """A view of which at least one part does not fill three pixels from where it is read."""

    view: str
    width_mm: float
    distance_m: float
    farthest_m: float

    @property
    def sentence(self) -> str:
        return (
            f"{self.view}: {self.width_mm:g} mm read from {self.distance_m:g} m; "
            f"spot not filled beyond {_down(self.farthest_m):g} m with this lens."
        )


#: What is left where no distance is both far enough and near enough.
REMEDY = "longer lens, window, or do not read it"


@dataclass(frozen=True, slots=True)
class Doubt:
    """What is wrong with the distance of a view, and what to do."""

    equipment_id: int
    view_id: int
    sentence: str


def unfilled(targets: Sequence[Target], ifov_mrad: float) -> list[Unfilled]:
    """Views with a part too small for the spot at its distance, each by its nearest limit, in order.

    Parameters
    ----------
    targets : sequence of Target
        Those without a width or a distance are left out: nothing is known of them.
    ifov_mrad : float
        Angle of one pixel [mrad].

    Notes
    -----
    Three pixels across a part is common practice, no source; the rule is that of readings.
    """
    return list(_unfilled_by_view(targets, ifov_mrad).values())


def _unfilled_by_view(targets: Sequence[Target], ifov_mrad: float) -> dict[int, Unfilled]:
    known = [target for target in targets if target.distance_m is not None and target.width_mm is not None]
    if not known:
        return {}
    width = np.array([target.width_mm for target in known], dtype=float)
    distance = np.array([target.distance_m for target in known], dtype=float)
    small = filling(width, ifov_mrad, distance).caution != 0
    farthest = farthest_m(ifov_mrad, width)
    worst: dict[int, Unfilled] = {}
    for target, is_small, limit in zip(known, small.tolist(), farthest.tolist(), strict=True):
        there = worst.get(target.view_id)
        if is_small and (there is None or limit < there.farthest_m):
            assert target.width_mm is not None
            assert target.distance_m is not None
            worst[target.view_id] = Unfilled(target.view, target.width_mm, target.distance_m, limit)
    return worst


def distance_doubts(
    targets: Sequence[Target], *, ifov_mrad: float | None, stand_offs_m: Mapping[int, float | None]
) -> list[Doubt]:
    """Views read from inside the stand-off, or from where their part does not fill the spot.

    Parameters
    ----------
    targets : sequence of Target
        In walking order.
    ifov_mrad : float or None
        Angle of one pixel [mrad]; without it only the stand-off is held against the distance.
    stand_offs_m : mapping of int to float or None
        By equipment, as its site typed it [m]; None where it is no single figure.

    Returns
    -------
    list of Doubt
        One a view. No sentence names a place inside a stand-off that is known, nor says "nearer"
        where it is not.
    """
    small = {} if ifov_mrad is None else _unfilled_by_view(targets, ifov_mrad)
    views: dict[int, list[Target]] = {}
    for target in targets:
        views.setdefault(target.view_id, []).append(target)
    told = []
    for view_id, of_view in views.items():
        stand_off = stand_offs_m.get(of_view[0].equipment_id)
        sentence = _doubt(of_view, small.get(view_id), limit_m=_limit(of_view, ifov_mrad), near_m=stand_off)
        if sentence:
            told.append(Doubt(of_view[0].equipment_id, view_id, sentence))
    return told


def _limit(of_view: Sequence[Target], ifov_mrad: float | None) -> float | None:
    """The farthest from which every part of the view that is known fills the spot [m]."""
    widths = [target.width_mm for target in of_view if target.width_mm is not None]
    return float(farthest_m(ifov_mrad, min(widths))) if widths and ifov_mrad is not None else None


def _doubt(
    of_view: Sequence[Target], small: Unfilled | None, *, limit_m: float | None, near_m: float | None
) -> str:
    read_from = [target.distance_m for target in of_view if target.distance_m is not None]
    inside = near_m is not None and bool(read_from) and min(read_from) < near_m
    if small is None and not inside:
        return ""
    said = "" if small is None else small.sentence
    if near_m is None:
        return f"{said} How near one may stand is not given as a figure: {REMEDY}."
    if inside:
        begins = " It is" if said else f"{of_view[0].view}:"
        said += f"{begins} read from {min(read_from):g} m, inside the stand-off of {near_m:g} m."
    if limit_m is not None and _down(limit_m) < near_m:
        return f"{said} Not nearer than the stand-off of {near_m:g} m: {REMEDY}."
    until = f" to {_down(limit_m):g} m" if limit_m is not None else " or farther"
    return f"{said} Read it from {near_m:g} m{until}, where the permit allows it."


def spot_warnings(
    targets: Sequence[Target],
    *,
    ifov_mrad: float | None,
    instrument: str,
    stand_offs_m: Mapping[int, float | None] | None = None,
) -> list[str]:
    """What is told at issue of the distances of a round's views; nothing where nothing is known or wrong.

    ``instrument`` is empty where none is named.
    """
    told = []
    if instrument and ifov_mrad is None and any(target.width_mm is not None for target in targets):
        told.append(
            f"The view of one pixel of {instrument} is not on record: whether small parts fill it is not known."
        )
    found = distance_doubts(targets, ifov_mrad=ifov_mrad, stand_offs_m=stand_offs_m or {})
    told += [one.sentence for one in found[:MOST_TOLD]]
    if len(found) > MOST_TOLD:
        told.append(f"{len(found) - MOST_TOLD} more views whose distance does not fit.")
    if ifov_mrad is not None and unfilled(targets, ifov_mrad):
        told.append("Such readings are at least what they show.")
    return told


def _down(metres: float) -> float:
    """To one decimal, never farther than it is; two below a metre."""
    steps = 10 if metres >= 1 else 100
    return int(metres * steps + 1e-9) / steps
