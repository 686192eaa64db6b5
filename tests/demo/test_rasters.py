"""The rasters of the demonstration say what the readings beside them say."""

import pytest

from seed_data.founding import ids_of
from seed_data.people import actors
from seed_data.rasters import SCENES
from service.domain.register import Noun
from service.storage.files import FileShelf
from service.storage.unit import Store
from service.usecases.rasters.see import list_rasters, see_grid, see_raster
from service.usecases.rounds.list_readings import list_point_readings, list_round_readings
from tests.conftest import NOW
from tests.doors import files_of


@pytest.mark.parametrize("tag", SCENES)
def test_a_raster_of_the_demonstration_agrees_with_its_visit(demo_store: Store, tag: str) -> None:
    engineer = actors(demo_store, ["r.amsel"], now=NOW)["r.amsel"]
    points = ids_of(demo_store, engineer, Noun.POINT)
    found = [
        raster
        for reading in list_point_readings(demo_store, engineer, point_id=points[tag], after=0, limit=500)
        if reading.current
        for raster in list_rasters(demo_store, engineer, reading.uid).rasters
    ]
    (raster,) = found
    seen = see_raster(demo_store, engineer, raster.uid)
    visit = {
        one.point_id: one.temperature_c
        for one in list_round_readings(demo_store, engineer, round_id=seen.round.id, after=0, limit=500)
        if one.current
    }
    assert [region.name for region in seen.regions] == ["L1", "L2", "L3"]
    for region in seen.regions:
        part = points[f"{tag.rpartition('-')[0]}-{region.name}"]
        assert region.figures.hot3x3_c == pytest.approx(visit[part], abs=0.5)
    hottest = max(seen.regions, key=lambda region: region.figures.hot3x3_c)
    assert hottest.name == tag.rpartition("-")[2]
    _, grid_c = see_grid(demo_store, engineer, raster.uid, files=FileShelf(files_of(demo_store)))
    assert grid_c.shape == (120, 160)
