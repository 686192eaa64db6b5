"""The states of a round, and who moves it when."""

import pytest

from service.domain.permissions import Verb
from service.domain.rounds import MOVES, check_move
from service.domain.words import RoundState
from service.errors import Conflict, Forbidden, NotFound, Stale
from service.storage import rounds
from service.storage.unit import Store
from service.usecases.rounds.edit import (
    add_stops,
    details_of,
    edit_round,
    move_stop,
    remove_stop,
    reorder_stops,
)
from service.usecases.rounds.issue import issue_round
from service.usecases.rounds.mark_returned import mark_returned
from service.usecases.rounds.plan import RoundWish, plan_round
from service.usecases.rounds.sign_off import sign_off_round
from service.usecases.rounds.withdraw import withdraw_round
from tests.builders import Role, build_plant
from tests.rounds.builders import DAY, NOW, Walk, draft, issued, read_row, rows_of

WAYS = {
    ("draft", "issued"),
    ("draft", "withdrawn"),
    ("issued", "returned"),
    ("issued", "withdrawn"),
    ("returned", "signed off"),
}


@pytest.mark.parametrize("start", RoundState)
@pytest.mark.parametrize("to", RoundState)
def test_a_round_makes_the_moves_of_the_design_and_no_other(
    store: Store, start: RoundState, to: RoundState
) -> None:
    round_ = draft(store).round
    here = type(round_)(**{n: getattr(round_, n) for n in round_.__slots__} | {"state": start})
    if (start, to) in WAYS:
        check_move(here, to)
    else:
        with pytest.raises(Conflict):
            check_move(here, to)
    assert {(a, b) for a, ways in MOVES.items() for b in ways} == WAYS


def _moves(walk: Walk) -> list[tuple[str, str, int | None]]:
    with walk.store.look() as unit:
        found = rounds.moves_of(unit, walk.round.id)
    return [(move.from_state, move.to_state, move.by_person_id) for move in found]


def test_each_move_says_who_and_when(any_store: Store) -> None:
    walk = issued(any_store)
    engineer, technician = walk.plant.people[Role.ENGINEER], walk.plant.people[Role.TECHNICIAN]
    for row in rows_of(any_store, walk.round.id):
        read_row(any_store, row)
    with any_store.begin() as unit:
        returned = mark_returned(unit, walk.technician(), walk.round.id, NOW)
    assert returned.state is RoundState.RETURNED
    assert returned.returned_at == NOW
    closed = sign_off_round(
        any_store, walk.engineer, walk.round.id, reasons={}, version=returned.version, now=NOW
    )
    assert closed.signed_off_at == NOW
    assert _moves(walk) == [
        ("", "draft", engineer),
        ("draft", "issued", engineer),
        ("issued", "returned", technician),
        ("returned", "signed off", engineer),
    ]


def test_the_second_upload_leaves_a_returned_round_as_it_is(store: Store) -> None:
    walk = issued(store)
    with store.begin() as unit:
        first = mark_returned(unit, walk.technician(), walk.round.id, NOW)
        assert mark_returned(unit, walk.technician(), walk.round.id, NOW) == first


def test_no_reading_comes_into_a_draft(store: Store) -> None:
    walk = draft(store)
    with store.begin() as unit, pytest.raises(Conflict, match="draft"):
        mark_returned(unit, walk.technician(), walk.round.id, NOW)


def test_a_returned_round_is_not_withdrawn(store: Store) -> None:
    walk = issued(store)
    with store.begin() as unit:
        returned = mark_returned(unit, walk.technician(), walk.round.id, NOW)
    with pytest.raises(Conflict, match="returned"):
        withdraw_round(store, walk.engineer, walk.round.id, reason="No", version=returned.version, now=NOW)


