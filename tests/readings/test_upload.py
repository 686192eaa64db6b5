"""What becomes of a returned round: stored once, judged, remembered; on both databases."""

import threading
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import event, func, select

from service.domain.people import Actor
from service.domain.readings import UploadResult
from service.domain.rounds import Round
from service.domain.words import Access, Level, Role
from service.errors import Conflict, Forbidden, Invalid, KeyReused, NotFound, RiselineError, Stale
from service.storage import rounds
from service.storage.tables.findings import FindingRow
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import (
    AssessmentRow,
    PointStateRow,
    ReadingRow,
    SiteMonthRow,
    SiteStateRow,
    StandingChangeRow,
)
from service.storage.tables.record import IdempotencyKeyRow, JobRow
from service.storage.tables.register import ClientRow, EquipmentRow
from service.storage.tables.rounds import RoundRow, UploadRow
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from service.usecases.rounds.correct import correct_reading
from service.usecases.rounds.decide_double import decide_double, list_doubles
from service.usecases.rounds.due import refresh_due
from service.usecases.rounds.permits import PermitFields, ask_permit
from tests.builders import Plant, build_plant
from tests.conftest import NOW
from tests.readings.builders import Issued, issue


def count(store: Store, table: Any) -> int:
    with store.look() as unit:
        return unit.session.scalar(select(func.count()).select_from(table)) or 0


def state_of(store: Store, point_id: int) -> PointStateRow:
    with store.look() as unit:
        state = unit.session.get(PointStateRow, point_id)
        assert state is not None
        unit.session.expunge(state)
        return state


def current(store: Store, point_id: int) -> list[AssessmentRow]:
    with store.look() as unit:
        query = select(AssessmentRow).where(AssessmentRow.point_id == point_id, AssessmentRow.current)
        rows = list(unit.session.scalars(query.order_by(AssessmentRow.taken_at, AssessmentRow.id)))
        unit.session.expunge_all()
        return rows


def sign_off(store: Store, round_id: int) -> None:
    with store.begin() as unit:
        row = unit.session.get(RoundRow, round_id)
        assert row is not None
        row.state = "signed off"


def test_a_round_comes_back_whole(any_store: Store) -> None:
    issued = issue(any_store, boards=1, views=2)
    records = issued.all_records()
    records[1]["temperature_c"] = 52.0
    result = issued.bring(records)
    assert (result.rows_new, result.rows_equal, result.still_not_read) == (6, 0, 0)
    assert result.levels == {"Plan repair": 1, "Nothing found": 5}
    assert count(any_store, ReadingRow) == count(any_store, AssessmentRow) == 6
    hot = state_of(any_store, issued.rows[1][2])
    assert (hot.level, hot.value_k, hot.reading_level, hot.pending) == (Level.PLAN_REPAIR, 12.0, 2, True)
    assert hot.act_line_k == 15.0
    assert 2 < (hot.height_now or 0) <= 4
    assert hot.due_on is not None
    with any_store.look() as unit:
        round_ = unit.session.get(RoundRow, issued.round_id)
        assert round_ is not None
        assert round_.state == "returned"
        job = unit.session.scalars(select(JobRow)).one()
        assert (job.kind, sorted(job.payload["point_ids"])) == (
            "assess trends",
            sorted(r[2] for r in issued.rows),
        )
        month = unit.session.scalars(select(SiteMonthRow)).one()
        assert (month.month, month.level_0, month.level_2, month.points_read) == ("2026-01", 5, 1, 6)
        site = unit.session.scalars(select(SiteStateRow)).one()
        assert site.data_version >= 1
        changes = unit.session.scalars(select(StandingChangeRow.level)).all()
        assert sorted(level or 0 for level in changes) == [0, 0, 0, 0, 0, 2]


def test_one_bad_row_stores_nothing_and_every_bad_row_is_told(any_store: Store) -> None:
    issued = issue(any_store, boards=1, views=2)
    records = issued.all_records()
    records[2]["temperature_c"] = "hot"
    records[4] |= {"row_uid": "unknown"}
    with pytest.raises(Invalid) as caught:
        issued.bring(records)
    assert {(p.where, p.field) for p in caught.value.problems} == {
        ("row 3", "temperature_c"),
        ("row 5", "row_uid"),
    }
    for table in (ReadingRow, AssessmentRow, PointStateRow, UploadRow, IdempotencyKeyRow, JobRow):
        if table is not PointStateRow:
            assert count(any_store, table) == 0


