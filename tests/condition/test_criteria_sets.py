"""Sets of criteria as data: copied, edited into versions, compared, chosen, and never changed under a verdict."""

from copy import deepcopy
from datetime import date, timedelta

import pytest

from service.domain.criteria_owners import NEVER
from service.domain.words import Role
from service.errors import Conflict, Forbidden, Invalid, NotFound, Stale
from service.storage.criteria import add_missing_presets, criteria_of_views
from service.storage.unit import Store
from service.usecases.condition.criteria_sets import choose_class_criteria, compare_sets, see_set
from service.usecases.condition.edit_criteria import (
    copy_set,
    discard_set,
    edit_set,
    offer_set,
    take_in_set,
)
from tests.condition.criteria_builders import NOW, Sets, lay_sets


def test_a_copy_says_what_it_was_copied_from_and_is_nobody_elses(any_store: Store) -> None:
    sets = lay_sets(any_store)
    own = sets.own("Own motor rules")
    assert own.name == f"c{sets.plant.client_id}-own-motor-rules"
    assert own.criteria.citation.startswith(
        "Copied from “Two columns: over like parts and over air”, version 1."
    )
    assert (own.criteria.version, own.edits, own.locked, own.newest) == (1, 1, False, True)
    assert own.id in {kept.id for kept in sets.page().sets}
    assert own.id not in {kept.id for kept in sets.page(sets.stranger()).sets}
    with pytest.raises(NotFound):
        see_set(any_store, sets.stranger(), own.id, now=NOW)


def test_an_edit_before_anybody_chose_it_stays_the_same_version(any_store: Store) -> None:
    sets = lay_sets(any_store)
    edited = sets.edited(sets.own(), exponent=1.7)
    assert (edited.criteria.version, edited.edits) == (1, 2)
    assert edited.criteria.exponent == 1.7
    assert see_set(any_store, sets.actor(), edited.id, now=NOW).kept.criteria.exponent == 1.7


def test_an_edit_of_a_set_in_use_is_its_next_version_and_the_site_keeps_its_own(any_store: Store) -> None:
    sets = lay_sets(any_store)
    first = sets.own()
    sets.choose(first.id)
    (locked,) = [kept for kept in sets.page().sets if kept.id == first.id]
    assert locked.locked
    second = sets.edited(locked, exponent=1.7)
    assert (second.criteria.version, second.locked) == (2, False)
    assert second.id != first.id
    seen = see_set(any_store, sets.actor(), second.id, now=NOW)
    assert [one.criteria.version for one in seen.versions] == [2, 1]
    assert seen.sites == ()
    assert sets.site().in_force_id == first.id
    assert see_set(any_store, sets.actor(), first.id, now=NOW).kept.criteria.exponent == 1.8


def test_only_the_newest_version_is_edited(any_store: Store) -> None:
    sets = lay_sets(any_store)
    first = sets.own()
    sets.choose(first.id)
    sets.edited(first, exponent=1.7)
    with pytest.raises(Conflict, match="Version 2"):
        sets.edited(first, exponent=1.9)


def test_nothing_is_written_where_nothing_differs(any_store: Store) -> None:
    sets = lay_sets(any_store)
    own = sets.own()
    assert sets.edited(own).edits == own.edits


def test_no_edit_is_lost(any_store: Store) -> None:
    sets = lay_sets(any_store)
    own = sets.own()
    sets.edited(own, exponent=1.7)
    with pytest.raises(Stale) as caught:
        sets.edited(own, exponent=1.9)
    assert caught.value.current_version == 2


def test_every_problem_of_an_edit_is_told_and_nothing_is_kept(any_store: Store) -> None:
    sets = lay_sets(any_store)
    own = sets.own()
    body = deepcopy(own.criteria.to_dict()) | {"exponent": 9.0, "title": ""}
    body["similar"]["levels"] = [0, 4, 2, 1]
    with pytest.raises(Invalid) as caught:
        edit_set(any_store, sets.actor(), own.id, edits=1, body=body, now=NOW)
    assert {problem.field for problem in caught.value.problems} == {"exponent", "title", "levels"}
    assert see_set(any_store, sets.actor(), own.id, now=NOW).kept == own


def test_a_body_cannot_say_whose_set_it_is(any_store: Store) -> None:
    sets = lay_sets(any_store)
    own = sets.own()
    edited = sets.edited(own, id="two-column", version=99, exponent=1.7)
    assert (edited.name, edited.criteria.id, edited.criteria.version) == (own.name, own.name, 1)


