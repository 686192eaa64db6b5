"""People, what is granted to them and what they are certified for."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Path, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import After, Around, Asker, EditedVersion, Limit, tag
from service.domain.people import Certificate, CertificateFields, Grant, Person, PersonFields, PersonRecord
from service.domain.words import Role, TemperatureUnit
from service.usecases.people import accounts, certifying, granting, passwords

router = APIRouter(prefix="/people", tags=["people"])
Id = Annotated[int, Path(ge=1, le=2**53)]
BodyId = Annotated[int, Field(ge=1, le=2**53)]
Password = Annotated[str, Field(max_length=1000, json_schema_extra={"format": "password"})]


class Body(BaseModel):
    model_config = ConfigDict(extra="forbid")


class PersonBody(Body):
    login: str = Field(max_length=100)
    name: str = Field(max_length=200)
    role: Role
    email: str = Field(default="", max_length=300)
    qualified: bool = False

    def fields(self) -> PersonFields:
        return PersonFields(self.login, self.name, self.role, self.email, self.qualified)


class NewPersonBody(PersonBody):
    password: Password


class PasswordBody(Body):
    password: Password


class OwnPasswordBody(Body):
    password: Password
    new_password: Password


class ActiveBody(Body):
    active: bool


class GrantBody(Body):
    client_id: BodyId
    site_id: BodyId | None = None


class CertificateBody(Body):
    category: int = Field(ge=1, le=4)
    scope: str = Field(default="thermography", max_length=200)
    number: str = Field(default="", max_length=200)
    expires_on: date

    def fields(self) -> CertificateFields:
        return CertificateFields(self.category, self.scope, self.number, self.expires_on)


class PersonReply(BaseModel):
    id: int
    login: str
    name: str
    role: Role
    email: str
    qualified: bool
    active: bool
    version: int

    @classmethod
    def of(cls, person: Person) -> "PersonReply":
        return cls.model_validate(person, from_attributes=True)


class CertificateReply(BaseModel):
    id: int
    category: int
    scope: str
    number: str
    expires_on: date
    version: int

    @classmethod
    def of(cls, held: Certificate) -> "CertificateReply":
        return cls.model_validate(held, from_attributes=True)


class GrantReply(BaseModel):
    id: int
    client_id: int
    client_name: str
    site_id: int | None
    site_name: str

    @classmethod
    def of(cls, given: Grant) -> "GrantReply":
        return cls.model_validate(given, from_attributes=True)


class RecordReply(PersonReply):
    certificates: list[CertificateReply]
    grants: list[GrantReply]


class ColleagueReply(BaseModel):
    id: int
    name: str
    role: Role


class MeReply(BaseModel):
    person_id: int | None
    name: str
    role: Role
    every_site: bool
    sites: list[int]
    clients: list[int]
    temperature_unit: TemperatureUnit = Field(
        description="how pages tell temperatures to them; this API tells and takes °C and K"
    )


def _reply(response: Response, record: PersonRecord) -> RecordReply:
    tag(response, record.person.version)
    return RecordReply(
        **PersonReply.of(record.person).model_dump(),
        certificates=[CertificateReply.of(held) for held in record.certificates],
        grants=[GrantReply.of(given) for given in record.grants],
    )


@router.get("/me")
def me(asker: Asker) -> MeReply:
    """Who asks, and what is in their sight."""
    return MeReply(
        person_id=asker.person_id,
        name=asker.name,
        role=asker.role,
        every_site=asker.every_site,
        sites=sorted(asker.sites),
        clients=sorted(asker.clients),
        temperature_unit=asker.temperature_unit,
    )


@router.post("/me/password", status_code=204)
def change_own_password(around: Around, asker: Asker, body: OwnPasswordBody) -> None:
    """Change one's own password (signed in, not with a token); every session of one's own ends."""
    passwords.change_own_password(
        around.store, asker, body.password, body.new_password, now=around.now(), hasher=around.hasher
    )


@router.get("/colleagues")
def list_colleagues(around: Around, asker: Asker) -> list[ColleagueReply]:
    """Active people who share a site or a client with the asker, by name."""
    found = accounts.list_colleagues(around.store, asker)
    return [ColleagueReply(id=person.id, name=person.name, role=person.role) for person in found]


@router.get("")
def list_people(around: Around, asker: Asker, after: After = 0, limit: Limit = 100) -> list[PersonReply]:
    found = accounts.list_people(around.store, asker, after=after, limit=limit)
    return [PersonReply.of(person) for person in found]


@router.post("", status_code=201)
def add_person(around: Around, asker: Asker, response: Response, body: NewPersonBody) -> RecordReply:
    record = accounts.add_person(
        around.store, asker, body.fields(), body.password, now=around.now(), hasher=around.hasher
    )
    response.headers["Location"] = f"/api/v1/people/{record.person.id}"
    return _reply(response, record)


@router.get("/{person_id}")
def show_person(around: Around, asker: Asker, response: Response, person_id: Id) -> RecordReply:
    return _reply(response, accounts.show_person(around.store, asker, person_id))


@router.put("/{person_id}")
def edit_person(
    around: Around, asker: Asker, response: Response, person_id: Id, body: PersonBody, version: EditedVersion
) -> RecordReply:
    record = accounts.edit_person(
        around.store, asker, person_id, body.fields(), version=version, now=around.now()
    )
    return _reply(response, record)


@router.put("/{person_id}/active")
def set_active(
    around: Around, asker: Asker, response: Response, person_id: Id, body: ActiveBody, version: EditedVersion
) -> RecordReply:
    """Close an account, with its sessions and tokens, or open it again."""
    record = accounts.set_active(
        around.store, asker, person_id, body.active, version=version, now=around.now()
    )
    return _reply(response, record)


@router.put("/{person_id}/password")
def set_password(
    around: Around,
    asker: Asker,
    response: Response,
    person_id: Id,
    body: PasswordBody,
    version: EditedVersion,
) -> RecordReply:
    """Set somebody's password; every session of theirs ends."""
    record = passwords.set_password(
        around.store,
        asker,
        person_id,
        body.password,
        version=version,
        now=around.now(),
        hasher=around.hasher,
    )
    return _reply(response, record)


