"""An Act now that a typing slip opened: closed truthfully once the reading is put right, never before."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from service.domain.desk import Waiting
from service.domain.findings import READING_CORRECTED, FindingFile
from service.domain.people import Actor
from service.domain.words import FindingState, Level, Role
from service.errors import Conflict, Forbidden
from service.storage.readings import current_of_rows
from service.storage.tables.record import AuditRow
from service.storage.tables.rounds import RoundPointRow
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from service.usecases.findings import move_finding as moves
from service.usecases.findings.desk import see_desk
from service.usecases.findings.list_findings import list_findings
from service.usecases.rounds.correct import correct_reading
from service.usecases.rounds.decide_double import decide_double
from tests.builders import Plant, build_plant
from tests.readings.builders import Issued, issue

JAN = datetime(2026, 1, 12, 8, 0, tzinfo=UTC)
LATER = JAN + timedelta(days=1)
SLIP = "a digit too many"


@pytest.fixture
def plant(any_store: Store) -> Plant:
    ensure_presets(any_store, now=JAN)
    return build_plant(any_store)


def walk(store: Store, plant: Plant, *, first_c: float, at: datetime = JAN, second_c: float = 40.0) -> Issued:
    """One round in which the first two points read what is said and the others 40 °C."""
    made = issue(store, plant=plant, walked_at=at)
    degrees = {0: first_c, 1: second_c}
    made.bring([made.record(n, degrees.get(n, 40.0)) for n in range(len(made.rows))])
    return made


def act_now(store: Store, made: Issued, place: int = 0) -> FindingFile:
    found = [f for f in list_findings(store, made.engineer) if f.point_id == made.rows[place][2]]
    return moves.see_finding(store, made.engineer, finding_id=found[-1].id)


def correct(store: Store, made: Issued, place: int = 0, *, why: str = SLIP, **changes: Any) -> None:
    with store.look() as unit:
        row_id = unit.session.query(RoundPointRow.id).filter_by(uid=made.rows[place][0]).scalar()
        reading = next(r for r in current_of_rows(unit, [row_id]))
    correct_reading(
        store, made.engineer, reading.uid, revision=reading.revision, changes=changes, reason=why, key=None,
        now=LATER,
    )  # fmt: skip


def close(store: Store, actor: Actor, file: FindingFile) -> FindingFile:
    return moves.close_corrected(
        store, actor, finding_id=file.finding.id, version=file.finding.version, note="Read again on the spot",
        now=LATER,
    )  # fmt: skip


def test_an_act_now_opened_by_a_typing_slip_lived_on_after_the_correction(
    any_store: Store, plant: Plant
) -> None:
    made = walk(any_store, plant, first_c=401.0)
    file = act_now(any_store, made)
    assert file.finding.level is Level.ACT_NOW
    correct(any_store, made, temperature_c=40.1)
    file = act_now(any_store, made)
    assert file.standing is Level.NOTHING_FOUND
    assert not file.wants_telling
    file = close(any_store, made.engineer, file)
    finding = file.finding
    assert (finding.state, finding.outcome) == (FindingState.SET_ASIDE, READING_CORRECTED)
    assert finding.level is Level.ACT_NOW, "what it was opened as stays on record"
    assert finding.set_aside_reason == (
        "The reading behind it was corrected: a digit too many (401.0 °C, now 40.1 °C). Read again on the spot"
    )
    assert (finding.review_on, finding.risk_accepted_by, finding.closed_at) == (None, "", LATER)
    assert file.moves[-1].note == finding.set_aside_reason
    far = see_desk(any_store, made.engineer, now=LATER + timedelta(days=900))
    assert not [item for item in far.items if item.finding_id == finding.id], "it needs no review"


def test_the_desk_says_that_the_reading_behind_an_act_now_was_corrected(
    any_store: Store, plant: Plant
) -> None:
    made = walk(any_store, plant, first_c=401.0)
    assert see_desk(any_store, made.engineer, now=LATER).of(Waiting.TELL)
    correct(any_store, made, temperature_c=40.1)
    desk = see_desk(any_store, made.engineer, now=LATER)
    (item,) = desk.of(Waiting.TAKEN_BACK)
    assert item.detail == "The reading behind it was corrected: a digit too many (401.0 °C, now 40.1 °C)."
    assert item.level is Level.NOTHING_FOUND, "told at what the part stands at, not at what was typed"
    assert not desk.of(Waiting.TELL)


def test_whom_was_told_stays_and_they_should_hear_of_the_correction(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, first_c=401.0)
    file = act_now(any_store, made)
    moves.tell(
        any_store, made.technician, finding_id=file.finding.id, told_whom="Shift lead", told_at=JAN,
        answer="Feeder is off", now=LATER,
    )  # fmt: skip
    correct(any_store, made, temperature_c=40.1)
    (item,) = see_desk(any_store, made.engineer, now=LATER).of(Waiting.TAKEN_BACK)
    assert item.detail.endswith("Who was told should hear it.")
    file = close(any_store, made.engineer, act_now(any_store, made))
    assert [(told.told_whom, told.answer) for told in file.tellings] == [("Shift lead", "Feeder is off")]


def test_what_the_part_really_shows_waits_for_its_own_decision(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, first_c=480.0)
    correct(any_store, made, temperature_c=48.0)
    file = close(any_store, made.engineer, act_now(any_store, made))
    assert file.standing is Level.PLAN_REPAIR
    (item,) = see_desk(any_store, made.engineer, now=LATER).of(Waiting.DECIDE)
    assert (item.point_id, item.level) == (made.rows[0][2], Level.PLAN_REPAIR)


@pytest.mark.parametrize(
    "changes",
    [{}, {"note": "label smudged"}, {"temperature_c": 399.0}],
    ids=["nothing was corrected", "only a note was", "it still says Act now"],
)
def test_an_act_now_that_a_valid_reading_says_is_not_closed_as_corrected(
    any_store: Store, plant: Plant, changes: dict[str, Any]
) -> None:
    made = walk(any_store, plant, first_c=401.0)
    if changes:
        correct(any_store, made, **changes)
    with pytest.raises(Conflict, match="No reading behind this finding was corrected"):
        close(any_store, made.engineer, act_now(any_store, made))
    assert see_desk(any_store, made.engineer, now=LATER).of(Waiting.TELL)
    assert not see_desk(any_store, made.engineer, now=LATER).of(Waiting.TAKEN_BACK)


def test_a_second_act_now_keeps_the_finding_alive_when_the_first_was_a_slip(
    any_store: Store, plant: Plant
) -> None:
    made = walk(any_store, plant, first_c=401.0)
    walk(any_store, plant, first_c=90.0, at=JAN + timedelta(days=30))
    correct(any_store, made, temperature_c=40.1)
    file = act_now(any_store, made)
    assert file.standing is Level.ACT_NOW
    with pytest.raises(Conflict):
        close(any_store, made.engineer, file)


def test_cooler_visits_since_do_not_take_an_act_now_back(any_store: Store, plant: Plant) -> None:
    """The standing falls by two lower visits; the reading that said Act now was none the less right."""
    made = walk(any_store, plant, first_c=90.0)
    for days in (30, 60, 90, 120):
        walk(any_store, plant, first_c=40.0, at=JAN + timedelta(days=days))
    file = act_now(any_store, made)
    assert file.standing is not Level.ACT_NOW
    assert file.taken_back is None
    with pytest.raises(Conflict):
        close(any_store, made.engineer, file)


def test_a_slip_on_a_like_part_that_made_this_one_hot_takes_it_back_too(
    any_store: Store, plant: Plant
) -> None:
    """Two of three typed ten degrees too low: the third stood over them by as much."""
    made = issue(any_store, plant=plant, walked_at=JAN)
    low = {1: 14.0, 2: 14.0}
    made.bring([made.record(n, low.get(n, 40.0), ambient_c=10.0) for n in range(len(made.rows))])
    file = act_now(any_store, made)
    for place in (1, 2):
        correct(any_store, made, place, temperature_c=40.0)
    file = act_now(any_store, made)
    assert file.taken_back is not None
    assert not file.taken_back.corrected
    assert "judged anew" in file.taken_back.sentence
    assert close(any_store, made.engineer, file).finding.outcome == READING_CORRECTED


def test_choosing_the_other_of_two_readings_takes_it_back(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, first_c=401.0)
    made.bring([made.record(0, 40.0)], actor=made.engineer)
    decide_double(
        any_store, made.engineer, round_id=made.round_id, row_uid=made.rows[0][0],
        source=f"person {made.engineer.person_id}", now=LATER,
    )  # fmt: skip
    file = act_now(any_store, made)
    assert file.taken_back is not None
    assert close(any_store, made.engineer, file).finding.state is FindingState.SET_ASIDE


def test_a_reading_that_turns_out_to_be_none_at_all_takes_it_back(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, first_c=401.0)
    correct(any_store, made, temperature_c=None, reason="K", why="typed on the wrong row")
    file = act_now(any_store, made)
    assert file.taken_back is not None
    assert file.taken_back.sentence.endswith("(401.0 °C, now not read)")
    assert close(any_store, made.engineer, file).finding.state is FindingState.SET_ASIDE


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.MANAGER, Role.ADMINISTRATOR])
def test_only_engineers_close_it(any_store: Store, plant: Plant, role: Role) -> None:
    made = walk(any_store, plant, first_c=401.0)
    correct(any_store, made, temperature_c=40.1)
    with pytest.raises(Forbidden):
        close(any_store, plant.actor(role), act_now(any_store, made))


def test_closing_is_in_the_audit_trail_with_its_reason(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, first_c=401.0)
    correct(any_store, made, temperature_c=40.1)
    file = close(any_store, made.engineer, act_now(any_store, made))
    with any_store.look() as unit:
        row = unit.session.query(AuditRow).order_by(AuditRow.id.desc()).first()
        assert row is not None
        assert (row.verb, row.noun, row.noun_id) == ("set aside", "finding", file.finding.id)
        assert row.after is not None
        assert row.after["outcome"] == READING_CORRECTED
        assert SLIP in row.after["set_aside_reason"]


def test_a_plain_set_aside_of_it_still_asks_for_a_manager(any_store: Store, plant: Plant) -> None:
    made = walk(any_store, plant, first_c=401.0)
    correct(any_store, made, temperature_c=40.1)
    file = act_now(any_store, made)
    with pytest.raises(Conflict, match="accepted its risk"):
        moves.set_aside(
            any_store, made.engineer, finding_id=file.finding.id, version=file.finding.version, reason="slip",
            review_on=date(2026, 6, 1), now=LATER,
        )  # fmt: skip
