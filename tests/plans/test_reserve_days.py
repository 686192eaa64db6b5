"""Walks with outdoor stops have a day kept free; a forecast spoils a day, and the plan offers that one."""

from collections.abc import Iterable
from datetime import date, timedelta

import pytest
from icalendar import Calendar

from service.domain.forecasts import Forecast
from service.domain.plans import PlanBody, PlannedStop, Walk, body_from_json, body_to_json
from service.domain.reserve_days import Reserve, reserve_days, with_reserve_days
from service.domain.words import Role, RoundState
from service.errors import Invalid
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from service.usecases.calendars.own_feed import make_feed
from service.usecases.plans import change, draw_up
from service.usecases.plans.forecasts import list_forecasts, take_forecast_back, type_forecast
from service.usecases.plans.make_rounds import make_rounds
from service.usecases.plans.reserve import moving_to_reserve, reserving
from service.usecases.plans.see import PlanPage, read_plan
from tests.builders import Plant
from tests.doors import browser, browser_as, open_app, program_as
from tests.plans.builders import NOW, drawn, planning_plant, set_equipment, work_off

MONDAY = date(2026, 12, 7)


def walk(ago: int, *stops: int, worth: int = 10, **fields: object) -> Walk:
    planned = tuple(PlannedStop(key, 10, worth=worth) for key in stops)
    day = MONDAY + timedelta(days=ago)
    return Walk(key=f"{day}.1", day=day, person_id=1, start_min=480, end_min=660, stops=planned, **fields)  # type: ignore[arg-type]


def body_of(*walks: Walk) -> PlanBody:
    return PlanBody(month_on=date(2026, 12, 1), site_ids=(1,), walks=walks)


def kept(body: PlanBody) -> list[date]:
    return [one.day for one in body.walks if one.reserve == Reserve.PLANNED]


@pytest.mark.parametrize(
    ("walks", "chosen"),
    [
        ((walk(0, 1), walk(1), walk(2), walk(3, 5)), [1]),
        ((walk(0, 1), walk(1, 5, 6), walk(2, 7)), [2]),
        ((walk(0, 1), walk(1, 5), walk(2, 2)), [2]),
        ((walk(0, 5), walk(1, 6)), []),
        ((walk(0, 1),), []),
        ((walk(0, 1), walk(1, reserve="given up"), walk(2)), []),
        ((walk(0, 1), walk(1, frozen=True), walk(2, lost="ill"), walk(3)), [3]),
    ],
    ids=["the next empty one", "the least worth", "the last", "nothing outdoors", "one day only", "given up by hand", "held days are left"],
)  # fmt: skip
def test_the_day_kept_free_is_that_which_costs_least(walks: Iterable[Walk], chosen: list[int]) -> None:
    """Equipment 1 and 2 stand outdoors."""
    found = with_reserve_days(body_of(*walks), {1, 2})
    assert kept(found) == [MONDAY + timedelta(days=ago) for ago in chosen]
    assert all(not one.stops for one in found.walks if one.reserve == Reserve.PLANNED)
    assert with_reserve_days(found, {1, 2}) == found, "twice is once"


def test_a_reserve_is_given_up_when_every_walk_it_stands_for_came_back() -> None:
    body = body_of(walk(0, 1), walk(1, 2), walk(2, reserve="planned"))
    first, second = body.walks[0].key, body.walks[1].key
    assert [one.walked for one in reserve_days(body, {1, 2}, {first})] == [False]
    assert [one.walked for one in reserve_days(body, {1, 2}, {first, second})] == [True]


def outdoor_plan(store: Store, *, outdoor: int = 2, boards: int = 3) -> tuple[Plant, PlanPage]:
    plant = planning_plant(store, sites=1, boards=boards)
    for key in plant.equipment_ids[:outdoor]:
        set_equipment(store, key, outdoor=True)
    return plant, drawn(store, plant)