def test_what_was_given_out_is_taken_in_elsewhere_whole(any_store: Store) -> None:
    sets = lay_sets(any_store)
    own = sets.own(exponent=1.7)
    given_out = own.criteria.to_dict()
    taken = take_in_set(any_store, sets.actor(), body=given_out, client_id=sets.plant.client_id, now=NOW)
    assert taken.name == f"{own.name}-2"
    again = taken.criteria.to_dict()
    assert again | {"id": own.name} == given_out


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.MANAGER, Role.ADMINISTRATOR])
def test_the_sets_of_a_client_are_its_engineers(any_store: Store, role: Role) -> None:
    sets = lay_sets(any_store)
    own = sets.own()
    body = own.criteria.to_dict() | {"exponent": 1.7}
    with pytest.raises(Forbidden):
        edit_set(any_store, sets.actor(role), own.id, edits=1, body=body, now=NOW)
    with pytest.raises(Forbidden):
        copy_set(any_store, sets.actor(role), own.id, title="x", client_id=sets.plant.client_id, now=NOW)
    with pytest.raises(Forbidden):
        discard_set(any_store, sets.actor(role), own.id, edits=1, now=NOW)
    with pytest.raises(NotFound):
        edit_set(any_store, sets.stranger(), own.id, edits=1, body=body, now=NOW)
    with pytest.raises(NotFound):
        copy_set(
            any_store, sets.stranger(), sets.preset().id, title="x", client_id=sets.plant.client_id, now=NOW
        )


def test_presets_are_the_administrators_and_the_shipped_ones_nobodys(any_store: Store) -> None:
    sets = lay_sets(any_store)
    admin, shipped = sets.actor(Role.ADMINISTRATOR), sets.preset()
    with pytest.raises(Forbidden):
        copy_set(any_store, sets.actor(), shipped.id, title="For all", client_id=None, now=NOW)
    house = copy_set(any_store, admin, shipped.id, title="For all", client_id=None, now=NOW)
    assert (house.name, house.client_id) == ("house-for-all", None)
    assert house.id in {kept.id for kept in sets.page(sets.stranger()).sets}
    with pytest.raises(Forbidden):
        sets.edited(house, exponent=1.7)
    body = shipped.criteria.to_dict() | {"exponent": 1.7}
    with pytest.raises(Conflict, match="came with the service"):
        edit_set(any_store, admin, shipped.id, edits=1, body=body, now=NOW)


def test_a_preset_that_is_not_sure_enough_is_off_until_an_administrator_switches_it_on(
    any_store: Store,
) -> None:
    sets = lay_sets(any_store)
    navy = sets.preset("navy-bands")
    assert navy.valid_from == NEVER
    with pytest.raises(Conflict, match="switched off"):
        sets.choose(navy.id)
    with pytest.raises(Forbidden):
        offer_set(any_store, sets.actor(), navy.id, edits=navy.edits, offered=True, now=NOW)
    admin = sets.actor(Role.ADMINISTRATOR)
    on = offer_set(any_store, admin, navy.id, edits=navy.edits, offered=True, now=NOW)
    sets.choose(navy.id)
    off = offer_set(any_store, admin, navy.id, edits=on.edits, offered=False, now=NOW)
    assert off.valid_from == NEVER
    assert sets.site().in_force_id == navy.id  # a choice made stays


def test_the_set_in_force_by_default_stays_on(any_store: Store) -> None:
    sets = lay_sets(any_store)
    default = sets.preset()
    with pytest.raises(Conflict):
        offer_set(any_store, sets.actor(Role.ADMINISTRATOR), default.id, edits=1, offered=False, now=NOW)


def test_a_set_may_be_chosen_from_its_first_day_on(any_store: Store) -> None:
    sets = lay_sets(any_store)
    own, tomorrow = sets.own(), NOW.date() + timedelta(days=1)
    body = own.criteria.to_dict()
    later = edit_set(
        any_store, sets.actor(), own.id, edits=own.edits, body=body, valid_from=tomorrow, now=NOW
    )
    assert later.valid_from == tomorrow
    with pytest.raises(Conflict):
        sets.choose(own.id)


def test_a_day_no_plant_has_is_brought_to_one_it_may_have(any_store: Store) -> None:
    sets = lay_sets(any_store)
    own = sets.own()
    far = edit_set(
        any_store, sets.actor(), own.id, edits=1, body=own.criteria.to_dict(), valid_from=date.max, now=NOW
    )
    assert far.valid_from < NEVER


