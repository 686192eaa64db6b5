"""Take what a region says as the temperature of its reading: a correction with its reason."""

from datetime import datetime

from service.domain.people import Actor
from service.domain.readings import Reading
from service.errors import NotFound
from service.storage import rasters
from service.storage.unit import Store
from service.usecases.rasters.sight import raster_to_see, valid_revision
from service.usecases.rounds.correct import correct_reading

#: as an instrument shows it; finer would feign more than the noise allows
DIGITS = 1


def take_temperature(
    store: Store,
    actor: Actor,
    raster_uid: str,
    region_id: int,
    *,
    revision: int,
    reason: str,
    now: datetime,
) -> Reading:
    """Correct the reading to the mean of the 3×3 pixels about the hottest of a region.

    The single hottest pixel is not offered: noise drives it up, and more so in a larger box.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who may correct the reading.
    raster_uid, region_id : str, int
        The raster, and a region that stands on it.
    revision : int
        The revision of the reading that was seen.
    reason : str
        Why; kept with the revision.
    now : datetime
        The instant of the request.

    Returns
    -------
    Reading
        The new revision.

    Raises
    ------
    NotFound
        Absent or out of sight, or the region was changed or taken back.
    Stale, Conflict, Invalid
        As for any correction.
    """
    with store.look() as unit:
        raster, first, _ = raster_to_see(unit, actor, raster_uid)
        region = rasters.region_by_id(unit, raster.id, region_id)
        if region is None or region.retired_at is not None:
            raise NotFound()
        reading = valid_revision(unit, first)
    return correct_reading(
        store,
        actor,
        reading.uid,
        revision=revision,
        changes={"temperature_c": round(region.figures.hot3x3_c, DIGITS)},
        reason=reason,
        key=None,
        now=now,
    )
