"""Calendars against RFC 5545, RFC 5546 and RFC 7986, read back by a library and line by line."""

import re
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar, Event

from service.domain.calendars import CalendarEntry, EntryState, RoundsCalendar, entry_uid
from service.domain.site_clock import instant_at
from service.reports.calendar import calendar_file
from tests.published.evidence import PUBLISHED, evidence

ICALENDAR, SCHEDULING, HINTS = "RFC 5545", "RFC 5546", "RFC 7986"
MADE = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
STARTS = datetime(2026, 12, 8, 7, 0, tzinfo=UTC)


def entry(**fields: Any) -> CalendarEntry:
    usual: dict[str, Any] = {
        "uid": entry_uid("MW-261208-1", MADE),
        "sequence": 3,
        "created_at": MADE,
        "changed_at": MADE,
        "starts_at": STARTS,
        "ends_at": STARTS + timedelta(hours=6),
        "state": EntryState.CONFIRMED,
        "summary": "South (MW-261208-1)",
        "client_code": "MW",
        "client_name": "Merrowdale Water",
        "place": "Site 1",
        "latitude": 37.386013,
        "longitude": -122.082932,
        "lines": ("1 stop", "", "No permission"),
        "round_id": 7,
    }
    return CalendarEntry(**(usual | fields))


def written(*entries: CalendarEntry, name: str = "Rounds") -> bytes:
    return calendar_file(RoundsCalendar(name, entries), base="https://plant.example/")


def unfolded(content: bytes) -> list[str]:
    """Lines as RFC 5545 §3.1 has them put together again, by hand."""
    return content.decode().replace("\r\n ", "").removesuffix("\r\n").split("\r\n")


def read(content: bytes) -> Event:
    (event,) = Calendar.from_ical(content).walk("VEVENT")
    return event


HOSTILE = (
    "a,b;c\\d",
    "one\r\nSUMMARY:two",
    "one\rEND:VEVENT\rtwo",
    "one\nX-EVIL:1",
    "tab\tbell\x07nul\x00",
    "line\u2028separator\u2029",
    '"quoted": ^n ^^',
    "Überlandwerk Grünwald " * 9,
    "é" * 200,
    "👩‍🔧" * 60,
)


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
@evidence(ICALENDAR, "3.1: lines of 75 octets at most, ended by CRLF", PUBLISHED)
def test_lines_are_folded_and_ended(text: str) -> None:
    content = written(entry(summary=text, place=text, lines=(text, text), client_name=text), name=text)
    assert content.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in content.replace(b"\r\n", b"")
    assert b"\r" not in content.replace(b"\r\n", b"")
    lines = content.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    for line in lines:
        line.decode()  # no character is cut in two


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
@evidence(ICALENDAR, "3.1, 3.3.11: no text begins a line of its own", PUBLISHED)
def test_no_text_adds_a_property(text: str) -> None:
    hostile = unfolded(written(entry(summary=text, place=text, lines=(text,), client_name=text), name=text))
    tame = unfolded(written(entry()))
    assert [re.split("[:;]", line)[0] for line in hostile] == [re.split("[:;]", line)[0] for line in tame]


@given(st.text(max_size=300))
@evidence(ICALENDAR, "3.3.11: text comes back as it went out", PUBLISHED)
def test_text_comes_back(text: str) -> None:
    lines = text.encode("utf-8", "replace").decode().replace("\r\n", "\n").replace("\r", "\n")
    plain = "".join(one if one == "\n" or one.isprintable() else " " for one in lines)
    assert str(read(written(entry(summary=plain)))["summary"]) == plain


@evidence(ICALENDAR, "3.3.11: the example of a description", PUBLISHED)
def test_the_example_of_escaped_text() -> None:
    lines = ("Project XYZ Final Review", "Conference Room - 3B", "Come Prepared.")
    described = "DESCRIPTION:Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared."
    assert described in unfolded(written(entry(lines=lines)))
    escaped = unfolded(written(entry(place="Hall; north, bay 2\\3"), name="A, B; C"))
    assert "LOCATION:Hall\\; north\\, bay 2\\\\3" in escaped
    assert "NAME:A\\, B\\; C" in escaped


@evidence(ICALENDAR, "3.8.1.6: the example of a position", PUBLISHED)
def test_the_example_of_a_position() -> None:
    assert "GEO:37.386013;-122.082932" in unfolded(written(entry()))
    assert not any(line.startswith("GEO") for line in unfolded(written(entry(longitude=None))))


