"""Rasters with a reading: kept once, drawn on, compared, and taken as its temperature."""

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import select

from service.domain.rasters import RegionShape, RegionWish, looks_like_kelvin
from service.domain.words import Role
from service.errors import Conflict, Forbidden, Invalid, NotFound, Stale, StorageFull
from service.physics.raster import Box, statistics
from service.storage.files import FileShelf
from service.storage.tables.readings import RasterRegionRow, RasterRow
from service.storage.tables.record import AuditRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from service.usecases.rasters.draw import take_region_back
from service.usecases.rasters.see import (
    compare_regions,
    list_rasters,
    see_file,
    see_grid,
    see_raster,
    try_region,
)
from service.usecases.rasters.take import take_temperature
from service.usecases.rounds.correct import correct_reading
from tests.builders import build_plant
from tests.conftest import NOW
from tests.doors import files_of
from tests.intake.rasters import as_csv, as_tiff, scene
from tests.rasters.builders import COOL, HOT, Brought, other_technician, returned
from tests.rounds.builders import change

SPOT = RegionWish("", RegionShape.SPOT, 103, 84, radius_px=2.5)


@pytest.fixture
def brought(store: Store) -> Brought:
    return returned(store)


# ---- kept ---------------------------------------------------------------------------------


def test_a_raster_is_kept_with_its_file_and_its_numbers(any_store: Store) -> None:
    brought = returned(any_store)
    raster = brought.bring()
    assert (raster.rows, raster.columns, raster.by) == (240, 320, "Test technician")
    assert (raster.low_c, raster.high_c) == pytest.approx((scene().min(), scene().max()), abs=1e-3)
    _, grid = see_grid(any_store, brought.technician, raster.uid, files=brought.files)
    assert np.abs(grid - scene()).max() < 1e-3
    assert see_file(any_store, brought.technician, raster.uid, files=brought.files)[1] == as_csv(scene())
    seen = list_rasters(any_store, brought.engineer, brought.reading.uid)
    assert [one.uid for one in seen.rasters] == [raster.uid]


def test_the_same_file_on_the_same_reading_is_one_raster(any_store: Store) -> None:
    brought = returned(any_store)
    first = brought.bring()
    assert brought.bring(actor=brought.engineer, file_name="again.csv") == first
    assert brought.bring(content=as_tiff(scene())).uid != first.uid
    corrected = correct_reading(
        any_store, brought.engineer, brought.reading.uid, revision=1,
        changes={"temperature_c": 41.0}, reason="digit slip", key=None, now=NOW,
    )  # fmt: skip
    assert brought.bring(uid=corrected.uid) == first, "a correction is the same reading"
    with any_store.look() as unit:
        assert len(unit.session.scalars(select(RasterRow)).all()) == 2


def test_a_refused_file_leaves_nothing_behind(brought: Brought) -> None:
    with pytest.raises(Invalid):
        brought.bring(content=b"20,21,x\n" * 9)
    assert list_rasters(brought.store, brought.engineer, brought.reading.uid).rasters == ()
    assert not list(brought.files.folder.rglob("*.csv"))


def test_numbers_that_were_lost_are_read_from_the_file_again(brought: Brought) -> None:
    raster = brought.bring()
    (numbers,) = brought.files.folder.rglob("*.npy")
    numbers.unlink()
    _, grid = see_grid(brought.store, brought.technician, raster.uid, files=brought.files)
    assert np.abs(grid - scene()).max() < 1e-3
    assert numbers.exists()
    for file in brought.files.folder.rglob("*.*"):
        file.unlink()
    with pytest.raises(NotFound, match="not kept here"):
        see_grid(brought.store, brought.technician, raster.uid, files=brought.files)


def test_a_name_keeps_only_its_last_part(brought: Brought) -> None:
    raster = brought.bring(file_name="C:\\cards\\a\x00b\n../../F01.csv")
    assert raster.file_name == "F01.csv"
    assert brought.bring(content=as_tiff(scene()), file_name="").file_name == "raster.tif"


# ---- drawn --------------------------------------------------------------------------------


def test_regions_keep_their_figures_and_are_compared(any_store: Store) -> None:
    """Worked by hand: parts truly at 60 and 45 °C, 15 K apart, under noise of 0.1 K."""
    brought = returned(any_store)
    raster = brought.bring()
    hot, cool = brought.draw(raster, HOT, name="Clamp"), brought.draw(raster, COOL)
    spot = brought.draw_wish(raster, SPOT)
    seen = see_raster(any_store, brought.engineer, raster.uid).regions
    assert [(one.name, one.shape) for one in seen] == [("Clamp", "box"), ("Box 1", "box"), ("Spot 1", "spot")]
    truth = statistics(see_grid(any_store, brought.engineer, raster.uid, files=brought.files)[1], Box(*HOT))
    assert seen[0].figures == truth, "stored figures are the computed ones, to the last digit"
    assert seen[0].figures.hottest_c > seen[0].figures.hot3x3_c
    for first in (hot, spot):
        found = compare_regions(any_store, brought.engineer, raster.uid, first_id=first.id, second_id=cool.id)
        assert found.hot3x3_k == pytest.approx(15.0, abs=0.2)
        assert found.mean_k == pytest.approx(15.0, abs=0.1)


