"""From an accusing reading to a proven repair, and the ways it can go wrong."""

from datetime import UTC, date, datetime, timedelta

import pytest

from service.domain.desk import Waiting
from service.domain.findings import FindingFile
from service.domain.words import FindingState, Level, Role
from service.errors import Conflict, Forbidden, Invalid, NotFound, Stale
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from service.usecases.findings import move_finding as moves
from service.usecases.findings.desk import see_desk
from service.usecases.findings.list_findings import list_findings
from service.usecases.findings.open_finding import FindingFields, open_off_round, open_on_point
from service.usecases.findings.repair_fields import RepairFields
from tests.builders import Plant, build_plant
from tests.readings.builders import Issued, issue

JAN, FEB, MAR, APR = (datetime(2026, month, 12, 8, 0, tzinfo=UTC) for month in (1, 2, 3, 4))


@pytest.fixture
def plant(any_store: Store) -> Plant:
    ensure_presets(any_store, now=JAN)
    return build_plant(any_store)


def walk(store: Store, plant: Plant, at: datetime, *, hot_k: float = 0.0, amps: float = 90.0) -> Issued:
    """One round in which the first point reads ``hot_k`` over its like parts."""
    made = issue(store, plant=plant, walked_at=at)
    made.bring(
        [made.record(n, 40.0 + (hot_k if n == 0 else 0.0), current_a=amps) for n in range(len(made.rows))]
    )
    return made


def open_one(store: Store, made: Issued, **fields: object) -> FindingFile:
    return open_on_point(
        store, made.engineer, point_id=made.rows[0][2], fields=FindingFields(**fields), now=made.received_at
    )  # type: ignore[arg-type]


def opened_by_itself(store: Store, made: Issued) -> FindingFile:
    """An Act now opens its finding in the upload, so that nobody has to find it first."""
    (finding,) = list_findings(store, made.engineer)
    return moves.see_finding(store, made.engineer, finding_id=finding.id)


def mend(store: Store, made: Issued, file: FindingFile, *, at: datetime, **fields: object) -> FindingFile:
    repair = RepairFields(repaired_at=at, as_left="Joint remade, 22 N m", **fields)  # type: ignore[arg-type]
    return moves.record_repair(
        store, made.engineer, finding_id=file.finding.id, version=file.finding.version, repair=repair,
        now=at + timedelta(hours=1),
    )  # fmt: skip


def see(store: Store, made: Issued, file: FindingFile) -> FindingFile:
    return moves.see_finding(store, made.engineer, finding_id=file.finding.id)


