"""What really happens in the invented plant: faults, repairs and oddities, by month of the history.

This is the truth. The service never reads it; the loader walks by it, tests and benchmarks judge by it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from seed_data.utility import SiteSpec

#: Months of history; month 0 is the first, LAST the last full month before loading.
MONTHS = 60
LAST = MONTHS - 1
#: The programme grew: sites walked monthly now were walked quarterly before this month.
MONTHLY_FROM = 24
#: Repairs are made on this day of their month, after its round; the latest on its last day.
REPAIR_DAY = 26


@dataclass(frozen=True, slots=True)
class Fault:
    """Extra rise at common load of one point, from ``onset`` to its repair (months from the start).

    ``shape`` is linear (``pace_k`` a month), accelerating (``size_k`` growing by the factor
    e^``pace_k`` a month) or step (``size_k`` at once, then ``pace_k`` a month).
    """

    tag: str
    onset: float
    shape: str
    size_k: float = 0.0
    pace_k: float = 0.0
    mended: int | None = None
    cause: str = ""
    as_found: str = ""
    as_left: str = ""
    torque_found_nm: float | None = None
    torque_left_nm: float | None = None
    replaced: bool = False
    cost: float | None = None

    @property
    def until(self) -> float:
        return np.inf if self.mended is None else self.mended + (REPAIR_DAY - 1) / 31

    def extra_k(self, month: float) -> float:
        """Extra rise at common load at this moment [K]."""
        since = month - self.onset
        if since <= 0 or month > self.until:
            return 0.0
        if self.shape == "linear":
            return self.pace_k * since
        if self.shape == "accelerating":
            return self.size_k * float(np.expm1(self.pace_k * since))
        return self.size_k + self.pace_k * since


@dataclass(frozen=True, slots=True)
class Oddity:
    """One visit that is unlike the others of its point.

    blown
        Cold and without current: an open fuse.
    idle
        The whole view at 30 % load.
    locked
        The panel could not be opened.
    unequal
        One phase carries a third more than the others.
    slip
        Mistyped, and seen too late: the engineer corrects it after sign-off.
    retyped
        A wrong figure that the technician corrects with a second file.
    double
        The second person read the point too, and something else.
    """

    tag: str
    month: int
    kind: str


@dataclass(frozen=True, slots=True)
class HotPart:
    """Met off the round: it is in no register yet."""

    site: str
    month: int
    place: str
    temperature_c: float
    picture: str
    note: str


LOOSE: Mapping[str, Any] = {
    "cause": "Loosened terminal",
    "as_found": "Terminal loose, strands darkened",
    "as_left": "Joint remade and tightened to the maker's figure",
    "torque_found_nm": 9.0,
    "torque_left_nm": 22.0,
    "cost": 180.0,
}
ONLY_TIGHTENED: Mapping[str, Any] = {
    "cause": "Loosened terminal",
    "as_found": "Terminal warm, a quarter turn loose",
    "as_left": "Tightened again, contact faces not cleaned",
    "torque_found_nm": 14.0,
    "torque_left_nm": 22.0,
    "cost": 60.0,
}
BLADES: Mapping[str, Any] = {
    "cause": "Worn contact",
    "as_found": "Blade burnt at the jaw, spring weak",
    "as_left": "Blade and jaw replaced, contact greased",
    "replaced": True,
    "cost": 310.0,
}
WORN: Mapping[str, Any] = {
    "cause": "Worn bearing",
    "as_found": "Grease burnt, outer race pitted",
    "as_left": "Bearing replaced and greased",
    "replaced": True,
    "cost": 740.0,
}

#: the point of the tour: mended once, rising again
AGAIN = "WEN-MCC2-F07-L2"
STORIES = (
    Fault(AGAIN, 24.0, "linear", pace_k=0.95, mended=39, **LOOSE),
    Fault(AGAIN, 49.0, "linear", pace_k=1.0),
    # past their lines in the last round
    Fault("SAL-MCC1-F03-L1", 52.0, "accelerating", 2.0, 0.35),
    Fault("RAV-P3-DE", 48.0, "accelerating", 0.53, 0.4),
    Fault("WEN-P4-DE", 50.0, "linear", pace_k=3.0),
    # on their way
    Fault("LUT-T1-LV-L2", 46.0, "linear", pace_k=0.75),
    Fault("COL-MCC1-F05-L3", 40.0, "linear", pace_k=0.6),
    Fault("FEN-MCC1-F02-L1", 41.0, "linear", pace_k=0.3),
    Fault("WEN-P2-NDE", 50.0, "linear", pace_k=0.8),
    Fault("WEN-MCC1-F06-L1", 42.0, "linear", pace_k=0.22),
    Fault("SAL-MCC2-F02-L1", 40.0, "linear", pace_k=0.2),
    Fault("RAV-MCC1-F03-L2", 44.0, "linear", pace_k=0.25),
    Fault("LUT-MCC2-F06-L1", 38.0, "linear", pace_k=0.18),
    Fault("MIL-MCC1-F02-L3", 36.0, "linear", pace_k=0.16),
    Fault("ESK-MCC1-F04-L2", 30.0, "linear", pace_k=0.3),
    Fault("GAN-MCC1-F04-L3", 47.0, "linear", pace_k=0.38),
    Fault("MIL-MCC1-F06-L2", 57.5, "step", 8.0),
    # grave, and met while the feeder was nearly idle
    Fault("QUA-MCC1-F02-L2", 50.0, "step", 105.0),
    # a repair that did not hold, and the second that did
    Fault("SAL-MCC2-F05-L3", 14.0, "linear", pace_k=0.8, mended=28, **ONLY_TIGHTENED),
    Fault("SAL-MCC2-F05-L3", 28.81, "step", 6.5, 0.15, mended=32, **LOOSE),
    # mended, but its feeder has carried less ever since: nothing can prove it
    Fault("COL-MCC1-F07-L1", 38.0, "linear", pace_k=0.7, mended=55, **LOOSE),
    # mended lately: the first is proven, two are still to be read again
    Fault("LUT-MCC1-F02-L3", 47.0, "linear", pace_k=0.9, mended=57, **LOOSE),
    Fault("RAV-MCC1-F06-L1", 45.0, "linear", pace_k=1.0, mended=59, **LOOSE),
    Fault("LUT-P2-DE", 50.0, "linear", pace_k=2.4, mended=59, **WORN),
)
ODDITIES = (
    Oddity("WEN-FB1-W2-L1", 33, "blown"),
    Oddity("GAN-FB1-W1-L3", 58, "blown"),
    Oddity("QUA-MCC1-F02-L2", LAST, "idle"),
    Oddity("LUT-MCC2-F03-L2", LAST, "unequal"),
    Oddity(AGAIN, 44, "idle"),
    Oddity(AGAIN, 46, "locked"),
    Oddity("SAL-P3-NDE", 44, "slip"),
    Oddity("WEN-MCC1-F02-L1", 51, "retyped"),
    Oddity("RAV-MCC1-F02-L1", 48, "double"),
    Oddity("FEN-MCC1-F03-L2", LAST, "double"),
)
HOT_PARTS = (
    HotPart(
        "WEN", LAST, "Switchroom, cable box left of MCC 1, upper gland", 71.4, "0459",
        "Bolted lug without a tag; heard humming",
    ),
)  # fmt: skip
#: usual share of its common load, and its scatter, of views that are not like the rest
LOADS: Mapping[str, tuple[float, float]] = {
    "WEN-MCC2-F07": (0.75, 0.06),
    "SAL-MCC1-F03": (0.85, 0.02),
    "LUT-T1-LV": (0.75, 0.05),
    "COL-MCC1-F05": (0.70, 0.04),
    "FEN-MCC1-F02": (0.75, 0.04),
    "GAN-MCC1-F04": (0.70, 0.03),
    "MIL-MCC1-F06": (0.75, 0.03),
    "ESK-MCC1-F04": (0.70, 0.04),
    "COL-MCC1-F07": (0.90, 0.02),
    "THO-MCC1-F05": (0.33, 0.01),
}
#: from this month on a view carries less
LIGHTER: Mapping[str, tuple[int, float]] = {"COL-MCC1-F07": (56, 0.60)}
#: of views with a fault: steady enough that a repair can be proven at the load of its finding
STEADY = (0.70, 0.02)
#: a standby way that is off whenever somebody comes, with the letter of the reason
NEVER_READ: Mapping[str, str] = {"WET-FB1-W2": "O"}
#: wind at the yard on rounds that were blown about [m/s]
GUSTS: Mapping[tuple[str, int], float] = {("LUT", 53): 6.4, ("SAL", 57): 2.4}
#: rounds on which one board's permit has no number: at the first, readings came all the same;
#: the second is the one to come
NO_NUMBER: Mapping[tuple[str, int], str] = {("FEN", LAST): "FEN-FB1", ("WEN", MONTHS): "WEN-FB1"}
#: the round that is back and waits for its signature
UNSIGNED = ("FEN", LAST)
#: rise over air when healthy, where a story needs a certain one [K]
HEALTHY_K: Mapping[str, float] = {"RAV-P3-DE": 30.0, "QUA-MCC1-F02-L2": 8.0}


def plan_faults(sites: tuple[SiteSpec, ...], seed: int = 21) -> tuple[Fault, ...]:
    """The stories above and a scatter of older faults that were found and mended."""
    rng = np.random.default_rng(seed)
    told = {fault.tag for fault in STORIES} | {oddity.tag for oddity in ODDITIES}
    joints, bearings = [], []
    for site in sites:
        for equipment, view in site.views():
            if equipment.commissioned or view.tag in LOADS or any(p.tag in told for p in view.points):
                continue
            if view.points[0].kind == "joint":
                joints.append((site, view))
            elif view.points[0].kind == "bearing":
                bearings.append((site, view))
    older = []
    for site, view in [joints[int(i)] for i in rng.choice(len(joints), 9, replace=False)]:
        pace, onset = float(rng.uniform(0.5, 1.2)), float(rng.integers(4, 36))
        mended = min(int(onset + 14 / pace) + site.interval_months, 54)
        point = view.points[int(rng.integers(3))]
        what = BLADES if point.component == "contact" else LOOSE
        older.append(Fault(point.tag, onset, "linear", pace_k=pace, mended=mended, **what))
    for site, view in [bearings[int(i)] for i in rng.choice(len(bearings), 3, replace=False)]:
        onset = float(rng.integers(6, 34))
        mended = min(int(onset) + 12 + site.interval_months, 54)
        older.append(Fault(view.points[0].tag, onset, "linear", pace_k=2.2, mended=mended, **WORN))
    return (*STORIES, *older)