def test_a_changed_region_is_a_new_row_and_the_old_one_stays(any_store: Store) -> None:
    brought = returned(any_store)
    raster = brought.bring()
    old = brought.draw(raster, HOT, name="Clamp")
    new = brought.draw(raster, (99, 79, 107, 89), replaces=old.id)
    assert new.name == "Clamp"
    assert [one.id for one in see_raster(any_store, brought.engineer, raster.uid).regions] == [new.id]
    with any_store.look() as unit:
        kept = unit.session.get_one(RasterRegionRow, old.id)
        assert (kept.row_from, kept.retired_at) == (100, NOW)
        assert kept.figures["hot3x3_c"] == old.figures.hot3x3_c
        verbs = list(unit.session.scalars(select(AuditRow.verb).order_by(AuditRow.id)))[-3:]
    assert verbs == ["bring raster", "draw region", "change region"]
    with pytest.raises(Conflict, match="meanwhile"):
        brought.draw(raster, HOT, replaces=old.id)
    take_region_back(any_store, brought.technician, raster.uid, new.id, now=NOW)
    take_region_back(any_store, brought.technician, raster.uid, new.id, now=NOW + timedelta(hours=1))
    assert see_raster(any_store, brought.engineer, raster.uid).regions == ()


@pytest.mark.parametrize(
    ("wish", "field", "said"),
    [
        (RegionWish("", RegionShape.BOX, 0, 0, 241, 10), "row_from", "wholly inside"),
        (RegionWish("", RegionShape.BOX, -1, 0, 10, 10), "row_from", "wholly inside"),
        (RegionWish("", RegionShape.BOX, 10, 10, 10, 20), "row_to", "holds nothing"),
        (RegionWish("", RegionShape.BOX, 20, 20, 10, 10), "row_to", "holds nothing"),
        (RegionWish("", RegionShape.BOX, 0, 0, 2, 4), "row_to", "Fewer than 9 pixels"),
        (RegionWish("", RegionShape.SPOT, 0, 0), "row_from", "wholly inside"),
        (RegionWish("", RegionShape.SPOT, 9, 9, radius_px=1.0), "radius_px", "Fewer than 9 pixels"),
        (RegionWish("", RegionShape.SPOT, 9, 9, radius_px=0.0), "radius_px", "above 0"),
        (RegionWish("", RegionShape.SPOT, 9, 9, radius_px=float("nan")), "radius_px", "above 0"),
        (RegionWish("", RegionShape.SPOT, 9, 9, radius_px=1e9), "radius_px", "above 0"),
        (RegionWish("x" * 25, RegionShape.BOX, *HOT), "name", "at most 24"),
        (RegionWish("a\x00b", RegionShape.BOX, *HOT), "name", "printable"),
        (RegionWish("Clamp", RegionShape.BOX, *COOL), "name", "this name"),
    ],
)
def test_a_region_that_cannot_be_is_told(brought: Brought, wish: RegionWish, field: str, said: str) -> None:
    raster = brought.bring()
    brought.draw(raster, HOT, name="Clamp")
    with pytest.raises(Invalid) as refused:
        brought.draw_wish(raster, wish)
    (problem,) = refused.value.problems
    assert problem.field == field
    assert said in problem.message
    assert problem.remedy
    assert len(see_raster(brought.store, brought.engineer, raster.uid).regions) == 1


def test_pixels_without_a_value_do_not_count(brought: Brought) -> None:
    grid = scene()[:20, :20].copy()
    grid[5:8, 5:8] = np.nan
    raster = brought.bring(content=as_tiff(grid))
    with pytest.raises(Invalid, match="1 problem"):
        brought.draw(raster, (5, 5, 8, 10))
    assert brought.draw(raster, (5, 5, 8, 12)).figures.pixels == 12


def test_a_region_may_be_tried_without_being_stored(brought: Brought) -> None:
    raster = brought.bring()
    found = try_region(brought.store, brought.technician, raster.uid, SPOT, files=brought.files)
    assert found.mean_c == pytest.approx(60, abs=0.1)
    assert see_raster(brought.store, brought.engineer, raster.uid).regions == ()


def test_a_raster_holds_forty_regions(brought: Brought) -> None:
    raster = brought.bring()
    for _ in range(40):
        brought.draw(raster)
    with pytest.raises(Invalid) as refused:
        brought.draw(raster)
    assert "at most 40" in refused.value.problems[0].message


# ---- taken --------------------------------------------------------------------------------


