"""Rounds of the demonstration: a title says its month once."""

from calendar import month_name

from sqlalchemy import select

from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store


def test_no_round_has_a_month_or_a_year_in_its_name(demo_store: Store) -> None:
    """Symptom: "Wendlebrook works, October 2026, Monday 12 October 2026" on top of a round."""
    with demo_store.look() as unit:
        rounds = unit.session.execute(select(RoundRow.name, RoundRow.planned_on)).all()
    assert len(rounds) > 100
    for name, day in rounds:
        assert not [month for month in month_name[1:] if month in name], name
        assert str(day.year) not in name


def test_a_round_is_called_after_its_site_and_how_often_it_is_walked(demo_store: Store) -> None:
    with demo_store.look() as unit:
        names = set(unit.session.scalars(select(RoundRow.name)))
    assert {"Wendlebrook works, monthly round", "Quarrytop booster, yearly round"} <= names
