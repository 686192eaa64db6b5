"""A calendar as a file: RFC 5545, published (RFC 5546), with the hints of RFC 7986; the same twice, byte for byte."""

from datetime import timedelta

from icalendar import Calendar, Event, vCalAddress, vText

from service.domain.calendars import CalendarEntry, RoundsCalendar, organizer_uri

MEDIA_TYPE = "text/calendar; charset=utf-8"
#: how often a program may ask again (own choice, no source): a plan changes within the day
REFRESH = timedelta(hours=1)
PRODUCT = "-//Riseline//Rounds//EN"
#: decimals of a degree: RFC 5545 §3.8.1.6 asks for six at most
GEO_DECIMALS = 6


def calendar_file(calendar: RoundsCalendar, *, base: str) -> bytes:
    """The bytes of a calendar.

    Parameters
    ----------
    calendar : RoundsCalendar
        Its name and entries.
    base : str
        Address of the service with a slash at its end, for links to the rounds.

    Returns
    -------
    bytes
        UTF-8, lines folded at 75 octets and ended by CRLF. Every time is in UTC, so that no
        time zone needs to be told along.

    References
    ----------
    RFC 5545 §3.1 (folding), §3.3.11 (escaping), §3.6.1 (events); RFC 5546 §3.2.1 (what a
    published event has); RFC 7986 §5.1, §5.7 (name, interval of refresh).
    """
    made = Calendar()
    made.add("prodid", PRODUCT)
    made.add("version", "2.0")
    made.add("calscale", "GREGORIAN")
    made.add("method", "PUBLISH")
    made.add("name", _text(calendar.name))
    made.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    for entry in calendar.entries:
        made.add_component(_event(entry, base))
    content: bytes = made.to_ical()
    return content


def _event(entry: CalendarEntry, base: str) -> Event:
    event = Event()
    event.add("uid", entry.uid)
    event.add("sequence", entry.sequence)
    event.add("dtstamp", entry.changed_at)
    event.add("created", entry.created_at)
    event.add("last-modified", entry.changed_at)
    event.add("dtstart", entry.starts_at)
    event.add("dtend", entry.ends_at)
    event.add("status", entry.state.value)
    event.add("summary", _text(entry.summary))
    event.add("description", _text("\n".join(entry.lines)))
    event.add("organizer", _organizer(entry))
    if entry.place:
        event.add("location", _text(entry.place))
    if entry.latitude is not None and entry.longitude is not None:
        event.add("geo", (round(entry.latitude, GEO_DECIMALS), round(entry.longitude, GEO_DECIMALS)))
    if entry.round_id is not None:
        event.add("url", f"{base}rounds/{entry.round_id}")
    return event


def _organizer(entry: CalendarEntry) -> vCalAddress:
    address = vCalAddress(organizer_uri(entry.client_code))
    address.params["CN"] = vText(_plain(entry.client_name).replace("\n", " "))
    return address


def _text(text: str) -> vText:
    """As the type that escapes: the library writes a name it does not know as it stands."""
    return vText(_plain(text))


def _plain(text: str) -> str:
    """Without control characters but the end of a line: no text begins a line of its own."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(letter if letter == "\n" or letter.isprintable() else " " for letter in lines)
