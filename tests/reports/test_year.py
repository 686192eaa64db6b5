"""The year of a small register, counted by hand, on both databases."""

import csv
import io
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from service.domain.coverage import Coverage, WhyLate
from service.domain.words import Role
from service.domain.year import EquipmentAsked, EquipmentPage, YearAsked, YearReport
from service.errors import Forbidden, NotFound
from service.intake.workbooks import read_sheets
from service.reports.year_table import year_table_csv, year_table_xlsx
from service.storage.rounds import round_by_id
from service.storage.tables.readings import ReadingRow
from service.storage.tables.register import EquipmentRow
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from service.usecases.findings.open_finding import FindingFields, open_off_round, open_on_point
from service.usecases.reports.year import list_equipment_of_year, see_year
from service.usecases.rounds.plan import RoundWish, plan_round
from service.usecases.rounds.sign_off import sign_off_round
from service.usecases.rounds.withdraw import withdraw_round
from tests.builders import Plant, build_plant
from tests.conftest import NOW
from tests.doors import open_app, program_as
from tests.readings.builders import Issued, issue
from tests.rounds.builders import change, cover

JAN = datetime(2026, 1, 12, 8, tzinfo=UTC)
FEB = datetime(2026, 2, 9, 8, tzinfo=UTC)
EVERY = EquipmentAsked()


def build_year(store: Store) -> Plant:
    """Three boards of three joints at one site, and the year 2026 of the two that are walked.

    MCC1 is behind a hinged cover and read every 3 months, MCC2 by the rule for medium need; MCC3 was
    never on a round. January: both read, signed off. February: MCC1 is locked, MCC2 is read.
    March: withdrawn. December: a draft. Found: one hot joint of MCC1 in January, one part off the round in May.
    """
    ensure_presets(store, now=JAN)
    plant = build_plant(store, boards=3, views=1)
    first, second, third = plant.equipment_ids
    change(store, EquipmentRow, first, interval_months=3.0)
    change(store, EquipmentRow, third, equipment_class="", name="=1+1")
    plant.equipment_ids = [first, second]
    _january(store, plant)
    february = issue(store, plant=plant, walked_at=FEB)
    records = february.all_records()
    february.bring([_locked(february, place) for place in range(3)] + records[3:])
    _withdrawn(store, plant)
    _plan(store, plant, date(2026, 12, 8))
    off_round = FindingFields(title="Hot lug")
    may = datetime(2026, 5, 3, 12, tzinfo=UTC)
    open_off_round(
        store, plant.actor(), site_id=plant.site_ids[0], place="Pump house", fields=off_round, now=may
    )
    cover(store, first)  # now, since no round over a cover goes out without a permit
    plant.equipment_ids = [first, second, third]
    return plant


def _january(store: Store, plant: Plant) -> None:
    january = issue(store, plant=plant, walked_at=JAN)
    january.bring(january.all_records())
    open_on_point(
        store, january.engineer, point_id=january.rows[0][2], fields=FindingFields(), now=january.received_at
    )
    sign_off_round(
        store,
        january.engineer,
        january.round_id,
        reasons={},
        version=_version(store, january.round_id),
        now=january.received_at,
    )


def _version(store: Store, round_id: int) -> int:
    with store.look() as unit:
        found = round_by_id(unit, round_id)
    assert found is not None
    return found.version


def _locked(issued: Issued, place: int) -> dict[str, object]:
    return {
        "row_uid": issued.rows[place][0],
        "taken_at": issued.record(place)["taken_at"],
        "reason": "K",
    }


def _plan(store: Store, plant: Plant, day: date) -> tuple[int, int]:
    wish = RoundWish(name="All", planned_on=day, equipment_ids=tuple(plant.equipment_ids))
    made = plan_round(store, plant.actor(), wish, now=JAN)
    return made.id, made.version


def _withdrawn(store: Store, plant: Plant) -> None:
    round_id, version = _plan(store, plant, date(2026, 3, 9))
    withdraw_round(store, plant.actor(), round_id, reason="Flood", version=version, now=JAN)


@pytest.fixture
def plant(any_store: Store) -> Plant:
    return build_year(any_store)


def seen(
    store: Store, plant: Plant, *, year: int = 2026, now: datetime = NOW
) -> tuple[YearReport, EquipmentPage]:
    return see_year(store, plant.actor(Role.MANAGER), YearAsked(year), EVERY, now=now)


def test_rounds_are_counted_in_the_month_for_which_they_were_planned(any_store: Store, plant: Plant) -> None:
    report, _ = seen(any_store, plant)
    counted = {
        one.month: (one.planned, one.walked, one.signed_off, one.withdrawn)
        for one in report.months
        if one.planned or one.withdrawn
    }
    assert counted == {1: (1, 1, 1, 0), 2: (1, 1, 0, 0), 3: (0, 0, 0, 1), 12: (1, 0, 0, 0)}
    assert (report.year.planned, report.year.walked, report.year.withdrawn) == (3, 2, 1)


