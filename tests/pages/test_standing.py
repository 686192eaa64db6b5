"""Standing: the news with its counts, strokes per site, who decides what, and nobody else's plant."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime

import pytest
from fastapi import FastAPI
from sqlalchemy import event
from starlette.testclient import TestClient

from service.domain.words import Role
from service.pages.strip_shelf import shelf_of
from service.storage.tables.people import GrantRow
from service.storage.tables.readings import SiteMonthRow
from service.storage.tables.register import EquipmentRow, PointRow, SeriesCutRow, SiteRow
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Store
from service.usecases.condition.overview import see_overview
from tests.builders import MADE, STAMPS, Plant, add, build_plant
from tests.doors import browser, browser_as, open_app
from tests.pages.standing_builders import change, open_finding, rename, repair, set_state, stand, tell, visit


@pytest.fixture
def plant(store: Store) -> Plant:
    return build_plant(store, sites=2, views=2, bearings=1)


@pytest.fixture
def app(store: Store, clock: Callable[[], datetime]) -> FastAPI:
    return open_app(store, clock)


@pytest.fixture
def engineer(app: FastAPI, store: Store, plant: Plant, now: datetime) -> TestClient:
    return browser_as(app, store, plant, Role.ENGINEER, now)


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).replace("\u00a0", " ")


def page(client: TestClient, path: str = "/") -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text[:400]
    return answer.text


@contextmanager
def counted_queries(store: Store) -> Iterator[list[str]]:
    seen: list[str] = []

    def remember(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        seen.append(statement)

    event.listen(store.engine, "before_cursor_execute", remember)
    try:
        yield seen
    finally:
        event.remove(store.engine, "before_cursor_execute", remember)


# ---- the news ------------------------------------------------------------------------------


def test_the_title_says_what_is_past_its_line(engineer: TestClient, store: Store, plant: Plant) -> None:
    stand(store, plant, p0=4, p1=2, p2=1, p3=None)
    html = page(engineer)
    assert "<h1>One point is past its line. One more needs a repair planned.</h1>" in html
    said = text_of(html)
    assert "14 of 14 points read in November 2026, at two of two sites." in said
    assert "1 point to be looked at again" in said
    assert "no verdict on 1" in said


def test_with_nothing_to_report_it_says_so(engineer: TestClient, store: Store, plant: Plant) -> None:
    stand(store, plant)
    html = page(engineer)
    assert "<h1>Nothing is past its line.</h1>" in html
    assert "Nothing waits for a decision of yours." in text_of(html)


def test_before_the_first_reading_there_is_no_verdict(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    stand(store, plant, **{f"p{index}": None for index in range(14)})
    assert "<h1>No verdict on any point yet.</h1>" in page(engineer)


def test_without_sites_it_says_the_one_next_step(app: FastAPI, store: Store, now: datetime) -> None:
    plant = build_plant(store, sites=0)
    html = page(browser_as(app, store, plant, Role.ENGINEER, now))
    assert "No sites yet." in text_of(html)
    assert 'href="/equipment"' in html


# ---- the field -----------------------------------------------------------------------------


def test_every_site_is_a_row_with_its_strip_and_counts(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    stand(store, plant, p0=4, p8=1)
    html = page(engineer)
    assert html.count('class="site-row"') == 2
    assert html.count('<svg class="strip"') == 2
    assert f'href="/points/{plant.point_ids[0]}"' in html
    assert re.search(r'aria-label="[^"]*7\xa0points; 1 Act now\."', html)
    assert "Show as table" in html


def test_a_site_without_points_is_still_a_row(engineer: TestClient, store: Store, plant: Plant) -> None:
    stand(store, plant)
    with store.begin() as unit:
        row = add(unit, SiteRow(client_id=plant.client_id, code="NEW", name="New works", **STAMPS))
        add(unit, GrantRow(person_id=plant.people[Role.ENGINEER], client_id=plant.client_id, site_id=row.id))
    assert "New works" in page(engineer)


def test_a_retired_point_is_not_counted(engineer: TestClient, store: Store, plant: Plant) -> None:
    stand(store, plant, p0=4)
    rename(store, PointRow, plant.point_ids[0], retired_at=MADE)
    html = page(engineer)
    assert "<h1>Nothing is past its line.</h1>" in html
    assert "13 of 13 points read" in text_of(html)


def test_a_repair_within_the_year_is_a_seam(engineer: TestClient, store: Store, plant: Plant) -> None:
    stand(store, plant)
    with store.begin() as unit:
        add(
            unit,
            SeriesCutRow(point_id=plant.point_ids[0], at=datetime(2026, 5, 1, tzinfo=UTC), reason="repaired"),
        )
        add(
            unit,
            SeriesCutRow(point_id=plant.point_ids[1], at=datetime(2025, 5, 1, tzinfo=UTC), reason="repaired"),
        )
        add(
            unit,
            SeriesCutRow(
                point_id=plant.point_ids[2], at=datetime(2026, 5, 1, tzinfo=UTC), reason="band changed"
            ),
        )
    strips = re.findall(r'<svg class="strip".*?</div>', page(engineer), re.DOTALL)
    assert "".join(strips).count('class="seam"') == 1


def test_strips_are_drawn_again_only_when_something_of_the_site_changed(
    engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    stand(store, plant)
    with counted_queries(store) as cold:
        first = page(engineer)
    with counted_queries(store) as warm:
        assert page(engineer) == first
    assert len(warm) < len(cold)
    assert "end-4" not in first.split('class="rail"')[0].split("field-of-sites")[1]
    set_state(store, plant.point_ids[3], level=4)
    again = page(engineer)
    assert "end-4" in again.split('class="rail"')[0].split("field-of-sites")[1]
    assert shelf_of(store, now.date()).stale([]) == []


def test_the_number_of_queries_does_not_grow_with_the_fleet(
    store: Store, clock: Callable[[], datetime], now: datetime
) -> None:
    small = build_plant(store, sites=1)
    stand(store, small, p0=4, p1=3)
    with counted_queries(store) as few:
        see_overview(store, small.actor(), now=now)
    large = small
    with store.begin() as unit:
        for index in range(60):
            site = add(
                unit, SiteRow(client_id=small.client_id, code=f"X{index}", name=f"Site {index}", **STAMPS)
            )
            large.site_ids.append(site.id)
    with counted_queries(store) as many:
        see_overview(store, large.actor(), now=now)
    assert len(many) == len(few)
    assert not any("OVER (" in statement for statement in many)


# ---- decide these first --------------------------------------------------------------------


def test_the_gravest_come_first_then_the_nearest_to_the_line(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    stand(store, plant, p0=2, p1=2, p2=4)
    set_state(store, plant.point_ids[0], value_k=5.0)
    set_state(store, plant.point_ids[1], value_k=12.0)
    rail = page(engineer).split('class="rail"')[1]
    order = re.findall(r'class="row-link strong" href="/points/(\d+)"', rail)
    assert order == [str(plant.point_ids[index]) for index in (2, 1, 0)]


def test_each_says_value_line_consequence_owner_and_who_was_told(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    stand(store, plant, p0=4)
    set_state(store, plant.point_ids[0], value_k=44.0, act_line_k=40.0, reference="over like parts")
    visit(
        store, plant.point_ids[0], datetime(2026, 9, 17, 9, tzinfo=UTC), common_k=90.0, reference="over air"
    )
    rename(store, EquipmentRow, plant.equipment_ids[0], consequence="Feeds filter backwash.")
    visit(store, plant.point_ids[0], datetime(2026, 10, 17, 9, tzinfo=UTC), common_k=30.0)
    visit(store, plant.point_ids[0], datetime(2026, 11, 17, 9, tzinfo=UTC), common_k=44.0)
    finding = open_finding(
        store, plant, plant.point_ids[0], owner_id=plant.people[Role.ENGINEER], work_order="10432", state="planned",
        planned_for=date(2026, 12, 8),
    )  # fmt: skip
    tell(store, finding, "Control room", datetime(2026, 11, 17, 10, tzinfo=UTC))
    html = page(engineer)
    said = text_of(html)
    assert "44.0 K line 40 K" in said
    assert "Feeds filter backwash." in said
    assert "Test engineer; repair planned for 8 Dec; work order 10432; Control room told 17 Nov" in said
    assert "2 visits, last 44.0 K." in said


def test_act_now_without_a_telling_says_that_nobody_is_on_record(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    stand(store, plant, p0=4)
    assert "No finding yet, so no owner. Nobody is on record as told." in text_of(page(engineer))


def test_what_is_repaired_or_set_aside_waits_for_nobodys_decision(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    stand(store, plant, p0=3, p1=3, p2=3)
    open_finding(store, plant, plant.point_ids[0], state="repaired")
    open_finding(store, plant, plant.point_ids[1], state="set aside")
    rail = page(engineer).split('class="rail"')[1]
    assert re.findall(r'class="row-link strong" href="/points/(\d+)"', rail) == [str(plant.point_ids[2])]


def test_overdue_decisions_and_unproven_repairs_are_named(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    stand(store, plant, p0=2, p1=2)
    open_finding(store, plant, plant.point_ids[0], title="Hot joint", due_on=date(2026, 11, 1))
    mended = open_finding(store, plant, plant.point_ids[1], title="Loose clamp", state="repaired")
    repair(store, mended, datetime(2026, 10, 2, tzinfo=UTC))
    said = text_of(page(engineer))
    assert "Was due 1 Nov 2026, 3 weeks ago. No owner yet." in said
    assert "Repaired 2 Oct 2026, not proven by a reading since." in said


# ---- since last month ----------------------------------------------------------------------


def test_since_last_month_counts_net_moves_by_kind(engineer: TestClient, store: Store, plant: Plant) -> None:
    stand(store, plant, p0=2, p1=1)
    change(store, plant.point_ids[0], date(2026, 11, 3), was=0, level=1)
    change(store, plant.point_ids[0], date(2026, 11, 17), was=1, level=2)
    change(store, plant.point_ids[1], date(2026, 11, 17), was=2, level=1)
    change(store, plant.point_ids[2], date(2026, 10, 17), was=0, level=4)
    change(store, plant.point_ids[3], date(2026, 11, 5), was=None, level=0)
    said = text_of(page(engineer))
    assert "Since 31 October" in said
    assert "One moved up a level: one joint." in said
    assert "One moved down, one joint." in said


def test_repairs_that_held_and_that_wait_are_told(engineer: TestClient, store: Store, plant: Plant) -> None:
    stand(store, plant)
    held = open_finding(store, plant, plant.point_ids[0], state="proven")
    repair(
        store,
        held,
        datetime(2026, 8, 1, tzinfo=UTC),
        outcome="proven",
        outcome_at=datetime(2026, 11, 3, tzinfo=UTC),
    )
    failed = open_finding(store, plant, plant.point_ids[1], state="not proven")
    repair(
        store,
        failed,
        datetime(2026, 8, 1, tzinfo=UTC),
        outcome="not proven",
        outcome_at=datetime(2026, 9, 3, tzinfo=UTC),
    )
    waiting = open_finding(store, plant, plant.point_ids[2], state="repaired")
    repair(store, waiting, datetime(2026, 11, 10, tzinfo=UTC))
    change(store, plant.point_ids[0], date(2026, 11, 3), was=2, level=0)
    said = text_of(page(engineer))
    assert "One of the two repairs read again within the year has held." in said
    assert "One moved down, one of them after a repair that held." in said
    assert "One repair is still to be read again, at" in said


def test_month_ends_lead_up_to_now(engineer: TestClient, store: Store, plant: Plant) -> None:
    stand(store, plant, p0=4)
    with store.begin() as unit:
        for month, count in (("2026-09", 0), ("2026-10", 2), ("2025-10", 9)):
            add(unit, SiteMonthRow(site_id=plant.site_ids[0], month=month, level_4=count))
    html = page(engineer)
    assert "Month-ends, oldest first: 0, 2, 1." in html
    assert re.search(r"Oct 2026</th>\s*<td class=\"num\">2</td>", html)


# ---- as at ---------------------------------------------------------------------------------


def test_an_earlier_day_is_told_from_the_changes_kept(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    stand(store, plant, p0=4)
    for index, point_id in enumerate(plant.point_ids):
        change(store, point_id, date(2026, 1, 10), was=None, level=1 if index == 0 else 0)
    change(store, plant.point_ids[0], date(2026, 6, 10), was=1, level=2)
    change(store, plant.point_ids[0], date(2026, 6, 10), was=2, level=3)
    change(store, plant.point_ids[0], date(2026, 11, 10), was=3, level=4)
    html = page(engineer, "/?as_at=2026-08-31")
    assert "<h1>As at 31 Aug 2026: nothing is past its line. One point should be repaired soon.</h1>" in html
    assert 'href="/">Today' in html
    assert "Decisions are shown for today only." in text_of(html)
    before = page(engineer, "/?as_at=2025-12-31")
    assert "no verdict on any point yet" in before


def test_a_day_that_is_none_is_a_problem_on_its_field(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    stand(store, plant)
    answer = engineer.get("/?as_at=31.11.2026")
    assert answer.status_code == 422
    assert 'href="#field-as-at"' in answer.text
    assert "Type it as 2026-11-30." in answer.text


def test_a_day_to_come_is_today(engineer: TestClient, store: Store, plant: Plant) -> None:
    stand(store, plant, p0=4)
    assert "<h1>One point is past its line.</h1>" in page(engineer, "/?as_at=2030-01-01")


# ---- one site ------------------------------------------------------------------------------


def test_a_site_shows_every_point_as_a_link_and_as_a_row(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    stand(store, plant, p0=4)
    html = page(engineer, f"/standing/sites/{plant.site_ids[0]}")
    assert "one point is past its line." in text_of(html)
    strip = html.split('class="panel"')[1].split("as-table")[0]
    assert len(re.findall(r'href="/points/\d+"', strip)) == 7
    assert html.count('<tr><th scope="row">') == 7


def test_a_site_outside_the_grants_is_not_found(
    app: FastAPI, store: Store, plant: Plant, now: datetime
) -> None:
    stand(store, plant)
    with store.begin() as unit:
        for grant in unit.session.query(GrantRow).filter_by(person_id=plant.people[Role.MANAGER]):
            grant.site_id = plant.site_ids[0]
    manager = browser_as(app, store, plant, Role.MANAGER, now)
    assert manager.get(f"/standing/sites/{plant.site_ids[1]}").status_code == 404
    html = page(manager)
    assert html.count('class="site-row"') == 1
    assert "7 of 7 points" in text_of(html)


def test_a_technician_sees_the_points_of_own_rounds_only(
    app: FastAPI, store: Store, plant: Plant, engineer: TestClient, now: datetime
) -> None:
    stand(store, plant, p0=4, p1=2)
    page(engineer)  # fills the shared strips first
    with store.begin() as unit:
        round_ = add(
            unit,
            RoundRow(
                client_id=plant.client_id, code="R-1", name="Round", planned_on=now.date(), state="issued",
                person_id=plant.people[Role.TECHNICIAN], **STAMPS,
            ),
        )  # fmt: skip
        stop = add(
            unit,
            StopRow(
                round_id=round_.id,
                equipment_id=plant.equipment_ids[0],
                site_id=plant.site_ids[0],
                position=1,
                minutes=5,
            ),
        )
        add(
            unit,
            RoundPointRow(
                uid="u1", round_id=round_.id, stop_id=stop.id, view_id=plant.view_ids[0],
                point_id=plant.point_ids[1], position=1,
            ),
        )  # fmt: skip
    html = page(browser_as(app, store, plant, Role.TECHNICIAN, now))
    assert "<h1>Nothing is past its line. One point needs a repair planned.</h1>" in html
    assert f"/points/{plant.point_ids[0]}" not in html
    assert html.count('class="site-row"') == 1


def test_nobody_signed_in_is_led_to_the_sign_in_page(app: FastAPI) -> None:
    assert browser(app).get("/").status_code == 303


def test_hostile_names_are_text(engineer: TestClient, store: Store, plant: Plant) -> None:
    stand(store, plant, p0=4)
    rename(store, PointRow, plant.point_ids[0], name="<script>alert(1)</script>")
    rename(store, EquipmentRow, plant.equipment_ids[0], name='"><img src=x>')
    html = page(engineer)
    assert "<script>alert" not in html
    assert "<img src=x" not in html


def test_it_reads_the_same_on_both_databases(
    any_store: Store, clock: Callable[[], datetime], now: datetime
) -> None:
    plant = build_plant(any_store, sites=1)
    stand(any_store, plant, p0=4, p1=1)
    for point_id in plant.point_ids:
        change(any_store, point_id, date(2026, 11, 10), was=None, level=1)
    app = open_app(any_store, clock)
    client = browser_as(app, any_store, plant, Role.ENGINEER, now)
    assert "<h1>One point is past its line.</h1>" in page(client)
    assert "As at 20 Nov 2026" in page(client, "/?as_at=2026-11-20")
