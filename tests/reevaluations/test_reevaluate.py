"""Changing settings after the visits: preview, commit, undo; readings untouched, history kept."""

from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import func, select, update

from service.domain.criteria_kept import KeptCriteria
from service.domain.reevaluation import Asked, NewValue
from service.domain.settings import inputs_of_text
from service.domain.words import Level, ReevaluationTarget, Role, SettingSource
from service.errors import Conflict, Forbidden, Invalid, NotFound
from service.storage.tables.readings import AssessmentRow, PointStateRow, ReadingRow, ReevaluationRow
from service.storage.tables.record import AuditRow
from service.storage.tables.register import CommonLoadRow, CriteriaSetRow, PointRow
from service.storage.unit import Store
from service.usecases.condition.criteria_sets import see_criteria
from service.usecases.condition.edit_criteria import copy_set
from service.usecases.reevaluations.reevaluate import (
    preview_reevaluation,
    reevaluate,
    undo_reevaluation,
)
from service.usecases.reevaluations.see import see_reevaluations
from service.usecases.rounds.correct import correct_reading
from tests.readings.builders import Issued, issue

REASON = "Emissivity found by contact comparison"
LATER = timedelta(days=20)


def walked(store: Store, *, hot: float = 46.0, **more: Any) -> Issued:
    """One visit of two views: a phase 2 K over its like parts, everything at 0.95 in the instrument."""
    issued = issue(store)
    settings = {"emissivity_set": 0.95, "reflected_set_c": 25.0, "reflected_c": 25.0} | more
    issued.bring([issued.record(place, hot if place == 0 else 44.0, **settings) for place in range(6)])
    return issued


def dull(value: float = 0.6) -> dict[str, NewValue]:
    return {"emissivity": NewValue(value, 0.03, SettingSource.MEASURED, "contact comparison")}


def asked_of(issued: Issued, target: ReevaluationTarget, **more: Any) -> Asked:
    ids = {
        ReevaluationTarget.POINT: issued.rows[0][2],
        ReevaluationTarget.ROUND: issued.round_id,
        ReevaluationTarget.SITE: issued.plant.site_ids[0],
    }
    return Asked(target, ids[target], more.pop("changes", dull()), **more)


def assessments(store: Store, point_id: int) -> list[AssessmentRow]:
    with store.look() as unit:
        query = select(AssessmentRow).where(AssessmentRow.point_id == point_id).order_by(AssessmentRow.id)
        rows = list(unit.session.scalars(query))
        unit.session.expunge_all()
        return rows


def everything(store: Store) -> list[list[tuple[Any, ...]]]:
    """All that a re-evaluation could touch."""
    tables = (AssessmentRow, PointStateRow, ReadingRow, ReevaluationRow, PointRow, CommonLoadRow)
    with store.look() as unit:
        return [
            [
                tuple(row)
                for row in unit.session.execute(
                    select(table.__table__).order_by(*table.__table__.primary_key)
                )
            ]
            for table in tables
        ]


def test_a_preview_tells_what_would_move_and_stores_nothing(any_store: Store) -> None:
    issued = walked(any_store)
    before = everything(any_store)
    told = preview_reevaluation(
        any_store,
        issued.engineer,
        asked=asked_of(issued, ReevaluationTarget.SITE),
        now=issued.received_at + LATER,
    )
    assert everything(any_store) == before
    assert told.readings == 6
    hottest = next(one for one in told.moved if one.point_tag == issued.rows[0][1])
    assert hottest.value_before_k == pytest.approx(2.0)
    assert hottest.value_after_k is not None
    assert hottest.value_after_k > 2.8  # two kelvin of the instrument are three of a dull surface


def test_a_new_emissivity_moves_level_and_history_keeps_both(any_store: Store) -> None:
    issued = walked(any_store, hot=46.6)
    point_id = issued.rows[0][2]
    done = reevaluate(
        any_store,
        issued.engineer,
        asked=asked_of(issued, ReevaluationTarget.SITE),
        reason=REASON,
        now=issued.received_at + LATER,
    )
    old, new = assessments(any_store, point_id)
    assert (old.current, new.current, new.replaces_id) == (False, True, old.id)
    assert new.reevaluation_id == done.reevaluation_id
    assert new.value_k > old.value_k
    assert new.inputs is not None
    emissivity = inputs_of_text(new.inputs).emissivity
    assert (emissivity.value, emissivity.half_width, emissivity.place) == (0.6, 0.03, "re-evaluation")
    assert done.levels_changed >= 1
    with any_store.look() as unit:
        reading = unit.session.scalars(select(ReadingRow).where(ReadingRow.point_id == point_id)).one()
        state = unit.session.get(PointStateRow, point_id)
        assert reading.temperature_c == 46.6
        assert state is not None
        assert state.value_k == pytest.approx(new.value_k)
        noted = unit.session.scalars(select(AuditRow).where(AuditRow.noun == "reevaluation")).one()
        assert noted.after is not None
        assert noted.after["readings"] == 6
    assert see_reevaluations(any_store, issued.engineer)[0].reason == REASON