def test_the_same_send_gets_the_same_reply(any_store: Store) -> None:
    issued = issue(any_store)
    records = issued.all_records()
    first = issued.bring(records, key="send-1")
    again = issued.bring(records, key="send-1", now=issued.received_at + timedelta(days=30))
    assert again == first
    assert count(any_store, ReadingRow) == len(records)
    with pytest.raises(KeyReused):
        issued.bring(records[:2], key="send-1")


def test_the_same_content_by_another_is_stored_once(any_store: Store) -> None:
    issued = issue(any_store)
    first = issued.bring(issued.all_records(), key="a")
    second = issued.bring(issued.all_records(), actor=issued.engineer, key="b")
    assert second == first
    assert count(any_store, ReadingRow) == len(issued.rows)
    assert count(any_store, UploadRow) == 1


def test_two_people_sending_one_file_at_once_store_it_once(any_store: Store) -> None:
    issued = issue(any_store, boards=2)
    records = issued.all_records()
    gate = threading.Barrier(2)
    results: list[UploadResult | RiselineError] = []

    def send(actor: Any, key: str) -> None:
        gate.wait()
        try:
            results.append(issued.bring(records, actor=actor, key=key))
        except RiselineError as error:
            results.append(error)

    sends = [
        threading.Thread(target=send, args=pair)
        for pair in ((issued.technician, "a"), (issued.engineer, "b"))
    ]
    for one in sends:
        one.start()
    for one in sends:
        one.join()
    assert results[0] == results[1]
    assert isinstance(results[0], UploadResult)
    assert count(any_store, ReadingRow) == len(records)


def test_equal_rows_are_skipped_and_changed_ones_ask_a_reason(any_store: Store) -> None:
    issued = issue(any_store)
    records = issued.all_records()
    issued.bring(records)
    changed = [dict(record) for record in records]
    changed[0]["temperature_c"] = 44.0
    with pytest.raises(Invalid) as caught:
        issued.bring(changed)
    assert [(p.where, p.field) for p in caught.value.problems] == [("row 1", "correction_reason")]
    changed[0]["correction_reason"] = "read the wrong lug"
    result = issued.bring(changed)
    assert (result.rows_new, result.rows_corrected, result.rows_equal) == (0, 1, len(records) - 1)
    with any_store.look() as unit:
        revisions = unit.session.execute(
            select(ReadingRow.revision, ReadingRow.temperature_c, ReadingRow.correction_reason)
            .where(ReadingRow.point_id == issued.rows[0][2])
            .order_by(ReadingRow.revision)
        ).all()
    assert [tuple(r) for r in revisions] == [(1, 40.0, ""), (2, 44.0, "read the wrong lug")]
    late = issued.bring(records[:1])
    assert (late.rows_equal, late.rows_corrected) == (1, 0), "the first send again is no correction"


def test_a_corrected_round_stands_as_if_it_had_been_right(any_store: Store) -> None:
    plant = build_plant(any_store, boards=1, views=1)
    issued = issue(any_store, plant=plant)
    wrong = issued.all_records()
    wrong[1]["temperature_c"] = 400.0
    issued.bring(wrong)
    assert state_of(any_store, issued.rows[1][2]).level == Level.ACT_NOW
    right = [dict(record) for record in wrong]
    right[1] |= {"temperature_c": 40.0, "correction_reason": "digit slip"}
    issued.bring(right)
    for _uid, _tag, point_id, _view in issued.rows:
        state = state_of(any_store, point_id)
        assert (state.level, state.last_temperature_c, state.value_k) == (0, 40.0, 0.0)
        assert [a.level for a in current(any_store, point_id)] == [0]


def test_a_round_that_comes_late_is_folded_in_its_place(any_store: Store) -> None:
    """Brought out of order, the points stand as they do when brought in order."""
    plant = build_plant(any_store, boards=1, views=2)
    days = [date(2026, 1, 12), date(2026, 2, 12), date(2026, 3, 12)]
    rounds = [issue(any_store, plant=plant, day=day) for day in days]
    temperatures = [(40.0, 41.5, 40.0), (40.0, 42.0, 40.0), (40.0, 40.2, 40.0)]

    def records(place: int) -> list[dict[str, Any]]:
        return [rounds[place].record(n, temperatures[place][n % 3]) for n in range(6)]

    received = rounds[2].received_at
    rounds[0].bring(records(0))
    rounds[2].bring(records(2))
    rounds[1].bring(records(1), now=received + timedelta(days=3))
    late = [state_of(any_store, row[2]) for row in rounds[0].rows]

    other = build_plant_again(any_store, boards=1, views=2)
    again = [issue(any_store, plant=other, day=day) for day in days]
    for place, one in enumerate(again):
        one.bring([one.record(n, temperatures[place][n % 3]) for n in range(6)])
    in_order = [state_of(any_store, row[2]) for row in again[0].rows]
    same = (
        "level",
        "reading_level",
        "at_least",
        "lower_run",
        "clear_run",
        "previous_over_first_line",
        "last_read_at",
        "last_cleared_at",
        "last_rule",
        "last_sentence",
        "value_k",
        "common_k",
        "baseline_k",
        "baseline_visits",
        "height_now",
    )
    for a, b in zip(late, in_order, strict=True):
        assert {n: getattr(a, n) for n in same} == {n: getattr(b, n) for n in same}
    assert [a.rule for a in current(any_store, rounds[0].rows[1][2])] == [
        a.rule for a in current(any_store, again[0].rows[1][2])
    ]
    assert late[1].level == Level.LOOK_AGAIN, "two visits running over the first line, one clear one after"


