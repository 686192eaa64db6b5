"""The invented people of Merrowdale Water: accounts, certificates, grants, and who they are to the service."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from service.domain.people import Actor, CertificateFields, PersonFields
from service.domain.words import Role
from service.storage.unit import Store
from service.usecases.people.accounts import COMMAND, add_person
from service.usecases.people.certifying import add_certificate
from service.usecases.people.demo import DEMO_PASSWORD
from service.usecases.people.granting import grant
from service.usecases.people.sign_in import sign_in, sign_out

ENGINEER, MANAGER, ADMINISTRATOR = "r.amsel", "p.lindqvist", "k.osei"
TECHNICIANS = ("a.quill", "t.marsh")
PERMIT_ISSUERS = ("D. Harle, control room", "M. Tarn, control room")


@dataclass(frozen=True, slots=True)
class _Invented:
    login: str
    name: str
    role: Role
    qualified: bool = False
    category: int = 0
    certificate_days: int = 0


PEOPLE = (
    _Invented("k.osei", "K. Osei", Role.ADMINISTRATOR),
    _Invented("r.amsel", "R. Amsel", Role.ENGINEER, qualified=True, category=2, certificate_days=410),
    _Invented("p.lindqvist", "P. Lindqvist", Role.MANAGER),
    _Invented("a.quill", "A. Quill", Role.TECHNICIAN, qualified=True, category=1, certificate_days=230),
    _Invented("t.marsh", "T. Marsh", Role.TECHNICIAN, category=1, certificate_days=48),
)


def open_accounts(store: Store, *, today: date, now: datetime) -> Mapping[str, int]:
    """Open every account with its certificate; person ids by sign-in name.

    Certificates end relative to ``today``, so that the demonstration always has one that ends soon.
    """
    ids = {}
    for one in PEOPLE:
        fields = PersonFields(
            login=one.login,
            name=one.name,
            role=one.role,
            email=f"{one.login}@mw.example",
            qualified=one.qualified,
        )
        ids[one.login] = add_person(store, COMMAND, fields, DEMO_PASSWORD, now=now, demo=True).person.id
        if one.category:
            held = CertificateFields(
                category=one.category,
                scope="Electrical and mechanical thermography",
                number=f"MW-{1000 + ids[one.login]} (invented)",
                expires_on=today + timedelta(days=one.certificate_days),
            )
            add_certificate(store, COMMAND, ids[one.login], held, now=now)
    return ids


def grant_client(store: Store, ids: Mapping[str, int], client_id: int, *, now: datetime) -> None:
    """Open the client to everybody; whoever made it sees it already."""
    for login, person_id in ids.items():
        if login != ENGINEER:
            grant(store, COMMAND, person_id, client_id, now=now)


def first_engineer(ids: Mapping[str, int]) -> Actor:
    """The engineer before there is anything to see: makes the client, and is granted it thereby."""
    return Actor(person_id=ids[ENGINEER], name="R. Amsel", role=Role.ENGINEER)


def actors(store: Store, logins: Iterable[str], *, now: datetime) -> dict[str, Actor]:
    """People as the service knows them after signing in; their sessions are closed again."""
    found = {}
    for login in logins:
        actor, secret = sign_in(store, login, DEMO_PASSWORD, address="127.0.0.1", now=now, demo_allowed=True)
        sign_out(store, actor, secret, now=now)
        found[login] = actor
    return found