def test_another_revision_takes_it_back_to_the_last_digit(any_store: Store) -> None:
    issued = walked(any_store)
    point_id = issued.rows[0][2]
    asked = asked_of(issued, ReevaluationTarget.SITE, from_now_on=True)
    first = assessments(any_store, point_id)[0]
    now = issued.received_at + LATER
    done = reevaluate(any_store, issued.engineer, asked=asked, reason=REASON, now=now)
    with any_store.look() as unit:
        row = unit.session.get_one(PointRow, point_id)
        assert (row.emissivity, row.emissivity_standing) == (0.6, "measured")
    assert done.reevaluation_id is not None
    undo_reevaluation(
        any_store, issued.engineer, reevaluation_id=done.reevaluation_id, reason="Wrong site", now=now
    )
    last = assessments(any_store, point_id)[-1]
    assert last.current
    assert (last.value_k, last.u_k, last.level, last.inputs) == (
        first.value_k,
        first.u_k,
        first.level,
        first.inputs,
    )
    with any_store.look() as unit:
        assert unit.session.get_one(PointRow, point_id).emissivity is None
        assert unit.session.scalar(select(func.count()).select_from(ReevaluationRow)) == 2
    with pytest.raises(Conflict):
        undo_reevaluation(
            any_store, issued.engineer, reevaluation_id=done.reevaluation_id, reason="Again", now=now
        )


def test_a_later_change_of_the_same_number_is_taken_back_first(any_store: Store) -> None:
    issued = walked(any_store)
    now = issued.received_at + LATER
    first, second = (
        reevaluate(
            any_store,
            issued.engineer,
            asked=asked_of(issued, ReevaluationTarget.POINT, changes=dull(value)),
            reason=REASON,
            now=now,
        )
        for value in (0.8, 0.7)
    )
    assert first.reevaluation_id is not None
    with pytest.raises(Conflict, match=str(second.reevaluation_id)):
        undo_reevaluation(
            any_store, issued.engineer, reevaluation_id=first.reevaluation_id, reason="Wrong", now=now
        )


@pytest.mark.parametrize("target", [ReevaluationTarget.POINT, ReevaluationTarget.ROUND])
def test_only_the_readings_meant_rest_on_the_new_number(store: Store, target: ReevaluationTarget) -> None:
    issued = walked(store)
    asked = asked_of(issued, target, changes={"current_a": NewValue(60.0)})
    done = reevaluate(store, issued.engineer, asked=asked, reason="Meter was misread", now=issued.received_at)
    assert done.readings == (1 if target is ReevaluationTarget.POINT else 6)
    changed = [inputs_of_text(assessments(store, row[2])[-1].inputs or "").current_a for row in issued.rows]
    assert changed.count(60.0) == done.readings


def test_a_correction_keeps_what_a_reevaluation_had_set(store: Store) -> None:
    issued = walked(store)
    now = issued.received_at + LATER
    asked = asked_of(issued, ReevaluationTarget.POINT)
    reevaluate(store, issued.engineer, asked=asked, reason=REASON, now=now)
    point_id = issued.rows[0][2]
    with store.look() as unit:
        reading = unit.session.scalars(select(ReadingRow).where(ReadingRow.point_id == point_id)).one()
    correct_reading(
        store,
        issued.engineer,
        reading.uid,
        changes={"temperature_c": 45.0},
        reason="Slip",
        revision=reading.revision,
        key=None,
        now=now,
    )
    inputs = inputs_of_text(assessments(store, point_id)[-1].inputs or "")
    assert (inputs.shown_c, inputs.emissivity.value) == (45.0, 0.6)


