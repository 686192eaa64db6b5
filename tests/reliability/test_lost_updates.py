"""R9, no lost update: who edits names the version they read; sixteen writers at once lose nothing."""

import asyncio
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI, Request
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute
from sqlalchemy import select

from service.api.asking import edited_version
from service.api.routers import ROUTERS
from service.domain.words import Role
from service.storage.engine import open_engine
from service.storage.tables import metadata
from service.storage.unit import Store
from tests.access.matrix import Ground, ask, lay_ground
from tests.access.rows import Outcome, Row, expected
from tests.access.table import TABLE
from tests.access.world import PERSONAS, PLAIN_ENGINEER
from tests.builders import build_plant
from tests.conftest import NOW
from tests.doors import open_app, token_of

WRITERS = 16

#: Routes that change something and yet need no version, each with its reason.
NO_VERSION = {
    # a new thing: there is nothing that somebody could have read before
    "POST /clients": "creates",
    "POST /sites": "creates",
    "POST /areas": "creates",
    "POST /equipment": "creates",
    "POST /views": "creates",
    "POST /points": "creates",
    "POST /instruments": "creates",
    "POST /routes": "creates",
    "POST /rounds": "creates",
    "POST /rounds/{round_id}/permits": "creates",
    "POST /rounds/{round_id}/run-requests": "creates",
    "POST /plans": "creates",
    "POST /absences": "creates",
    "DELETE /absences/{absence_id}": "takes away what nobody can edit; the second is told that it is gone",
    "POST /site-closures": "creates",
    "DELETE /site-closures/{closure_id}": "takes away what nobody can edit; the second is told that it is gone",
    "PUT /site-forecasts/{site_id}/{day}": "the last word stands, each is audited",
    "DELETE /site-forecasts/{site_id}/{day}": "takes away one; the second is told that it is gone",
    "POST /instruments/{instrument_id}/checks": "creates; the same twice is one",
    "POST /rounds/{round_id}/checks": "creates; the same twice is one",
    "POST /rounds/{round_id}/scans": "creates; the same file twice is one",
    "PUT /rounds/{round_id}/scans/{uid}/stop": "names the stop of a scan; the last word stands, each is audited",
    "POST /rounds/{round_id}/scans/{uid}/take-back": "once only",
    "POST /rounds/{round_id}/questions": "creates",
    "POST /labels": "gives a code once; whoever comes later is told the same",
    "POST /findings": "creates",
    "POST /reevaluations/preview": "stores nothing",
    "POST /reevaluations": "creates; what stands is read and replaced in one transaction",
    "POST /reevaluations/{reevaluation_id}/undo": "creates; once only, and not over a later one",
    "POST /criteria": "creates",
    "POST /criteria/{criteria_id}/copies": "creates",
    "POST /findings/{finding_id}/tellings": "adds a line to a list that only grows",
    "POST /people": "creates",
    "POST /people/{person_id}/grants": "adds; the same twice is one",
    "POST /people/{person_id}/certificates": "creates",
    "POST /tokens": "creates",
    # whole files and readings have guards of their own (R4, R7)
    "POST /imports/register": "all or nothing; the same file twice changes nothing",
    "POST /imports/register/preview": "stores nothing",
    "POST /rounds/{round_id}/uploads": "readings are never edited; same rows are skipped, changed ask a reason",
    "POST /rounds/{round_id}/uploads/preview": "stores nothing",
    "PUT /rounds/{round_id}/readings/{uid}": "creates under the client's own id (If-None-Match: *)",
    "PUT /rounds/{round_id}/stop-visits/{uid}": "creates under the client's own id (If-None-Match: *)",
    "PUT /rounds/{round_id}/field-tellings/{uid}": "creates under the client's own id (If-None-Match: *)",
    "PUT /rounds/{round_id}/field-checks/{uid}": "creates under the client's own id (If-None-Match: *)",
    "PUT /rounds/{round_id}/camera-clocks/{uid}": "creates under the client's own id (If-None-Match: *)",
    "PUT /rounds/{round_id}/typed-permits/{uid}": "creates under the client's own id (If-None-Match: *); "
    "an engineer's own word stands over it",
    "POST /held-sends/{held_id}/take-in": "decides once; the second is told that it is decided",
    "POST /held-sends/{held_id}/set-aside": "decides once; the second is told that it is decided",
    # a raster never changes, and a region that is changed is a new one
    "POST /readings/{uid}/rasters": "the same file on one reading is one raster",
    "POST /rasters/{uid}/figures": "stores nothing",
    "POST /rasters/{uid}/regions": "creates",
    "PUT /rasters/{uid}/regions/{region_id}": "names the row it takes the place of; one that is gone is refused",
    # a picture's pixels never change; what is said of it asks for its version
    "PUT /rounds/{round_id}/pictures/{uid}": "creates under the device's own id; the same again is one",
    "PUT /rounds/{round_id}/pictures/{uid}/voice": "creates; the same again is one, another is refused",
    "PUT /rounds/{round_id}/spoken-notes/{uid}": "creates under the device's own id; the same again is one",
    "POST /rounds/{round_id}/spoken-notes/{uid}/take-back": "once only",
    # an end that is the same whoever comes last
    "DELETE /rasters/{uid}/regions/{region_id}": "takes a region back; twice is once",
    "POST /tokens/{token_id}/revoke": "ends a token; twice is once",
    "POST /people/me/password": "names the password it replaces",
    "POST /rounds/{round_id}/doubles/{row_uid}": "a choice between two readings that both stay; each is audited",
}


