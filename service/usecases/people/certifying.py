"""Certificates of people: category 2 or above, valid on the day, signs a round off."""

from datetime import datetime
from typing import Any

from service.domain.people import Actor, Certificate, CertificateFields, PersonRecord
from service.domain.permissions import Verb, require
from service.errors import Invalid, NotFound
from service.storage import audit, certificates, people
from service.storage.unit import Store, Unit
from service.usecases.people.typed import certificate_problems


def add_certificate(
    store: Store, actor: Actor, person_id: int, fields: CertificateFields, *, now: datetime
) -> PersonRecord:
    """Record a certificate of a person.

    Raises
    ------
    Forbidden
        For everybody but administrators.
    Invalid
        Every problem of the fields.
    NotFound
        No such person.
    """
    require(actor, Verb.ADMINISTER)
    _refuse(fields)
    with store.begin() as unit:
        if people.account_by_id(unit, person_id) is None:
            raise NotFound()
        made = certificates.add_certificate(unit, person_id, fields, now=now)
        _note(unit, actor, "add", made, now=now, after=_shown(made))
        return _record(unit, person_id)


def edit_certificate(
    store: Store,
    actor: Actor,
    person_id: int,
    certificate_id: int,
    fields: CertificateFields,
    *,
    version: int,
    now: datetime,
) -> PersonRecord:
    """Correct a certificate.

    Raises
    ------
    Forbidden
        For everybody but administrators.
    Invalid
        Every problem of the fields.
    NotFound, Stale
        No such person or certificate; changed since ``version``.
    """
    require(actor, Verb.ADMINISTER)
    _refuse(fields)
    with store.begin() as unit:
        before, after = certificates.edit_certificate(
            unit, person_id, certificate_id, fields, version=version, now=now
        )
        _note(unit, actor, "edit", after, now=now, before=_shown(before), after=_shown(after))
        return _record(unit, person_id)


def remove_certificate(
    store: Store, actor: Actor, person_id: int, certificate_id: int, *, version: int, now: datetime
) -> PersonRecord:
    """Take away a certificate that was entered wrongly.

    Raises
    ------
    Forbidden
        For everybody but administrators.
    NotFound, Stale
        No such person or certificate; changed since ``version``.
    """
    require(actor, Verb.ADMINISTER)
    with store.begin() as unit:
        gone = certificates.remove_certificate(unit, person_id, certificate_id, version=version, now=now)
        _note(unit, actor, "remove", gone, now=now, before=_shown(gone))
        return _record(unit, person_id)


def _refuse(fields: CertificateFields) -> None:
    found = certificate_problems(fields)
    if found:
        raise Invalid(found)


def _record(unit: Unit, person_id: int) -> PersonRecord:
    record = people.person_record(unit, person_id)
    if record is None:
        raise NotFound()
    return record


def _shown(held: Certificate) -> dict[str, Any]:
    names = ("person_id", "category", "scope", "number", "expires_on")
    return {name: getattr(held, name) for name in names}


def _note(
    unit: Unit,
    actor: Actor,
    verb: str,
    held: Certificate,
    *,
    now: datetime,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
) -> None:
    audit.note(
        unit, actor, verb=verb, noun="certificate", noun_id=held.id, now=now, before=before, after=after
    )
