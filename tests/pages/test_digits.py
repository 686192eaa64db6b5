"""Every figure beside its U is printed to the digits that the stored u allows, on pages and in JSON."""

import random
from collections.abc import Callable, Iterator
from datetime import datetime

import pytest
from sqlalchemy import select
from starlette.testclient import TestClient

from service.domain import figures_told
from service.domain.figures_told import ToldFigure
from service.domain.words import Role
from service.physics.significant import significant
from service.storage.tables.readings import ReadingRow
from service.storage.unit import Store
from tests.digits import Crawl, allowed
from tests.doors import browser_as, open_app, token_of
from tests.pages.test_standing import page, text_of
from tests.readings.builders import Issued, issue

SEED = 20261127


@pytest.fixture
def issued(store: Store) -> Issued:
    """Two boards and bearings with rises, loads and settings drawn at random, so that U has all sizes."""
    made, draw = issue(store, boards=2, bearings=2), random.Random(SEED)
    records = []
    for place in range(len(made.rows)):
        emissivity = draw.choice([0.95, 0.9, 0.7, 0.45])
        hot = draw.choice([0.0, 0.4, 3.0, 12.0, 60.0])
        amps = draw.choice([40.0, 60.0, 90.0])
        records.append(
            made.record(
                place, round(40.0 + hot + draw.random(), 1), current_a=amps, emissivity=emissivity,
                emissivity_standing="measured", emissivity_set=0.95, reflected_set_c=25.0, reflected_c=25.0,
            )
        )  # fmt: skip
    made.bring(records)
    return made


@pytest.fixture
def engineer(store: Store, clock: Callable[[], datetime], issued: Issued, now: datetime) -> TestClient:
    return browser_as(open_app(store, clock), store, issued.plant, Role.ENGINEER, now)


def addresses(store: Store, issued: Issued) -> Iterator[str]:
    yield f"/rounds/{issued.round_id}"
    yield f"/reports/rounds/{issued.round_id}"
    with store.look() as unit:
        for uid, point_id in unit.session.execute(select(ReadingRow.uid, ReadingRow.point_id)).all():
            yield f"/readings/{uid}"
            yield f"/points/{point_id}"


def crawl(client: TestClient, store: Store, issued: Issued) -> Crawl:
    may_show, made = allowed(store), Crawl()
    for address in addresses(store, issued):
        made.read(address, text_of(page(client, address)), may_show)
    return made


def test_every_figure_on_a_page_has_the_digits_its_u_allows(
    engineer: TestClient, store: Store, issued: Issued
) -> None:
    made = crawl(engineer, store, issued)
    assert made.wrong == []
    assert made.met > 60, "the crawl met hardly a figure"


def test_every_figure_in_json_has_the_digits_its_u_allows(
    store: Store, issued: Issued, clock: Callable[[], datetime], now: datetime
) -> None:
    app = open_app(store, clock)
    secret = token_of(store, issued.plant.people[Role.ENGINEER], now)
    client = TestClient(app, headers={"Authorization": f"Bearer {secret}"})
    answer = client.get(f"/api/v1/rounds/{issued.round_id}/readings")
    assert answer.status_code == 200, answer.text
    made = Crawl()
    for reading in answer.json():
        made.take(reading["uid"], reading["says"])
        for figure in (reading["says"]["rise_k"], reading["says"]["at_common_load_k"]):
            if figure is not None and figure["u"] is not None:
                assert figure["expanded_u"] == pytest.approx(2 * figure["u"])
        assert reading["says"]["inputs"]["settings"]["emissivity"]["place"] == "reading"
        chances = reading["says"]["chances"]
        assert chances is None or sum(chances) == pytest.approx(1.0)
    assert made.wrong == []
    assert made.met >= 6
    point = client.get(f"/api/v1/points/{issued.rows[0][2]}/readings").json()
    one = client.get(f"/api/v1/readings/{point[0]['uid']}").json()
    assert one["says"] == point[0]["says"]


def test_a_page_that_rounds_everything_to_one_decimal_is_caught(
    engineer: TestClient, store: Store, issued: Issued, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The broken twin: digits by habit instead of by u."""

    def by_habit(y: float | None, u: float | None) -> ToldFigure | None:
        return None if y is None or u is None else ToldFigure(f"{y:.1f}".replace("-", "−"), f"{2 * u:.1f}")

    monkeypatch.setattr("service.pages.view.figures.told_with_u", by_habit)
    assert crawl(engineer, store, issued).wrong != []


def test_the_rule_is_that_of_the_guide() -> None:
    """JCGM 100:2008, 7.2.2: a mass of 100.021 47 g with u_c of 0.35 mg; U = 0.70 mg at k = 2."""
    told = figures_told.told_with_u(100.02147, 0.00035)
    assert told is not None
    assert tuple(told) == ("100.02147", "0.00070")
    assert significant(100.02147, 0.00079) is not None
