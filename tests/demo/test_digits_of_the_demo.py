"""Every figure beside its U on the pages and in the JSON of the demonstration has the digits of a stored u."""

from collections.abc import Iterator

import pytest
from sqlalchemy import select
from starlette.testclient import TestClient

from service.domain.measuring import measure
from service.domain.settings import inputs_of_text
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import AssessmentRow, ReadingRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow
from service.storage.tables.rounds import RoundRow, StopRow
from service.storage.unit import Store
from tests.conftest import NOW
from tests.doors import browser, open_app, program, session_of, token_of
from tests.pages.test_digits import PAIR, rule_of
from tests.pages.test_standing import text_of

#: a small site, whole; `make torture` goes through every site
SAMPLE = ("Gannick Hill booster",)
#: places that show points of all sites
PLACES = ("/", "/desk", "/rounds", "/reports", "/equipment")
LATEST_ROUNDS = 3


def engineer_id(store: Store) -> int:
    with store.look() as unit:
        return unit.session.scalars(select(PersonRow.id).where(PersonRow.login == "r.amsel")).one()


def allowed(store: Store, point_ids: list[int] | None) -> set[tuple[str, str]]:
    """What a page may print beside a U: rises, rises at common load, surfaces, of some points or of all."""
    columns = AssessmentRow.value_k, AssessmentRow.u_k, AssessmentRow.common_k, AssessmentRow.u_common_k
    query = select(*columns, AssessmentRow.inputs)
    if point_ids is not None:
        query = query.where(AssessmentRow.point_id.in_(point_ids))
    with store.look() as unit:
        rows = unit.session.execute(query).all()
    pairs = [(row[0], row[1]) for row in rows] + [(row[2], row[3]) for row in rows]
    if point_ids is not None:
        came_to = measure([inputs_of_text(row.inputs) for row in rows if row.inputs is not None])
        pairs += [(one.surface_c, one.surface_u_k) for one in came_to]
    return {rule_of(y, u) for y, u in pairs if y is not None and u is not None}


def addresses(store: Store, site_id: int, point_ids: list[int]) -> Iterator[str]:
    """Pages and JSON of a site: every point, its last reading, its latest rounds and their letters."""
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
        last = dict(
            unit.session.execute(
                select(ReadingRow.point_id, ReadingRow.uid)
                .where(ReadingRow.point_id.in_(point_ids))
                .order_by(ReadingRow.taken_at)
            )
            .tuples()
            .all()
        )
    for round_id in rounds:
        yield from (f"/rounds/{round_id}", f"/reports/rounds/{round_id}")
    for point_id in point_ids:
        yield f"/points/{point_id}"
    for uid in last.values():
        yield f"/readings/{uid}"


def wrong_digits(store: Store, sites: dict[int, list[int]]) -> tuple[int, list[str]]:
    """How many figures beside a U were met, and those that no stored u allows."""
    app, person_id, met, wrong = open_app(store, lambda: NOW), engineer_id(store), 0, []
    client = browser(app, session_of(store, person_id, NOW))
    json = program(app, token_of(store, person_id, NOW))

    def crawl(address: str, may_show: set[tuple[str, str]]) -> None:
        nonlocal met
        answer = client.get(address)
        if answer.status_code == 404 and address.startswith("/reports/"):
            return  # a round that is not signed off has no letter yet
        assert answer.status_code == 200, address
        for value, expanded in PAIR.findall(text_of(answer.text)):
            met += 1
            if (value, expanded) not in may_show:
                wrong.append(f"{address}: {value} ± {expanded}")

    everywhere = allowed(store, None)
    for address in PLACES:
        crawl(address, everywhere)
    for site_id, point_ids in sites.items():
        may_show = allowed(store, point_ids)
        for address in addresses(store, site_id, point_ids):
            crawl(address, may_show)
        for point_id in point_ids:
            met += _in_json(json, point_id, wrong)
    return met, wrong


def _in_json(client: TestClient, point_id: int, wrong: list[str]) -> int:
    answer = client.get(f"/api/v1/points/{point_id}/readings")
    assert answer.status_code == 200, answer.text
    met = 0
    for reading in answer.json():
        for figure in (
            (reading["says"]["rise_k"], reading["says"]["at_common_load_k"]) if reading["says"] else ()
        ):
            if figure is None or figure["u"] is None:
                continue
            met += 1
            if figure["told"] != "{} ± {}".format(*rule_of(figure["y"], figure["u"])):
                wrong.append(f"point {point_id}: {figure}")
    return met


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
    met, wrong = wrong_digits(demo_store, points_of(demo_store, names))
    print(f"{met} figures beside a U")
    assert wrong == []
    assert met > 200, "the crawl met hardly a figure"
