"""People, what they are certified for and what they may see."""

from dataclasses import dataclass, field
from datetime import date

from service.domain.words import Role


@dataclass(frozen=True, slots=True)
class Certificate:
    """Of a person, after ISO 18436-7: category, scope and expiry."""

    id: int
    person_id: int
    category: int
    scope: str
    number: str
    expires_on: date


@dataclass(frozen=True, slots=True)
class Grant:
    """A client, or one site of it, that a person may see."""

    client_id: int
    site_id: int | None = None


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


@dataclass(frozen=True, slots=True)
class Actor:
    """Who asks: made by a door from a session or a token, passed to every use case.

    ``sites`` holds the ids of the sites granted; ``every_site`` is true for the
    administrator and for jobs of the service itself. ``person_id`` is None for the latter.
    """

    person_id: int | None
    name: str
    role: Role
    sites: frozenset[int] = field(default_factory=frozenset)
    clients: frozenset[int] = field(default_factory=frozenset)
    every_site: bool = False
    device: str = ""

    def sees_site(self, site_id: int) -> bool:
        return self.every_site or site_id in self.sites

    @property
    def site_ids(self) -> frozenset[int] | None:
        """Sites to filter by; None means no filter."""
        return None if self.every_site else self.sites
