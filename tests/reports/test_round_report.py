"""The letter of a round says everything inspected, what was not and why, and what was decided."""

import csv
import io
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from service.domain.instrument_checks import CheckFields
from service.domain.words import Level, Reason, Role
from service.errors import Forbidden, NotFound
from service.pages.reports import report_title
from service.reports.round_table import round_table_csv
from service.storage.tables.register import InstrumentRow
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from service.usecases.findings.open_finding import FindingFields, open_on_point
from service.usecases.reports.round_report import list_reports, see_round_report
from service.usecases.rounds.instrument_checks import check_on_round
from tests.conftest import NOW
from tests.doors import browser_as, open_app
from tests.readings.builders import Issued, issue
from tests.rounds.builders import change

JAN = datetime(2026, 1, 12, 8, 0, tzinfo=UTC)


@pytest.fixture
def made(any_store: Store) -> Issued:
    """Six points: one 8 K over its like parts, one locked, one not typed at all."""
    ensure_presets(any_store, now=JAN)
    made = issue(any_store, walked_at=JAN)
    records = made.all_records()
    records[0] |= {"temperature_c": 48.0, "note": "=smells of hot varnish"}
    records[4] = {"row_uid": made.rows[4][0], "taken_at": records[4]["taken_at"], "reason": "K"}
    made.bring(records[:5])
    return made


def test_everything_inspected_is_told_and_what_was_not_with_its_reason(
    any_store: Store, made: Issued
) -> None:
    report = see_round_report(any_store, made.engineer, round_id=made.round_id)
    assert [point.tag for point in report.points] == [row[1] for row in made.rows]
    assert [(p.tag, p.reason) for p in report.not_read] == [
        (made.rows[4][1], Reason.LOCKED),
        (made.rows[5][1], None),
    ]
    (hot,) = report.above
    assert (hot.level, hot.value_k) == (Level.PLAN_REPAIR, pytest.approx(8.0))
    assert report_title(report) == "One point above Nothing found: one at Plan repair."


def test_the_head_names_people_instrument_and_criteria(any_store: Store, made: Issued) -> None:
    head = see_round_report(any_store, made.engineer, round_id=made.round_id).head
    assert head.read_by == "Test technician"
    assert "IR-1" in head.instrument
    assert any("Table 100.18" in line for line in head.criteria)
    assert head.sites == ("Site 1",)


def test_the_letter_tells_how_the_instrument_was_checked_and_that_it_failed(store: Store) -> None:
    ensure_presets(store, now=JAN)
    made = issue(store, walked_at=JAN)
    made.bring(made.all_records())
    change(store, InstrumentRow, made.plant.instrument_id, accuracy_k=2.0)
    for occasion, shown_c in (("start", 35.3), ("end", 38.0)):
        fields = CheckFields(occasion, made.received_at, 35.0, shown_c)
        check_on_round(
            store, made.technician, made.round_id, instrument_id=None, fields=fields, now=made.received_at
        )
    client = browser_as(open_app(store, lambda: NOW), store, made.plant, Role.MANAGER, NOW)
    letter = client.get(f"/reports/rounds/{made.round_id}").text.replace("\u00a0", " ")
    assert "IR-1, at the start: 0.3 K too high, within its accuracy" in letter
    assert "IR-1, at the end: 3.0 K too high, outside its accuracy" in letter
    assert "An instrument of this round is in doubt." in letter


def test_a_decision_is_told_in_the_letter(any_store: Store, made: Issued) -> None:
    fields = FindingFields(work_order="WO-7", interim_measure="Load held under 60 A")
    open_on_point(any_store, made.engineer, point_id=made.rows[0][2], fields=fields, now=made.received_at)
    (hot,) = see_round_report(any_store, made.engineer, round_id=made.round_id).above
    assert hot.finding_state == "open"
    assert "WO-7" in hot.finding_action
    assert "60 A" in hot.finding_action


def test_the_table_keeps_numbers_and_disarms_formulas(any_store: Store, made: Issued) -> None:
    content = round_table_csv(see_round_report(any_store, made.engineer, round_id=made.round_id))
    rows = list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"))))
    assert len(rows) == len(made.rows)
    assert float(rows[0]["rise as measured K"]) == pytest.approx(8.0)
    assert rows[0]["note"] == "'=smells of hot varnish"
    assert rows[4]["not assessable"] == "locked or no permit"


def test_letters_are_for_engineers_and_managers_of_the_site(any_store: Store, made: Issued) -> None:
    assert see_round_report(any_store, made.plant.actor(Role.MANAGER), round_id=made.round_id)
    with pytest.raises(Forbidden):
        see_round_report(any_store, made.technician, round_id=made.round_id)
    stranger = replace(made.engineer, sites=frozenset(), clients=frozenset(), whole_clients=frozenset())
    with pytest.raises(NotFound):
        see_round_report(any_store, stranger, round_id=made.round_id)


def test_only_rounds_that_came_back_are_listed(any_store: Store, made: Issued) -> None:
    issue(any_store, plant=made.plant, walked_at=datetime(2026, 2, 12, 8, 0, tzinfo=UTC))
    found = list_reports(any_store, made.engineer, first=date(2026, 1, 1), last=date(2026, 12, 31))
    assert [round_.id for round_ in found] == [made.round_id]
