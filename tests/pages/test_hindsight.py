"""How the trends did: what the page says of flags, other lines and what rounds shared."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta

from service.domain.hindsight import Came, Hindsight, LineChoice, PastFlag, RoundOffset
from service.domain.words import ReferenceKind, Role
from service.pages import hindsight as page_words
from service.storage.tables.register import PointRow
from service.storage.unit import Store
from tests.builders import build_plant
from tests.condition.histories import read_monthly
from tests.doors import browser_as, open_app
from tests.pages.standing_builders import rename
from tests.pages.test_standing import page, text_of

TODAY = date(2026, 11, 25)
FLAG = PastFlag(
    1,
    "Site, Board, L2 (T)",
    ReferenceKind.LIKE_PARTS,
    date(2026, 3, 1),
    date(2026, 4, 1),
    None,
    Came.STANDS,
    None,
    None,
)
NONE = Hindsight(1, ((1, "Site"),), 30, 120.0, (), (), ())


def offsets(*kelvin: float) -> list[RoundOffset]:
    return [
        RoundOffset("Site", date(2026, 1, 5) + timedelta(days=30 * k), ReferenceKind.AIR, value, 0.2, 12)
        for k, value in enumerate(kelvin)
    ]


def test_the_title_tells_right_wrong_and_open() -> None:
    flags = (FLAG, replace(FLAG, came=Came.FAULT), replace(FLAG, came=Came.WENT))
    assert page_words.title(replace(NONE, flags=flags)).startswith("Of 3")
    assert page_words.title(replace(NONE, flags=flags)).endswith(
        "one proved right and one wrong; one cannot be told yet"
    )
    assert page_words.title(NONE).startswith("No trend would have been flagged at 30")


def test_the_setting_is_told_as_wrong_flags_per_hundred_points_a_year() -> None:
    wrong = replace(NONE, flags=(replace(FLAG, came=Came.NO_FAULT),) * 3)
    assert "About 2.5 wrong flags per 100 points a year" in page_words.setting(wrong)
    assert page_words.setting(replace(NONE, years=0.0)) == "Nothing has been read twice yet."


def test_what_was_gained_is_counted_from_the_first_reading_that_asked_for_a_repair_alone() -> None:
    later = replace(FLAG, line_on=date(2026, 3, 27))
    assert page_words.gained(later).startswith("26")
    assert page_words.gained(replace(FLAG, line_on=FLAG.first_on)) == "the same day as a reading alone"
    assert page_words.gained(FLAG) == "no reading alone has asked for a repair"


def test_ranges_of_dates_are_counted_where_the_day_is_known() -> None:
    told = replace(FLAG, forecast_from=date(2026, 6, 1), forecast_to=date(2026, 9, 1))
    held, missed = replace(told, reached_on=date(2026, 7, 1)), replace(told, reached_on=date(2026, 10, 1))
    assert page_words.ranges(replace(NONE, flags=(held, missed, FLAG)), TODAY).startswith("One of two")
    assert page_words.ranges(NONE, TODAY) == "No range of dates can be checked yet."


def test_a_round_that_shared_much_and_a_drift_are_said() -> None:
    assert page_words.warning(offsets(0.1, -0.2, 0.3, 0.1)) == ""
    assert "check the instrument" in page_words.warning(offsets(0.1, -0.2, 0.3, -4.0))
    assert "climbed for three rounds" in page_words.warning(offsets(0.1, 0.8, 1.6, 2.4))
    assert page_words.warning(offsets(0.1, 0.8, 1.6)) == ""


def test_other_lines_are_told_by_how_much_stricter_they_are() -> None:
    choice = LineChoice(0.5, 3, 1.0, 1, 1, None)
    assert page_words.shift_words(choice) == "0.5 stricter"
    assert page_words.shift_words(replace(choice, shift=-1.0)) == "1 looser"
    assert page_words.shift_words(replace(choice, shift=0.0)) == "as they are"


def test_the_page_shows_past_flags_and_escapes_names(
    store: Store, clock: Callable[[], datetime], now: datetime
) -> None:
    plant = build_plant(store)
    app = open_app(store, clock)
    read_monthly(store, plant.point_ids[0], [0.2, 0.1, 0.3, 0.1, 0.2, 0.3, 2.2, 4.1, 6.0, 8.2])
    rename(store, PointRow, plant.point_ids[0], name="<script>alert(1)</script>")
    engineer = browser_as(app, store, plant, Role.ENGINEER, now)
    html = page(engineer, "/reports/trends")
    assert "<script>alert(1)" not in html
    assert "still standing" in text_of(html).lower()
    assert f'value="{plant.site_ids[0]}"' in html
    assert "How the trends did" in page(engineer, "/reports")
    technician = browser_as(app, store, plant, Role.TECHNICIAN, now)
    assert technician.get("/reports/trends").status_code == 403
    assert engineer.get("/reports/trends?site_id=99999").status_code == 404