def test_a_plan_keeps_a_later_day_free_and_tells_for_what(any_store: Store) -> None:
    plant, page = outdoor_plan(any_store)
    (day,) = page.reserves
    assert day.stands_for
    assert all(one.day < day.walk.day for one in day.stands_for)
    assert day.walk.stops == ()
    assert page.sums.stops == len(plant.equipment_ids), "nothing is dropped for it where days are left"
    assert body_from_json(body_to_json(page.body)) == page.body


def test_planned_again_the_day_stays_free(store: Store) -> None:
    plant, page = outdoor_plan(store)
    wish = draw_up.WAYS["around"]
    draw_up.ask_for_drawing(store, plant.actor(), page.plan.id, wish, version=page.plan.version, now=NOW)
    work_off(store)
    again = read_plan(store, plant.actor(), page.plan.id)
    assert [one.walk.key for one in again.reserves] == [one.walk.key for one in page.reserves]
    assert all(one.walk.stops == () for one in again.reserves)


def edited(store: Store, plant: Plant, plan_id: int, edit: change.Edit) -> PlanPage:
    version = read_plan(store, plant.actor(), plan_id).plan.version
    change.change_plan(store, plant.actor(), plan_id, edit, version=version, now=NOW)
    return read_plan(store, plant.actor(), plan_id)


def spoil(store: Store, plant: Plant, day: date) -> None:
    type_forecast(store, plant.actor(), Forecast(plant.site_ids[0], day, rain_mm=3.0), now=NOW)


def test_an_unfit_forecast_offers_the_reserve_day_and_takes_the_outdoor_stops_there(store: Store) -> None:
    plant, page = outdoor_plan(store)
    out = page.reserves[0].stands_for[0]
    reserve = page.reserves[0].walk
    spoil(store, plant, out.day)
    (told,) = read_plan(store, plant.actor(), page.plan.id).spoiled
    assert (told.walk.key, told.stops, told.forecast.why_unfit) == (out.key, 2, "rain, 3 mm")
    assert told.reserve is not None
    moved = edited(store, plant, page.plan.id, moving_to_reserve(out.key))
    there = moved.body.walk(reserve.key)
    assert there is not None
    assert {stop.equipment_id for stop in there.stops} == set(plant.equipment_ids[:2])
    assert moved.spoiled == ()
    assert there.back_min <= there.end_min


def test_drawn_up_again_no_outdoor_stop_is_on_an_unfit_day(store: Store) -> None:
    plant, page = outdoor_plan(store)
    out = page.reserves[0].stands_for[0]
    spoil(store, plant, out.day)
    wish = draw_up.WAYS["around"]
    draw_up.ask_for_drawing(store, plant.actor(), page.plan.id, wish, version=page.plan.version, now=NOW)
    work_off(store)
    again = read_plan(store, plant.actor(), page.plan.id)
    assert again.spoiled == ()
    assert all(again.body.walk_of(key) is not None for key in plant.equipment_ids[:2])


@pytest.mark.parametrize(
    ("forecast", "why"),
    [
        (Forecast(1, MONDAY, wind_m_s=5.0, rain_mm=0.0), ""),
        (Forecast(1, MONDAY, wind_m_s=5.5), "wind, 5.5 m/s"),
        (Forecast(1, MONDAY, rain_mm=0.5), "rain, 0.5 mm"),
        (Forecast(1, MONDAY, words="fog", unfit=True), "fog"),
    ],
)
def test_outdoors_wants_dry_and_little_wind(forecast: Forecast, why: str) -> None:
    """Common practice, no source."""
    assert forecast.why_unfit == why


def test_a_forecast_is_replaced_and_taken_back(any_store: Store) -> None:
    plant = planning_plant(any_store, sites=1, boards=1)
    spoil(any_store, plant, MONDAY)
    dry = Forecast(plant.site_ids[0], MONDAY, words="dry", wind_m_s=2.0)
    type_forecast(any_store, plant.actor(), dry, now=NOW)
    assert list_forecasts(any_store, plant.actor(), first=MONDAY, last=MONDAY) == (dry,)
    take_forecast_back(any_store, plant.actor(), plant.site_ids[0], MONDAY, now=NOW)
    assert list_forecasts(any_store, plant.actor(), first=MONDAY, last=MONDAY) == ()


