"""The page of Field: open to all since it holds nothing, and told whole to the device that keeps it."""

import json
import re

from service.domain.words import Role
from service.storage.unit import Store
from tests.builders import build_plant
from tests.conftest import NOW
from tests.doors import browser, browser_as, open_app


def _files(store: Store) -> list[str]:
    script = browser(open_app(store, lambda: NOW)).get("/field/worker.js").text
    found = re.search(r"globalThis\.FILES = (\[.*?\]);", script)
    assert found
    files: list[str] = json.loads(found[1])
    return files


def test_the_worker_keeps_every_file_that_the_app_asks_for(store: Store) -> None:
    files = _files(store)
    client = browser(open_app(store, lambda: NOW))
    assert {address: client.get(address).status_code for address in files} == dict.fromkeys(files, 200)
    page = client.get("/field/").text
    asked = re.findall(r'(?:href|src)="(/[^"]+)"', page)
    assert {address for address in asked if address not in files} <= {"/rounds"}


def test_the_page_and_its_worker_are_asked_for_anew_each_time(store: Store) -> None:
    client = browser(open_app(store, lambda: NOW))
    for address in ("/field/", "/field/worker.js", "/field/manifest.webmanifest", "/field/app.js"):
        assert client.get(address).headers["cache-control"] == "no-cache", address
    assert client.get("/field").headers["location"] == "/field/"


def test_the_app_is_sent_compressed_and_only_when_it_has_changed(store: Store) -> None:
    client = browser(open_app(store, lambda: NOW))
    sent = client.get("/field/app.js", headers={"Accept-Encoding": "gzip"})
    assert sent.headers["content-encoding"] == "gzip"
    assert sent.text == client.get("/field/app.js", headers={"Accept-Encoding": "identity"}).text
    again = client.get("/field/app.js", headers={"If-None-Match": sent.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_the_page_says_nothing_of_who_asks(store: Store) -> None:
    plant = build_plant(store)
    app = open_app(store, lambda: NOW)
    signed_in = browser_as(app, store, plant, Role.TECHNICIAN, NOW).get("/field/").text
    assert signed_in == browser(app).get("/field/").text


def test_a_technician_reaches_field_from_every_page(store: Store) -> None:
    plant = build_plant(store)
    app = open_app(store, lambda: NOW)
    assert (
        '<a href="/field/">Field</a>'
        in browser_as(app, store, plant, Role.TECHNICIAN, NOW).get("/rounds").text
    )
    assert (
        '<a href="/field/">Field</a>'
        not in browser_as(app, store, plant, Role.MANAGER, NOW).get("/rounds").text
    )