# ---- which routes ask for a version ----------------------------------------------------------


def asks_version(dependant: Dependant) -> bool:
    return any(inner.call is edited_version or asks_version(inner) for inner in dependant.dependencies)


def writing_routes() -> dict[str, bool]:
    """Every route of the JSON door that may change something, and whether it asks for a version."""
    return {
        f"{method} {route.path}": asks_version(route.dependant)
        for router in ROUTERS
        for route in router.routes
        if isinstance(route, APIRoute)
        for method in route.methods - {"GET", "HEAD", "OPTIONS"}
    }


def unguarded(routes: dict[str, bool]) -> set[str]:
    """Routes that neither ask for a version nor have a reason not to."""
    return {route for route, guarded in routes.items() if not guarded} - set(NO_VERSION)


def test_every_route_that_edits_asks_for_the_version() -> None:
    routes = writing_routes()
    assert unguarded(routes) == set(), "ask for EditedVersion, or say in NO_VERSION why not"
    assert set(NO_VERSION) <= set(routes), "reasons for routes that are not there"
    assert not any(routes[route] for route in NO_VERSION), "reasons for routes that do ask"
    assert sum(routes.values()) > 30


def test_twin_a_new_route_without_a_version_is_caught() -> None:
    assert unguarded(writing_routes() | {"PUT /things/{thing_id}": False}) == {"PUT /things/{thing_id}"}


# ---- what they do without one, or with an old one ----------------------------------------------

GUARDED = [
    pytest.param(row, id=row.route)
    for row in TABLE
    if row.api and writing_routes().get(row.route.replace("/api/v1", "", 1))
]


@pytest.fixture(scope="module")
def ground(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ground]:
    with lay_ground(sqlite_template, tmp_path_factory.mktemp("lost-updates"), lambda: NOW) as laid:
        yield laid


def test_a_row_of_the_table_stands_for_every_guarded_route() -> None:
    listed = {param.values[0].route.replace("/api/v1", "", 1) for param in GUARDED}  # type: ignore[attr-defined]
    assert {route for route, guarded in writing_routes().items() if guarded} == listed


def contents(ground: Ground) -> dict[str, list[tuple[Any, ...]]]:
    store: Store = ground.app.state.surroundings.store
    with store.look() as unit:
        return {
            table.name: [
                tuple(row) for row in unit.session.execute(select(table).order_by(*table.primary_key))
            ]
            for table in metadata.sorted_tables
        }


def sent(ground: Ground, row: Row, *versions: str) -> tuple[list[Any], bool]:
    """The answers to requests of somebody allowed, and whether they left everything as it was."""
    persona = next(
        p for p in PERSONAS if expected(row, p) is Outcome.PASSES and p is not PLAIN_ENGINEER and p.known
    )
    with ground.fresh() as client:
        before = contents(ground)
        answers = [
            ask(client, replace(row, headers={**row.headers, "If-Match": version}), persona, ground.world)
            for version in versions
        ]
        return answers, contents(ground) == before


@pytest.mark.parametrize("row", GUARDED)
def test_without_one_strong_tag_it_is_refused_with_428(ground: Ground, row: Row) -> None:
    answers, untouched = sent(ground, row, "", "*", "1", 'W/"1"', '"one"', '"1", "2"', '""')
    assert [answer.status_code for answer in answers] == [428] * 7
    assert {answer.headers["content-type"] for answer in answers} == {"application/problem+json"}
    assert untouched


