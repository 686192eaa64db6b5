"""Issuing: everything that is missing at once, rows in walking order, codes on sheets."""

from datetime import date

import pytest
from sqlalchemy import select

from service.domain.sheet_codes import ALPHABET, read_code
from service.domain.words import Access
from service.errors import Invalid
from service.storage import rounds
from service.storage.tables.people import PersonRow
from service.storage.tables.record import AuditRow
from service.storage.tables.register import EquipmentRow, InstrumentRow, PointRow
from service.storage.unit import Store
from service.usecases.rounds.edit import details_of, edit_round
from service.usecases.rounds.issue import issue_round
from service.usecases.rounds.permits import PermitFields, ask_permit
from service.usecases.rounds.plan import RoundWish, plan_round
from tests.builders import Role, build_plant
from tests.rounds.builders import DAY, NOW, Walk, change, cover, draft, issued, repaired_finding, rows_of


def refusals(walk: Walk) -> list[tuple[str, str]]:
    with pytest.raises(Invalid) as caught:
        issue_round(walk.store, walk.engineer, walk.round.id, version=walk.round.version, now=NOW)
    assert rows_of(walk.store, walk.round.id) == []
    return [(problem.where, problem.message) for problem in caught.value.problems]


def test_all_that_stands_in_the_way_is_told_at_once(store: Store) -> None:
    walk = draft(store, person=False, boards=3)
    first, second, third = walk.plant.equipment_ids
    cover(store, first)
    change(store, EquipmentRow, second, retired_at=NOW)
    for point_id in walk.plant.point_ids[12:]:
        change(store, PointRow, point_id, retired_at=NOW)
    told = refusals(walk)
    assert [where for where, _ in told] == ["round", "stop 1", "stop 2", "stop 3"]
    assert [message.split(",")[-1].strip() for _, message in told] == [
        "Nobody is named to walk it.",
        "Board 1 stands behind a hinged cover and no permit is asked for.",
        "Board 2 is retired.",
        "Board 3 has no point to read.",
    ]
    assert third


def test_a_permit_that_is_only_asked_for_is_enough_to_issue(store: Store) -> None:
    walk = draft(store)
    cover(store, walk.plant.equipment_ids[0], Access.BOLTED_COVER)
    with store.look() as unit:
        stop = rounds.stops_of(unit, walk.round.id)[0]
    ask_permit(
        store,
        walk.engineer,
        walk.round.id,
        site_id=stop.site_id,
        stop_ids=[stop.id],
        fields=PermitFields(),
        now=NOW,
    )
    result = issue_round(store, walk.engineer, walk.round.id, version=walk.round.version, now=NOW)
    assert "1 stop cannot be opened until number, from and to of the permit are typed." in result.warnings


REASON = "Checked against the reference body this morning: 0.3 K off."


def test_an_overdue_calibration_is_told_and_kept_with_the_reason(any_store: Store) -> None:
    walk = draft(any_store)
    change(any_store, InstrumentRow, walk.plant.instrument_id, calibration_due=date(2026, 12, 7))
    problems = refusals(walk)
    assert problems == [("form", "Camera 1 (IR-1) is due for calibration before the round is walked.")]
    result = issue_round(
        any_store,
        walk.engineer,
        walk.round.id,
        version=walk.round.version,
        now=NOW,
        calibration_reason=f" {REASON} ",
    )
    warning = "Calibration of Camera 1 (IR-1) was due on 2026-12-07."
    assert warning in result.warnings
    assert f"It goes out all the same: {REASON}" in result.warnings
    with any_store.look() as unit:
        note = rounds.moves_of(unit, walk.round.id)[-1].note
        assert warning in note
        assert REASON in note
        kept = unit.session.scalars(select(AuditRow.after).where(AuditRow.verb == "issue")).one()
        assert kept is not None
        assert kept["calibration_reason"] == REASON
        assert warning in kept["warnings"]


@pytest.mark.parametrize(
    ("due", "typed"),
    [(None, ""), (date(2026, 12, 8), ""), (date(2027, 1, 1), REASON)],
    ids=["not on record", "due on the day itself", "in date"],
)
def test_without_an_overdue_calibration_no_reason_is_asked_for_or_kept(
    store: Store, due: date | None, typed: str
) -> None:
    walk = draft(store)
    change(store, InstrumentRow, walk.plant.instrument_id, calibration_due=due)
    result = issue_round(
        store, walk.engineer, walk.round.id, version=walk.round.version, now=NOW, calibration_reason=typed
    )
    assert not [one for one in result.warnings if "alibration" in one or REASON in one]