@pytest.mark.parametrize("change", ["reorder", "add", "remove", "rename"])
def test_stops_and_day_stand_still_once_a_round_is_issued(store: Store, change: str) -> None:
    walk = issued(store, boards=2)
    with store.look() as unit:
        stops = [stop.id for stop in rounds.stops_of(unit, walk.round.id)]
    at = {"version": walk.round.version, "now": NOW}
    one, who = walk.round.id, walk.engineer
    details = details_of(walk.round)
    renamed = type(details)(**{n: getattr(details, n) for n in details.__slots__} | {"name": "North"})
    steps = {
        "reorder": lambda: reorder_stops(store, who, one, stops[::-1], **at),
        "add": lambda: add_stops(store, who, one, walk.plant.equipment_ids, **at),
        "remove": lambda: remove_stop(store, who, one, stops[0], **at),
        "rename": lambda: edit_round(store, who, one, renamed, **at),
    }
    with pytest.raises(Conflict, match="no longer change"):
        steps[change]()


def test_an_order_made_on_an_old_version_is_refused(store: Store) -> None:
    walk = draft(store, boards=3)
    with store.look() as unit:
        stops = [stop.id for stop in rounds.stops_of(unit, walk.round.id)]
    at = {"version": walk.round.version, "now": NOW}
    reorder_stops(store, walk.engineer, walk.round.id, stops[::-1], **at)
    with pytest.raises(Stale):
        reorder_stops(store, walk.engineer, walk.round.id, stops, **at)
    with store.look() as unit:
        assert [stop.id for stop in rounds.stops_of(unit, walk.round.id)] == stops[::-1]


def test_a_stop_moves_up_and_down_and_stays_at_the_ends(store: Store) -> None:
    walk = draft(store, boards=3)
    with store.look() as unit:
        a, b, c = (stop.id for stop in rounds.stops_of(unit, walk.round.id))
    version = walk.round.version
    for stop, by, expected in ((c, -1, [a, c, b]), (a, -1, [a, c, b]), (a, 1, [c, a, b])):
        version = move_stop(
            store, walk.engineer, walk.round.id, stop, by=by, version=version, now=NOW
        ).version
        with store.look() as unit:
            assert [one.id for one in rounds.stops_of(unit, walk.round.id)] == expected


def test_a_late_comer_joins_the_stops_of_its_own_site(store: Store) -> None:
    plant = build_plant(store, sites=2, boards=2)
    first_a, late, first_b, _ = plant.equipment_ids
    wish = RoundWish(name="Two sites", planned_on=DAY, equipment_ids=(first_a, first_b))
    round_ = plan_round(store, plant.actor(), wish, now=NOW)
    add_stops(store, plant.actor(), round_.id, [late], version=round_.version, now=NOW)
    with store.look() as unit:
        order = [stop.equipment_id for stop in rounds.stops_of(unit, round_.id)]
    assert order == [first_a, late, first_b]


def test_a_technician_sees_only_rounds_given_to_them(store: Store) -> None:
    walk = draft(store, person=False)
    with pytest.raises(NotFound):
        issue_round(store, walk.technician(), walk.round.id, version=1, now=NOW)


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.MANAGER, Role.ADMINISTRATOR])
def test_only_an_engineer_plans(store: Store, role: Role) -> None:
    plant = build_plant(store)
    wish = RoundWish(name="x", planned_on=DAY, equipment_ids=tuple(plant.equipment_ids))
    with pytest.raises(Forbidden, match=Verb.KEEP_REGISTER):
        plan_round(store, plant.actor(role), wish, now=NOW)


def test_a_round_with_a_foreign_site_is_not_found(store: Store) -> None:
    plant = build_plant(store, sites=2)
    walk = draft(store, plant=plant)
    narrow = plant.actor(sites=frozenset(plant.site_ids[:1]))
    with pytest.raises(NotFound):
        withdraw_round(store, narrow, walk.round.id, reason="x", version=1, now=NOW)
    with store.look() as unit:
        sight = rounds.Sight(site_ids=narrow.site_ids, client_ids=narrow.clients)
        assert rounds.list_rounds(unit, sight) == ()
