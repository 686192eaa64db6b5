"""Look at a raster: its regions, its numbers, the file it came in."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.rasters import PointPlace, Raster, Region, RegionWish
from service.domain.readings import Reading
from service.domain.rounds import OPEN_FOR_READINGS, Round
from service.domain.words import RoundState
from service.errors import Invalid, NotFound
from service.physics.raster import Difference, Statistics, difference
from service.storage import rasters
from service.storage.files import FileShelf
from service.storage.unit import Store
from service.usecases.rasters.draw import look_into
from service.usecases.rasters.grids import grid_of
from service.usecases.rasters.sight import raster_to_see, reading_to_see, valid_revision

Grid = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class SeenRaster:
    """A raster with its regions, and what its reading says now."""

    raster: Raster
    regions: tuple[Region, ...]
    reading: Reading
    round: Round
    place: PointPlace
    may_draw: bool


@dataclass(frozen=True, slots=True)
class RastersOfReading:
    """The rasters of a reading, and whether this person may bring another."""

    reading: Reading
    rasters: tuple[Raster, ...]
    place: PointPlace
    may_bring: bool


def list_rasters(store: Store, actor: Actor, reading_uid: str) -> RastersOfReading:
    """Rasters that came with any revision of a reading.

    Raises
    ------
    NotFound
        Absent or out of sight.
    """
    with store.look() as unit:
        reading, round_ = reading_to_see(unit, actor, reading_uid)
        return RastersOfReading(
            reading=valid_revision(unit, reading),
            rasters=rasters.rasters_of(unit, reading),
            place=rasters.place_of(unit, reading.point_id),
            may_bring=_may_change(actor, round_),
        )


def see_raster(store: Store, actor: Actor, uid: str) -> SeenRaster:
    """One raster with the regions that stand on it.

    Raises
    ------
    NotFound
        Absent or out of sight.
    """
    with store.look() as unit:
        raster, reading, round_ = raster_to_see(unit, actor, uid)
        return SeenRaster(
            raster=raster,
            regions=rasters.regions_of(unit, raster.id),
            reading=valid_revision(unit, reading),
            round=round_,
            place=rasters.place_of(unit, reading.point_id),
            may_draw=_may_change(actor, round_),
        )


def _may_change(actor: Actor, round_: Round) -> bool:
    if round_.state is RoundState.SIGNED_OFF:
        return may(actor, Verb.BRING_READINGS) and may(actor, Verb.KEEP_REGISTER)
    return may(actor, Verb.BRING_READINGS) and round_.state in OPEN_FOR_READINGS


def see_grid(store: Store, actor: Actor, uid: str, *, files: FileShelf) -> tuple[Raster, Grid]:
    """The numbers of a raster [°C], shape (rows, columns); NaN is no pixel.

    Raises
    ------
    NotFound
        Absent, out of sight, or its file is gone.
    """
    with store.look() as unit:
        raster, _, _ = raster_to_see(unit, actor, uid)
    return raster, grid_of(files, raster)


def see_file(store: Store, actor: Actor, uid: str, *, files: FileShelf) -> tuple[Raster, bytes]:
    """The file as it came.

    Raises
    ------
    NotFound
        Absent, out of sight, or gone.
    """
    with store.look() as unit:
        raster, _, _ = raster_to_see(unit, actor, uid)
    return raster, files.read(raster.stored_as)


def try_region(store: Store, actor: Actor, uid: str, wish: RegionWish, *, files: FileShelf) -> Statistics:
    """What a region would say; nothing is stored.

    Raises
    ------
    Invalid
        Why it could not be stored.
    NotFound
        Absent or out of sight.
    """
    raster, grid_c = see_grid(store, actor, uid, files=files)
    found, problems = look_into(wish, raster, grid_c)
    if problems:
        raise Invalid(problems)
    return found


def compare_regions(store: Store, actor: Actor, uid: str, *, first_id: int, second_id: int) -> Difference:
    """The difference of two regions of a raster, first minus second [K].

    Raises
    ------
    NotFound
        The raster is absent or out of sight, or one of the regions does not stand on it.
    """
    with store.look() as unit:
        raster, _, _ = raster_to_see(unit, actor, uid)
        pair = [rasters.region_by_id(unit, raster.id, region_id) for region_id in (first_id, second_id)]
    found = [region.figures for region in pair if region is not None and region.retired_at is None]
    if len(found) < 2:
        raise NotFound()
    return difference(*found)
