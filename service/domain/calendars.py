"""Entries of a calendar: what one says of a round, and by what it is known again."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from uuid import UUID, uuid5

from service.domain.words import RoundState

#: under which this service's names become unique ids (RFC 9562 §5.5); drawn once, never changed
NAMES = UUID("6f0b2f0e-2f0c-4b0e-9c52-6a1d4be6c1a7")
CAUTION = (
    "This entry gives no one permission: the site's permit, the label on the door and the qualified "
    "person do. Local codes and the site's own rules come first."
)


class EntryState(StrEnum):
    """The three that RFC 5545 §3.8.1.11 has for an event."""

    TENTATIVE = "TENTATIVE"
    CONFIRMED = "CONFIRMED"
    CANCELLED = "CANCELLED"


STATE_OF = {
    RoundState.DRAFT: EntryState.TENTATIVE,
    RoundState.ISSUED: EntryState.CONFIRMED,
    RoundState.RETURNED: EntryState.CONFIRMED,
    RoundState.SIGNED_OFF: EntryState.CONFIRMED,
    RoundState.WITHDRAWN: EntryState.CANCELLED,
}


@dataclass(frozen=True, slots=True)
class CalendarEntry:
    """One round in a calendar.

    ``round_id`` is None where the reader may no longer open the round. Instants are in UTC;
    ``changed_at`` is that of the last change of the round or of a permit of it.
    """

    uid: str
    sequence: int
    created_at: datetime
    changed_at: datetime
    starts_at: datetime
    ends_at: datetime
    state: EntryState
    summary: str
    client_code: str
    client_name: str
    place: str = ""
    latitude: float | None = None
    longitude: float | None = None
    lines: tuple[str, ...] = ()
    round_id: int | None = None


@dataclass(frozen=True, slots=True)
class RoundsCalendar:
    """A calendar as it goes out: its name and its entries, in order of time."""

    name: str
    entries: tuple[CalendarEntry, ...]


@dataclass(frozen=True, slots=True)
class CalendarFeed:
    """A secret address under which a calendar program reads somebody's rounds; it is kept as a digest only."""

    id: int
    person_id: int
    prefix: str
    created_at: datetime
    used_at: datetime | None
    revoked_at: datetime | None


def entry_uid(code: str, created_at: datetime) -> str:
    """The same for one round for ever, another for every other round of any installation.

    Parameters
    ----------
    code : str
        Of the round; it never changes.
    created_at : datetime
        When the round was planned: two installations may have rounds of one code.

    References
    ----------
    RFC 7986 §5.3: a UUID, without anything of a host or a person in it.
    """
    return str(uuid5(NAMES, f"{code} {created_at.isoformat()}"))


def organizer_uri(client_code: str) -> str:
    """Who publishes, as the address that RFC 5546 §3.2.1 asks for; nobody is meant to write to it."""
    return f"urn:uuid:{uuid5(NAMES, client_code)}"
