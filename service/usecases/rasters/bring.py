"""Bring a temperature raster to a reading: read whole or refused, kept once."""

import hashlib
import secrets
from datetime import datetime

import numpy as np

from service.domain.people import Actor
from service.domain.rasters import Raster
from service.intake.rasters import read_raster
from service.storage import audit, rasters, readings
from service.storage.files import FileShelf, shelf_name
from service.storage.unit import Store
from service.usecases.rasters.grids import keep_grid
from service.usecases.rasters.sight import reading_to_add_to

ROOM = "rasters"
LONGEST_FILE_NAME = 200


def bring_raster(
    store: Store,
    actor: Actor,
    reading_uid: str,
    *,
    files: FileShelf,
    content: bytes,
    file_name: str,
    now: datetime,
) -> Raster:
    """Keep a raster with a reading.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who walked the round, until it is signed off; an engineer at any time.
    reading_uid : str
        Id of any revision of the reading.
    files : FileShelf
        Where the file is kept.
    content : bytes
        A CSV grid or a one-band float TIFF [°C].
    file_name : str
        As the sender called it.
    now : datetime
        The instant it was received.

    Returns
    -------
    Raster
        The same when the same content comes to the same reading again.

    Raises
    ------
    Invalid
        Why it is no raster; nothing was stored.
    NotFound, Forbidden, Conflict
        Out of sight, not this role's, or the round takes no more.
    """
    with store.begin() as unit:
        reading_to_add_to(unit, actor, reading_uid)
    read = read_raster(content)
    content_hash = hashlib.sha256(content).hexdigest()
    stored_as = shelf_name(ROOM, content_hash, read.kind)
    # before the row that names them: a crash between leaves a file that nothing names, never the reverse
    files.keep(stored_as, content)
    keep_grid(files, stored_as, read.grid_c)
    with store.begin() as unit:
        reading = reading_to_add_to(unit, actor, reading_uid)
        same = [one for one in rasters.rasters_of(unit, reading) if one.content_hash == content_hash]
        if same:
            return same[0]
        uid = secrets.token_hex(12)
        rows, columns = read.grid_c.shape
        rasters.add_raster(
            unit,
            uid=uid,
            reading_id=reading.id,
            file_name=_plain_name(file_name, read.kind),
            content_hash=content_hash,
            stored_as=stored_as,
            size=(rows, columns),
            extremes_c=(float(np.nanmin(read.grid_c)), float(np.nanmax(read.grid_c))),
            person_id=actor.person_id,
            now=now,
        )
        audit.note(
            unit,
            actor,
            verb="bring raster",
            noun="reading",
            noun_id=reading.id,
            now=now,
            site_id=readings.site_of_point(unit, reading.point_id),
            after={"raster": uid, "file": file_name[:LONGEST_FILE_NAME], "pixels": rows * columns},
        )
        kept = rasters.raster_by_uid(unit, uid)
        assert kept is not None
        return kept


def _plain_name(file_name: str, kind: str) -> str:
    """The last part of the sender's name for it, printable; one of ours where there is none."""
    last = file_name.replace("\\", "/").rsplit("/", 1)[-1]
    plain = "".join(sign for sign in last if sign.isprintable()).strip()
    return plain[-LONGEST_FILE_NAME:] or f"raster.{kind}"
