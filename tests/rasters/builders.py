"""A read round with a raster on its first reading, and regions drawn on it."""

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.domain.people import Actor
from service.domain.rasters import Raster, Region, RegionShape, RegionWish
from service.domain.readings import Reading
from service.domain.words import Role
from service.storage import readings
from service.storage.files import FileShelf
from service.storage.unit import Store
from service.usecases.rasters.bring import bring_raster
from service.usecases.rasters.draw import draw_region
from tests.conftest import NOW
from tests.doors import files_of
from tests.intake.rasters import as_csv, scene
from tests.readings.builders import Issued, issue

#: the two parts of the scene, half-open
HOT, COOL = (100, 80, 106, 88), (100, 200, 106, 208)


@dataclass
class Brought:
    """A returned round; its first reading is the one that gets rasters."""

    store: Store
    issued: Issued
    files: FileShelf

    @property
    def technician(self) -> Actor:
        return self.issued.technician

    @property
    def engineer(self) -> Actor:
        return self.issued.engineer

    @property
    def reading(self) -> Reading:
        """The valid reading of the first row."""
        with self.store.look() as unit:
            found = readings.readings_of_round(unit, self.issued.round_id, after=0, limit=500)
        row_id = found[0].row_id
        return next(one for one in reversed(found) if one.row_id == row_id and one.current)

    def bring(self, grid: NDArray[np.floating] | None = None, **change: Any) -> Raster:
        fields: dict[str, Any] = {
            "files": self.files,
            "content": as_csv(scene() if grid is None else grid),
            "file_name": "F01.csv",
            "now": NOW,
        }
        fields |= change
        actor = fields.pop("actor", self.technician)
        return bring_raster(self.store, actor, fields.pop("uid", self.reading.uid), **fields)

    def draw(
        self, raster: Raster, box: tuple[int, int, int, int] = HOT, *, name: str = "", **change: Any
    ) -> Region:
        wish = RegionWish(name, RegionShape.BOX, *box)
        return self.draw_wish(raster, wish, **change)

    def draw_wish(self, raster: Raster, wish: RegionWish, **change: Any) -> Region:
        fields: dict[str, Any] = {"files": self.files, "now": NOW} | change
        actor = fields.pop("actor", self.technician)
        return draw_region(self.store, actor, raster.uid, wish, **fields)


def returned(store: Store, *, day: date = date(2026, 11, 24), **kinds: int) -> Brought:
    """A round whose rows were all read at 40 °C."""
    issued = issue(store, day=day, **({"boards": 1, "views": 1} | kinds))
    issued.bring(issued.all_records())
    return Brought(store, issued, FileShelf(files_of(store)))


def other_technician(brought: Brought) -> Actor:
    """A technician who walks no round of this plant."""
    return brought.issued.plant.actor(Role.TECHNICIAN, person_id=987_654)
