"""A TIFF with one band of floats: looked through before it is unpacked, counted while it is."""

import io
import logging
import math
import struct
import zlib
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from service.errors import Invalid
from service.intake.collecting import Problems, one_problem
from service.intake.raster_refusals import MOST_SIDE, damaged, too_long, too_many_pixels
from service.physics.raster import LARGEST_PIXELS

if TYPE_CHECKING:
    from tifffile import TiffFile, TiffPage

#: classic and large TIFF, either byte order
TIFF_STARTS = (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")
FLOATS, UPRIGHT, PLAIN, NO_PREDICTOR = 3, 1, 1, 1
DEFLATED = frozenset({8, 32946})
GREY = frozenset({0, 1})
GDAL_NODATA = 42113
#: tags of numbers (offsets of strips and the like) hold at most so many of them
MOST_NUMBERS = 65_536
MOST_TAGS = 512
_TEXT_OR_BYTES = frozenset({1, 2, 6, 7})
#: what the library raises, one time or another, over bytes that are no TIFF
_BROKEN = (
    ValueError, LookupError, TypeError, ArithmeticError, AttributeError, RuntimeError, AssertionError, OSError,
    MemoryError, struct.error,
)  # fmt: skip


def read_tiff(content: bytes) -> NDArray[np.float32]:
    """The one band of a float TIFF.

    Parameters
    ----------
    content : bytes
        Uncompressed or deflated, in strips or tiles, 16, 32 or 64 bits a pixel [°C].

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        NaN where the file says that there is no value.

    Raises
    ------
    service.errors.Invalid
        Integers, colours, several pages or bands, another compression, too many pixels, more
        bytes inside than its size says, or a damaged file.

    References
    ----------
    TIFF 6.0 (1992), sections 8 (strips), 15 (tiles) and 19 (sample format).
    """
    from tifffile import TiffFile  # a large module, wanted only when such a file comes

    logging.getLogger("tifffile").setLevel(logging.CRITICAL)  # faults are told to the sender
    try:
        _refuse_swollen(content)
        with TiffFile(io.BytesIO(content)) as file:
            page = file.pages.first
            _refuse_no_raster(file, page)
            return _values(page, content, file.byteorder)
    except _BROKEN as error:
        raise damaged(f"{type(error).__name__}: {error}") from error


def _refuse_swollen(content: bytes) -> None:
    """Look at the first directory's counts before the library makes numbers of them all."""
    order = "<" if content[:2] == b"II" else ">"
    large = content[2 if order == "<" else 3] == 43
    start = struct.unpack_from(order + ("Q" if large else "I"), content, 8 if large else 4)[0]
    count_form, tag_form = ("Q", "HHQ8s") if large else ("H", "HHI4s")
    (count,) = struct.unpack_from(order + count_form, content, start)
    if count > MOST_TAGS:
        raise damaged(f"{count} tags")
    place = start + struct.calcsize(order + count_form)
    for number in range(count):
        tag, kind, amount, _ = struct.unpack_from(
            order + tag_form, content, place + number * struct.calcsize(order + tag_form)
        )
        if amount > (len(content) if kind in _TEXT_OR_BYTES else MOST_NUMBERS):
            raise damaged(f"tag {tag} with {amount} values")


def _refuse_no_raster(file: "TiffFile", page: "TiffPage") -> None:
    """Everything that keeps the page from being one band of temperatures."""
    problems = Problems()

    def wrong(found: object, message: str, remedy: str) -> None:
        problems.add("file", "", found, message=message, remedy=remedy)

    bits = page.bitspersample
    if page.samplesperpixel != 1 or page.photometric not in GREY:
        found = f"{page.samplesperpixel} bands, kind of picture {int(page.photometric)}"
        wrong(
            found, "This TIFF is a colour picture or has several bands.", "Save the temperatures as one band."
        )
    elif page.sampleformat != FLOATS or bits not in (16, 32, 64):
        kind = {1: "whole numbers", 2: "whole numbers with a sign"}.get(
            int(page.sampleformat or 1), "numbers"
        )
        wrong(
            f"{kind} of {bits} bits",
            "The pixels are not floats.",
            "Save the temperatures in °C as 32-bit floats.",
        )
    if _holds_more(file, page):
        wrong(
            "", "This TIFF has more than one page.", "Save the one raster that is meant, without overviews."
        )
    if page.compression != PLAIN and page.compression not in DEFLATED:
        wrong(
            page.compression,
            "Packed in a way that is not read here.",
            "Save it unpacked, or packed by Deflate.",
        )
    if page.predictor != NO_PREDICTOR:
        wrong(
            f"predictor {page.predictor}",
            "Packed in a way that is not read here.",
            "Save it without a predictor.",
        )
    if page.tags.valueof(274, UPRIGHT) != UPRIGHT:
        wrong("a tag that turns it", "This TIFF is not stored upright.", "Save it as it is to be seen.")
    problems.refuse()
    rows, columns = page.imagelength, page.imagewidth
    if not (rows > 0 and columns > 0) or page.imagedepth != 1:
        raise damaged(f"{rows} by {columns} pixels")
    if max(rows, columns) > MOST_SIDE:
        raise too_long(f"{rows} rows of {columns}")
    if rows * columns > LARGEST_PIXELS:
        raise too_many_pixels(f"{rows} rows of {columns}")


def _holds_more(file: "TiffFile", page: "TiffPage") -> bool:
    stack: dict[str, Any] = (file.imagej_metadata or {}) if file.is_imagej else {}
    return file.pages.is_multipage or bool(page.subifds) or int(stack.get("images", 1)) > 1


def _values(page: "TiffPage", content: bytes, order: str) -> NDArray[np.float32]:
    """The grid, put together of its strips or tiles."""
    kind = np.dtype(f"{order}f{int(page.bitspersample) // 8}")
    rows, columns = page.imagelength, page.imagewidth
    tall, wide = (page.tilelength, page.tilewidth) if page.is_tiled else (page.rowsperstrip, columns)
    across, down = math.ceil(columns / wide), math.ceil(rows / tall)
    offsets, counts = page.dataoffsets, page.databytecounts
    if not len(offsets) == len(counts) == across * down or across * down * tall * wide > 2 * LARGEST_PIXELS:
        raise damaged(f"{len(offsets)} pieces of {tall} by {wide} pixels")
    grid = np.empty((down * tall, across * wide), dtype=kind)
    for number, (offset, count) in enumerate(zip(offsets, counts, strict=True)):
        top, left = number // across * tall, number % across * wide
        lines = tall if page.is_tiled else min(tall, rows - top)
        piece = _unpacked(content, offset, count, lines * wide * kind.itemsize, page.compression != PLAIN)
        grid[top : top + lines, left : left + wide] = np.frombuffer(piece, kind).reshape(lines, wide)
    return _without_blanks(grid[:rows, :columns], page)


def _unpacked(content: bytes, offset: int, count: int, size: int, packed: bool) -> bytes:
    """Exactly ``size`` bytes of one strip or tile; whatever would inflate beyond is not inflated."""
    if not (0 < offset <= len(content) - count and count > 0):
        raise damaged("a piece that lies outside the file")
    piece = content[offset : offset + count]
    if packed:
        inflater = zlib.decompressobj()
        try:
            piece = inflater.decompress(piece, size + 1)
        except zlib.error as error:
            raise damaged(str(error)) from error
        if len(piece) > size:
            raise _bomb()
    if len(piece) < size:
        raise damaged("a piece that is shorter than its size says")
    return piece[:size]


def _bomb() -> Invalid:
    return one_problem(
        "file",
        "",
        "more bytes inside than rows and columns need",
        message="A packed piece of this TIFF holds more than its size says.",
        remedy="Save it again from the program that made it.",
    )


def _without_blanks(grid: NDArray[np.floating], page: "TiffPage") -> NDArray[np.float32]:
    """As 32-bit floats of this machine; what the file marks as no value is NaN."""
    blank = page.tags.valueof(GDAL_NODATA)
    with np.errstate(over="ignore"):  # too great a number becomes infinite, which is refused later
        values = grid.astype(np.float32)
        if isinstance(blank, str) and blank.strip(" \x00"):
            values[grid == grid.dtype.type(float(blank.strip(" \x00")))] = np.nan
    return values