def test_a_forecast_of_nothing_is_refused(store: Store) -> None:
    plant = planning_plant(store, sites=1, boards=1)
    with pytest.raises(Invalid) as refused:
        type_forecast(store, plant.actor(), Forecast(plant.site_ids[0], MONDAY), now=NOW)
    assert [one.message for one in refused.value.problems] == ["Nothing is forecast."]


def test_a_day_with_stops_is_not_kept_and_one_given_up_is_not_chosen_again(store: Store) -> None:
    plant, page = outdoor_plan(store)
    full = next(one for one in page.body.walks if one.stops)
    with pytest.raises(Invalid) as refused:
        edited(store, plant, page.plan.id, reserving(full.key, kept=True))
    assert "nothing on it" in refused.value.problems[0].message
    given = edited(store, plant, page.plan.id, reserving(page.reserves[0].walk.key, kept=False))
    assert given.reserves == ()
    wish = draw_up.WAYS["around"]
    draw_up.ask_for_drawing(store, plant.actor(), page.plan.id, wish, version=given.plan.version, now=NOW)
    work_off(store)
    assert read_plan(store, plant.actor(), page.plan.id).reserves == ()


def test_the_calendar_has_it_as_tentative_and_cancels_it_when_the_walk_came_back(store: Store) -> None:
    plant, page = outdoor_plan(store)
    _, secret = make_feed(store, plant.actor(Role.TECHNICIAN), now=NOW)
    client = browser(open_app(store, lambda: NOW))

    def state() -> str:
        events = Calendar.from_ical(client.get(f"/calendar/{secret}.ics").content).walk("VEVENT")
        (event,) = [one for one in events if "Reserve day" in one["summary"]]
        assert event["dtstart"].dt.date() == page.reserves[0].walk.day
        return str(event["status"])

    assert state() == "TENTATIVE"
    make_rounds(store, plant.actor(), page.plan.id, version=page.plan.version, now=NOW)
    with store.begin() as unit:
        for row in unit.session.query(RoundRow):
            row.state = RoundState.RETURNED.value
    assert state() == "CANCELLED"
    assert read_plan(store, plant.actor(), page.plan.id).reserves[0].walked


def test_pages_and_programs_offer_the_same(store: Store) -> None:
    plant, page = outdoor_plan(store)
    out, reserve = page.reserves[0].stands_for[0], page.reserves[0].walk
    app = open_app(store, lambda: NOW)
    engineer = browser_as(app, store, plant, Role.ENGINEER, NOW)
    at = f"/rounds/plans/{page.plan.id}"
    typed = {
        "version": str(page.plan.version), "forecast_site": str(plant.site_ids[0]),
        "forecast_day": out.day.isoformat(), "words": "showers", "rain_mm": "2", "wind_m_s": "7",
    }  # fmt: skip
    assert engineer.post(f"{at}/forecast", data=typed | {"rain_mm": "wet"}).status_code == 422
    assert engineer.post(f"{at}/forecast", data=typed).status_code == 303
    told = engineer.get(at).text
    assert "rain, 2 mm and wind, 7 m/s expected at Site 1" in told
    assert "Kept in reserve for the outdoor stops of" in told
    assert "Move them there" in engineer.get(f"{at}/walks/{out.key}").text
    program = program_as(app, store, plant, Role.ENGINEER, NOW)
    (spoiled,) = program.get(f"/api/v1/plans/{page.plan.id}").json()["spoiled"]
    assert (spoiled["walk"], spoiled["reserve"], spoiled["stops"]) == (out.key, reserve.key, 2)
    listed = program.get("/api/v1/site-forecasts", params={"from_on": "2026-12-01"}).json()
    assert [one["words"] for one in listed] == ["showers"]
    moved = engineer.post(f"{at}/walks/{out.key}/to-reserve", data={"version": str(page.plan.version)})
    assert moved.status_code == 303
    assert program.get(f"/api/v1/plans/{page.plan.id}").json()["spoiled"] == []