def test_a_reason_that_cannot_be_kept_is_refused(store: Store) -> None:
    walk = draft(store)
    change(store, InstrumentRow, walk.plant.instrument_id, calibration_due=date(2026, 12, 7))
    for reason in ("x" * 2001, "\x07"):
        with pytest.raises(Invalid) as caught:
            issue_round(
                store,
                walk.engineer,
                walk.round.id,
                version=walk.round.version,
                now=NOW,
                calibration_reason=reason,
            )
        assert {problem.field for problem in caught.value.problems} == {"calibration_reason"}


def test_somebody_without_the_grant_cannot_be_issued_a_round(store: Store) -> None:
    walk = draft(store)
    change(store, PersonRow, walk.plant.people[Role.TECHNICIAN], active=False)
    assert ("round", "May not walk every site of this round, or has left.") in refusals(walk)


def test_a_manager_is_not_given_a_round(store: Store) -> None:
    walk = draft(store)
    details = details_of(walk.round)
    given = type(details)(
        **{n: getattr(details, n) for n in details.__slots__} | {"person_id": walk.plant.people[Role.MANAGER]}
    )
    with pytest.raises(Invalid):
        edit_round(store, walk.engineer, walk.round.id, given, version=walk.round.version, now=NOW)


def test_rows_are_made_in_walking_order_with_ids_of_their_own(any_store: Store) -> None:
    walk = issued(any_store, boards=2, bearings=1)
    rows = rows_of(any_store, walk.round.id)
    assert [row.position for row in rows] == list(range(1, len(rows) + 1))
    assert [row.point_id for row in rows] == walk.plant.point_ids
    assert len({row.uid for row in rows}) == len(rows) == 13
    assert all(row.uid.startswith("r") for row in rows)


def test_a_repaired_point_comes_back_as_read_again(store: Store) -> None:
    plant = build_plant(store)
    repaired_finding(store, plant, plant.point_ids[1], at=NOW)
    walk = draft(store, plant=plant)
    issue_round(store, walk.engineer, walk.round.id, version=walk.round.version, now=NOW)
    kinds = {row.point_id: row.visit_kind for row in rows_of(store, walk.round.id)}
    assert [kind for kind in kinds.values() if kind != "routine"] == ["read again"]
    assert kinds[plant.point_ids[1]] == "read again"


def test_each_sheet_has_its_own_code_that_finds_a_slip_of_the_pen(store: Store) -> None:
    walk = issued(store, boards=6)
    with store.look() as unit:
        codes = [stop.sheet_code or "" for stop in rounds.stops_of(unit, walk.round.id)]
    assert len(set(codes)) == 6
    for code in codes:
        assert read_code(code.lower().replace("-", " ")) == code
        plain = code.replace("-", "")
        slips = {plain[:i] + letter + plain[i + 1 :] for i in range(6) for letter in ALPHABET} - {plain}
        turns = {plain[:i] + plain[j] + plain[i + 1 : j] + plain[i] + plain[j + 1 :] for i in range(6) for j in range(i + 1, 6)}  # fmt: skip
        assert all(read_code(slip) is None for slip in slips | (turns - {plain}))


def test_a_route_gives_a_round_its_stops_without_the_retired_ones(store: Store) -> None:
    from service.usecases.rounds.routes import create_route

    plant = build_plant(store, boards=3)
    order = plant.equipment_ids[::-1]
    route = create_route(
        store, plant.actor(), client_id=plant.client_id, name="South", equipment_ids=order, now=NOW
    )
    change(store, EquipmentRow, order[0], retired_at=NOW)
    round_ = plan_round(store, plant.actor(), RoundWish(name="S", planned_on=DAY, route_id=route.id), now=NOW)
    with store.look() as unit:
        assert [stop.equipment_id for stop in rounds.stops_of(unit, round_.id)] == order[1:]
    assert round_.code == "MW-261208-1"


def test_rounds_of_one_day_are_numbered(store: Store) -> None:
    plant = build_plant(store)
    wish = RoundWish(name="S", planned_on=DAY, equipment_ids=tuple(plant.equipment_ids))
    codes = [plan_round(store, plant.actor(), wish, now=NOW).code for _ in range(3)]
    assert codes == ["MW-261208-1", "MW-261208-2", "MW-261208-3"]


def test_a_round_without_anything_to_walk_to_is_refused(store: Store) -> None:
    plant = build_plant(store)
    with pytest.raises(Invalid) as caught:
        plan_round(store, plant.actor(), RoundWish(name=" ", planned_on=DAY), now=NOW)
    assert [problem.field for problem in caught.value.problems] == ["name", "equipment"]