def build_plant_again(store: Store, **kinds: int) -> Plant:
    """A second plant, of another client."""
    with store.begin() as unit:
        for table, column in ((ClientRow, "code"), (PersonRow, "login")):
            for row in unit.session.scalars(select(table)):
                setattr(row, column, f"{getattr(row, column)}-before")
    return build_plant(store, **kinds)


def test_a_view_brought_in_parts_is_judged_whole(any_store: Store) -> None:
    issued = issue(any_store, boards=1, views=1)
    issued.bring([issued.record(0, 60.0)])
    alone = current(any_store, issued.rows[0][2])[0]
    assert alone.reference != "over like parts"
    issued.bring([issued.record(1, 40.0)])
    issued.bring([issued.record(2, 40.0)])
    whole = current(any_store, issued.rows[0][2])
    assert [(a.reference, a.value_k, a.level) for a in whole] == [("over like parts", 20.0, 4)]
    assert count(any_store, AssessmentRow) > 3, "what it said before stays as history"


def test_only_another_sources_reading_is_a_second_one(any_store: Store) -> None:
    issued = issue(any_store, boards=1, views=1)
    issued.bring(issued.all_records())
    hot = [issued.record(1, 47.0), issued.record(2, 40.0)]
    result = issued.bring(hot, actor=issued.engineer)
    assert (result.rows_new, result.rows_second, result.rows_equal) == (1, 1, 1)
    point = issued.rows[1][2]
    both = current(any_store, point)
    assert sorted((a.level, a.counts_level, a.counts_trend) for a in both) == [
        (0, False, False),
        (2, True, False),
    ]
    assert state_of(any_store, point).level == Level.PLAN_REPAIR, "the worse feeds the level"
    _, doubles = list_doubles(any_store, issued.engineer, round_id=issued.round_id)
    assert [(d.point_id, d.chosen, len(d.readings)) for d in doubles] == [(point, None, 2)]
    assert len(set(doubles[0].readers.values())) == 2, "each reading is told by its reader's name"
    with pytest.raises(Forbidden):
        decide_double(
            any_store,
            issued.technician,
            round_id=issued.round_id,
            row_uid=doubles[0].row_uid,
            source="person 1",
            now=issued.received_at,
        )
    decide_double(
        any_store,
        issued.engineer,
        round_id=issued.round_id,
        row_uid=doubles[0].row_uid,
        source=f"person {issued.technician.person_id}",
        now=issued.received_at,
    )
    decided = current(any_store, point)
    assert sorted((a.level, a.counts_level, a.counts_trend) for a in decided) == [
        (0, True, True),
        (2, False, False),
    ]
    assert state_of(any_store, point).level == Level.NOTHING_FOUND
    assert count(any_store, ReadingRow) == 4, "both stay stored"


def test_an_act_now_is_a_finding_at_once(any_store: Store) -> None:
    issued = issue(any_store, boards=1, views=1)
    records = issued.all_records()
    records[1]["temperature_c"] = 80.0
    result = issued.bring(records)
    (act,) = result.act_now
    assert act.point_id == issued.rows[1][2]
    assert "Act now" in act.sentence
    with any_store.look() as unit:
        finding = unit.session.get(FindingRow, act.finding_id)
        assert finding is not None
        assert (finding.state, finding.level, finding.value_k) == ("open", 4, 40.0)
    assert state_of(any_store, act.point_id).finding_id == act.finding_id
    later = issue(any_store, plant=issued.plant, day=date(2026, 2, 12))
    again = [later.record(n, 80.0 if n == 1 else 40.0) for n in range(3)]
    assert later.bring(again).act_now[0].finding_id == act.finding_id, "a live finding is not opened twice"
    assert count(any_store, FindingRow) == 1


