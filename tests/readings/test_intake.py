"""Returned rows as people write them: every problem at once, nothing guessed."""

from datetime import UTC, date, datetime, time

import pytest

from service.domain.readings import ExpectedRound, ExpectedRow
from service.domain.round_columns import COLUMNS
from service.domain.words import LoadSource, PointKind, Reason, VisitKind
from service.errors import Invalid, Problem
from service.intake.collecting import Problems
from service.intake.matched_rows import ReadRows, match_rows
from service.intake.parsed_rows import parse_rows
from service.intake.raw_rows import Ways, rows_of_records, rows_of_tables
from service.intake.tables import read_tables

TITLES = {column.name: column.header for column in COLUMNS}


def expected(*tags: str, zone: str = "Europe/London") -> ExpectedRound:
    rows = tuple(
        ExpectedRow(
            n, f"r{n:016x}", 1, 1, n // 3, 100 + n, 1, tag, tag, "L1", PointKind.JOINT, VisitKind.ROUTINE, zone, None
        )
        for n, tag in enumerate(tags)
    )  # fmt: skip
    sites = {1: ("S1", "Site 1", zone)}
    return ExpectedRound(1, "MW-260708-1", date(2026, 7, 8), 7 * 60, 5, rows, sites, {"ir-1": 5, "ir-2": 6})


ROUND = expected("A", "B", "C")


def csv_of(*rows: dict[str, str], separator: str = ";") -> bytes:
    names = list(
        dict.fromkeys(["round_code", "row_uid", "point_tag", "temperature_c", *(k for r in rows for k in r)])
    )
    lines = [separator.join(TITLES[name] for name in names)]
    lines += [separator.join(row.get(name, "") for name in names) for row in rows]
    return "\r\n".join(lines).encode()


def row(n: int = 0, **cells: str) -> dict[str, str]:
    known = {"round_code": ROUND.code, "row_uid": f"r{n:016x}", "point_tag": "ABC"[n]}
    return known | {"temperature_c": "41.5"} | cells


def read(
    content: bytes, ways: Ways | None = None, round_: ExpectedRound = ROUND
) -> tuple[ReadRows, list[Problem]]:
    problems = Problems()
    parsed = parse_rows(rows_of_tables(read_tables(content), ways or Ways()), problems)
    return match_rows(parsed, round_, problems), problems.told


def test_a_decimal_comma_holds_for_the_whole_file() -> None:
    found, problems = read(
        csv_of(row(0, temperature_c="36,7", current_a="85"), row(1, temperature_c="1.041,5"))
    )
    assert not problems
    assert [r.temperature_c for r in found.rows] == [36.7, 1041.5]


@pytest.mark.parametrize(
    "cells", [("36,7", "36.7"), ("1,250", "1,300")], ids=["both signs", "three digits behind one sign"]
)
def test_a_decimal_sign_in_doubt_is_asked_for(cells: tuple[str, str]) -> None:
    content = csv_of(row(0, current_a=cells[0]), row(1, current_a=cells[1]))
    content = content.replace(b"41.5", b"41")
    _, problems = read(content)
    assert ("file", "decimal") in {(p.where, p.field) for p in problems}
    _, answered = read(content, Ways(decimal=","))
    assert ("file", "decimal") not in {(p.where, p.field) for p in answered}


def test_a_file_in_fahrenheit_is_stated_and_converted() -> None:
    """Differences convert with 9/5 alone, temperatures with the offset (standards.md, breaker bulletin)."""
    found, problems = read(csv_of(row(0, temperature_c="98.06", ambient_c="77")), Ways(temperature_unit="°F"))
    assert not problems
    assert (found.rows[0].temperature_c, found.rows[0].ambient_c) == (36.7, 25.0)
    assert found.rows[0].typed["temperature_c"] == "98.06"


def test_a_title_that_says_fahrenheit_states_it() -> None:
    content = csv_of(row(0, temperature_c="212")).replace(
        "Temperature °C".encode(), "Temperature °F".encode()
    )
    assert read(content)[0].rows[0].temperature_c == 100.0


@pytest.mark.parametrize(
    ("cell", "instant"),
    [
        ("2026-07-08 08:33", datetime(2026, 7, 8, 7, 33, tzinfo=UTC)),
        ("2026-07-08T08:33:10Z", datetime(2026, 7, 8, 8, 33, 10, tzinfo=UTC)),
        ("2026-07-08T08:33+02:00", datetime(2026, 7, 8, 6, 33, tzinfo=UTC)),
        ("08.07.2026 08:33", datetime(2026, 7, 8, 7, 33, tzinfo=UTC)),
        ("25/07/2026 08:33", datetime(2026, 7, 25, 7, 33, tzinfo=UTC)),
        ("08:33", datetime(2026, 7, 8, 7, 33, tzinfo=UTC)),
        ("2026-07-08", datetime(2026, 7, 8, 6, 0, tzinfo=UTC)),
    ],
)
def test_moments_stand_on_the_site_clock(cell: str, instant: datetime) -> None:
    assert read(csv_of(row(0, taken_at=cell)))[0].rows[0].taken_at == instant


