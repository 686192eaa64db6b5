"""The year's page: its sentences, its figures, its files."""

from datetime import date
from urllib.parse import parse_qs, urlsplit

import pytest

from service.charts.year_months import NARROW, YearMonth, year_legend, year_months
from service.domain.coverage import Coverage
from service.domain.words import Role
from service.domain.year import CoverageShare, EquipmentAsked, Faults, MonthCount, YearAsked, YearReport
from service.pages import year_words as said
from service.storage.unit import Store
from tests.conftest import NOW
from tests.doors import browser_as, open_app
from tests.pages.test_standing import text_of
from tests.reports.test_year import build_year

TODAY = date(2026, 11, 25)


def report(
    *,
    planned: int = 0,
    walked: int = 0,
    late: int = 0,
    never: int = 0,
    equipment: int = 0,
    gone: bool = False,
) -> YearReport:
    """A year with all its rounds in one month and all its equipment of one class."""
    total = CoverageShare("", equipment, equipment - late - never, 0, late, never, 0, None)
    return YearReport(
        asked=YearAsked(2025 if gone else 2026),
        on=date(2025, 12, 31) if gone else TODAY,
        first_year=2025,
        last_year=2026,
        clients=((1, "Client"),),
        sites=(),
        months=(MonthCount(5, planned, walked, walked, 0, 4, 0),),
        faults=Faults(0, 0, 0),
        total=total,
        classes=(),
        criticalities=(),
    )


@pytest.mark.parametrize(
    ("made", "expected"),
    [
        (
            report(planned=62, walked=60, late=24, equipment=80),
            "60 of 62 rounds planned for 2026 were walked, and 24 of 80 pieces of equipment are late",
        ),
        (
            report(planned=3, walked=1, late=1, never=2, equipment=9),
            "One of three rounds planned for 2026 was walked, and one of nine pieces of equipment is late and two"
            " have never been read",
        ),
        (
            report(planned=12, walked=12, equipment=5, gone=True),
            "All twelve rounds planned for 2025 were walked, and none of five pieces of equipment was late at its end",
        ),
        (
            report(planned=1, walked=1, never=1, equipment=1),
            "The one round planned for 2026 was walked, and the one piece of equipment has never been read",
        ),
        (
            report(planned=1, equipment=1, gone=True),
            "The one round planned for 2025 was not walked, and the one piece of equipment was not late at its end",
        ),
        (report(), "No round was planned for 2026, and there is no equipment to read"),
    ],
)
def test_the_title_is_the_news(made: YearReport, expected: str) -> None:
    assert said.title(made, today=TODAY).replace("\u202f", " ") == expected


def test_the_lead_tells_what_is_open_and_as_at_which_day() -> None:
    told = said.lead(report(planned=3, walked=2), today=TODAY)
    assert told.replace("\u202f", " ").replace("\u00a0", " ").startswith("1 round still to come or not back.")
    assert told.endswith("Coverage stands as at 25 Nov 2026, today.")
    gone = said.lead(report(planned=3, walked=2, gone=True), today=TODAY)
    assert "never came back" in gone
    assert gone.endswith("31 Dec 2025, the last day of that year.")


def test_a_figure_per_finding_is_told_in_words_where_nothing_was_found() -> None:
    figures = {name: figure for name, figure, _ in said.per_finding(report())}
    assert figures["Covers per finding"] == "Covers were opened, nothing was found"
    assert said.ratio(None, covers=0) == "Nothing opened, nothing found"
    assert said.ratio(15.73, covers=173) == "15.7"


def test_nothing_has_a_share_of_nothing() -> None:
    assert said.share(report().total, 0) == ""
    assert said.share(report(equipment=8, late=2).total, 2).replace("\u202f", " ").startswith("25")


def test_an_address_keeps_every_choice() -> None:
    asked, wanted = YearAsked(2026, 1, 7), EquipmentAsked("fuse & board", Coverage.LATE)
    found = parse_qs(urlsplit(said.address(asked, wanted, after=9)).query)
    assert found == {
        "year": ["2026"], "client_id": ["1"], "site_id": ["7"], "equipment_class": ["fuse & board"],
        "coverage": ["late"], "after": ["9"],
    }  # fmt: skip


def test_a_month_is_drawn_as_columns_within_each_other_and_says_its_figures() -> None:
    may = YearMonth("May", "M", 6, 4, 3, 2, 11, "May: 6 planned <b>", now=True)
    svg = str(year_months([may], NARROW, title="t", desc="d"))
    tall = [float(part.split('height="')[1].split('"')[0]) for part in svg.split("<rect ")[1:4]]
    assert tall == [NARROW.rounds_tall, pytest.approx(NARROW.rounds_tall * 4 / 6), NARROW.rounds_tall / 2]
    assert "× 2" in svg
    assert ">11</text>" in svg
    assert "<b>" not in svg
    assert "withdrawn" in str(year_legend([may]))
    assert "withdrawn" not in str(year_legend([]))


def test_the_page_tells_the_year_and_lists_every_equipment(store: Store) -> None:
    plant = build_year(store)
    client = browser_as(open_app(store, lambda: NOW), store, plant, Role.MANAGER, NOW)
    assert "/reports/year?year=2026" in client.get("/reports").text
    text = text_of(client.get("/reports/year").text)
    assert "Two of three rounds planned for 2026 were walked" in text
    assert "one of three pieces of equipment is late and one has never been read" in text
    assert "Why late: locked or no permit (3 points)" in text
    assert "Why late: never on a round (3 points)" in text
    assert "3 months: set on the equipment (typed by the site)".lower() in text.lower()
    late = client.get("/reports/year?year=2026&client_id=&site_id=&coverage=late&equipment_class=").text
    assert "S1-MCC1" in late
    assert "S1-MCC2" not in late


def test_the_files_follow_the_filter(store: Store) -> None:
    plant = build_year(store)
    client = browser_as(open_app(store, lambda: NOW), store, plant, Role.ENGINEER, NOW)
    answer = client.get("/reports/year/equipment.csv?year=2026&coverage=never%20read")
    assert answer.headers["content-disposition"] == 'attachment; filename="equipment-2026-11-25.csv"'
    assert "S1-MCC3" in answer.text
    assert "S1-MCC1" not in answer.text
    workbook = client.get("/reports/year/equipment.xlsx?year=2026")
    assert workbook.content.startswith(b"PK")
