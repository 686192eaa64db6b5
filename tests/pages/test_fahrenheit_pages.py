"""Every page as somebody reads it who chose °F, beside somebody who did not. Values by hand: 100 °C = 212 °F."""

import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from service.storage.engine import open_engine
from service.storage.tables.people import PersonRow
from service.storage.unit import Store
from tests.access.matrix import Ground, ask, lay_ground
from tests.access.rows import Outcome, Row, expected
from tests.access.table import TABLE
from tests.access.world import ENGINEER, MANAGER, PERSONAS
from tests.conftest import NOW
from tests.doors import COOKIE, OWN_PAGE, browser
from tests.pages.forms_read import read_form

#: pages that stay in °C and K for everybody, as /set-up/units says; or speak of files and of both units
STAYS = re.compile(
    r"/set-up/criteria|/set-up/emissivities$|/set-up/units$|/sheets$|/reports/rounds/|/set-up/audit$"
)
#: the door to the units, the choice beside a file, what a file of a raster must hold, the letter of a reason
WORDS = re.compile(
    r"Temperatures in °C or °F, as you read|<option value=\"C\"[^>]*>°C</option>|temperatures in °C, decimal|"
    r"(?:grid of temperatures|save the file) in °C|<option value=\"K\"|>K: locked|letter K|<b>K</b>"
)
LEFT = re.compile(r"°C|(?<![\w<>])K(?!\w)")
PAGES = [row for row in TABLE if row.method == "GET" and not row.api and "/assets/" not in row.path]


@pytest.fixture(scope="module")
def ground(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ground]:
    """The world of the access matrix, in which everybody but the manager chose °F."""
    with lay_ground(sqlite_template, tmp_path_factory.mktemp("fahrenheit"), lambda: NOW) as laid:
        engine = open_engine(f"sqlite:///{laid.template}")
        with Store(engine).begin() as unit:
            for person_id in set(laid.world.people.values()) - {laid.world.people[MANAGER.name]}:
                unit.session.get_one(PersonRow, person_id).temperature_unit = "f"
        engine.dispose()
        yield laid


@pytest.mark.parametrize("row", PAGES, ids=[f"{row.route} #{k}" for k, row in enumerate(PAGES)])
def test_no_celsius_and_no_kelvin_is_left_on_a_page(ground: Ground, row: Row) -> None:
    asking = [p for p in PERSONAS if p.role and p is not MANAGER and expected(row, p) is Outcome.PASSES]
    if STAYS.search(row.path) or not asking:
        return
    with ground.fresh() as client:
        answer = ask(client, row, asking[-1], ground.world)
    if "html" in answer.headers.get("content-type", "") or "json" in answer.headers.get("content-type", ""):
        told = WORDS.sub("", answer.text)
        left = [told[max(0, hit.start() - 60) : hit.end() + 20] for hit in LEFT.finditer(told)]
        assert left == []


def test_letters_sheets_and_criteria_stay_and_criteria_say_so(ground: Ground) -> None:
    of = {row.path: row for row in PAGES}
    with ground.fresh() as client:
        sheets = ask(client, of["/rounds/{round_id}/sheets"], ENGINEER, ground.world).text
        letter = ask(client, of["/reports/rounds/{round_id}"], ENGINEER, ground.world).text
        rules = ask(client, of["/set-up/criteria/{criteria_id}"], ENGINEER, ground.world).text
    assert "°F" not in sheets
    assert "°F" not in letter
    assert "Criteria stay in the unit of their source" in rules
    assert "°F" not in rules.replace("(1 K is 1.8 °F)", "")


def test_the_criteria_editor_takes_kelvin_from_who_reads_fahrenheit(ground: Ground) -> None:
    cookie = {"Cookie": f"{COOKIE}={ENGINEER.secret}"} | OWN_PAGE
    address = f"/set-up/criteria/{ground.world['criteria_id']}/edit/numbers"
    with ground.fresh() as client:
        client.cookies.clear()
        page = client.get(address, headers=cookie).text
        assert '<span class="unit">°F</span>' not in page
        form = read_form(page, address).boxes
        wanted = f"{float(form['two_u_k']) + 0.5:g}"
        kept = client.post(address, headers=cookie, data=form | {"two_u_k": wanted})
        assert kept.status_code == 303, kept.text
        again = client.get(f"{kept.headers['location'].partition('?')[0]}/edit/numbers", headers=cookie)
    assert read_form(again.text, again.url.path).boxes["two_u_k"] == wanted


def test_two_people_at_once_each_read_their_own_unit(ground: Ground) -> None:
    """An invented run: what leaks from one request to another would show within some of forty."""
    address = f"/points/{ground.world['point_id']}"
    with ground.fresh():

        def read(turn: int) -> tuple[bool, bool, bool]:
            fahrenheit = turn % 2 == 0
            persona = ENGINEER if fahrenheit else MANAGER
            client = browser(ground.app, persona.secret)
            text = client.get(address).text
            return fahrenheit, "°F" in text, "°C" in text

        with ThreadPoolExecutor(8) as pool:
            told = list(pool.map(read, range(40)))
    assert set(told) == {(True, True, False), (False, False, True)}


def test_somebody_chooses_reads_and_goes_back(ground: Ground) -> None:
    cookie = {"Cookie": f"{COOKIE}={MANAGER.secret}"} | OWN_PAGE
    address = f"/points/{ground.world['point_id']}"
    with ground.fresh() as client:
        client.cookies.clear()
        assert client.get("/api/v1/people/me", headers=cookie).json()["temperature_unit"] == "c"
        assert "°F" not in client.get(address, headers=cookie).text
        kept = client.post("/set-up/units", headers=cookie, data={"temperature_unit": "f"})
        assert kept.headers["location"] == "/set-up/units"
        client.cookies.clear()
        assert client.get("/api/v1/people/me", headers=cookie).json()["temperature_unit"] == "f"
        assert "°C" not in client.get(address, headers=cookie).text
        trail = client.get("/api/v1/audit", headers=cookie).text
        assert "choose units" in trail
        client.post("/set-up/units", headers=cookie, data={"temperature_unit": "c"})
        client.cookies.clear()
        assert "°F" not in client.get(address, headers=cookie).text


def test_a_unit_that_is_none_is_refused(ground: Ground) -> None:
    with ground.fresh() as client:
        client.cookies.clear()
        cookie = {"Cookie": f"{COOKIE}={MANAGER.secret}"} | OWN_PAGE
        answer = client.post("/set-up/units", headers=cookie, data={"temperature_unit": "rankine"})
    assert answer.status_code == 422
    assert "This is no unit of ours." in answer.text
