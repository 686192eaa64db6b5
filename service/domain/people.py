"""People, what they are certified for and what they may see."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from service.domain.words import Role, TemperatureUnit


@dataclass(frozen=True, slots=True)
class Certificate:
    """Of a person, after ISO 18436-7: category, scope and expiry."""

    id: int
    person_id: int
    category: int
    scope: str
    number: str
    expires_on: date
    version: int = 1


@dataclass(frozen=True, slots=True)
class CertificateFields:
    """What is typed from a certificate."""

    category: int
    scope: str
    number: str
    expires_on: date


#: The lowest category that evaluates and signs; the first one collects.
SIGNING_CATEGORY = 2


def may_sign(certificates: Iterable[Certificate], *, on: date) -> bool:
    """True when one of them is of the second category or above and has not expired that day."""
    return any(held.category >= SIGNING_CATEGORY and held.expires_on >= on for held in certificates)


@dataclass(frozen=True, slots=True)
class Grant:
    """A client, or one site of it, that a person may see."""

    client_id: int
    site_id: int | None = None
    id: int = 0
    client_name: str = ""
    site_name: str = ""


@dataclass(frozen=True, slots=True)
class Person:
    id: int
    login: str
    name: str
    role: Role
    email: str
    qualified: bool
    active: bool
    version: int
    temperature_unit: TemperatureUnit = TemperatureUnit.CELSIUS


@dataclass(frozen=True, slots=True)
class PersonFields:
    """What an administrator says of a person."""

    login: str
    name: str
    role: Role
    email: str = ""
    qualified: bool = False


@dataclass(frozen=True, slots=True)
class PersonRecord:
    """A person with all that an administrator sees of them."""

    person: Person
    certificates: tuple[Certificate, ...]
    grants: tuple[Grant, ...]
    demo: bool = False


@dataclass(frozen=True, slots=True)
class Account:
    """What signing in needs of a person and nothing else should see."""

    person: Person
    password_hash: str
    demo: bool


@dataclass(frozen=True, slots=True)
class Session:
    id: int
    person_id: int
    created_at: datetime
    expires_at: datetime
    seen_at: datetime
    revoked_at: datetime | None


@dataclass(frozen=True, slots=True)
class Token:
    """A secret for a program or a device; only its digest is kept, ``prefix`` helps to tell it."""

    id: int
    person_id: int
    name: str
    prefix: str
    round_id: int | None
    created_at: datetime
    expires_at: datetime
    used_at: datetime | None
    revoked_at: datetime | None


@dataclass(frozen=True, slots=True)
class Sight:
    """One line of what somebody's grants open: a client, and a site of it if it has any."""

    client_id: int
    client_name: str
    whole_client: bool
    site_id: int | None
    site_name: str = ""


@dataclass(frozen=True, slots=True)
class Actor:
    """Who asks: made by a door from a session or a token, passed to every use case.

    ``sites`` holds the ids of the sites granted; ``clients`` those of which anything is
    granted (their names and instruments may be seen), ``whole_clients`` those granted whole
    (a site may be added to them). ``every_site`` is true for the administrator and for jobs of
    the service itself; ``person_id`` is None for the latter. ``only_round`` is set for a token
    that opens one round and nothing else. ``temperature_unit`` is how pages tell them temperatures.
    """

    person_id: int | None
    name: str
    role: Role
    sites: frozenset[int] = field(default_factory=frozenset)
    clients: frozenset[int] = field(default_factory=frozenset)
    whole_clients: frozenset[int] = field(default_factory=frozenset)
    every_site: bool = False
    device: str = ""
    by_token: bool = False
    only_round: int | None = None
    client_name: str = ""
    temperature_unit: TemperatureUnit = TemperatureUnit.CELSIUS

    def sees_site(self, site_id: int) -> bool:
        return self.every_site or site_id in self.sites

    def sees_client(self, client_id: int) -> bool:
        return self.every_site or client_id in self.clients

    def sees_whole_client(self, client_id: int) -> bool:
        return self.every_site or client_id in self.whole_clients

    @property
    def site_ids(self) -> frozenset[int] | None:
        """Sites to filter by; None means no filter."""
        return None if self.every_site else self.sites
