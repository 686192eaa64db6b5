"""Whether the spot of an instrument fits on what is to be seen, view by view, before anyone leaves."""

from collections.abc import Sequence
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
    width_mm: float
    distance_m: float | None


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


def unfilled(targets: Sequence[Target], ifov_mrad: float) -> list[Unfilled]:
    """Views with a part too small for the spot at its distance, each by its nearest limit, in order.

    Parameters
    ----------
    targets : sequence of Target
        Those without a distance are left out: nothing is known of them.
    ifov_mrad : float
        Angle of one pixel [mrad].

    Notes
    -----
    Three pixels across a part is common practice, no source; the rule is that of readings.
    """
    known = [target for target in targets if target.distance_m is not None]
    if not known:
        return []
    width = np.array([target.width_mm for target in known])
    distance = np.array([target.distance_m for target in known], dtype=float)
    small = filling(width, ifov_mrad, distance).caution != 0
    farthest = farthest_m(ifov_mrad, width)
    worst: dict[int, Unfilled] = {}
    for target, is_small, limit in zip(known, small.tolist(), farthest.tolist(), strict=True):
        there = worst.get(target.view_id)
        if is_small and target.distance_m is not None and (there is None or limit < there.farthest_m):
            worst[target.view_id] = Unfilled(target.view, target.width_mm, target.distance_m, limit)
    return list(worst.values())


def spot_warnings(targets: Sequence[Target], *, ifov_mrad: float | None, instrument: str) -> list[str]:
    """What is told at issue of the spots of a round's views; nothing where nothing is known or wrong."""
    if not targets:
        return []
    if ifov_mrad is None:
        return [
            f"The view of one pixel of {instrument} is not on record: whether small parts fill it is not known."
        ]
    found = unfilled(targets, ifov_mrad)
    told = [one.sentence for one in found[:MOST_TOLD]]
    if len(found) > MOST_TOLD:
        told.append(f"{len(found) - MOST_TOLD} more views whose spot is not filled.")
    if told:
        told.append("Such readings are at least what they show: go nearer where the stand-off allows it.")
    return told


def _down(metres: float) -> float:
    """To one decimal, never farther than it is; two below a metre."""
    steps = 10 if metres >= 1 else 100
    return int(metres * steps + 1e-9) / steps
