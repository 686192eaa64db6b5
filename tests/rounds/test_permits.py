"""Permits: asked, granted, closed; a cover stays shut without number, from and to."""

from datetime import UTC, datetime

import pytest

from service.domain.rounds import NO_STAND_OFF, NOT_OPEN, closed_because, not_open_text, opens, stand_off_text
from service.domain.words import Access, PermitState
from service.errors import Conflict, Forbidden, Invalid, Stale
from service.storage import rounds
from service.storage.unit import Store
from service.usecases.rounds.permits import (
    PermitFields,
    ask_permit,
    close_permit,
    edit_permit,
    grant_permit,
)
from service.usecases.rounds.sheets import read_sheets
from tests.builders import Role
from tests.rounds.builders import NOW, Walk, cover, draft

FROM, TO = datetime(2026, 12, 8, 7, 0, tzinfo=UTC), datetime(2026, 12, 8, 15, 0, tzinfo=UTC)
FULL = PermitFields(number="P-88", issuer="J. Wren", covers="doors 4 to 9", valid_from=FROM, valid_to=TO)


def asked(walk: Walk, fields: PermitFields | None = None, *, stops: slice = slice(None)):  # type: ignore[no-untyped-def]
    with walk.store.look() as unit:
        found = rounds.stops_of(unit, walk.round.id)[stops]
    return ask_permit(
        walk.store,
        walk.engineer,
        walk.round.id,
        site_id=walk.plant.site_ids[0],
        stop_ids=[stop.id for stop in found],
        fields=fields or PermitFields(),
        now=NOW,
    )


@pytest.mark.parametrize("access", Access)
def test_only_gear_behind_a_cover_needs_a_permit_to_open(access: Access) -> None:
    assert opens(access, None) is not access.behind_cover


def test_a_cover_opens_once_number_from_and_to_are_typed_and_until_it_is_closed(store: Store) -> None:
    walk = draft(store)
    permit = asked(walk)
    at = {"stop_ids": _stops(walk), "now": NOW}
    assert closed_because(Access.HINGED_COVER, permit) == "no permit number"
    permit = edit_permit(
        store, walk.engineer, permit.id, PermitFields(number="P-88"), version=permit.version, **at
    )
    assert closed_because(Access.HINGED_COVER, permit) == "no from and to on the permit"
    permit = edit_permit(store, walk.engineer, permit.id, FULL, version=permit.version, **at)
    assert opens(Access.HINGED_COVER, permit)
    permit = grant_permit(store, walk.engineer, permit.id, version=permit.version, now=NOW)
    permit = close_permit(store, walk.engineer, permit.id, version=permit.version, now=NOW)
    assert closed_because(Access.HINGED_COVER, permit) == "permit closed"


def _stops(walk: Walk) -> list[int]:
    with walk.store.look() as unit:
        return [stop.id for stop in rounds.stops_of(unit, walk.round.id)]


def test_each_state_says_who_and_when(any_store: Store) -> None:
    walk = draft(any_store)
    permit = asked(walk, FULL)
    permit = grant_permit(any_store, walk.engineer, permit.id, version=permit.version, now=FROM)
    permit = close_permit(any_store, walk.engineer, permit.id, version=permit.version, now=TO)
    assert (permit.asked_by, permit.asked_at) == ("Test engineer", NOW)
    assert (permit.granted_by, permit.granted_at) == ("Test engineer", FROM)
    assert (permit.closed_by, permit.closed_at) == ("Test engineer", TO)
    assert permit.state is PermitState.CLOSED


def test_a_permit_is_not_granted_without_what_its_paper_says(store: Store) -> None:
    walk = draft(store)
    permit = asked(walk)
    with pytest.raises(Invalid) as caught:
        grant_permit(store, walk.engineer, permit.id, version=permit.version, now=NOW)
    assert [p.field for p in caught.value.problems] == ["number", "issuer", "valid_from", "valid_to"]


def test_a_closed_permit_is_neither_edited_nor_closed_again(store: Store) -> None:
    walk = draft(store)
    permit = asked(walk)
    permit = close_permit(store, walk.engineer, permit.id, version=permit.version, now=NOW)
    with pytest.raises(Conflict):
        edit_permit(
            store, walk.engineer, permit.id, FULL, stop_ids=_stops(walk), version=permit.version, now=NOW
        )
    with pytest.raises(Conflict):
        close_permit(store, walk.engineer, permit.id, version=permit.version, now=NOW)


def test_a_permit_ends_after_it_begins_and_covers_its_own_site(store: Store) -> None:
    walk = draft(store, sites=2)
    backwards = PermitFields(valid_from=TO, valid_to=FROM)
    with pytest.raises(Invalid) as caught:
        asked(walk, backwards)
    assert [p.field for p in caught.value.problems] == ["valid_to", "stop_ids"]


def test_an_edit_on_an_old_version_is_refused(store: Store) -> None:
    walk = draft(store)
    permit = asked(walk)
    at = {"stop_ids": _stops(walk), "now": NOW}
    edit_permit(store, walk.engineer, permit.id, FULL, version=permit.version, **at)
    with pytest.raises(Stale):
        edit_permit(store, walk.engineer, permit.id, FULL, version=permit.version, **at)


def test_a_technician_records_no_permit(store: Store) -> None:
    walk = draft(store)
    permit = asked(walk, FULL)
    with pytest.raises(Forbidden):
        grant_permit(store, walk.technician(), permit.id, version=permit.version, now=NOW)


def test_the_sheet_of_a_cover_without_permit_number_says_so_in_capitals(store: Store) -> None:
    walk = draft(store, boards=2)
    cover(store, walk.plant.equipment_ids[0])
    sheets = read_sheets(store, walk.technician(), walk.round.id, now=NOW).stops
    assert [sheet.not_open for sheet in sheets] == [NOT_OPEN, ""]
    assert NOT_OPEN == "NOT OPEN: NO PERMIT NUMBER"
    asked(walk, FULL, stops=slice(0, 1))
    sheets = read_sheets(store, walk.technician(), walk.round.id, now=NOW).stops
    assert [sheet.not_open for sheet in sheets] == ["", ""]


def test_the_stand_off_is_the_sites_word_or_asks_the_issuer(store: Store) -> None:
    walk = draft(store)
    permit = asked(walk, PermitFields(stand_off="1.2 m from door 4"))
    assert stand_off_text("", None) == NO_STAND_OFF == "not given: ask the permit issuer"
    assert stand_off_text("behind the yellow line", None) == "behind the yellow line"
    assert stand_off_text("behind the yellow line", permit) == "1.2 m from door 4"
    assert walk.plant.people[Role.ENGINEER]


@pytest.mark.parametrize(
    ("closed", "printed"),
    [
        ("", ""),
        ("no permit asked", NOT_OPEN),
        ("no permit number", NOT_OPEN),
        ("permit closed", "NOT OPEN: PERMIT CLOSED"),
        ("no from and to on the permit", "NOT OPEN: NO FROM AND TO ON THE PERMIT"),
    ],
)
def test_a_sheet_never_prints_a_wrong_reason_for_a_shut_cover(closed: str, printed: str) -> None:
    assert not_open_text(closed) == printed
