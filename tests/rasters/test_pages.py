"""The pages of a raster without any script: bring it, look at it, draw by numbers, take its figure."""

import re
from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.unit import Store
from tests.conftest import NOW
from tests.doors import browser_as, open_app
from tests.intake.rasters import as_csv, scene
from tests.rasters.builders import COOL, Brought, returned

BOX = {"shape": "box", "name": "", "row": "100", "column": "80", "rows": "6", "columns": "8", "replaces": ""}


@pytest.fixture
def brought(store: Store) -> Brought:
    return returned(store)


def signed_in(brought: Brought, role: Role) -> TestClient:
    app = open_app(brought.store, lambda: NOW)
    return browser_as(app, brought.store, brought.issued.plant, role, NOW)


@pytest.fixture
def technician(brought: Brought) -> Iterator[TestClient]:
    with signed_in(brought, Role.TECHNICIAN) as made:
        yield made


def send(client: TestClient, brought: Brought, content: bytes, name: str = "F01.csv") -> str:
    answer = client.post(
        f"/readings/{brought.reading.uid}/rasters", files={"file": (name, content, "text/csv")}
    )
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def test_a_raster_is_brought_drawn_on_and_its_figure_taken(technician: TestClient, brought: Brought) -> None:
    assert (
        "No raster came with this reading yet"
        in technician.get(f"/readings/{brought.reading.uid}/rasters").text
    )
    address = send(technician, brought, as_csv(scene()))
    assert "nothing is drawn yet" in technician.get(address).text
    assert "F01.csv" in technician.get(f"/readings/{brought.reading.uid}/rasters").text
    stored = technician.post(f"{address}/regions", data=BOX | {"name": "Clamp"})
    assert stored.headers["location"] == address
    page = technician.get(address).text
    assert "Clamp is at 60." in page
    region = re.search(r'data-region="(\d+)"', page)
    assert region is not None
    taken = technician.post(
        f"{address}/take", data={"region": region[1], "reason": "The raster shows it", "version": "1"}
    )
    assert taken.status_code == 303
    assert brought.reading.revision == 2
    assert brought.reading.temperature_c == pytest.approx(60.0, abs=0.2)
    assert "revision 2" in technician.get(address).text
    again = technician.post(f"{address}/take", data={"region": region[1], "reason": "x", "version": "1"})
    assert again.status_code == 409


def test_regions_are_changed_compared_and_taken_back_by_plain_forms(
    technician: TestClient, brought: Brought
) -> None:
    raster = brought.bring()
    hot, cool = brought.draw(raster, name="Clamp"), brought.draw(raster, COOL, name="Like part")
    address = f"/rasters/{raster.uid}"
    compared = technician.get(address, params={"over": cool.id}).text
    assert re.search(r"Clamp is 1[45]\.\d.K over Like part", compared)
    assert re.search(r"\+1[45]\.\d</td>", compared)
    change = technician.get(address, params={"change": hot.id}).text
    assert "Change Clamp" in change
    assert f'name="replaces" value="{hot.id}"' in change
    answer = technician.post(
        f"{address}/regions?over={cool.id}",
        data=BOX | {"name": "Clamp", "rows": "7", "replaces": str(hot.id)},
    )
    assert answer.headers["location"] == f"{address}?over={cool.id}"
    page = technician.get(address).text
    assert page.count('class="region"') == 2
    assert f'data-region="{hot.id}"' not in page
    stale = technician.post(f"{address}/regions", data=BOX | {"replaces": str(hot.id)})
    assert stale.status_code == 409
    assert technician.post(f"{address}/regions/{cool.id}/take-back").status_code == 303
    assert technician.get(address).text.count('class="region"') == 1


def test_what_is_wrong_is_told_at_its_box_and_what_was_typed_stays(
    technician: TestClient, brought: Brought
) -> None:
    address = f"/rasters/{brought.bring().uid}"
    answer = technician.post(f"{address}/regions", data=BOX | {"row": "239", "name": "Edge"})
    assert answer.status_code == 422
    assert 'href="#field-row"' in answer.text
    assert "rows 0 to 239 and columns 0 to 319" in answer.text
    assert 'value="Edge"' in answer.text
    empty = technician.post(f"{address}/regions", data=BOX | {"row": "", "columns": "eight"})
    assert empty.status_code == 422
    for field in ("row", "columns"):
        assert f'href="#field-{field}"' in empty.text
    assert technician.post(f"{address}/regions", data={}).status_code == 422
    unchosen = technician.post(f"{address}/take", data={"region": "", "reason": "why", "version": "1"})
    assert unchosen.status_code == 422
    assert "No region is chosen." in unchosen.text
    assert brought.reading.revision == 1