def test_a_cover_counts_as_opened_where_a_reading_came_back_from_behind_it(
    any_store: Store, plant: Plant
) -> None:
    """January: MCC1 read. February: the same board locked. MCC2 has a closed front."""
    report, _ = seen(any_store, plant)
    assert {one.month: one.covers for one in report.months if one.covers} == {1: 1}
    assert (report.faults.opened, report.faults.of_readings, report.faults.behind_covers) == (2, 1, 1)
    assert {one.month: one.findings for one in report.months if one.findings} == {1: 1, 5: 1}
    assert (report.covers_per_finding, report.covers_per_finding_behind) == (0.5, 1.0)


def test_a_reading_through_a_window_opens_no_cover(any_store: Store, plant: Plant) -> None:
    with any_store.begin() as unit:
        for reading in unit.session.query(ReadingRow).filter(ReadingRow.temperature_c.is_not(None)):
            reading.through_window = True
    report, _ = seen(any_store, plant)
    assert report.year.covers == 0


def test_coverage_is_counted_by_class_and_criticality(any_store: Store, plant: Plant) -> None:
    report, _ = seen(any_store, plant)
    counted = [
        (row.name, row.equipment, row.within, row.due, row.late, row.never_read)
        for row in (*report.classes, *report.criticalities, report.total)
    ]
    assert counted == [
        ("switchboard", 2, 1, 0, 1, 0),
        ("", 1, 0, 0, 0, 1),
        ("medium", 3, 1, 0, 1, 1),
        ("", 3, 1, 0, 1, 1),
    ]
    assert report.total.oldest is not None
    assert (report.total.oldest.equipment.tag, report.total.oldest.cleared_on) == ("S1-MCC1", JAN.date())


def test_each_equipment_says_when_it_was_read_when_it_is_due_by_which_rule_and_why_it_is_late(
    any_store: Store, plant: Plant
) -> None:
    """MCC1: 12 Jan + 3 months, a tenth of which is 9 days; MCC2: 9 Feb + 12 months (by hand)."""
    _, page = seen(any_store, plant)
    first, second, third = page.rows
    assert first.covered.coverage is Coverage.LATE
    assert (first.covered.seen_on, first.covered.cleared_on) == (JAN.date(), JAN.date())
    assert (first.covered.due_on, first.covered.late_after) == (date(2026, 4, 12), date(2026, 4, 21))
    assert first.covered.rule == "3 months: set on the equipment (typed by the site)"
    assert first.why == (("locked or no permit", 3),)
    assert second.covered.coverage is Coverage.WITHIN
    assert second.covered.due_on == date(2027, 2, 9)
    assert "ANSI/NETA MTS Appendix B" in second.covered.rule
    assert second.why == ()
    assert third.covered.coverage is Coverage.NEVER_READ
    assert third.covered.seen_on is None
    assert third.why == ((WhyLate.NEVER_ON_A_ROUND, 3),)


def test_a_year_gone_by_is_told_as_at_its_last_day(any_store: Store, plant: Plant) -> None:
    later, old = seen(any_store, plant, now=datetime(2027, 6, 1, 9, tzinfo=UTC))
    last_day, today = seen(any_store, plant, now=datetime(2026, 12, 31, 20, tzinfo=UTC))
    assert (later.on, last_day.on) == (date(2026, 12, 31),) * 2
    assert old.rows == today.rows
    assert later.total == last_day.total


def test_what_is_planned_now_excuses_nothing_of_a_year_gone_by(any_store: Store, plant: Plant) -> None:
    """MCC3 is put on a draft: today it is on a draft only, at the end of 2025 it was on no round at all."""
    plant.equipment_ids = plant.equipment_ids[2:]
    _plan(any_store, plant, date(2026, 12, 15))
    assert seen(any_store, plant)[1].rows[2].why == ((WhyLate.DRAFT, 3),)
    assert seen(any_store, plant, year=2025)[1].rows[2].why == ((WhyLate.NEVER_ON_A_ROUND, 3),)


def test_before_the_first_reading_everything_was_never_read(any_store: Store, plant: Plant) -> None:
    report, page = seen(any_store, plant, year=2025)
    assert (report.total.equipment, report.total.never_read) == (3, 3)
    assert report.total.oldest is None
    assert {row.covered.seen_on for row in page.rows} == {None}
    assert (report.year.planned, report.faults.opened, report.covers_per_finding) == (0, 0, None)


def test_before_the_register_there_was_nothing(any_store: Store, plant: Plant) -> None:
    with pytest.raises(NotFound):
        see_year(any_store, plant.actor(), YearAsked(2019, site_id=plant.site_ids[0]), EVERY, now=NOW)
    report, page = seen(any_store, plant, year=2019)
    assert (report.total.equipment, report.total.share(0), page.rows) == (0, None, ())


def test_retired_equipment_counts_until_it_was_retired(any_store: Store, plant: Plant) -> None:
    retired = datetime(2026, 7, 1, tzinfo=UTC)
    change(any_store, EquipmentRow, plant.equipment_ids[1], retired_at=retired)
    assert seen(any_store, plant)[0].total.equipment == 2
    assert seen(any_store, plant, year=2025)[0].total.equipment == 3


