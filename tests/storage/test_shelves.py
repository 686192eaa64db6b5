"""The two shelves keep alike: a folder on this machine, and a bucket of a server that speaks S3."""

import hashlib
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from botocore.exceptions import ClientError
from moto.server import ThreadedMotoServer

from service.domain.words import Role
from service.errors import NotFound, StorageFull, Unavailable
from service.settings import ROOT
from service.storage.files import FileShelf, Shelf
from service.storage.object_shelf import ObjectShelf, open_shelf
from service.storage.unit import Store
from service.usecases.record.verify import verify
from tests.conftest import NOW
from tests.doors import browser_as, open_app, program_as
from tests.pictures.builders import encoded, walked

BUCKET = "invented-pictures"


def name_of(content: bytes) -> str:
    content_hash = hashlib.sha256(content).hexdigest()
    return f"pictures/{content_hash[:2]}/{content_hash}.png"


@pytest.fixture(scope="module")
def object_store() -> Iterator[str]:
    """A real HTTP server on this machine that speaks S3; its keys are as invented as its bucket."""
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    yield f"http://{host}:{port}"
    server.stop()


@pytest.fixture
def in_bucket(object_store: str, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], ObjectShelf]:
    for name, value in (("ACCESS_KEY_ID", "invented"), ("SECRET_ACCESS_KEY", "invented")):
        monkeypatch.setenv(f"AWS_{name}", value)
    monkeypatch.setenv("AWS_DEFAULT_REGION", "us-east-1")
    monkeypatch.setenv("AWS_EC2_METADATA_DISABLED", "true")

    def opened(prefix: str) -> ObjectShelf:
        shelf = open_shelf(Path(), url=f"s3://{BUCKET}/{prefix}", endpoint=object_store)
        assert isinstance(shelf, ObjectShelf)
        shelf.client.create_bucket(Bucket=BUCKET)
        return shelf

    return opened


@pytest.fixture(params=["folder", "bucket"])
def shelf(request: pytest.FixtureRequest, tmp_path: Path) -> Shelf:
    if request.param == "folder":
        return open_shelf(tmp_path)
    made: Shelf = request.getfixturevalue("in_bucket")(f"test-{os.urandom(6).hex()}")
    return made


def test_what_is_kept_is_read_again(shelf: Shelf) -> None:
    content = os.urandom(300_000)
    name = name_of(content)
    assert not shelf.has(name)
    shelf.keep(name, content)
    assert shelf.has(name)
    assert shelf.read(name) == content


def test_equal_contents_lie_there_once(shelf: Shelf) -> None:
    content = b"the same" * 100
    for _ in range(3):
        shelf.keep(name_of(content), content)
    assert shelf.read(name_of(content)) == content


def test_what_is_cut_short_is_put_right_by_the_next_send(shelf: Shelf) -> None:
    content = b"whole" * 100
    shelf.keep(name_of(content), content[:7])
    shelf.keep(name_of(content), content)
    assert shelf.read(name_of(content)) == content


def test_what_is_not_there_is_told_with_what_to_do(shelf: Shelf) -> None:
    with pytest.raises(NotFound) as told:
        shelf.read(name_of(b"never kept"))
    assert "Restore" in told.value.remedy


@pytest.mark.parametrize("name", ["../../etc/passwd", "pictures/ab/../x.png", "/etc/passwd", "", "pictures"])
def test_no_other_name_is_asked_for(shelf: Shelf, name: str) -> None:
    for ask in (shelf.read, shelf.has):
        with pytest.raises(ValueError, match="not a name of a kept file"):
            ask(name)
    with pytest.raises(ValueError, match="not a name of a kept file"):
        shelf.keep(name, b"x")


class FullStore:
    """Stands in for a store whose disk is full: everything is absent, and nothing more is taken."""

    def head_object(self, **_: Any) -> Any:
        raise ClientError({"Error": {"Code": "404"}}, "HeadObject")

    def put_object(self, **_: Any) -> Any:
        raise ClientError({"Error": {"Code": "InsufficientStorage"}}, "PutObject")


def test_a_full_store_is_told_as_such() -> None:
    with pytest.raises(StorageFull):
        ObjectShelf(FullStore(), BUCKET).keep(name_of(b"x"), b"x")


@pytest.mark.usefixtures("in_bucket")
def test_a_store_that_is_away_or_has_no_such_bucket_is_told(object_store: str) -> None:
    away = open_shelf(Path(), url=f"s3://{BUCKET}", endpoint="http://127.0.0.1:9")
    with pytest.raises(Unavailable, match="does not answer"):
        away.keep(name_of(b"x"), b"x")
    other = open_shelf(Path(), url="s3://no-such-bucket/x", endpoint=object_store)
    with pytest.raises(Unavailable, match="NoSuchBucket"):
        other.keep(name_of(b"x"), b"x")


@pytest.mark.parametrize("url", ["http://somewhere", "s3://", "s3://Bad_Bucket", "s3://a/b?c", "bucket"])
def test_an_address_that_is_none_is_refused_at_the_start(url: str) -> None:
    with pytest.raises(Unavailable, match="no address of a bucket"):
        open_shelf(Path(), url=url)


def test_without_an_address_pictures_lie_in_the_folder(tmp_path: Path) -> None:
    assert open_shelf(tmp_path) == FileShelf(tmp_path)


def test_the_service_keeps_its_pictures_in_the_bucket_and_gives_them_out(
    store: Store, flushing_store: Store, in_bucket: Callable[[str], ObjectShelf], object_store: str
) -> None:
    bucket = in_bucket("plant/one")
    walk = walked(store, boards=1, views=1)
    app = open_app(
        store, lambda: NOW, pictures_url=f"s3://{BUCKET}/plant/one", pictures_endpoint=object_store
    )
    device = program_as(app, store, walk.issued.plant, Role.TECHNICIAN, NOW)
    address = f"/api/v1/rounds/{walk.issued.round_id}/pictures/picture-0001"
    assert device.put(address, content=encoded("PNG")).status_code == 201
    kept = [
        one["Key"] for one in bucket.client.list_objects_v2(Bucket=BUCKET, Prefix="plant/one/")["Contents"]
    ]
    assert len(kept) == 2
    assert not list(walk.shelf.folder.rglob("*.png"))
    page = browser_as(app, store, walk.issued.plant, Role.ENGINEER, NOW)
    shown = page.get("/pictures/picture-0001")
    assert (shown.status_code, shown.headers["content-type"]) == (200, "image/png")
    url = store.engine.url.render_as_string(hide_password=False)
    faults = [
        verify(flushing_store, url, migrations=ROOT / "migrations", files=walk.shelf, shelf=where)
        for where in (bucket, walk.shelf)
    ]
    assert faults[0] == []
    assert "2 files of pictures are not in" in faults[1][0]


def test_a_store_that_is_away_keeps_no_row(store: Store, in_bucket: Callable[[str], ObjectShelf]) -> None:
    in_bucket("unused")
    walk = walked(store, boards=1, views=1)
    app = open_app(
        store, lambda: NOW, pictures_url=f"s3://{BUCKET}/plant", pictures_endpoint="http://127.0.0.1:9"
    )
    device = program_as(app, store, walk.issued.plant, Role.TECHNICIAN, NOW)
    address = f"/api/v1/rounds/{walk.issued.round_id}/pictures"
    answer = device.put(f"{address}/picture-0001", content=encoded("PNG"))
    assert answer.status_code == 503
    assert answer.json()["detail"].startswith("The store of pictures does not answer")
    assert device.get(address).json() == []