def test_a_finding_takes_level_and_load_from_the_reading(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    finding = open_one(any_store, made).finding
    assert finding.level is Level.PLAN_REPAIR
    assert finding.value_k == pytest.approx(8.0)
    assert finding.load_ratio == pytest.approx(0.9)
    assert finding.state is FindingState.OPEN


def test_the_first_clearing_reading_at_its_load_proves_a_repair(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    file = mend(any_store, made, open_one(any_store, made), at=JAN + timedelta(days=10))
    assert file.finding.state is FindingState.REPAIRED
    walk(any_store, plant, FEB)
    file = see(any_store, made, file)
    assert file.finding.state is FindingState.PROVEN
    assert file.repairs[-1].outcome == "proven"
    desk = see_desk(any_store, made.engineer, now=FEB + timedelta(days=1))
    assert not [item for item in desk.items if item.point_id == made.rows[0][2]]


def test_a_reading_at_lower_load_does_not_prove_a_repair(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    file = mend(any_store, made, open_one(any_store, made), at=JAN + timedelta(days=10))
    walk(any_store, plant, FEB, amps=70.0)
    assert see(any_store, made, file).finding.state is FindingState.REPAIRED
    desk = see_desk(any_store, made.engineer, now=MAR)
    assert [item.finding_id for item in desk.of(Waiting.READ_AGAIN)] == [file.finding.id]


def test_a_repair_that_reads_hot_is_not_proven_and_opens_the_next_attempt(
    any_store: Store, plant: Plant
) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    file = mend(any_store, made, open_one(any_store, made), at=JAN + timedelta(days=10))
    walk(any_store, plant, FEB, hot_k=6.0)
    file = see(any_store, made, file)
    assert file.finding.state is FindingState.NOT_PROVEN
    assert file.finding.attempt == 2
    assert file.repairs[0].outcome == "not proven"
    file = mend(any_store, made, file, at=FEB + timedelta(days=3))
    walk(any_store, plant, MAR)
    file = see(any_store, made, file)
    assert file.finding.state is FindingState.PROVEN
    assert [repair.outcome for repair in file.repairs] == ["not proven", "proven"]


def test_the_next_round_confirms_or_reopens_a_proven_repair(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    file = mend(any_store, made, open_one(any_store, made), at=JAN + timedelta(days=10))
    walk(any_store, plant, FEB)
    walk(any_store, plant, MAR, hot_k=7.0)
    file = see(any_store, made, file)
    assert file.finding.state is FindingState.NOT_PROVEN

    file = mend(any_store, made, file, at=MAR + timedelta(days=3))
    walk(any_store, plant, APR)
    walk(any_store, plant, APR + timedelta(days=30))
    walk(any_store, plant, APR + timedelta(days=60), hot_k=7.0)
    file = see(any_store, made, file)
    assert file.finding.state is FindingState.PROVEN, "confirmed: a later rise is a new finding"


def test_act_now_waits_on_top_until_somebody_was_told(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=25.0)
    desk = see_desk(any_store, made.engineer, now=made.received_at)
    assert desk.items[0].waiting is Waiting.TELL
    file = opened_by_itself(any_store, made)
    assert file.finding.wants_telling
    file = moves.tell(
        any_store, made.technician, finding_id=file.finding.id, told_whom="Shift lead", told_at=made.received_at,
        answer="Load is moved to feeder 2", now=made.received_at,
    )  # fmt: skip
    assert not file.finding.wants_telling
    assert file.tellings[0].answer == "Load is moved to feeder 2"
    assert not see_desk(any_store, made.engineer, now=made.received_at).of(Waiting.TELL)


def test_an_act_now_is_not_set_aside_before_a_manager_took_its_risk(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=25.0)
    file = opened_by_itself(any_store, made)
    with pytest.raises(Conflict, match="accepted its risk"):
        moves.set_aside(
            any_store, made.engineer, finding_id=file.finding.id, version=file.finding.version, reason="later",
            review_on=date(2026, 6, 1), now=made.received_at,
        )  # fmt: skip
    with pytest.raises(Forbidden):
        moves.accept_risk(
            any_store, made.engineer, finding_id=file.finding.id, version=file.finding.version, note="mine",
            now=made.received_at,
        )  # fmt: skip
    manager = plant.actor(Role.MANAGER)
    file = moves.accept_risk(
        any_store, manager, finding_id=file.finding.id, version=file.finding.version,
        note="Until the outage on 3 May", now=made.received_at,
    )  # fmt: skip
    assert file.finding.risk_accepted_by == manager.name


def test_a_point_has_one_live_finding(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    open_one(any_store, made)
    with pytest.raises(Conflict, match="has a finding already"):
        open_one(any_store, made)


def test_the_second_finding_within_24_months_asks_for_the_root_cause(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    mend(any_store, made, open_one(any_store, made), at=JAN + timedelta(days=10))
    walk(any_store, plant, FEB)
    walk(any_store, plant, MAR)
    again = walk(any_store, plant, APR, hot_k=8.0)
    assert open_one(any_store, again).wants_root_cause


def test_a_hot_part_off_the_round_needs_only_its_place(any_store: Store, plant: Plant) -> None:
    technician = plant.actor(Role.TECHNICIAN)
    with pytest.raises(Invalid):
        open_off_round(
            any_store, technician, site_id=plant.site_ids[0], place="  ", fields=FindingFields(), now=JAN
        )
    file = open_off_round(
        any_store, technician, site_id=plant.site_ids[0], place="Blower house, second door", picture="TH_0042",
        temperature_c=88.0, fields=FindingFields(), now=JAN,
    )  # fmt: skip
    assert file.finding.point_id is None
    assert "88 °C" in file.finding.title
    desk = see_desk(any_store, plant.actor(), now=JAN)
    assert [item.finding_id for item in desk.of(Waiting.OFF_ROUND)] == [file.finding.id]


def test_a_stale_edit_is_refused_and_nothing_changes(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    file = open_one(any_store, made)
    kept = moves.edit_finding(
        any_store, made.engineer, finding_id=file.finding.id, version=file.finding.version,
        fields=FindingFields(work_order="W-1"), now=JAN,
    )  # fmt: skip
    with pytest.raises(Stale):
        moves.edit_finding(
            any_store, made.engineer, finding_id=file.finding.id, version=file.finding.version,
            fields=FindingFields(work_order="W-2"), now=JAN,
        )  # fmt: skip
    assert see(any_store, made, kept).finding.work_order == "W-1"


def test_a_repair_tells_every_problem_at_once(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    file = open_one(any_store, made)
    repair = RepairFields(repaired_at=MAR, as_left=" ", torque_left_nm=-3.0)
    with pytest.raises(Invalid) as refused:
        moves.record_repair(
            any_store,
            made.engineer,
            finding_id=file.finding.id,
            version=file.finding.version,
            repair=repair,
            now=JAN,
        )
    assert {problem.field for problem in refused.value.problems} == {
        "repaired_at",
        "as_left",
        "torque_left_nm",
    }
    assert see(any_store, made, file).finding.state is FindingState.OPEN


def test_a_finding_of_another_site_is_not_found(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, JAN, hot_k=8.0)
    file = open_one(any_store, made)
    stranger = plant.actor(sites=frozenset(), clients=frozenset())
    with pytest.raises(NotFound):
        moves.see_finding(any_store, stranger, finding_id=file.finding.id)