def test_the_list_is_walked_page_by_page_and_narrowed(any_store: Store, plant: Plant) -> None:
    def ask(**wanted: object) -> EquipmentPage:
        asked = replace(EquipmentAsked(limit=1), **wanted)
        return list_equipment_of_year(any_store, plant.actor(), YearAsked(2026), asked, now=NOW)

    tags, after = [], 0
    for _ in range(3):
        page = ask(after=after)
        tags += [row.covered.equipment.tag for row in page.rows]
        after = page.next_after or 0
    assert (tags, after, page.found) == (["S1-MCC1", "S1-MCC2", "S1-MCC3"], 0, 3)
    assert [row.covered.equipment.tag for row in ask(coverage=Coverage.LATE).rows] == ["S1-MCC1"]
    assert [row.covered.equipment.tag for row in ask(equipment_class="-").rows] == ["S1-MCC3"]
    assert ask(equipment_class="switchboard").found == 2


def test_letters_are_for_engineers_and_managers_of_the_site(any_store: Store, plant: Plant) -> None:
    for role in (Role.TECHNICIAN, Role.ADMINISTRATOR):
        with pytest.raises(Forbidden):
            see_year(any_store, plant.actor(role), YearAsked(2026), EVERY, now=NOW)
    stranger = plant.actor(sites=frozenset(), clients=frozenset(), whole_clients=frozenset())
    for asked in (YearAsked(2026, site_id=plant.site_ids[0]), YearAsked(2026, client_id=plant.client_id)):
        with pytest.raises(NotFound):
            see_year(any_store, stranger, asked, EVERY, now=NOW)
    report, page = see_year(any_store, stranger, YearAsked(2026), EVERY, now=NOW)
    assert (report.clients, report.year.planned, page.found) == ((), 0, 0)


def test_the_list_as_csv_keeps_days_and_disarms_formulas(any_store: Store, plant: Plant) -> None:
    _, page = seen(any_store, plant)
    rows = list(csv.DictReader(io.StringIO(year_table_csv(page).decode("utf-8-sig"))))
    assert [row["tag"] for row in rows] == ["S1-MCC1", "S1-MCC2", "S1-MCC3"]
    assert rows[2]["equipment"] == "'=1+1"
    assert (rows[0]["last could clear"], rows[0]["late after"]) == ("2026-01-12", "2026-04-21")
    assert rows[0]["why late"] == "locked or no permit (3 points)"
    assert rows[0]["as at"] == "2026-11-25"


def test_the_list_as_a_workbook_holds_no_formula_and_says_what_it_counts(store: Store) -> None:
    """Read back by python-calamine."""
    _, page = seen(store, build_year(store))
    content = year_table_xlsx(page, title="3 pieces of equipment, year 2026")
    sheets = dict(read_sheets(content))
    titles, *rows = sheets["Equipment"]
    assert [row[2] for row in rows] == ["S1-MCC1", "S1-MCC2", "S1-MCC3"]
    assert rows[2][3] == "'=1+1"
    assert rows[0][titles.index("next due")] == date(2026, 4, 12)
    assert rows[0][titles.index("points in use")] == 3
    told = {str(name): str(meaning) for name, meaning in sheets["What it says"]}
    assert told["As at"] == "2026-11-25"
    assert "permits nothing" in told["Safety"]
    assert content == year_table_xlsx(page, title="3 pieces of equipment, year 2026")


def test_the_api_gives_the_figures_and_the_list(store: Store) -> None:
    plant = build_year(store)
    client = program_as(open_app(store, lambda: NOW), store, plant, Role.MANAGER, NOW)
    year = client.get("/api/v1/reports/year?year=2026").json()
    assert (year["on"], year["covers_opened"], year["findings_opened"]) == ("2026-11-25", 1, 2)
    assert year["covers_per_finding"] == 0.5
    assert year["months"][2] | {"month": 3} == {
        "month": 3, "planned": 0, "walked": 0, "signed_off": 0, "withdrawn": 1,
        "covers_opened": 0, "findings_opened": 0,
    }  # fmt: skip
    assert (year["coverage"]["late"], year["coverage"]["never_read"]) == (1, 1)
    page = client.get("/api/v1/reports/year/equipment?year=2026&limit=1").json()
    assert (page["found"], page["next_after"]) == (3, plant.equipment_ids[0])
    assert page["equipment"][0]["why_late"] == [{"why": "locked or no permit", "points": 3}]
    rest = client.get(f"/api/v1/reports/year/equipment?year=2026&after={page['next_after']}").json()
    assert [one["tag"] for one in rest["equipment"]] == ["S1-MCC2", "S1-MCC3"]
    late = client.get("/api/v1/reports/year/equipment?year=2026&coverage=late").json()
    assert [one["tag"] for one in late["equipment"]] == ["S1-MCC1"]
    assert client.get("/api/v1/reports/year/equipment?year=2026&coverage=soon").status_code == 422
    assert client.get("/api/v1/reports/year?year=2026&client_id=987654").status_code == 404
