"""Sign-off: a certificate, every row read or with a reason, no double undecided."""

from datetime import date

import pytest

from service.domain.words import Reason, Role, RoundState
from service.errors import Conflict, Forbidden, Invalid
from service.storage import rounds
from service.storage.tables.people import CertificateRow
from service.storage.tables.rounds import RoundPointRow
from service.storage.unit import Store
from service.usecases.rounds.mark_returned import mark_returned
from service.usecases.rounds.sign_off import read_sign_off, sign_off_round
from tests.rounds.builders import NOW, Walk, change, issued, read_row, rows_of


def returned(store: Store, *, but: int = 0) -> Walk:
    """A returned round whose last ``but`` rows have no reading."""
    walk = issued(store)
    rows = rows_of(store, walk.round.id)
    for row in rows[: len(rows) - but]:
        read_row(store, row)
    with store.begin() as unit:
        walk.round = mark_returned(unit, walk.technician(), walk.round.id, NOW)
    return walk


def sign(walk: Walk, reasons: dict[str, Reason] | None = None):  # type: ignore[no-untyped-def]
    return sign_off_round(
        walk.store,
        walk.engineer,
        walk.round.id,
        reasons=reasons or {},
        version=walk.round.version,
        now=NOW,
    )


def certificate(store: Store, walk: Walk, **fields: object) -> None:
    with store.look() as unit:
        query = unit.session.query(CertificateRow).filter_by(person_id=walk.plant.people[Role.ENGINEER])
        row_id = query.one().id
    change(store, CertificateRow, row_id, **fields)


def test_every_row_without_a_reading_is_named_and_nothing_is_closed(any_store: Store) -> None:
    walk = returned(any_store, but=2)
    with pytest.raises(Invalid) as caught:
        sign(walk)
    assert [problem.where for problem in caught.value.problems] == ["row 5", "row 6"]
    with any_store.look() as unit:
        assert rounds.round_by_id(unit, walk.round.id) == walk.round


def test_reasons_close_what_was_not_read(any_store: Store) -> None:
    walk = returned(any_store, but=2)
    rows = rows_of(any_store, walk.round.id)
    reasons = {rows[-2].uid: Reason.OFF, rows[-1].uid: Reason.LOCKED}
    assert sign(walk, reasons).state is RoundState.SIGNED_OFF
    kept = [row.not_read_reason for row in rows_of(any_store, walk.round.id)]
    assert kept == [None] * 4 + ["O", "K"]


def test_a_reason_for_a_row_that_was_read_is_refused(store: Store) -> None:
    walk = returned(store, but=1)
    rows = rows_of(store, walk.round.id)
    with pytest.raises(Invalid, match="1 problem"):
        sign(walk, {rows[-1].uid: Reason.OFF, rows[0].uid: Reason.OFF})


def test_two_readings_of_one_point_want_a_decision_first(store: Store) -> None:
    walk = returned(store)
    row = rows_of(store, walk.round.id)[0]
    read_row(store, row, source="person 2")
    assert [
        point.row_uid for point in read_sign_off(store, walk.engineer, walk.round.id, now=NOW).doubles
    ] == [row.uid]
    with pytest.raises(Invalid) as caught:
        sign(walk)
    assert caught.value.problems[0].found == "two readings"
    change(store, RoundPointRow, row.id, chosen_source="person 2")
    assert sign(walk).state is RoundState.SIGNED_OFF


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"category": 1}, "certified to collect"),
        ({"expires_on": date(2026, 11, 24)}, "ran out on 24 Nov 2026"),
    ],
)
def test_a_certificate_too_low_or_run_out_signs_nothing(
    store: Store, fields: dict[str, object], told: str
) -> None:
    walk = returned(store)
    certificate(store, walk, **fields)
    assert told in read_sign_off(store, walk.engineer, walk.round.id, now=NOW).why_not
    with pytest.raises(Conflict, match=told):
        sign(walk)


def test_a_certificate_is_valid_on_its_last_day(store: Store) -> None:
    walk = returned(store)
    certificate(store, walk, expires_on=NOW.date())
    assert sign(walk).state is RoundState.SIGNED_OFF


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.MANAGER, Role.ADMINISTRATOR])
def test_only_an_engineer_signs_off(store: Store, role: Role) -> None:
    walk = returned(store)
    with pytest.raises(Forbidden):
        sign_off_round(
            store,
            walk.plant.actor(role),
            walk.round.id,
            reasons={},
            version=walk.round.version,
            now=NOW,
        )


def test_an_issued_round_is_not_signed_off_before_anything_came_back(store: Store) -> None:
    walk = issued(store)
    with pytest.raises(Conflict, match="issued"):
        sign(walk)


def test_the_page_counts_read_with_reason_and_not_read(store: Store) -> None:
    walk = issued(store)
    first, second, *_ = rows_of(store, walk.round.id)
    read_row(store, first)
    read_row(store, second, reason="O")
    page = read_sign_off(store, walk.engineer, walk.round.id, now=NOW)
    assert (page.read, page.with_reason, len(page.not_read), page.points) == (1, 1, 4, 6)
