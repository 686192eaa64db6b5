"""Invented rasters for the demonstration: three terminals under a cover, each as hot as its reading says."""

import io
from collections.abc import Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from service.domain.people import Actor
from service.domain.rasters import RegionShape, RegionWish
from service.domain.readings import Reading
from service.storage.files import FileShelf
from service.storage.unit import Store
from service.usecases.condition.point_history import see_point_history
from service.usecases.rasters.bring import bring_raster
from service.usecases.rasters.draw import draw_region
from service.usecases.rounds.list_readings import list_point_readings, list_round_readings

ROWS, COLUMNS = 120, 160
NOISE_K = 0.12
#: the middle of each terminal, and half the height and width of its lug
MIDDLES = ((58, 36), (60, 80), (58, 124))
LUG = (9, 7)
SEED = 20261
#: points whose last reading has a raster, and what the camera called its file
SCENES = {"SAL-MCC1-F03-L1": "TH_0417.csv", "QUA-MCC1-F02-L2": "TH_0398.csv"}


def scene(parts_c: Sequence[float], ambient_c: float, *, seed: int) -> NDArray[np.float32]:
    """Terminals side by side: the lug hottest, its conductor cooling away from it, a cover behind.

    Parameters
    ----------
    parts_c : sequence of float
        Temperature of each lug [°C], at most three.
    ambient_c : float
        The air; the cover lies a little above it [°C].

    Returns
    -------
    ndarray of float32, shape (120, 160)
    """
    rows, columns = np.mgrid[:ROWS, :COLUMNS].astype(float)
    grid = ambient_c + 1.5 + 1.2 * (ROWS - rows) / ROWS + 0.6 * np.sin(columns / 23)
    for (row, column), part_c in zip(MIDDLES, parts_c, strict=False):
        rise = part_c - grid
        away = np.abs(rows - row)
        conductor = (np.abs(columns - column) <= 4) & (rows > row)
        grid = np.where(conductor, grid + rise * (0.25 + 0.75 * np.exp(-away / 26)), grid)
        warmed = np.exp(-(((rows - row) / 22) ** 2 + ((columns - column) / 15) ** 2))
        grid = np.maximum(grid, ambient_c + (part_c - ambient_c) * 0.34 * warmed)
        lug = (away <= LUG[0]) & (np.abs(columns - column) <= LUG[1])
        bolt = np.hypot(rows - row, columns - column)
        grid = np.where(lug, part_c - 0.16 * (part_c - ambient_c) * np.clip(bolt / 11, 0, 1) ** 2, grid)
    noise = np.random.default_rng(seed).normal(0, NOISE_K, grid.shape)
    shown: NDArray[np.float32] = (grid + noise).astype(np.float32)
    return shown


def as_csv(grid_c: NDArray[np.float32]) -> bytes:
    """As a camera's program saves it: semicolons, decimal points, hundredths."""
    out = io.BytesIO()
    np.savetxt(out, grid_c, fmt="%.2f", delimiter=";")
    return out.getvalue()


def bring_scene(
    store: Store, actor: Actor, *, files: FileShelf, point_id: int, name: str, now: datetime
) -> None:
    """A raster of a point's last read visit, a box on it and on each of its like parts."""
    reading = _last_read(store, actor, point_id)
    if reading is None or reading.round_id is None:
        return
    history = see_point_history(store, actor, point_id=point_id, now=now)
    own = {point_id: history.facts.phase or history.facts.name}
    members = sorted((own | {part.point_id: part.phase or part.name for part in history.like_parts}).items())
    read = {
        one.point_id: one.temperature_c
        for one in list_round_readings(store, actor, round_id=reading.round_id, after=0, limit=500)
        if one.current and one.temperature_c is not None
    }
    shown = [(member, word) for member, word in members if member in read][: len(MIDDLES)]
    grid = scene([read[member] for member, _ in shown], reading.ambient_c or 20.0, seed=SEED + point_id)
    raster = bring_raster(
        store, actor, reading.uid, files=files, content=as_csv(grid), file_name=name, now=now
    )
    for (row, column), (_, word) in zip(MIDDLES, shown, strict=False):
        wish = RegionWish(
            word[:24],
            RegionShape.BOX,
            row - LUG[0],
            column - LUG[1],
            row + LUG[0] + 1,
            column + LUG[1] + 1,
        )
        draw_region(store, actor, raster.uid, wish, files=files, now=now)


def _last_read(store: Store, actor: Actor, point_id: int) -> Reading | None:
    found = list_point_readings(store, actor, point_id=point_id, after=0, limit=500)
    valid = [one for one in found if one.current and one.temperature_c is not None]
    return max(valid, key=lambda one: one.taken_at, default=None)