def test_a_set_of_another_client_cannot_be_chosen(any_store: Store) -> None:
    sets = lay_sets(any_store)
    admin = sets.actor(Role.ADMINISTRATOR)
    house = copy_set(any_store, admin, sets.preset().id, title="For all", client_id=None, now=NOW)
    foreign = sets.actor(clients=frozenset({sets.plant.client_id, 999}))
    body = house.criteria.to_dict()
    other = take_in_set(any_store, foreign, body=body, client_id=999, now=NOW)
    with pytest.raises(NotFound):
        sets.choose(other.id)


def test_a_version_nobody_chose_is_thrown_away_and_one_in_use_is_not(any_store: Store) -> None:
    sets = lay_sets(any_store)
    first = sets.own()
    sets.choose(first.id)
    second = sets.edited(first, exponent=1.7)
    discard_set(any_store, sets.actor(), second.id, edits=second.edits, now=NOW)
    (left,) = [kept for kept in sets.page().sets if kept.name == first.name]
    assert left.id == first.id
    with pytest.raises(Conflict):
        discard_set(any_store, sets.actor(), left.id, edits=left.edits, now=NOW)


def choose_class(sets: Sets, told: str, criteria_id: int | None) -> None:
    site = sets.site()
    choose_class_criteria(
        sets.store, sets.actor(), site_id=site.site_id, equipment_class=told, criteria_id=criteria_id,
        version=site.version, now=NOW,
    )  # fmt: skip


def test_the_set_of_a_class_goes_before_that_of_its_site(any_store: Store) -> None:
    sets = lay_sets(any_store, bearings=1)
    of_site, of_class = sets.own("For the site"), sets.own("For pumps")
    sets.choose(of_site.id)
    choose_class(sets, " PUMP ", of_class.id)
    assert [(one.equipment_class, one.criteria_id) for one in sets.site().chosen] == [("pump", of_class.id)]
    assert sets.site().classes == ("pump", "switchboard")
    default = sets.preset().id
    with any_store.begin() as unit:
        by_view = criteria_of_views(unit, sets.plant.view_ids, now=NOW)
    half = len(sets.plant.view_ids) // 2
    here, there = sets.plant.view_ids[:half], sets.plant.view_ids[half:]
    assert [by_view[view] for view in here] == [of_site.id] * (len(here) - 1) + [of_class.id]
    assert {by_view[view] for view in there} == {default}
    choose_class(sets, "pump", None)
    with any_store.begin() as unit:
        assert criteria_of_views(unit, here, now=NOW) == dict.fromkeys(here, of_site.id)


def test_a_class_chosen_again_has_the_last_choice(any_store: Store) -> None:
    sets = lay_sets(any_store)
    one, two = sets.own("One"), sets.own("Two")
    choose_class(sets, "switchboard", one.id)
    choose_class(sets, "switchboard", two.id)
    assert [choice.criteria_id for choice in sets.site().chosen] == [two.id]


@pytest.mark.parametrize("told", ["", "  ", "x" * 81, "a\x00"])
def test_a_class_that_is_none_is_refused(any_store: Store, told: str) -> None:
    sets = lay_sets(any_store)
    with pytest.raises(Invalid):
        choose_class(sets, told, None)


def test_the_choice_of_a_class_loses_no_edit(any_store: Store) -> None:
    sets = lay_sets(any_store)
    with pytest.raises(Stale):
        choose_class_criteria(
            any_store, sets.actor(), site_id=sets.plant.site_ids[0], equipment_class="switchboard",
            criteria_id=None, version=77, now=NOW,
        )  # fmt: skip
    with pytest.raises(Forbidden):
        choose_class_criteria(
            any_store, sets.actor(Role.MANAGER), site_id=sets.plant.site_ids[0],
            equipment_class="switchboard", criteria_id=None, version=1, now=NOW,
        )  # fmt: skip


def test_two_versions_stand_side_by_side(any_store: Store) -> None:
    sets = lay_sets(any_store)
    first = sets.own()
    sets.choose(first.id)
    second = sets.edited(first, exponent=1.7, title="Own rules, mended")
    told = compare_sets(any_store, sets.actor(), first.id, second.id).differences
    assert [(one.where, one.what, one.before, one.after) for one in told] == [
        ("About the set", "Title", "Own rules", "Own rules, mended"),
        ("Load", "Exponent n of the rise with current", 1.8, 1.7),
    ]
    with pytest.raises(NotFound):
        compare_sets(any_store, sets.stranger(), first.id, second.id)


def test_the_shipped_sets_come_once(any_store: Store) -> None:
    lay_sets(any_store)
    with any_store.begin() as unit:
        assert add_missing_presets(unit, now=NOW) == 0
