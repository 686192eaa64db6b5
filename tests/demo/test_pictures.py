"""The pictures of the demonstration are placed, paired, labelled as invented, and say nothing of a place on earth."""

import io

import pytest
from PIL import Image

from seed_data.founding import ids_of
from seed_data.people import actors
from seed_data.pictures import PICTURED
from service.domain.pictures import MatchedBy, PictureKind
from service.domain.register import Noun
from service.storage.files import FileShelf
from service.storage.unit import Store
from service.usecases.pictures.see import list_point_pictures, see_file
from tests.conftest import NOW
from tests.doors import files_of


@pytest.mark.parametrize("tag", PICTURED)
def test_each_visit_has_its_pair_placed_by_tag_and_by_the_clock(demo_store: Store, tag: str) -> None:
    engineer = actors(demo_store, ["r.amsel"], now=NOW)["r.amsel"]
    point_id = ids_of(demo_store, engineer, Noun.POINT)[tag]
    visits = list_point_pictures(demo_store, engineer, point_id).visits
    assert len(visits) == PICTURED[tag]
    for visit in visits:
        thermal, visible = (
            visit.latest(kind, point_id) for kind in (PictureKind.THERMAL, PictureKind.VISIBLE)
        )
        assert thermal is not None
        assert visible is not None
        assert (thermal.matched, thermal.code) == (MatchedBy.CODE, tag)
        assert thermal.taken_at == visible.taken_at
        assert visible.matched is MatchedBy.TIME
        assert visible.view_id == thermal.view_id
        assert any(one.temperature_c is not None for one in visit.temperatures)
    newest = visits[0].latest(PictureKind.THERMAL, point_id)
    assert newest is not None
    assert [mark.words for mark in newest.marks] == ["hottest"]
    shelf = FileShelf(files_of(demo_store))
    _, content, _ = see_file(demo_store, engineer, newest.uid, shelf=shelf, what="stored_as")
    assert Image.open(io.BytesIO(content)).size == (640, 480)
