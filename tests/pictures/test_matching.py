"""Where a picture belongs: the number typed with a reading, a tag, a sheet's code, else its time."""

from datetime import UTC, datetime, timedelta

import pytest

from service.domain.picture_places import (
    BESIDE_A_STOP,
    NEAREST_READING,
    CameraTime,
    FindingPlace,
    Places,
    RowPlace,
    StopPlace,
    camera_instant,
    match_picture,
    same_picture,
)
from service.domain.pictures import MatchedBy

EIGHT = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)


def minutes(number: float) -> timedelta:
    return timedelta(minutes=number)


def row(number: int, *, stop: int = 1, at: datetime | None = None, picture: str = "") -> RowPlace:
    return RowPlace(
        number, f"row-{number}", stop, number // 3, number, f"MCC1-F{number:02d}", "Clamp", "L1", "Feeder", "Board", at, picture
    )  # fmt: skip


PLACES = Places(
    rows=(
        row(1, at=EIGHT, picture="401"),
        row(2, at=EIGHT + minutes(2), picture="TH_0402"),
        row(10, at=EIGHT + minutes(4)),
        row(20, stop=2, at=EIGHT + minutes(40), picture="77"),
        row(31, stop=2, at=EIGHT + minutes(50), picture="77"),
        row(40, stop=3),
    ),
    stops=(
        StopPlace(1, 1, "7K2-QX4", "Board 1", 1, "Europe/London"),
        StopPlace(2, 2, "9A3-CEF", "Board 2", 1, "Europe/London"),
        StopPlace(3, 3, "", "Board 3", 1, "Europe/London"),
    ),
    findings=(FindingPlace(5, "0950", "Hot part off the round", 1),),
)


@pytest.mark.parametrize(
    ("name", "row_id"),
    [
        ("TH_0401.JPG", 1),
        ("401.png", 1),
        ("th_0402.jpg", 2),
        ("DC-2026-0402.jpg", None),
        ("seen MCC1-F10 left.jpg", 10),
        ("MCC1-F1.jpg", None),
        ("MCC1-F101.jpg", None),
        ("TH_0077.jpg", None),
    ],
    ids=str,
)
def test_a_code_in_the_name_decides(name: str, row_id: int | None) -> None:
    found = match_picture(name, None, PLACES)
    assert (None if found is None or found.row is None else found.row.row_id) == row_id


def test_a_number_typed_for_two_views_decides_nothing_and_time_may_not_either() -> None:
    assert match_picture("TH_0077.jpg", None, PLACES) is None
    by_time = match_picture("TH_0077.jpg", EIGHT + minutes(41), PLACES)
    assert by_time is not None
    assert by_time.row is not None
    assert (by_time.matched, by_time.row.row_id) == (MatchedBy.TIME, 20)


def test_a_sheets_code_gives_the_stop_and_the_time_the_row_in_it() -> None:
    found = match_picture("7k2-qx4 overview.jpg", None, PLACES)
    assert found is not None
    assert (found.stop_id, found.row, found.matched) == (1, None, MatchedBy.CODE)
    near = match_picture("7k2-qx4 overview.jpg", EIGHT + minutes(41), PLACES)
    assert near is not None
    assert near.row is None, "a reading of another stop is not asked"
    near = match_picture("7k2-qx4.jpg", EIGHT + minutes(4), PLACES)
    assert near is not None
    assert near.row is not None
    assert near.row.row_id == 10


def test_a_part_met_off_the_round_is_found_by_its_number() -> None:
    found = match_picture("TH_0950.jpg", EIGHT, PLACES)
    assert found is not None
    assert found.finding is not None
    assert found.finding.finding_id == 5


@pytest.mark.parametrize(
    ("after", "row_id", "stop_id"),
    [
        (timedelta(), 1, 1),
        (minutes(1.1), 2, 1),
        (minutes(4) + NEAREST_READING, 10, 1),
        (minutes(4) + NEAREST_READING + minutes(0.1), None, 1),
        (minutes(4) + BESIDE_A_STOP, None, 1),
        (minutes(4) + BESIDE_A_STOP + minutes(0.1), None, None),
        (-BESIDE_A_STOP, None, 1),
        (minutes(45.5), 31, 2),
        (timedelta(hours=5), None, None),
    ],
    ids=str,
)
def test_the_nearest_reading_within_the_window_else_the_stop(
    after: timedelta, row_id: int | None, stop_id: int | None
) -> None:
    """Windows: common practice, no source; edges belong to the inside."""
    found = match_picture("VI_1.jpg", EIGHT + after, PLACES)
    assert (None if found is None or found.row is None else found.row.row_id) == row_id
    assert (None if found is None else found.stop_id) == stop_id


def test_of_two_stops_read_at_once_neither_is_guessed() -> None:
    both = Places((row(1, at=EIGHT), row(20, stop=2, at=EIGHT + minutes(16))), PLACES.stops, ())
    assert match_picture("x.jpg", EIGHT + minutes(8), both) is None


def test_without_a_time_or_a_code_it_has_no_place() -> None:
    assert match_picture("holiday.jpg", None, PLACES) is None
    assert match_picture("", None, Places((), (), ())) is None


@pytest.mark.parametrize(
    ("typed", "stem", "same"),
    [
        ("TH_0417", "TH_0417", True),
        ("th_0417.jpg", "TH_0417", True),
        ("417", "TH_0417", True),
        ("0417", "TH_417", True),
        ("17", "TH_0417", False),
        ("TH_0417", "TH_04170", False),
        ("", "TH_0417", False),
        ("417", "NO NUMBER", False),
        ("٤١٧", "TH_0417", False),
    ],
)
def test_a_typed_number_means_a_file_by_its_name_or_last_number(typed: str, stem: str, same: bool) -> None:
    assert same_picture(typed, stem) is same


# ---- the camera's clock --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("local", "offset_h", "zone", "ahead_s", "utc"),
    [
        ("2026-11-24T08:30:00", None, "Europe/London", 0, "2026-11-24T08:30:00"),
        ("2026-07-01T08:30:00", None, "Europe/London", 0, "2026-07-01T07:30:00"),
        ("2026-07-01T08:30:00", 0, "Europe/London", 0, "2026-07-01T08:30:00"),
        ("2026-07-01T08:30:00", -5.5, "Europe/London", 0, "2026-07-01T14:00:00"),
        ("2026-11-24T08:30:00", None, "Europe/London", 95, "2026-11-24T08:28:25"),
        ("2026-11-24T08:30:00", None, "Europe/London", -95, "2026-11-24T08:31:35"),
        # put back at 01:00 UTC: 01:30 comes twice, the earlier one is taken
        ("2026-10-25T01:30:00", None, "Europe/London", 0, "2026-10-25T00:30:00"),
        # put forward at 01:00 UTC: 01:30 is skipped, a camera left alone shows it all the same
        ("2026-03-29T01:30:00", None, "Europe/London", 0, "2026-03-29T01:30:00"),
    ],
)
def test_the_shutters_instant_on_a_true_clock(
    local: str, offset_h: float | None, zone: str, ahead_s: float, utc: str
) -> None:
    """Worked by hand; changes of the clock after the IANA zone database, Europe/London 2026."""
    shot = CameraTime(datetime.fromisoformat(local), None if offset_h is None else timedelta(hours=offset_h))
    assert camera_instant(shot, zone=zone, ahead_s=ahead_s) == datetime.fromisoformat(utc).replace(tzinfo=UTC)