@pytest.mark.parametrize(
    "cell", ["08/07/2026 08:33", "yesterday", "2026-13-01 08:00", "25:00", "0001-01-01 00:00"]
)
def test_a_moment_in_doubt_is_a_problem(cell: str) -> None:
    near_both = expected("A", "B", "C")
    _, problems = read(csv_of(row(0, taken_at=cell)), round_=near_both)
    assert [(p.where, p.field) for p in problems] == [("row 2", "taken_at")]


def test_an_hour_that_the_clock_change_skips_is_kept() -> None:
    spring = expected("A", "B", "C", zone="Europe/London")
    found, problems = read(csv_of(row(0, taken_at="2026-03-29 01:30")), round_=spring)
    assert not problems
    assert found.rows[0].taken_at == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)


def test_rows_without_a_time_take_that_of_the_row_above() -> None:
    found, _ = read(csv_of(row(0), row(1, taken_at="09:10"), row(2)))
    assert [r.taken_at.hour for r in found.rows] == [6, 8, 8]
    assert [r.time_typed for r in found.rows] == [False, True, False]
    assert "no time" in found.warnings[0].message


def test_a_blank_row_is_a_point_not_read() -> None:
    content = csv_of(row(0), row(1, temperature_c="", ambient_c="21"), {"round_code": ROUND.code})
    found, problems = read(content)
    assert not problems
    assert (len(found.rows), found.blank) == (1, 2)


def test_a_reason_goes_by_letter_or_word() -> None:
    content = csv_of(row(0, temperature_c="", reason="k"), row(1, temperature_c="", reason="Not safe"))
    assert [r.not_assessable for r in read(content)[0].rows] == [Reason.LOCKED, Reason.NOT_SAFE]


def test_every_row_with_a_problem_is_told_at_once() -> None:
    content = csv_of(
        row(0, temperature_c="hot", reason="Z", visit_kind="now and then"),
        row(0, temperature_c="40"),
        {"round_code": "OTHER-1", "row_uid": "r1", "temperature_c": "40"},
        {"row_uid": "nobody", "temperature_c": "40"},
        row(1, point_tag="C"),
        row(2, temperature_c="", note="looked odd"),
        {"temperature_c": "50"},
        row(1, emissivity_set="95", instrument_serial="IR-9"),
    )
    _, problems = read(content)
    assert {(p.where, p.field) for p in problems} == {
        ("row 2", "temperature_c"),
        ("row 2", "reason"),
        ("row 2", "visit_kind"),
        ("row 3", "row_uid"),
        ("row 4", "round_code"),
        ("row 5", "row_uid"),
        ("row 6", "point_tag"),
        ("row 7", "temperature_c"),
        ("row 8", "row_uid"),
        ("row 9", "emissivity_set"),
        ("row 9", "instrument_serial"),
    }
    assert all(p.message and p.remedy for p in problems)


def test_the_same_row_twice_is_a_problem() -> None:
    _, problems = read(csv_of(row(0), row(1), row(0)))
    assert [(p.where, p.field) for p in problems] == [("row 4", "row_uid")]


def test_missing_columns_are_told_together() -> None:
    with pytest.raises(Invalid) as caught:
        rows_of_tables(read_tables(b"Round;Amps A\nMW-1;40\n"), Ways())
    assert {p.field for p in caught.value.problems} == {"Row id", "Point tag", "Temperature °C"}


def test_an_unknown_column_is_said_and_not_stored() -> None:
    content = csv_of(row(0)).replace(b"\r\n", b";extra\r\n", 1).replace(b"41.5", b"41.5;hello")
    found, problems = read(content)
    assert not problems
    assert found.warnings[0].field == "extra"


def test_a_hot_part_off_the_round_needs_only_its_place_and_number() -> None:
    content = csv_of(row(0), {"place": "Cable tray over P2", "temperature_c": "88", "picture": "412"})
    found, problems = read(content)
    assert not problems
    assert found.rows[1].expected is None
    assert (found.rows[1].place, found.rows[1].picture) == ("Cable tray over P2", "412")


