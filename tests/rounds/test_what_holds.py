"""What holds for a whole round: typed once, taken where a reading says nothing, never over what it says."""

from collections.abc import Callable
from datetime import datetime

import pytest
from sqlalchemy import select, text

from service.domain.reevaluation import Asked, NewValue
from service.domain.settings import Inputs, inputs_of_text
from service.domain.words import ReevaluationTarget, Role
from service.errors import Conflict, Forbidden, Invalid, Stale
from service.storage.tables.readings import AssessmentRow
from service.storage.unit import Store
from service.usecases.reevaluations.reevaluate import reevaluate
from service.usecases.rounds.hold import set_round_settings
from service.usecases.rounds.look import see_round
from service.usecases.rounds.withdraw import withdraw_round
from tests.builders import build_plant
from tests.conftest import NOW
from tests.doors import browser_as, open_app, program_as
from tests.readings.builders import Issued, issue
from tests.rounds.builders import draft

Clock = Callable[[], datetime]
AIR = {"value": 31.0, "how": "whirled by the door"}
FOIL = {"value": 28.0, "half_width": 2.0, "standing": "measured", "how": "foil at stop 1"}


def inputs_of(store: Store, point_id: int) -> Inputs:
    with store.look() as unit:
        query = select(AssessmentRow.inputs).where(AssessmentRow.point_id == point_id, AssessmentRow.current)
        told = unit.session.scalar(query)
    assert told is not None
    return inputs_of_text(told)


def hold(issued: Issued, **changes: dict[str, object] | None) -> int:
    version = see_round(issued.store, issued.engineer, issued.round_id).version
    held = set_round_settings(
        issued.store, issued.engineer, issued.round_id, changes, version=version, now=NOW
    )
    return held.readings


def test_a_reading_that_says_nothing_takes_the_rounds_and_a_typed_one_wins(any_store: Store) -> None:
    issued = issue(any_store, boards=1, views=1)
    assert hold(issued, ambient_c=AIR, reflected_c=FOIL) == 0
    records = issued.all_records()
    del records[0]["ambient_c"]
    records[1]["reflected_c"] = 19.0
    issued.bring(records)
    silent, typed = (inputs_of(any_store, issued.rows[place][2]) for place in (0, 1))
    assert (silent.ambient_c, typed.ambient_c) == (31.0, 25.0)
    assert (silent.reflected_c.value, silent.reflected_c.half_width, silent.reflected_c.place) == (
        28.0, 2.0, "round",
    )  # fmt: skip
    assert (typed.reflected_c.value, typed.reflected_c.place) == (19.0, "reading")


def test_readings_already_in_keep_what_they_were_judged_with_until_evaluated_again(store: Store) -> None:
    issued = issue(store, boards=1, views=1)
    records = issued.all_records()
    del records[0]["ambient_c"]
    issued.bring(records)
    point_id = issued.rows[0][2]
    assert hold(issued, ambient_c=AIR) == 3
    assert inputs_of(store, point_id).ambient_c is None
    asked = Asked(ReevaluationTarget.ROUND, issued.round_id, {"ambient_c": NewValue(31.0)})
    reevaluate(store, issued.engineer, asked=asked, reason="air typed late", now=issued.received_at)
    assert inputs_of(store, point_id).ambient_c == 31.0


def test_null_takes_a_quantity_back_and_others_stay(store: Store) -> None:
    issued = issue(store, boards=1, views=1)
    hold(issued, ambient_c=AIR, reflected_c=FOIL)
    hold(issued, reflected_c=None)
    kept = see_round(store, issued.engineer, issued.round_id).settings
    assert kept == {"ambient_c": AIR | {"half_width": None, "standing": "measured"}}
    hold(issued, ambient_c=None)
    with store.look() as unit:
        row = unit.session.execute(text("SELECT settings FROM rounds")).scalar_one()
        trail = unit.session.execute(text("SELECT count(*) FROM audit WHERE verb = 'set what holds'"))
        assert trail.scalar_one() == 3
    assert row in (None, "null")