def test_the_figure_becomes_the_readings_temperature_by_a_correction(any_store: Store) -> None:
    brought = returned(any_store)
    raster = brought.bring()
    region = brought.draw(raster)
    before = brought.reading
    taken = take_temperature(
        any_store, brought.technician, raster.uid, region.id,
        revision=before.revision, reason="The picture shows more than was typed", now=NOW,
    )  # fmt: skip
    assert taken.temperature_c == round(region.figures.hot3x3_c, 1)
    assert taken.temperature_c != round(region.figures.hottest_c, 1)
    assert (taken.revision, taken.supersedes_id) == (2, before.id)
    assert taken.correction_reason == "The picture shows more than was typed"
    seen = see_raster(any_store, brought.engineer, raster.uid)
    assert seen.reading.uid == taken.uid, "the raster belongs to the reading as it is now"
    with pytest.raises(Stale):
        take_temperature(
            any_store, brought.technician, raster.uid, region.id, revision=1, reason="again", now=NOW
        )


def test_taking_wants_a_reason_and_a_region_that_stands(brought: Brought) -> None:
    raster = brought.bring()
    region = brought.draw(raster)
    with pytest.raises(Invalid, match="problem"):
        take_temperature(
            brought.store, brought.technician, raster.uid, region.id, revision=1, reason=" ", now=NOW
        )
    take_region_back(brought.store, brought.technician, raster.uid, region.id, now=NOW)
    with pytest.raises(NotFound):
        take_temperature(
            brought.store, brought.technician, raster.uid, region.id, revision=1, reason="why", now=NOW
        )
    assert brought.reading.revision == 1


def test_kelvin_taken_for_celsius_is_noticed(brought: Brought) -> None:
    warm, kelvin = brought.bring(), brought.bring(scene() + 273.15)
    assert not looks_like_kelvin(warm, 58.0)
    assert looks_like_kelvin(kelvin, 58.0)
    assert not looks_like_kelvin(kelvin, 330.0), "a furnace is that hot"
    assert not looks_like_kelvin(kelvin, None)


# ---- who may ------------------------------------------------------------------------------


def test_only_who_may_bring_readings_of_the_round_brings_and_draws(brought: Brought) -> None:
    raster = brought.bring()
    manager, stranger = brought.issued.plant.actor(Role.MANAGER), other_technician(brought)
    for act in (lambda who: brought.bring(actor=who), lambda who: brought.draw(raster, actor=who)):
        with pytest.raises(Forbidden):
            act(manager)
        with pytest.raises(NotFound):
            act(stranger)
    assert see_raster(brought.store, manager, raster.uid).may_draw is False
    with pytest.raises(NotFound):
        see_raster(brought.store, stranger, raster.uid)
    with pytest.raises(NotFound):
        brought.bring(uid="no-such-reading-1")


def test_after_sign_off_only_an_engineer_still_adds(brought: Brought) -> None:
    raster = brought.bring()
    change(brought.store, RoundRow, brought.issued.round_id, state="signed off")
    for act in (lambda who: brought.bring(actor=who), lambda who: brought.draw(raster, actor=who)):
        with pytest.raises(Forbidden):
            act(brought.technician)
        act(brought.engineer)
    assert not see_raster(brought.store, brought.technician, raster.uid).may_draw
    assert see_raster(brought.store, brought.engineer, raster.uid).may_draw
    change(brought.store, RoundRow, brought.issued.round_id, state="withdrawn")
    with pytest.raises(Conflict, match="no longer change"):
        brought.draw(raster, COOL, actor=brought.engineer)


def test_readings_of_two_sources_keep_their_rasters_apart(brought: Brought) -> None:
    brought.bring()
    own = brought.reading
    brought.issued.bring([brought.issued.record(0, 42.0)], actor=brought.engineer)
    other = own.uid.replace(own.source.replace(" ", "-"), f"person-{brought.engineer.person_id}")
    assert list_rasters(brought.store, brought.engineer, other).rasters == ()


# ---- files --------------------------------------------------------------------------------


def test_a_kept_file_is_whole_or_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf, name = FileShelf(tmp_path), f"rasters/ab/{'ab' * 32}.csv"

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched, pytest.raises(StorageFull):
        patched.setattr("service.storage.files.os.fsync", full)
        shelf.keep(name, b"content")
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []
    shelf.keep(name, b"content")
    shelf.keep(name, b"content")
    assert shelf.read(name) == b"content"


@pytest.mark.parametrize(
    "name", ["../etc/passwd", "rasters/ab/../x.csv", "/etc/passwd", f"rasters/ab/{'g' * 64}.csv", ""]
)
def test_no_name_leads_out_of_the_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match="not a name"):
        FileShelf(tmp_path).read(name)


def test_each_tests_files_lie_beside_its_database(store: Store) -> None:
    build_plant(store)
    assert files_of(store).parent == Path(str(store.engine.url.database)).parent
