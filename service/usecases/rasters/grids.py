"""The numbers of a raster beside the file they were read from, so that nobody waits for it to be read again."""

import io
from contextlib import suppress

import numpy as np
from numpy.typing import NDArray

from service.domain.rasters import Raster
from service.errors import StorageFull, Unavailable
from service.intake.rasters import read_raster
from service.storage.files import FileShelf


def keep_grid(files: FileShelf, stored_as: str, grid_c: NDArray[np.float32]) -> None:
    """Keep the numbers under the name of their file."""
    out = io.BytesIO()
    np.save(out, grid_c, allow_pickle=False)
    files.keep(_numbers_of(stored_as), out.getvalue())


def grid_of(files: FileShelf, raster: Raster) -> NDArray[np.float32]:
    """The numbers of a stored raster [°C], shape (rows, columns); NaN is no pixel.

    Raises
    ------
    NotFound
        The file is not kept here any more.
    """
    name = _numbers_of(raster.stored_as)
    if not files.has(name):
        grid_c = read_raster(files.read(raster.stored_as)).grid_c
        with suppress(StorageFull, Unavailable):  # on a full disk it is read from its file every time
            keep_grid(files, raster.stored_as, grid_c)
        return grid_c
    numbers: NDArray[np.float32] = np.load(io.BytesIO(files.read(name)), allow_pickle=False)
    return numbers


def _numbers_of(stored_as: str) -> str:
    return f"{stored_as.rsplit('.', 1)[0]}.npy"
