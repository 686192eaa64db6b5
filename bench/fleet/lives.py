"""What happens to points over the years: heights on the four rungs at every visit."""

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from bench.fleet.register import Fleet

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
#: rises at heights 0 … 5, about those of the shipped lines over like parts
RUNGS_K = (0.0, 1.0, 3.0, 9.0, 15.0, 40.0)
RISING, STEPPED, MENDED, SILENT = 0.05, 0.02, 0.01, 0.015
#: visits a year ago lie so many rounds back
YEAR_OF_VISITS = 10


@dataclass(frozen=True, slots=True)
class Lives:
    """Heights of every point at every visit, (points, visits).

    ``read`` is false where a visit was not assessable; ``silent`` points never had a verdict;
    ``mended_at`` is the visit after a repair, past the last one where there was none.
    """

    heights: Floats
    read: Bools
    silent: Bools
    rising: Bools
    mended_at: NDArray[np.int64]

    @property
    def levels(self) -> Floats:
        """Level told at every visit; NaN where there was no verdict."""
        told = np.clip(np.floor(self.heights), 0, 4)
        return np.where(self.read & ~self.silent[:, None], told, np.nan)

    @property
    def standings(self) -> Floats:
        """The last level told by each visit."""
        levels = self.levels
        last = np.where(np.isnan(levels), 0, np.arange(levels.shape[1]))
        return np.take_along_axis(levels, np.maximum.accumulate(last, axis=1), axis=1)

    @property
    def mended(self) -> Bools:
        mended: Bools = self.mended_at < self.heights.shape[1]
        return mended


def rise_k(heights: Floats) -> Floats:
    """The rise at a height [K]."""
    return np.interp(heights, range(6), RUNGS_K).round(2)


def draw_lives(fleet: Fleet, draw: Generator) -> Lives:
    """Most stay calm; some rise, some step up, some were mended within the year."""
    points, visits = fleet.size.points, fleet.size.visits
    fate = draw.random(points)
    rising = fate < RISING
    stepped = ~rising & (fate < RISING + STEPPED)
    mended = ~rising & ~stepped & (fate < RISING + STEPPED + MENDED)
    calm = draw.uniform(0.15, 0.6, points)
    end = 1.1 + 3.5 * draw.beta(1, 2, points)
    start = draw.integers(0, max(visits * 3 // 4, 1), points)
    along = np.arange(visits)[None, :]
    share = np.clip((along - start[:, None]) / np.maximum(visits - 1 - start[:, None], 1), 0, 1)
    share = np.where(stepped[:, None], share > 0, share) * (rising | stepped | mended)[:, None]
    mended_at = np.where(mended, draw.integers(max(visits - YEAR_OF_VISITS, 1), visits, points), visits)
    share = np.where(along >= mended_at[:, None], 0, share)
    heights = calm[:, None] + share * (end - calm)[:, None] + draw.normal(0, 0.12, (points, visits))
    return Lives(
        heights=np.clip(heights, 0, 4.9),
        read=draw.random((points, visits)) > 0.02,
        silent=draw.random(points) < SILENT,
        rising=rising,
        mended_at=mended_at,
    )