def test_a_hot_part_off_the_round_is_a_finding_without_register_entry(any_store: Store) -> None:
    issued = issue(any_store)
    part = {"place": "Cable tray over pump 2", "temperature_c": 88.0, "picture": "412", "note": "smells"}
    result = issued.bring([issued.record(0), part])
    assert result.off_round == 1
    with any_store.look() as unit:
        finding = unit.session.get(FindingRow, result.finding_ids[0])
        assert finding is not None
        assert (finding.point_id, finding.place, finding.picture) == (None, "Cable tray over pump 2", "412")
        assert "88" in finding.title
    again = issued.bring([issued.record(0), issued.record(1), part])
    assert (again.off_round, again.rows_equal) == (0, 2)
    assert count(any_store, FindingRow) == 1


def test_a_reason_is_no_verdict_and_the_point_stays_due(any_store: Store) -> None:
    issued = issue(any_store, boards=1, views=1)
    due = {
        row[2]: state_of(any_store, row[2]).due_on if has_state(any_store, row[2]) else None
        for row in issued.rows
    }
    result = issued.bring([issued.record(0, None, reason="K"), issued.record(1), issued.record(2)])
    assert result.not_assessable == 1
    state = state_of(any_store, issued.rows[0][2])
    assert (state.level, state.last_read_at, state.last_cleared_at) == (None, None, None)
    assert "locked or no permit" in state.last_sentence
    assert state.due_on == due[issued.rows[0][2]] or state.due_on is not None


def has_state(store: Store, point_id: int) -> bool:
    with store.look() as unit:
        return unit.session.get(PointStateRow, point_id) is not None


def test_low_load_accuses_and_never_clears(any_store: Store) -> None:
    """12 K over like parts at 30 % load reads "at least Plan repair" (issue 2; design law 1)."""
    issued = issue(any_store, boards=1, views=1)
    issued.bring([issued.record(n, t, current_a=30.0) for n, t in enumerate((37.0, 49.0, 37.0))])
    hot, cool = state_of(any_store, issued.rows[1][2]), state_of(any_store, issued.rows[0][2])
    assert (hot.level, hot.at_least) == (Level.PLAN_REPAIR, True)
    assert (cool.level, cool.last_cleared_at) == (None, None)


def test_a_reading_without_a_permit_is_kept_and_marked(any_store: Store) -> None:
    plant = build_plant(any_store, boards=1, views=1)
    with any_store.begin() as unit:
        board = unit.session.get(EquipmentRow, plant.equipment_ids[0])
        assert board is not None
        board.access = Access.BOLTED_COVER.value
    issued = issue_with_permit(any_store, plant)
    result = issued.bring([issued.record(0), issued.record(1, None, reason="K")])
    assert result.without_permit == 1
    with any_store.look() as unit:
        marks = unit.session.scalars(select(ReadingRow.no_permit_recorded).order_by(ReadingRow.id)).all()
    assert list(marks) == [True, False]


def issue_with_permit(store: Store, plant: Any) -> Issued:
    """Issued with a permit that is asked for, without number and hours."""

    def ask(round_: Round, engineer: Actor, now: datetime) -> None:
        with store.look() as unit:
            stops = [stop.id for stop in rounds.stops_of(unit, round_.id)]
        ask_permit(
            store,
            engineer,
            round_.id,
            site_id=plant.site_ids[0],
            stop_ids=stops,
            fields=PermitFields(),
            now=now,
        )

    return issue(store, plant=plant, before_issue=ask)


def test_after_sign_off_only_an_engineer_revises(any_store: Store) -> None:
    issued = issue(any_store, boards=1, views=1)
    issued.bring(issued.all_records())
    sign_off(any_store, issued.round_id)
    more = issued.all_records(41.0)
    with pytest.raises(Conflict):
        issued.bring(more)
    uid = reading_uid(any_store, issued.rows[1][2])
    change = {"revision": 1, "changes": {"temperature_c": 46.0}, "reason": "typed 40 for 46", "key": None}
    with pytest.raises(Forbidden):
        correct_reading(any_store, issued.technician, uid, **change, now=issued.received_at)
    corrected = correct_reading(any_store, issued.engineer, uid, **change, now=issued.received_at)
    assert (corrected.revision, corrected.temperature_c, corrected.current_a) == (2, 46.0, 90.0)
    assert state_of(any_store, issued.rows[1][2]).level == Level.PLAN_REPAIR
    with pytest.raises(Stale):
        correct_reading(any_store, issued.engineer, uid, **change, now=issued.received_at)


def reading_uid(store: Store, point_id: int) -> str:
    with store.look() as unit:
        uid = unit.session.scalar(select(ReadingRow.uid).where(ReadingRow.point_id == point_id))
        assert uid is not None
        return uid