def test_json_takes_json_types_only() -> None:
    problems = Problems()
    rows = [
        {"row_uid": f"r{0:016x}", "temperature_c": "41.5"},
        {"row_uid": f"r{1:016x}", "temperature_c": 10**400},
        {"row_uid": 7, "temperature_c": 40, "fan_on_part": "yes"},
        {"row_uid": f"r{2:016x}", "temperature_c": 40, "note": "\ud800", "colour": "red"},
        "not a row",
    ]
    parse_rows(rows_of_records(rows, Ways()), problems)
    assert {(p.where, p.field) for p in problems.told} == {
        ("row 1", "temperature_c"),
        ("row 2", "temperature_c"),
        ("row 3", "row_uid"),
        ("row 3", "fan_on_part"),
        ("row 4", "note"),
        ("row 4", "colour"),
        ("row 5", ""),
    }


def test_equal_content_has_one_name_however_it_is_written() -> None:
    comma, _ = read(csv_of(row(0, temperature_c="36,70", taken_at="08:33")))
    point, _ = read(csv_of(row(0, temperature_c="36.7", taken_at="2026-07-08 08:33")))
    assert comma.rows[0].content_hash == point.rows[0].content_hash
    other, _ = read(csv_of(row(0, temperature_c="36.8", taken_at="08:33")))
    assert other.rows[0].content_hash != point.rows[0].content_hash


def test_cells_of_a_workbook_keep_their_types() -> None:
    problems = Problems()
    record = {
        "row_uid": f"r{0:016x}",
        "temperature_c": 41,
        "taken_at": datetime(2026, 7, 8, 8, 33),
        "picture": 412,
        "load_source": "load bank",
        "fan_on_part": True,
    }
    second = {"row_uid": f"r{1:016x}", "temperature_c": 40.5, "taken_at": time(9, 5), "picture": "413"}
    found = match_rows(
        parse_rows(rows_of_records([record, second], Ways(), strict=False), problems), ROUND, problems
    )
    assert not problems.told
    first = found.rows[0]
    assert (first.temperature_c, first.picture, first.load_source) == (41.0, "412", LoadSource.LOAD_BANK)
    assert first.fan_on_part
    assert first.typed["taken_at"] == "2026-07-08 08:33"
    assert found.rows[1].taken_at == datetime(2026, 7, 8, 8, 5, tzinfo=UTC)


#: names of contents as they were before a row could say what was found on the visit
CONTENT_BEFORE = ("95c09eec4baeeaec65150da545a08b52", "2701276ff2f62e1689ed75c00e30b697")


def test_a_row_that_found_nothing_of_its_own_keeps_the_name_of_its_content() -> None:
    """A file stored long ago and sent again must still be equal."""
    content = csv_of(
        row(0, taken_at="2026-07-08 08:33", ambient_c="21", current_a="85.5", wind_m_s="0.4",
            fan_on_part="yes", emissivity_set="0.95", picture="412", note="hums"),
        row(1, temperature_c="", reason="K"),
    )  # fmt: skip
    assert tuple(r.content_hash for r in read(content)[0].rows) == CONTENT_BEFORE


def parse_records(*records: dict[str, object]) -> tuple[ReadRows, list[Problem]]:
    problems = Problems()
    parsed = parse_rows(rows_of_records(records, Ways()), problems)
    return match_rows(parsed, ROUND, problems), problems.told


@pytest.mark.parametrize(
    "found",
    [
        {"emissivity": 0.82},
        {"emissivity": 0.82, "emissivity_standing": "measured"},
        {"reflected_standing": "measured"},
        {"through_window": True},
        {"through_window": False},
        {"window_transmission": 0.82},
        {"window_c": 0.82},
        {"path_transmission": 0.82},
    ],
    ids=str,
)
def test_what_was_found_on_the_visit_is_part_of_the_content(found: dict[str, object]) -> None:
    names = {}
    plain = {"row_uid": f"r{0:016x}", "temperature_c": 41.5}
    for record in (plain, plain | {"emissivity": 0.83}, plain | found):
        read_rows, problems = parse_records(record)
        assert not problems
        names[read_rows.rows[0].content_hash] = record
    assert len(names) == 3
    typed = read_rows.rows[0]
    assert {name: getattr(typed, name) for name in found} == found


def test_what_cannot_have_been_found_is_a_problem_with_its_row() -> None:
    plain = {"temperature_c": 41.5}
    _, problems = parse_records(
        plain | {"row_uid": f"r{0:016x}", "emissivity": 82, "through_window": "yes"},
        plain | {"row_uid": f"r{1:016x}", "window_transmission": 1.2, "window_c": 900},
        plain | {"row_uid": f"r{2:016x}", "path_transmission": 0, "reflected_standing": "guessed"},
    )
    assert {(p.where, p.field) for p in problems} == {
        ("row 1", "emissivity"),
        ("row 1", "through_window"),
        ("row 2", "window_transmission"),
        ("row 2", "window_c"),
        ("row 3", "path_transmission"),
        ("row 3", "reflected_standing"),
    }
