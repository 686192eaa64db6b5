"""Every figure beside its U on the pages and in the JSON of the demonstration has the digits of a stored u."""

from collections.abc import Iterator

import pytest
from sqlalchemy import select

from service.storage.tables.people import PersonRow
from service.storage.tables.readings import ReadingRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow
from service.storage.tables.rounds import RoundRow, StopRow
from service.storage.unit import Store
from tests.conftest import NOW
from tests.digits import Crawl, Pair, allowed
from tests.doors import browser, open_app, program, session_of, token_of
from tests.pages.test_standing import text_of

#: a small site, whole; `make torture` goes through every site
SAMPLE = ("Gannick Hill booster",)
#: places that show points of all sites
PLACES = ("/", "/desk", "/rounds", "/reports", "/equipment")
LATEST_ROUNDS = 3


def engineer_id(store: Store) -> int:
    with store.look() as unit:
        return unit.session.scalars(select(PersonRow.id).where(PersonRow.login == "r.amsel")).one()


def addresses(store: Store, site_id: int, point_ids: list[int]) -> Iterator[str]:
    """Pages of a site: itself, every point, its last reading, its latest rounds and their letters."""
    yield f"/equipment?site={site_id}"
    with store.look() as unit:
        rounds = unit.session.scalars(
            select(StopRow.round_id)
            .join(EquipmentRow, EquipmentRow.id == StopRow.equipment_id)
            .join(RoundRow, RoundRow.id == StopRow.round_id)
            .where(EquipmentRow.site_id == site_id)
            .group_by(StopRow.round_id)
            .order_by(StopRow.round_id.desc())
            .limit(LATEST_ROUNDS)
        ).all()
        taken = unit.session.execute(
            select(ReadingRow.point_id, ReadingRow.uid)
            .where(ReadingRow.point_id.in_(point_ids))
            .order_by(ReadingRow.taken_at)
        )
        last = {reading.point_id: reading.uid for reading in taken}
    for round_id in rounds:
        yield from (f"/rounds/{round_id}", f"/reports/rounds/{round_id}")
    for point_id in point_ids:
        yield f"/points/{point_id}"
    for uid in last.values():
        yield f"/readings/{uid}"


def crawl(store: Store, sites: dict[int, list[int]]) -> Crawl:
    app, person_id, made = open_app(store, lambda: NOW), engineer_id(store), Crawl()
    client = browser(app, session_of(store, person_id, NOW))
    json = program(app, token_of(store, person_id, NOW))

    def read(address: str, may_show: set[Pair]) -> None:
        answer = client.get(address)
        if answer.status_code == 404 and address.startswith("/reports/"):
            return  # a round that is not signed off has no letter yet
        assert answer.status_code == 200, address
        made.read(address, text_of(answer.text), may_show)

    everywhere = allowed(store, surfaces=False)
    for address in PLACES:
        read(address, everywhere)
    for site_id, point_ids in sites.items():
        may_show = allowed(store, point_ids)
        for address in addresses(store, site_id, point_ids):
            read(address, may_show)
        for point_id in point_ids:
            answer = json.get(f"/api/v1/points/{point_id}/readings")
            assert answer.status_code == 200, answer.text
            for reading in answer.json():
                made.take(reading["uid"], reading["says"])
    return made


def points_of(store: Store, names: tuple[str, ...] | None) -> dict[int, list[int]]:
    query = select(SiteRow.id, PointRow.id).join(PointRow, PointRow.site_id == SiteRow.id)
    if names is not None:
        query = query.where(SiteRow.name.in_(names))
    found: dict[int, list[int]] = {}
    with store.look() as unit:
        for site_id, point_id in unit.session.execute(query):
            found.setdefault(site_id, []).append(point_id)
    return found


@pytest.mark.parametrize(
    "names", [pytest.param(SAMPLE, id="a site"), pytest.param(None, id="all", marks=pytest.mark.torture)]
)
def test_every_figure_of_the_demonstration_has_the_digits_its_u_allows(
    demo_store: Store, names: tuple[str, ...] | None
) -> None:
    made = crawl(demo_store, points_of(demo_store, names))
    print(f"{made.met} figures beside a U")
    assert made.wrong == []
    assert made.met > 200, "the crawl met hardly a figure"