def test_a_correction_needs_a_reason_and_a_change(any_store: Store) -> None:
    issued = issue(any_store, boards=1, views=1)
    issued.bring(issued.all_records())
    uid = reading_uid(any_store, issued.rows[0][2])
    for changes, reason, field in (
        ({"temperature_c": 41.0}, " ", "reason"),
        ({"temperature_c": 40.0}, "same", ""),
        ({"temperature_c": "hot"}, "typo", "temperature_c"),
        ({"point_tag": "other"}, "typo", "point_tag"),
    ):
        with pytest.raises(Invalid) as caught:
            correct_reading(
                any_store,
                issued.engineer,
                uid,
                revision=1,
                changes=changes,
                reason=reason,
                key=None,
                now=issued.received_at,
            )
        assert field in {p.field for p in caught.value.problems}
    assert count(any_store, ReadingRow) == 3


def test_a_round_takes_no_readings_before_issue_or_from_strangers(any_store: Store) -> None:
    issued = issue(any_store)
    with any_store.begin() as unit:
        row = unit.session.get(RoundRow, issued.round_id)
        assert row is not None
        row.person_id = None
    with pytest.raises(NotFound):
        issued.bring(issued.all_records())
    with pytest.raises(Forbidden):
        issued.bring(issued.all_records(), actor=issued.plant.actor(Role.MANAGER))
    with pytest.raises(NotFound):
        issued.bring(issued.all_records(), actor=issued.plant.actor(sites=frozenset({999})))


def test_the_number_of_queries_does_not_depend_on_the_rows(store: Store) -> None:
    ensure_presets(store, now=NOW)
    counted = []
    for boards in (1, 12):
        plant = (
            build_plant(store, boards=boards, views=3)
            if boards == 1
            else build_plant_again(store, boards=boards, views=3)
        )
        first = issue(store, plant=plant, day=date(2026, 1, 12))
        second = issue(store, plant=plant, day=date(2026, 2, 12))
        statements = [0]

        def tell(*_: Any, statements: list[int] = statements) -> None:
            statements[0] += 1

        event.listen(store.engine, "before_cursor_execute", tell)
        first.bring(first.all_records())
        second.bring(second.all_records(41.0))
        event.remove(store.engine, "before_cursor_execute", tell)
        counted.append((len(first.rows), statements[0]))
    (few, few_queries), (many, many_queries) = counted
    assert many == 12 * few
    assert many_queries == few_queries


def test_a_stroke_begins_a_year_ago(any_store: Store) -> None:
    plant = build_plant(any_store, boards=1, views=1)
    for day, hot in ((date(2025, 1, 20), 41.0), (date(2025, 3, 10), 42.0), (date(2026, 1, 12), 46.0)):
        issued = issue(any_store, plant=plant, day=day)
        issued.bring([issued.record(n, hot if n == 1 else 40.0) for n in range(3)])
    state = state_of(any_store, issued.rows[1][2])
    assert state.year_ago_on is None, "both earlier visits accuse: nothing cleared"
    calm = state_of(any_store, issued.rows[0][2])
    assert calm.year_ago_on == date(2025, 1, 20), "of the clearing ones the nearest to a year back"
    assert calm.height_year_ago == 0.0


def test_due_days_need_no_second_look(any_store: Store) -> None:
    """What the upload writes is what the due rule says when it is asked again."""
    plant = build_plant(any_store, boards=1, views=2)
    for day, hot in ((date(2025, 1, 20), 40.0), (date(2025, 6, 10), 52.0)):
        issued = issue(any_store, plant=plant, day=day)
        records = [issued.record(n, hot if n == 1 else 40.0) for n in range(5)]
        records[3] |= {"current_a": 20.0}
        issued.bring([*records, issued.record(5, None, reason="O")])
    with any_store.begin() as unit:
        assert refresh_due(unit, plant.point_ids, NOW) == 0
    assert state_of(any_store, issued.rows[1][2]).due_reason.startswith("half the interval")


def test_a_clients_own_id_is_unique_for_ever(any_store: Store) -> None:
    issued = issue(any_store)
    issued.bring([issued.record(0, uid="phone-1-0001")])
    again = issued.bring([issued.record(0, uid="phone-1-0001"), issued.record(1, uid="phone-1-0002")])
    assert (again.rows_equal, again.rows_new) == (1, 1)
    with pytest.raises(Invalid) as caught:
        issued.bring([issued.record(2, uid="phone-1-0001")])
    assert [(p.where, p.field) for p in caught.value.problems] == [("row 1", "uid")]