WRONG: dict[str, tuple[str, dict[str, object], str]] = {
    "out of range": ("ambient_c", {"value": "99"}, "ambient_c"),
    "no number": ("ambient_c", {"value": "warm"}, "ambient_c"),
    "a half-width without a number": ("emissivity", {"half_width": "0.1"}, "emissivity"),
    "a half-width too wide": ("emissivity", {"value": "0.9", "half_width": "0.6"}, "emissivity_half_width"),
    "a half-width where there is none": (
        "wind_m_s",
        {"value": "2", "half_width": "1"},
        "wind_m_s_half_width",
    ),
    "no such standing": ("reflected_c", {"value": "20", "standing": "guessed"}, "reflected_c_standing"),
    "no such quantity": ("colour", {"value": "2"}, "colour"),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_cannot_hold_is_told_at_its_box(store: Store, name: str) -> None:
    issued = issue(store, boards=1, views=1)
    quantity, given, field = WRONG[name]
    with pytest.raises(Invalid) as refused:
        hold(issued, **{quantity: given})
    assert [problem.field for problem in refused.value.problems] == [field]
    assert all(problem.remedy for problem in refused.value.problems)
    assert see_round(store, issued.engineer, issued.round_id).settings == {}


def test_it_is_the_engineers_on_the_version_read_and_not_of_a_round_that_is_over(store: Store) -> None:
    walk = draft(store)
    change = {"ambient_c": AIR}
    with pytest.raises(Forbidden):
        set_round_settings(
            store, walk.technician(), walk.round.id, change, version=walk.round.version, now=NOW
        )
    with pytest.raises(Stale):
        set_round_settings(
            store, walk.engineer, walk.round.id, change, version=walk.round.version - 1, now=NOW
        )
    gone = withdraw_round(
        store, walk.engineer, walk.round.id, reason="rain", version=walk.round.version, now=NOW
    )
    with pytest.raises(Conflict):
        set_round_settings(store, walk.engineer, walk.round.id, change, version=gone.version, now=NOW)


def test_page_api_and_sheet_speak_of_the_same(store: Store, clock: Clock, now: datetime) -> None:
    plant = build_plant(store, views=1)
    walk = draft(store, plant=plant)
    app = open_app(store, clock)
    browser = browser_as(app, store, plant, Role.ENGINEER, now)
    program = program_as(app, store, plant, Role.ENGINEER, now)
    address = f"/api/v1/rounds/{walk.round.id}/settings"
    etag = program.get(address).headers["ETag"]
    assert program.patch(address, json={"ambient_c": AIR}).status_code == 428
    done = program.patch(address, json={"ambient_c": AIR}, headers={"If-Match": etag})
    assert done.json()["settings"]["ambient_c"]["value"] == 31.0
    assert program.patch(address, json={"ambient_c": None}, headers={"If-Match": etag}).status_code == 412
    page = browser.get(f"/rounds/{walk.round.id}").text
    assert "Holds for the whole round" in page
    assert "whirled by the door" in page
    form = {"version": str(done.json()["version"]), "ambient_c": "31", "wind_m_s": "much"}
    wrong = browser.post(f"/rounds/{walk.round.id}/settings", data=form)
    assert wrong.status_code == 422
    assert 'href="#field-wind-m-s"' in wrong.text
    assert 'value="much"' in wrong.text
    form |= {"wind_m_s": "1.5", "reflected_c": "28", "reflected_c_half_width": "2"}
    assert browser.post(f"/rounds/{walk.round.id}/settings", data=form).status_code == 303
    sheet = browser.get(f"/rounds/{walk.round.id}/sheets").text
    assert "Holds for the whole round where a row says nothing" in sheet
    assert "28 °C ± 2" in sheet.replace("\u00a0", " ")
