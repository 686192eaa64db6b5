"""A temperature raster of a reading, the boxes and spots drawn on it, and what is in them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from service.physics.raster import Box, Spot, Statistics
from service.physics.refusals import Refusal

MOST_REGIONS = 40
LONGEST_NAME = 24
ZERO_C_IN_KELVIN = 273.15
#: a file in kelvin looks so near to the reading once its zero is shifted
LIKE_KELVIN_K = 30.0


class RegionShape(StrEnum):
    BOX = "box"
    SPOT = "spot"


@dataclass(frozen=True, slots=True)
class Raster:
    """A stored raster; its numbers lie in a file."""

    id: int
    uid: str
    reading_id: int
    reading_uid: str
    file_name: str
    content_hash: str
    stored_as: str
    rows: int
    columns: int
    low_c: float
    high_c: float
    received_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class PointPlace:
    """The point a raster is of, as its page names it."""

    point_id: int
    tag: str
    name: str
    view: str
    equipment_id: int
    equipment: str
    site_id: int
    zone: str


@dataclass(frozen=True, slots=True)
class RegionWish:
    """A region as asked for: a half-open box, or a spot about ``row_from``, ``column_from``.

    A spot without a radius is the 3×3 pixels about its middle.
    """

    name: str
    shape: RegionShape
    row_from: int
    column_from: int
    row_to: int = 0
    column_to: int = 0
    radius_px: float | None = None

    @property
    def place(self) -> Box | Spot:
        if self.shape is RegionShape.SPOT:
            return Spot(self.row_from, self.column_from, self.radius_px)
        return Box(self.row_from, self.column_from, self.row_to, self.column_to)


@dataclass(frozen=True, slots=True)
class Region:
    """A stored region with the figures that were found in it."""

    id: int
    raster_id: int
    name: str
    shape: RegionShape
    row_from: int
    column_from: int
    row_to: int
    column_to: int
    radius_px: float | None
    figures: Statistics
    at: datetime
    by: str
    retired_at: datetime | None


def figures_to_dict(found: Statistics) -> dict[str, Any]:
    """Figures as they are stored; only those of a region that was not refused."""
    return {
        name: list(value) if isinstance(value, tuple) else value
        for name, value in found._asdict().items()
        if name != "refusal"
    }


def figures_from_dict(kept: Mapping[str, Any]) -> Statistics:
    return Statistics(
        pixels=kept["pixels"],
        hottest_c=kept["hottest_c"],
        hottest_at=(kept["hottest_at"][0], kept["hottest_at"][1]),
        coldest_c=kept["coldest_c"],
        coldest_at=(kept["coldest_at"][0], kept["coldest_at"][1]),
        hot3x3_c=kept["hot3x3_c"],
        p99_c=kept["p99_c"],
        mean_c=kept["mean_c"],
        sd_k=kept["sd_k"],
        refusal=Refusal.NONE,
    )


def looks_like_kelvin(raster: Raster, temperature_c: float | None) -> bool:
    """Whether the numbers would fit what was read if they were kelvin taken for °C."""
    if raster.low_c < 200.0 or temperature_c is None:
        return False
    return abs(raster.high_c - ZERO_C_IN_KELVIN - temperature_c) < LIKE_KELVIN_K


def free_name(shape: RegionShape, taken: set[str]) -> str:
    """Box 1, Spot 2: the first that is not there yet."""
    word = "Box" if shape is RegionShape.BOX else "Spot"
    return next(name for n in range(1, MOST_REGIONS + 2) if (name := f"{word} {n}") not in taken)