@evidence(ICALENDAR, "3.6: version and product id, once each", PUBLISHED)
def test_the_calendar_has_what_it_must_have() -> None:
    lines = unfolded(written())
    assert lines[0] == "BEGIN:VCALENDAR"
    for name in ("VERSION:2.0", "PRODID:-//Riseline//Rounds//EN", "CALSCALE:GREGORIAN", "METHOD:PUBLISH"):
        assert lines.count(name) == 1


@evidence(ICALENDAR, "3.6.1: what an event must have, and what only once", PUBLISHED)
def test_an_event_has_what_it_must_have() -> None:
    lines = unfolded(written(entry()))
    names = [re.split("[:;]", line)[0] for line in lines[lines.index("BEGIN:VEVENT") :]]
    once = (
        "UID DTSTAMP DTSTART DTEND CREATED LAST-MODIFIED SEQUENCE STATUS SUMMARY DESCRIPTION LOCATION GEO URL"
    )
    assert {name: names.count(name) for name in once.split()} == dict.fromkeys(once.split(), 1)


@evidence(ICALENDAR, "3.3.5, form 2: times in UTC, without a zone", PUBLISHED)
def test_every_time_is_in_utc() -> None:
    lines = unfolded(written(entry(changed_at=MADE.replace(microsecond=123456))))
    times = [line for line in lines if line.startswith(("DT", "CREATED", "LAST-MOD"))]
    assert len(times) == 5
    assert all(re.fullmatch(r"[A-Z-]+:\d{8}T\d{6}Z", line) for line in times)
    assert not any("TZID" in line for line in lines)


@evidence(SCHEDULING, "3.2.1: what a published event has, and no attendee", PUBLISHED)
def test_a_published_event_has_an_organizer_and_no_attendee() -> None:
    event = read(written(entry(client_name='North "Works", Ltd')))
    assert {"organizer", "dtstamp", "dtstart", "summary", "uid"} <= {name.lower() for name in event}
    assert "attendee" not in event
    assert re.fullmatch(r"urn:uuid:[0-9a-f-]{36}", str(event["organizer"]))
    assert event["organizer"].params["CN"] == 'North "Works", Ltd'


@evidence(HINTS, "5.1, 5.7: name and interval of refresh, positive and said to be a duration", PUBLISHED)
def test_hints_are_open_ones() -> None:
    lines = unfolded(written(entry(), name="Rounds of A"))
    assert "NAME:Rounds of A" in lines
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT1H" in lines
    assert not any(line.startswith("X-") for line in lines)


@evidence(HINTS, "5.3: a UUID without host or person", PUBLISHED)
def test_uids_are_lasting_and_apart() -> None:
    uids = {entry_uid(f"MW-261208-{k}", MADE + timedelta(seconds=j)) for k in range(20) for j in range(20)}
    assert len(uids) == 400
    assert all(
        re.fullmatch(r"[0-9a-f]{8}-[0-9a-f]{4}-5[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", u) for u in uids
    )
    assert entry_uid("MW-261208-1", MADE) == entry_uid("MW-261208-1", MADE)


@evidence(ICALENDAR, "3.8.1.11: the states of an event", PUBLISHED)
def test_states_are_those_of_an_event() -> None:
    told = [read(written(entry(state=state)))["status"] for state in EntryState]
    assert told == ["TENTATIVE", "CONFIRMED", "CANCELLED"]


NEW_YORK, LONDON = "America/New_York", "Europe/London"
#: the two examples of the clause, then the rule on other nights and other clocks
CLOCK = [
    (NEW_YORK, date(2007, 11, 4), 90, "2007-11-04T05:30"),
    (NEW_YORK, date(2007, 3, 11), 150, "2007-03-11T07:30"),
    (LONDON, date(2026, 3, 29), 90, "2026-03-29T01:30"),
    (LONDON, date(2026, 3, 29), 420, "2026-03-29T06:00"),
    (LONDON, date(2026, 3, 28), 420, "2026-03-28T07:00"),
    (LONDON, date(2026, 10, 25), 90, "2026-10-25T00:30"),
    (LONDON, date(2026, 10, 25), 420, "2026-10-25T07:00"),
    (LONDON, date(2026, 10, 24), 420, "2026-10-24T06:00"),
    (LONDON, date(2026, 10, 24), 1440 + 420, "2026-10-25T07:00"),
    ("Australia/Lord_Howe", date(2026, 4, 5), 420, "2026-04-04T20:30"),
]


@pytest.mark.parametrize(("zone", "day", "minutes", "utc"), CLOCK)
@evidence(ICALENDAR, "3.3.5: times that come twice, and times that are skipped", PUBLISHED)
def test_a_clock_that_is_changed(zone: str, day: date, minutes: int, utc: str) -> None:
    assert instant_at(day, minutes, zone=zone) == datetime.fromisoformat(f"{utc}+00:00")
