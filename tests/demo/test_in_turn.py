"""The demonstration shows machines that run in turn, a request to run one, and a typed forecast."""

from datetime import timedelta

from sqlalchemy import select

from service.domain.forecasts import unfit_at
from service.domain.words import RunRequestState
from service.storage import forecasts, plans, run_requests
from service.storage.tables.register import EquipmentRow, SiteRow
from service.storage.tables.rounds import RunRequestRow
from service.storage.unit import Store
from service.usecases.plans.work import STANDS_BY
from tests.conftest import NOW

FIRST = (NOW.date().replace(day=1) + timedelta(days=32)).replace(day=1)


def test_one_of_two_pumps_is_planned_and_the_other_stands_by(demo_store: Store) -> None:
    with demo_store.look() as unit:
        query = select(EquipmentRow.id, EquipmentRow.tag).where(EquipmentRow.duty_group != "")
        group = dict(unit.session.execute(query).all())
        plan = plans.plan_by_id(unit, 1)
        assert plan is not None
        body = plans.body_of(unit, 1, plan.current)
    assert sorted(group.values()) == ["SAL-P1", "SAL-P5", "WEN-P3", "WEN-P5"]
    group = {key: tag for key, tag in group.items() if tag.startswith("SAL")}
    assert body is not None
    walked = [key for key in group if body.walk_of(key) is not None]
    waits = [one.equipment_id for one in body.put_off if one.code == STANDS_BY]
    assert len(walked) == 1
    assert waits == [key for key in group if key not in walked]


def test_the_round_to_come_has_one_pump_asked_for_with_its_answer(demo_store: Store) -> None:
    with demo_store.look() as unit:
        (round_id,) = unit.session.scalars(select(RunRequestRow.round_id))
        (asked,) = run_requests.newest_of_round(unit, round_id).values()
    assert asked.state is RunRequestState.AGREED
    assert asked.asked_by == asked.answered_by == "R. Amsel"
    assert asked.day > NOW.date()


def test_a_forecast_keeps_outdoor_readings_off_a_day_of_the_month(demo_store: Store) -> None:
    with demo_store.look() as unit:
        sites = list(unit.session.scalars(select(SiteRow.id)))
        found = forecasts.forecasts_between(unit, sites, first=FIRST, last=FIRST + timedelta(days=27))
    (one,) = unfit_at(found).values()
    assert one.why_unfit == "rain, 6 mm and wind, 7 m/s"