def test_only_the_region_of_the_part_itself_is_proposed(technician: TestClient, brought: Brought) -> None:
    raster = brought.bring()
    brought.draw(raster, COOL, name="L2")
    address = f"/rasters/{raster.uid}"
    assert not re.search(r'<option value="\d+" selected>L\d:', technician.get(address).text)
    own = brought.draw(raster, name="L1")
    assert re.search(rf'<option value="{own.id}" selected>L1: 60\.', technician.get(address).text)


def test_every_problem_of_a_file_is_listed(technician: TestClient, brought: Brought) -> None:
    address = f"/readings/{brought.reading.uid}/rasters"
    files = {"file": ("F01.csv", b"20,21,22\n20,x,22\n20,21\n", "text/csv")}
    answer = technician.post(address, files=files)
    assert answer.status_code == 422
    assert "Row 2, column 2" in answer.text
    assert 'href="#field-file"' in answer.text
    assert "A row of another length." in answer.text
    assert technician.post(address, data={"file": ""}).status_code == 422
    many = technician.post(address, files={"file": ("F01.csv", b"a,b\n" * 30, "text/csv")})
    assert "20 more of this kind are not listed." in many.text


def test_the_picture_the_scale_and_a_line_are_asked_for_by_the_address(
    technician: TestClient, brought: Brought
) -> None:
    address = f"/rasters/{brought.bring().uid}"
    page = technician.get(address, params={"scale": "petrol", "from": "20,5", "to": "70"}).text
    assert "scale=petrol&amp;from=20.5&amp;to=70" in page
    assert "Scale from 20.5 to 70.0 °C" in page
    assert "Hatched: above" in technician.get(address, params={"line": "50"}).text
    wrong = technician.get(address, params={"from": "70", "to": "20", "line": "warm"})
    assert wrong.status_code == 422
    assert "A scale goes from less to more." in wrong.text
    assert "This is not a number." in wrong.text
    for query in ("line=50&side=below", "from=1e999", "from=70&to=20", ""):
        picture = technician.get(f"{address}/picture.png?{query}")
        assert (picture.status_code, picture.headers["content-type"]) == (200, "image/png"), query
    said = technician.get(f"{address}/figures", params=BOX)
    assert "3×3 about the hottest 60." in said.text
    assert "wholly inside" in technician.get(f"{address}/figures", params=BOX | {"row": "999"}).text


def test_a_file_goes_out_as_it_came_and_never_as_a_page(technician: TestClient, brought: Brought) -> None:
    content = as_csv(scene(), ";", ",")
    uid = brought.bring(content=content, file_name="<script>.html").uid
    answer = technician.get(f"/rasters/{uid}/file")
    assert answer.content == content
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert answer.headers["content-disposition"] == f'attachment; filename="raster-{uid}.csv"'
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "<script>.html" not in technician.get(f"/rasters/{uid}").text


def test_who_only_looks_gets_no_forms(brought: Brought) -> None:
    raster = brought.bring()
    brought.draw(raster, name="Clamp")
    with signed_in(brought, Role.MANAGER) as manager:
        page = manager.get(f"/rasters/{raster.uid}").text
        assert "Clamp is at" in page
        for wanted in ("Store it", "Take back", "Correct the reading", 'data-behaviour="raster"'):
            assert wanted not in page
        assert "Keep it with the reading" not in manager.get(f"/readings/{brought.reading.uid}/rasters").text


def test_numbers_that_look_like_kelvin_are_asked_about(technician: TestClient, brought: Brought) -> None:
    cool = scene() - 20  # the reading says 40 °C
    assert "look like kelvin" not in technician.get(f"/rasters/{brought.bring(cool).uid}").text
    assert "look like kelvin" in technician.get(f"/rasters/{brought.bring(cool + 273.15).uid}").text
