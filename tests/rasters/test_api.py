"""The JSON door for rasters: the file in, figures and picture out, all that the page does."""

import io
from collections.abc import Iterator

import numpy as np
import pytest
from PIL import Image
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.unit import Store
from tests.conftest import NOW
from tests.doors import open_app, program_as
from tests.intake.rasters import as_csv, as_tiff, scene
from tests.rasters.builders import Brought, returned

MIB = 1024 * 1024
HOT = {"row_from": 100, "column_from": 80, "row_to": 106, "column_to": 88}
COOL = {"row_from": 100, "column_from": 200, "row_to": 106, "column_to": 208}


@pytest.fixture
def brought(store: Store) -> Brought:
    return returned(store)


@pytest.fixture
def client(store: Store, brought: Brought) -> Iterator[TestClient]:
    app = open_app(store, lambda: NOW)
    with program_as(app, store, brought.issued.plant, Role.TECHNICIAN, NOW) as made:
        yield made


def send(client: TestClient, brought: Brought, content: bytes, kind: str = "text/csv") -> str:
    """Send a raster; its uid."""
    answer = client.post(
        f"/api/v1/readings/{brought.reading.uid}/rasters",
        params={"file_name": "F01.csv"},
        content=content,
        headers={"Content-Type": kind},
    )
    assert answer.status_code == 201, answer.text
    return str(answer.json()["uid"])


@pytest.mark.parametrize(
    ("kind", "content"),
    [
        ("text/csv", as_csv(scene())),
        ("text/csv", as_csv(scene(), ";", ",")),
        ("image/tiff", as_tiff(scene().astype("f4"))),
    ],
    ids=["comma", "semicolon", "TIFF"],
)
def test_the_same_figures_come_out_of_each_kind_of_file(
    client: TestClient, brought: Brought, kind: str, content: bytes
) -> None:
    """Worked by hand: parts truly at 60 and 45 °C, 15 K apart, under noise of 0.1 K."""
    address = f"/api/v1/rasters/{send(client, brought, content, kind)}"
    hot = client.post(f"{address}/regions", json=HOT | {"name": "Clamp"}).json()
    cool = client.post(f"{address}/regions", json=COOL).json()
    spot = {"shape": "spot", "row_from": 103, "column_from": 84, "radius_px": 2.5}
    assert client.post(f"{address}/figures", json=spot).json()["mean_c"] == pytest.approx(60, abs=0.1)
    inside = scene()[100:106, 80:88]
    assert hot["figures"]["hottest_c"] == pytest.approx(inside.max(), abs=1e-3)
    assert hot["figures"]["p99_c"] == pytest.approx(np.quantile(inside, 0.99), abs=1e-3)
    assert hot["figures"]["sd_k"] == pytest.approx(inside.std(ddof=1), abs=1e-3)
    apart = client.get(f"{address}/regions/{hot['id']}/difference", params={"over": cool["id"]}).json()
    assert apart["hot3x3_k"] == pytest.approx(
        hot["figures"]["hot3x3_c"] - cool["figures"]["hot3x3_c"], abs=1e-9
    )
    seen = client.get(address).json()
    assert [region["name"] for region in seen["regions"]] == ["Clamp", "Box 1"]
    assert client.get(f"{address}/file").content == content


def test_a_changed_region_has_a_new_id_and_one_taken_back_is_gone(
    client: TestClient, brought: Brought
) -> None:
    address = f"/api/v1/rasters/{send(client, brought, as_csv(scene()))}"
    old = client.post(f"{address}/regions", json=HOT).json()
    new = client.put(f"{address}/regions/{old['id']}", json=HOT | {"row_to": 107}).json()
    assert (new["name"], new["id"] != old["id"]) == (old["name"], True)
    again = client.put(f"{address}/regions/{old['id']}", json=HOT)
    assert again.status_code == 409
    assert client.delete(f"{address}/regions/{new['id']}").status_code == 204
    assert client.get(address).json()["regions"] == []


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"row_from": 0, "column_from": 0, "row_to": 999, "column_to": 9}, "row_from"),
        ({"row_from": 0, "column_from": 0, "row_to": 2, "column_to": 2}, "row_to"),
        ({"row_from": 0, "column_from": 0}, "row_to"),
        ({"row_from": -1, "column_from": 0, "row_to": 9, "column_to": 9}, "row_from"),
        (HOT | {"name": "a\u0000b"}, "name"),
        (HOT | {"shape": "ring"}, "shape"),
    ],
)
def test_a_region_that_cannot_be_is_a_problem_document(
    client: TestClient, brought: Brought, body: dict[str, object], field: str
) -> None:
    uid = send(client, brought, as_csv(scene()))
    answer = client.post(f"/api/v1/rasters/{uid}/regions", json=body)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert [problem["field"] for problem in answer.json()["problems"]] == [field]


def test_every_problem_of_a_file_is_told_and_nothing_is_kept(client: TestClient, brought: Brought) -> None:
    address = f"/api/v1/readings/{brought.reading.uid}/rasters"
    answer = client.post(address, content=b"20,21,22\n20,x,22\n20,21\n", headers={"Content-Type": "text/csv"})
    assert answer.status_code == 422
    places = [(p["where"], p["field"]) for p in answer.json()["problems"]]
    assert places == [("row 2", "column 2"), ("row 3", "column 3")]
    assert client.get(address).json() == []


def test_a_raster_may_be_larger_than_other_bodies_and_has_its_own_limit(
    client: TestClient, brought: Brought
) -> None:
    large = as_tiff(np.tile(scene(), (8, 6))[:1900, :1900])
    assert len(large) > 12 * MIB
    send(client, brought, large, "image/tiff")
    address = f"/api/v1/readings/{brought.reading.uid}/rasters"
    over = client.post(address, content=b"9" * (40 * MIB + 1), headers={"Content-Type": "text/csv"})
    assert over.status_code == 422
    assert "40 MiB" in over.json()["problems"][0]["message"]
    assert client.post(address, content=bytes(41 * MIB)).status_code == 413
    other = client.post(f"/api/v1/rounds/{brought.issued.round_id}/uploads", content=bytes(13 * MIB))
    assert other.status_code == 413


def test_the_picture_is_drawn_between_two_temperatures_and_hatched_beyond_a_line(
    client: TestClient, brought: Brought
) -> None:
    address = f"/api/v1/rasters/{send(client, brought, as_csv(scene()))}/picture.png"
    answer = client.get(address, params={"low_c": 20, "high_c": 70})
    assert answer.headers["content-type"] == "image/png"
    plain = np.asarray(Image.open(io.BytesIO(answer.content)).convert("L"), dtype=int)
    assert plain.shape == (240, 320)
    assert plain[103, 84] > plain[103, 204] > plain[0, 0]
    hatched = Image.open(io.BytesIO(client.get(address, params={"above_c": 50}).content)).convert("L")
    assert hatched.size == (960, 720)
    inside = np.asarray(hatched, dtype=int)[300:318, 240:264]
    assert inside.max() - inside.min() > 200, "ink and paper lines lie side by side"
