"""A raster as a PNG: its scale, nothing where there is no value, hatching beyond a line."""

import struct
import zlib

import numpy as np
from numpy.typing import NDArray

from service.charts.raster_scale import LEVELS, Bytes, Scale, colours_of, levels_of
from service.physics.raster import beyond

#: places in the palette after the scale
BLANK, INK, PAPER = LEVELS, LEVELS + 1, LEVELS + 2
_INK, _PAPER = (24, 34, 37), (255, 254, 251)
#: a hatched picture is made about so wide, so that its lines stay thin
WIDE_PX = 960
MOST_TIMES = 12
MOST_SIDE_PX = 1280
_HATCH_PX = 8


def raster_png(
    grid_c: NDArray[np.float32],
    *,
    scale: Scale = Scale.GREY,
    low_c: float,
    high_c: float,
    above_c: float | None = None,
    below_c: float | None = None,
) -> bytes:
    """The picture of a raster.

    Parameters
    ----------
    grid_c : ndarray, shape (rows, columns)
        Temperatures [°C]; NaN is no pixel and stays clear.
    scale : Scale
        Its colours; with a line the picture is grey, so that the hatching stands out.
    low_c, high_c : float
        Temperatures at the ends of the scale [°C].
    above_c, below_c : float, optional
        Pixels beyond are hatched and outlined.

    Returns
    -------
    bytes
        PNG with a palette; one pixel of it per pixel of the raster, several with a line, and
        fewer where the raster is larger than any screen (see :func:`shrunk_by`).
    """
    marked = above_c is not None or below_c is not None
    grid_c = _shrunk(grid_c)
    levels = levels_of(grid_c, low_c, high_c)
    levels[np.isnan(grid_c)] = BLANK
    if marked:
        levels = _hatched(levels, beyond(grid_c, above_c=above_c, below_c=below_c))
    colours = colours_of(Scale.GREY if marked else scale)
    palette = np.vstack([colours, [(0, 0, 0), _INK, _PAPER]]).astype(np.uint8)
    return _png(levels, palette, clear=BLANK)


def shrunk_by(rows: int, columns: int) -> int:
    """How many pixels of a side become one of the picture, which then shows their hottest."""
    return -(-max(rows, columns) // MOST_SIDE_PX)


def _shrunk(grid_c: NDArray[np.float32]) -> NDArray[np.float32]:
    times = shrunk_by(*grid_c.shape)
    if times == 1:
        return grid_c
    rows, columns = (-(-side // times) for side in grid_c.shape)
    whole = np.full((rows * times, columns * times), np.nan, dtype=np.float32)
    whole[: grid_c.shape[0], : grid_c.shape[1]] = grid_c
    blocks = whole.reshape(rows, times, columns, times)
    hottest: NDArray[np.float32] = np.fmax.reduce(np.fmax.reduce(blocks, axis=3), axis=1)
    return hottest


def _hatched(levels: Bytes, mask: NDArray[np.bool_]) -> Bytes:
    """Larger, with ink and paper lines side by side: one of the two shows on any grey."""
    times = max(1, min(MOST_TIMES, WIDE_PX // max(levels.shape)))
    large = levels.repeat(times, axis=0).repeat(times, axis=1)
    inside = mask.repeat(times, axis=0).repeat(times, axis=1)
    rows, columns = np.ogrid[: large.shape[0], : large.shape[1]]
    phase = (rows + columns) % _HATCH_PX
    large[inside & (phase == 0)] = INK
    large[inside & (phase == 1)] = PAPER
    large[_rim(inside)] = INK
    large[_rim(~inside)] = PAPER
    return large


def _rim(inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Pixels of a mask that touch one beyond it."""
    core = inside.copy()
    core[1:] &= inside[:-1]
    core[:-1] &= inside[1:]
    core[:, 1:] &= inside[:, :-1]
    core[:, :-1] &= inside[:, 1:]
    return inside & ~core


def _png(levels: Bytes, palette: Bytes, *, clear: int) -> bytes:
    """An indexed picture after the PNG specification (W3C, third edition); filter none in every row."""
    rows, columns = levels.shape
    lines = np.zeros((rows, columns + 1), dtype=np.uint8)
    lines[:, 1:] = levels
    transparency = b"\xff" * clear + b"\x00"
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        _chunk(name, content)
        for name, content in (
            (b"IHDR", struct.pack(">IIBBBBB", columns, rows, 8, 3, 0, 0, 0)),
            (b"PLTE", palette.tobytes()),
            (b"tRNS", transparency),
            (b"IDAT", zlib.compress(lines.tobytes(), 4)),
            (b"IEND", b""),
        )
    )


def _chunk(name: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))
