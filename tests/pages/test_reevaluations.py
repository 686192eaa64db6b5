"""Evaluating again on pages: asked, looked at, done with a reason, listed, taken back."""

from collections.abc import Callable
from datetime import datetime

import pytest
from sqlalchemy import func, select
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.tables.readings import AssessmentRow, ReevaluationRow
from service.storage.tables.register import PointRow
from service.storage.unit import Store
from tests.doors import browser_as, open_app
from tests.pages.test_readings import uid_of, walked
from tests.pages.test_standing import page, text_of
from tests.readings.builders import Issued, issue


@pytest.fixture
def issued(store: Store) -> Issued:
    made = issue(store)
    walked(made, hot=46.6)
    return made


@pytest.fixture
def engineer(store: Store, clock: Callable[[], datetime], issued: Issued, now: datetime) -> TestClient:
    return browser_as(open_app(store, clock), store, issued.plant, Role.ENGINEER, now)


def asked(issued: Issued, **more: str) -> dict[str, str]:
    site = str(issued.plant.site_ids[0])
    return {"target": "site", "id": site, "emissivity": "0,60", "emissivity_half_width": "0.03"} | more


def count(store: Store, table: type) -> int:
    with store.look() as unit:
        return unit.session.scalar(select(func.count()).select_from(table)) or 0


def test_the_form_says_how_many_readings_and_offers_every_quantity(
    engineer: TestClient, issued: Issued
) -> None:
    html = page(engineer, f"/reevaluate?target=site&id={issued.plant.site_ids[0]}")
    said = text_of(html)
    assert "Evaluate 6 readings again" in said
    for label in ("Emissivity", "Reflected temperature", "Transmission of the window", "Common load"):
        assert label in said
    assert 'name="from_now_on"' in html
    assert 'name="from_now_on"' not in page(engineer, f"/reevaluate?target=round&id={issued.round_id}")


def test_a_preview_shows_both_figures_and_stores_nothing(engineer: TestClient, issued: Issued) -> None:
    before = count(issued.store, AssessmentRow)
    answer = engineer.post("/reevaluate/preview", data=asked(issued))
    said = text_of(answer.text)
    assert answer.status_code == 200
    assert "Rise before, K" in said
    assert "Readings evaluated again 6" in said
    assert "Trends with another word" in said
    assert "0.6" in said
    assert "half-width 0.03" in said
    assert count(issued.store, AssessmentRow) == before
    assert count(issued.store, ReevaluationRow) == 0


def test_it_is_done_with_a_reason_listed_and_taken_back(engineer: TestClient, issued: Issued) -> None:
    done = engineer.post("/reevaluate", data=asked(issued, reason="Contact comparison on site"))
    assert done.status_code == 303, done.text
    address = done.headers["location"]
    said = text_of(page(engineer, address))
    assert "Contact comparison on site" in said
    assert "Level after" in said
    listed = text_of(page(engineer, "/reevaluations"))
    assert "Emissivity" in listed
    assert "6 readings" in listed
    sheet = text_of(page(engineer, f"/readings/{uid_of(issued, issued.rows[0][2])}"))
    assert "0.60 0.03 measured re-evaluation 1" in sheet
    back = engineer.post(f"{address}/take-back", data={"reason": "It was another terminal"})
    assert back.status_code == 303, back.text
    assert "Taken back by" in page(engineer, address)
    assert "taken back by 2" in text_of(page(engineer, "/reevaluations"))
    twice = engineer.post(f"{address}/take-back", data={"reason": "It was another terminal"})
    assert twice.status_code == 409


def test_without_a_reason_nothing_is_done_and_nothing_typed_is_lost(
    engineer: TestClient, issued: Issued
) -> None:
    answer = engineer.post("/reevaluate", data=asked(issued, reason=""))
    assert answer.status_code == 422
    assert "A re-evaluation needs its reason." in text_of(answer.text)
    assert 'value="0,60"' in answer.text
    assert count(issued.store, ReevaluationRow) == 0


def test_every_wrong_number_is_told_at_once(engineer: TestClient, issued: Issued) -> None:
    wrong = asked(issued, emissivity="1.4", ambient_c="warm", reflected_c_half_width="3")
    answer = engineer.post("/reevaluate/preview", data=wrong)
    said = text_of(answer.text)
    assert answer.status_code == 422
    assert "This is not a number." in said
    assert "A half-width without its number." in said
    alone = engineer.post("/reevaluate/preview", data=asked(issued, emissivity="1.4"))
    assert "Out of range." in text_of(alone.text)
    empty = engineer.post("/reevaluate/preview", data=asked(issued, emissivity="", emissivity_half_width=""))
    assert "Nothing would change." in text_of(empty.text)


def test_one_goes_back_to_the_form_with_everything_typed(engineer: TestClient, issued: Issued) -> None:
    answer = engineer.post("/reevaluate", data=asked(issued, go="back", reason="not yet"))
    assert answer.status_code == 200
    assert 'value="0,60"' in answer.text
    assert count(issued.store, ReevaluationRow) == 0


def test_also_from_now_on_sets_the_register(engineer: TestClient, issued: Issued) -> None:
    engineer.post("/reevaluate", data=asked(issued, from_now_on="yes", reason="Contact comparison"))
    with issued.store.look() as unit:
        held = set(unit.session.scalars(select(PointRow.emissivity)))
    assert held == {0.6}


def test_a_tampered_target_is_refused(engineer: TestClient, issued: Issued) -> None:
    for target, target_id in (("planet", "1"), ("site", "no"), ("site", "0")):
        answer = engineer.post("/reevaluate/preview", data=asked(issued, target=target, id=target_id))
        assert answer.status_code == 422


def test_the_round_page_says_what_it_could_have_missed(engineer: TestClient, issued: Issued) -> None:
    said = text_of(page(engineer, f"/rounds/{issued.round_id}"))
    assert "What it could have missed." in said
    assert "say what it would hide. The worst is" in said
    assert f"/reevaluate?target=round&amp;id={issued.round_id}" in page(
        engineer, f"/rounds/{issued.round_id}"
    )
    letter = text_of(page(engineer, f"/reports/rounds/{issued.round_id}"))
    assert "What this round could have missed" in letter