@router.post("/{person_id}/grants", status_code=201)
def grant(around: Around, asker: Asker, response: Response, person_id: Id, body: GrantBody) -> RecordReply:
    """Open a client, or one site of it, to a person; twice is once."""
    record = granting.grant(around.store, asker, person_id, body.client_id, body.site_id, now=around.now())
    return _reply(response, record)


@router.delete("/{person_id}/grants/{grant_id}")
def revoke(
    around: Around, asker: Asker, response: Response, person_id: Id, grant_id: Id, version: EditedVersion
) -> RecordReply:
    """Take a grant back; If-Match names the person's version."""
    record = granting.revoke(around.store, asker, person_id, grant_id, version=version, now=around.now())
    return _reply(response, record)


@router.post("/{person_id}/certificates", status_code=201)
def add_certificate(
    around: Around, asker: Asker, response: Response, person_id: Id, body: CertificateBody
) -> RecordReply:
    record = certifying.add_certificate(around.store, asker, person_id, body.fields(), now=around.now())
    return _reply(response, record)


@router.put("/{person_id}/certificates/{certificate_id}")
def edit_certificate(
    around: Around,
    asker: Asker,
    response: Response,
    person_id: Id,
    certificate_id: Id,
    body: CertificateBody,
    version: EditedVersion,
) -> RecordReply:
    """Correct a certificate; If-Match names the certificate's version."""
    record = certifying.edit_certificate(
        around.store, asker, person_id, certificate_id, body.fields(), version=version, now=around.now()
    )
    return _reply(response, record)


@router.delete("/{person_id}/certificates/{certificate_id}")
def remove_certificate(
    around: Around,
    asker: Asker,
    response: Response,
    person_id: Id,
    certificate_id: Id,
    version: EditedVersion,
) -> RecordReply:
    """Remove one entered wrongly; If-Match names the certificate's version."""
    record = certifying.remove_certificate(
        around.store, asker, person_id, certificate_id, version=version, now=around.now()
    )
    return _reply(response, record)
