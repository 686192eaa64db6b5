"""Draw a box or a spot on a raster, change it, take it back; what was in it stays on record."""

import math
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from service.domain.people import Actor
from service.domain.rasters import (
    LONGEST_NAME,
    MOST_REGIONS,
    Raster,
    Region,
    RegionShape,
    RegionWish,
    free_name,
)
from service.errors import Conflict, Invalid, NotFound, Problem
from service.physics.raster import LEAST_PIXELS, Box, Statistics, statistics
from service.physics.refusals import Refusal
from service.storage import audit, rasters, readings
from service.storage.files import FileShelf
from service.storage.unit import Store
from service.usecases.rasters.grids import grid_of
from service.usecases.rasters.sight import raster_to_change, raster_to_see

WHERE = "region"


def draw_region(
    store: Store,
    actor: Actor,
    raster_uid: str,
    wish: RegionWish,
    *,
    files: FileShelf,
    now: datetime,
    replaces: int | None = None,
) -> Region:
    """Store a region with the figures found in it.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who may bring readings of this round.
    raster_uid : str
        Id of the raster.
    wish : RegionWish
        Where and how large; without a name it gets one.
    files : FileShelf
        Where the numbers of the raster are.
    now : datetime
        The instant of the request.
    replaces : int, optional
        Id of the region whose place it takes; that one stays on record as it was.

    Returns
    -------
    Region

    Raises
    ------
    Invalid
        Outside the raster, fewer than nine pixels with a value, a name twice, too many regions.
    Conflict
        The region to be replaced was changed or taken back meanwhile.
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    with store.look() as unit:
        raster, _, _ = raster_to_see(unit, actor, raster_uid)
    # before the writing unit: nobody else waits while a large raster is looked into
    found, problems = look_into(wish, raster, grid_of(files, raster))
    with store.begin() as unit:
        raster, reading = raster_to_change(unit, actor, raster_uid)
        old = None
        if replaces is not None:
            old = _standing(rasters.region_by_id(unit, raster.id, replaces))
        standing = rasters.regions_of(unit, raster.id)
        others = {one.name for one in standing if old is None or one.id != old.id}
        problems = [*_problems_of_name(wish.name.strip(), others), *problems]
        if problems:
            raise Invalid(problems)
        name = wish.name.strip() or (old.name if old else free_name(wish.shape, others))
        if old is not None:
            rasters.retire_region(unit, old.id, now=now)
        person = actor.person_id
        region_id = rasters.add_region(
            unit, raster.id, wish, name=name, found=found, person_id=person, now=now
        )
        audit.note(
            unit,
            actor,
            verb="draw region" if old is None else "change region",
            noun="raster",
            noun_id=raster.id,
            now=now,
            site_id=readings.site_of_point(unit, reading.point_id),
            before=None if old is None else {"region": old.id, "hot3x3_c": old.figures.hot3x3_c},
            after={"region": region_id, "name": name, "hot3x3_c": found.hot3x3_c},
        )
        drawn = rasters.region_by_id(unit, raster.id, region_id)
        assert drawn is not None
        return drawn


def take_region_back(store: Store, actor: Actor, raster_uid: str, region_id: int, *, now: datetime) -> None:
    """Take a region off a raster; it stays on record. Twice is once.

    Raises
    ------
    NotFound, Forbidden, Conflict
        As for drawing.
    """
    with store.begin() as unit:
        raster, reading = raster_to_change(unit, actor, raster_uid)
        region = rasters.region_by_id(unit, raster.id, region_id)
        if region is None:
            raise NotFound()
        if region.retired_at is not None:
            return
        rasters.retire_region(unit, region.id, now=now)
        audit.note(
            unit,
            actor,
            verb="take region back",
            noun="raster",
            noun_id=raster.id,
            now=now,
            site_id=readings.site_of_point(unit, reading.point_id),
            before={"region": region.id, "name": region.name, "hot3x3_c": region.figures.hot3x3_c},
        )


def _standing(region: Region | None) -> Region:
    if region is None:
        raise NotFound()
    if region.retired_at is not None:
        raise Conflict(
            f"{region.name} was changed or taken back meanwhile",
            remedy="Open the raster again, then change the one that stands.",
        )
    return region


def look_into(
    wish: RegionWish, raster: Raster, grid_c: NDArray[np.float32]
) -> tuple[Statistics, list[Problem]]:
    """What is in a region, with every reason why it cannot be stored."""
    problems = _problems_of_radius(wish)
    place = wish.place if not problems else Box(0, 0, 0, 0)
    found = statistics(grid_c, place)
    return found, problems or _problems_of_place(wish, raster, found)


def _problems_of_name(name: str, others: set[str]) -> list[Problem]:
    if len(others) >= MOST_REGIONS:
        message = f"A raster holds at most {MOST_REGIONS} regions."
        return [Problem(WHERE, "", str(len(others)), message, "Take one back first.")]
    if len(name) > LONGEST_NAME or not name.isprintable():
        message = f"A name has at most {LONGEST_NAME} printable characters."
        return [Problem(WHERE, "name", name[:60], message, "Shorten it.")]
    if name in others:
        message = "Another region of this raster has this name."
        return [Problem(WHERE, "name", name, message, "Give it another one.")]
    return []


def _problems_of_radius(wish: RegionWish) -> list[Problem]:
    radius = wish.radius_px
    if wish.shape is RegionShape.BOX or radius is None or (math.isfinite(radius) and 0 < radius <= 10_000):
        return []
    message = "A radius is above 0 pixels."
    return [Problem(WHERE, "radius_px", f"{radius:g}", message, "Leave it empty for 3×3 pixels.")]


def _problems_of_place(wish: RegionWish, raster: Raster, found: Statistics) -> list[Problem]:
    box = wish.shape is RegionShape.BOX
    if found.refusal is Refusal.TOO_FEW_PIXELS:
        field = "row_to" if box else "radius_px"
        message = f"Fewer than {LEAST_PIXELS} pixels with a value."
        return [Problem(WHERE, field, f"{found.pixels} pixels", message, "Make it larger.")]
    if found.refusal is Refusal.OUTSIDE_RASTER:
        size = f"The raster has rows 0 to {raster.rows - 1} and columns 0 to {raster.columns - 1}."
        if box and not (wish.row_from < wish.row_to and wish.column_from < wish.column_to):
            remedy = f"Give it at least one row and one column. {size}"
            return [Problem(WHERE, "row_to", _spoken(wish), "This box holds nothing.", remedy)]
        message = f"This {wish.shape} does not lie wholly inside the raster."
        return [Problem(WHERE, "row_from", _spoken(wish), message, size)]
    assert found.refusal is Refusal.NONE, "a stored raster is sound as a whole"
    return []


def _spoken(wish: RegionWish) -> str:
    if wish.shape is RegionShape.SPOT:
        reach = "3×3 pixels" if wish.radius_px is None else f"radius {wish.radius_px:g}"
        return f"row {wish.row_from}, column {wish.column_from}, {reach}"
    return f"rows {wish.row_from} to {wish.row_to - 1}, columns {wish.column_from} to {wish.column_to - 1}"
