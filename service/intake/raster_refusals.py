"""Refusals that both kinds of raster file share."""

from service.errors import Invalid
from service.intake.collecting import one_problem
from service.physics.raster import LARGEST_PIXELS

#: rows, and columns: no camera makes more, and each is worked on by itself
MOST_SIDE = 16_384


def too_long(found: str) -> Invalid:
    """A grid that is a list rather than a picture."""
    return one_problem(
        "file",
        "",
        found,
        message=f"More than {MOST_SIDE} rows or columns.",
        remedy="Cut the raster to the parts that matter; check the separator.",
    )


def too_many_pixels(found: str) -> Invalid:
    """More than a raster may have; told before they are all read."""
    return one_problem(
        "file",
        "",
        found,
        message=f"More than {LARGEST_PIXELS / 1e6:g} million pixels.",
        remedy="Cut the raster to the parts that matter.",
    )


def damaged(found: str) -> Invalid:
    """A file that stops half-way or contradicts itself."""
    return one_problem(
        "file",
        "",
        found,
        message="This TIFF is damaged or not whole.",
        remedy="Save it again; if it still does not open, save the grid as CSV.",
    )
