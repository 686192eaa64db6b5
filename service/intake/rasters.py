"""Bytes of a temperature raster → one grid in °C, or every reason why it is none."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from service.intake.collecting import one_problem
from service.intake.limits import MOST_RASTER_BYTES
from service.intake.raster_grids import read_grid
from service.intake.raster_tiffs import TIFF_STARTS, read_tiff
from service.physics.raster import LEAST_PIXELS
from service.physics.rise import COLDEST_C, HOTTEST_C

Grid = NDArray[np.float32]
Kind = Literal["csv", "tif"]

#: what people send by mistake, told by its first bytes
_OTHERS = {
    b"\xff\xd8\xff": "a JPEG picture",
    b"\x89PNG": "a PNG picture",
    b"%PDF": "a PDF",
    b"PK\x03\x04": "a workbook or a packed file",
    b"\xd0\xcf\x11\xe0": "an old workbook",
    b"GIF8": "a GIF picture",
    b"BM": "a BMP picture",
    b"\x1f\x8b": "a packed file",
}


@dataclass(frozen=True, slots=True)
class ReadRaster:
    """A raster as read: ``grid_c`` in °C, NaN where there is no value."""

    grid_c: Grid
    kind: Kind


def read_raster(content: bytes) -> ReadRaster:
    """The grid of a CSV file or of a one-band float TIFF, told apart by content, never by name.

    Parameters
    ----------
    content : bytes
        The whole file. A CSV grid has nothing but numbers, parted by comma, semicolon or tab;
        an empty cell or "nan" is a pixel without a value.

    Raises
    ------
    service.errors.Invalid
        Neither of the two, too large, damaged, or not temperatures in °C.
    """
    if len(content) > MOST_RASTER_BYTES:
        raise one_problem(
            "file",
            "",
            f"{len(content) / 1048576:.1f} MiB",
            message=f"The file is larger than {MOST_RASTER_BYTES // 1048576} MiB.",
            remedy="Cut the raster to the parts that matter, or save it as a TIFF of 32-bit floats.",
        )
    kind: Kind = "tif" if content.startswith(TIFF_STARTS) else "csv"
    if kind == "csv":
        _refuse_others(content)
    grid = read_tiff(content) if kind == "tif" else read_grid(content)
    _refuse_impossible(grid)
    return ReadRaster(grid, kind)


def _refuse_others(content: bytes) -> None:
    found = next((name for start, name in _OTHERS.items() if content.startswith(start)), "")
    utf16 = content.startswith((b"\xff\xfe", b"\xfe\xff"))
    if found or (b"\x00" in content[:4096] and not utf16):
        raise one_problem(
            "file",
            "",
            found or "bytes that are no text",
            message="This is neither a CSV grid of temperatures nor a TIFF.",
            remedy="Let the camera's program save the temperatures themselves, as CSV or as a float TIFF in °C.",
        )


def _refuse_impossible(grid: Grid) -> None:
    """What is no temperature, told once with its first place and its count."""
    valid = ~np.isnan(grid)
    count = int(valid.sum())
    if not count:
        raise one_problem(
            "file",
            "",
            f"{grid.size} pixels without a value",
            message="No pixel has a value.",
            remedy="Save the raster again with its temperatures.",
        )
    beyond = valid & ~((grid >= COLDEST_C) & (grid <= HOTTEST_C))
    if beyond.any():
        row, column = (int(place) for place in np.unravel_index(int(beyond.argmax()), grid.shape))
        raise one_problem(
            f"row {row + 1}",
            f"column {column + 1}",
            f"{grid[row, column]:g}; {int(beyond.sum())} of {count} pixels in all",
            message=f"Values outside {COLDEST_C:g} to {HOTTEST_C:g} °C.",
            remedy="Save temperatures in °C: not raw counts, not kelvin, not °F; leave dead pixels empty.",
        )
    if count < LEAST_PIXELS:
        raise one_problem(
            "file",
            "",
            f"{count} pixels with a value",
            message=f"Fewer than {LEAST_PIXELS} pixels have a value.",
            remedy="Save the whole raster.",
        )
