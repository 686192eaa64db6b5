"""What really happens in the invented plant: faults, repairs and oddities, by month before the end.

This is the truth. The service never reads it; tests and benchmarks may.
"""

from dataclasses import dataclass

import numpy as np

from seed_data.utility import SiteSpec

#: Months of history; month 0 is the first, MONTHS - 1 the last full month before loading.
MONTHS = 60


@dataclass(frozen=True, slots=True)
class Fault:
    """Extra rise at common load of one point, from ``onset`` to ``mended`` (months from the start).

    ``shape`` is linear (k a month), accelerating (grows by a factor a month) or step.
    ``residual`` is what a repair left behind: over zero, the repair did not hold.
    """

    tag: str
    onset: float
    shape: str
    size_k: float
    pace_k: float = 0.0
    mended: int | None = None
    residual_k: float = 0.0
    cause: str = ""
    as_found: str = ""
    as_left: str = ""

    def extra_k(self, month: float) -> float:
        since = month - self.onset
        if since <= 0 or (self.mended is not None and month > self.mended):
            return self.residual_k if self.mended is not None and month > self.mended else 0.0
        if self.shape == "linear":
            return self.pace_k * since
        if self.shape == "accelerating":
            return self.size_k * (np.expm1(self.pace_k * since))
        return self.size_k + self.pace_k * since


@dataclass(frozen=True, slots=True)
class Oddity:
    """One visit that is unlike the others: "blown" (cold, no current) or "idle" (30 % load)."""

    tag: str
    month: int
    kind: str


LAST = MONTHS - 1
LOOSE = {
    "cause": "Loosened terminal",
    "as_found": "Terminal at 9 N m, strands darkened",
    "as_left": "Joint remade, tightened to 22 N m",
}
WORN = {
    "cause": "Worn bearing",
    "as_found": "Grease burnt, outer race pitted",
    "as_left": "Bearing replaced, greased",
}

STORIES = (
    Fault("WEN-MCC2-F07-L2", 24.0, "linear", 0, 0.95, mended=39, **LOOSE),
    Fault("WEN-MCC2-F07-L2", 49.0, "linear", 0, 1.0),
    Fault("SAL-MCC1-F03-L1", 48.5, "accelerating", 3.2, 0.2),
    Fault("RAV-P3-DE", 48.0, "linear", 0, 4.6),
    Fault("LUT-T1-LV-L2", 46.0, "linear", 0, 0.55),
    Fault("COL-MCC1-F05-L3", 40.0, "linear", 0, 0.52),
    Fault("FEN-MCC1-F02-L1", 41.0, "linear", 0, 0.36),
    Fault("MIL-MCC1-F06-L2", 57.5, "step", 8.0),
    Fault("WEN-P2-NDE", 50.0, "linear", 0, 1.9),
    Fault("ESK-MCC1-F04-L2", 30.0, "linear", 0, 0.3),
    Fault("QUA-MCC1-F02-L2", 40.0, "step", 62.0),
    Fault("GAN-MCC1-F04-L3", 52.0, "linear", 0, 0.42),
    # a repair that did not hold, and the second that did
    Fault("SAL-MCC2-F05-L3", 14.0, "linear", 0, 0.8, mended=28, residual_k=6.5, **LOOSE),
    Fault("SAL-MCC2-F05-L3", 28.5, "step", 0.4, 0.1, mended=32, **LOOSE),
    # mended in the last two months: one proven, two still to be read again
    Fault("LUT-MCC1-F02-L3", 47.0, "linear", 0, 0.9, mended=57, **LOOSE),
    Fault("RAV-MCC1-F06-L1", 45.0, "linear", 0, 1.0, mended=59, **LOOSE),
    Fault("LUT-P2-DE", 50.0, "linear", 0, 2.4, mended=59, **WORN),
)
ODDITIES = (
    Oddity("GAN-FB1-W1-L3", 58, "blown"),
    Oddity("WEN-FB1-W2-L1", 33, "blown"),
    Oddity("QUA-MCC1-F02-L2", LAST, "idle"),
)


def plan_faults(sites: tuple[SiteSpec, ...], seed: int = 21) -> tuple[Fault, ...]:
    """The stories above and a scatter of older faults that were found and mended."""
    rng = np.random.default_rng(seed)
    told = {fault.tag for fault in STORIES} | {oddity.tag for oddity in ODDITIES}
    joints, bearings = [], []
    for site in sites:
        for equipment in site.equipment:
            for view in equipment.views:
                if any(point.tag in told for point in view.points):
                    continue
                (bearings if view.points[0].kind == "bearing" else joints).append((site, view))
    older = []
    for site, view in [joints[int(i)] for i in rng.choice(len(joints), 9, replace=False)]:
        if view.points[0].kind != "joint":
            continue
        pace = float(rng.uniform(0.5, 1.2))
        onset = float(rng.integers(4, 36))
        older.append(
            Fault(
                view.points[int(rng.integers(3))].tag, onset, "linear", 0, pace,
                mended=int(min(onset + 14 / pace + site.interval_months, 54)), **LOOSE,
            )
        )  # fmt: skip
    for site, view in [bearings[int(i)] for i in rng.choice(len(bearings), 3, replace=False)]:
        onset = float(rng.integers(6, 34))
        older.append(
            Fault(
                view.points[0].tag, onset, "linear", 0, 2.2,
                mended=int(min(onset + 12 + site.interval_months, 54)), **WORN,
            )
        )  # fmt: skip
    return (*STORIES, *older)