@pytest.mark.parametrize("row", GUARDED)
def test_with_an_old_version_it_is_refused_with_412_and_the_current_one(ground: Ground, row: Row) -> None:
    (answer,), untouched = sent(ground, row, '"77"')
    assert answer.status_code == 412, answer.text
    assert answer.json()["current_version"] == 1
    assert answer.headers["etag"] == '"1"'
    assert untouched


@pytest.mark.parametrize("row", GUARDED)
def test_with_the_current_version_it_is_not_refused_for_that(ground: Ground, row: Row) -> None:
    (answer,), _ = sent(ground, row, '"1"')
    assert answer.status_code not in (412, 428), answer.text
    assert answer.status_code < 400 or answer.status_code in row.through, answer.text


# ---- sixteen at once -------------------------------------------------------------------------


@dataclass
class Race:
    """Writers who each read a number, add one and write it back, until that was tried so many times.

    Every try is a race: fifteen others hold the same version or are about to read it.
    """

    client: httpx.AsyncClient
    address: str
    field: str
    method: str
    rest: dict[str, Any]
    tries: int

    async def run(self) -> tuple[int, Counter[int]]:
        """The number in the end, and the answers that were given."""
        self.left = self.tries
        answers: Counter[int] = Counter()
        await asyncio.gather(*(self.write(answers) for _ in range(WRITERS)))
        seen = await self.client.get(self.address)
        return int(seen.json()[self.field] or 0), answers

    async def write(self, answers: Counter[int]) -> None:
        while self.left > 0:
            seen = await self.client.get(self.address)
            body = self.rest | {self.field: int(seen.json()[self.field] or 0) + 1}
            headers = {"If-Match": seen.headers["etag"]}
            answer = await self.client.request(self.method, self.address, json=body, headers=headers)
            answers[answer.status_code] += 1
            self.left -= 1


def race(store: Store, *, tries: int, app: FastAPI | None = None) -> tuple[int, Counter[int]]:
    """Race for one area's place in the walking order."""
    plant = build_plant(store)
    secret = token_of(store, plant.people[Role.ENGINEER], NOW)
    app = app or open_app(store, lambda: NOW)

    async def run() -> tuple[int, Counter[int]]:
        async with httpx.AsyncClient(
            transport=httpx.ASGITransport(app),
            base_url="http://testserver",
            headers={"Authorization": f"Bearer {secret}"},
            timeout=60,
        ) as client:
            return await Race(client, "/api/v1/areas/1", "walking_order", "PATCH", {}, tries).run()

    return asyncio.run(run())


def test_sixteen_writers_lose_no_update(any_store: Store) -> None:
    ended, answers = race(any_store, tries=150)
    assert ended == answers[200] > 0
    assert answers[412] > 50, "they did get in each other's way"
    assert set(answers) == {200, 412}, "every edit holds or is told to be stale"


@pytest.mark.torture
@pytest.mark.parametrize("engine", ["sqlite", pytest.param("durable_postgres", marks=pytest.mark.postgres)])
def test_ten_thousand_races_lose_no_update(request: pytest.FixtureRequest, engine: str) -> None:
    store = Store(open_engine(request.getfixturevalue(f"{engine}_url"), pool_size=WRITERS))
    ended, answers = race(store, tries=10_000)
    store.engine.dispose()
    print(f"\n{answers.total()} races: {answers[200]} held, {answers[412]} told stale, ended at {ended}")
    assert ended == answers[200] > 0
    assert set(answers) == {200, 412}


@pytest.fixture
def careless_app(store: Store) -> FastAPI:
    """The broken twin: a door that fills in whatever version is current, as if nobody had edited."""
    app = open_app(store, lambda: NOW)

    def current_version(request: Request) -> int:
        with store.look() as unit:
            areas = metadata.tables["areas"]
            return int(unit.session.execute(select(areas.c.version)).scalar_one())

    # The routes of every app are the same objects; these are its own, so that they can be spoilt.
    app.router.routes.clear()
    for router in ROUTERS:
        app.include_router(router, prefix="/api/v1")
    app.dependency_overrides[edited_version] = current_version
    return app


def test_twin_a_door_that_forgets_the_version_loses_updates(store: Store, careless_app: FastAPI) -> None:
    ended, answers = race(store, tries=300, app=careless_app)
    assert ended < answers[200]