def test_criteria_can_be_changed_for_visits_of_the_past(store: Store) -> None:
    issued = walked(store)
    now = issued.received_at + LATER
    other = own_set(store, issued, client_id=issued.plant.client_id)
    asked = Asked(ReevaluationTarget.ROUND, issued.round_id, {}, criteria_id=other.id)
    done = reevaluate(store, issued.engineer, asked=asked, reason="Contract asks for it", now=now)
    assert done.reevaluation_id is not None
    assert assessments(store, issued.rows[0][2])[-1].criteria_id == other.id
    used = next(kept for kept in see_criteria(store, issued.engineer, now=now).sets if kept.id == other.id)
    assert used.locked, "what readings stand on never changes"
    undo_reevaluation(
        store, issued.engineer, reevaluation_id=done.reevaluation_id, reason="Not agreed", now=now
    )
    first, _middle, last = assessments(store, issued.rows[0][2])
    assert last.criteria_id == first.criteria_id


def own_set(store: Store, issued: Issued, *, client_id: int | None) -> KeptCriteria:
    """A copy of the two columns, for a client."""
    preset = next(
        kept
        for kept in see_criteria(store, issued.engineer, now=issued.received_at).sets
        if kept.name == "two-column"
    )
    return copy_set(
        store,
        issued.plant.actor(Role.ENGINEER),
        preset.id,
        title="Own rules",
        client_id=client_id,
        now=issued.received_at,
    )


def test_criteria_of_another_client_or_not_in_use_judge_nothing(store: Store) -> None:
    issued = walked(store)
    now = issued.received_at + LATER
    before = everything(store)
    off = next(
        one for one in see_criteria(store, issued.engineer, now=now).sets if "Navy" in one.criteria.title
    )
    theirs = own_set(store, issued, client_id=issued.plant.client_id)
    with store.begin() as unit:
        unit.session.execute(
            update(CriteriaSetRow).where(CriteriaSetRow.id == theirs.id).values(name="c999-own-rules")
        )
    for criteria_id, refusal in ((off.id, Conflict), (theirs.id, NotFound)):
        asked = Asked(ReevaluationTarget.ROUND, issued.round_id, {}, criteria_id=criteria_id)
        with pytest.raises(refusal):
            preview_reevaluation(store, issued.engineer, asked=asked, now=now)
        with pytest.raises(refusal):
            reevaluate(store, issued.engineer, asked=asked, reason="Contract asks for it", now=now)
    assert everything(store) == before


def test_bad_numbers_are_all_named_and_nothing_is_stored(store: Store) -> None:
    issued = walked(store)
    before = everything(store)
    changes = {"emissivity": NewValue(95.0), "ambient_c": NewValue(20.0, 1.0), "colour": NewValue(1.0)}
    asked = asked_of(issued, ReevaluationTarget.ROUND, changes=changes)
    with pytest.raises(Invalid) as refused:
        reevaluate(store, issued.engineer, asked=asked, reason="", now=issued.received_at)
    assert {one.field for one in refused.value.problems} == {
        "emissivity",
        "ambient_c_half_width",
        "colour",
        "reason",
    }
    assert everything(store) == before


def test_only_an_engineer_of_the_site_may(store: Store) -> None:
    issued = walked(store)
    asked = asked_of(issued, ReevaluationTarget.SITE)
    for role in (Role.TECHNICIAN, Role.MANAGER):
        with pytest.raises(Forbidden):
            preview_reevaluation(store, issued.plant.actor(role), asked=asked, now=issued.received_at)
    stranger = issued.plant.actor(sites=frozenset(), clients=frozenset(), whole_clients=frozenset())
    with pytest.raises(NotFound):
        preview_reevaluation(store, stranger, asked=asked, now=issued.received_at)


def test_a_window_without_its_transmission_is_kept_as_no_verdict(store: Store) -> None:
    issued = walked(store, through_window=True)
    point_id = issued.rows[0][2]
    stands = assessments(store, point_id)[-1]
    assert stands.level is None
    assert "type what the window lets through" in stands.sentence
    changes = {"window_transmission": NewValue(0.8), "window_c": NewValue(25.0)}
    asked = asked_of(issued, ReevaluationTarget.ROUND, changes=changes)
    reevaluate(store, issued.engineer, asked=asked, reason="Window measured", now=issued.received_at + LATER)
    mended = assessments(store, point_id)[-1]
    assert mended.level is not None
    assert mended.corrected_c is not None
    assert mended.corrected_c > 46.0
    assert Level(mended.level) >= Level.NOTHING_FOUND
