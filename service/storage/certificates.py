"""What people are certified for."""

from datetime import datetime

from sqlalchemy import select

from service.domain.people import Certificate, CertificateFields
from service.errors import NotFound
from service.storage.tables.people import CertificateRow
from service.storage.unit import Unit
from service.storage.versions import row_to_edit


def _certificate(row: CertificateRow) -> Certificate:
    return Certificate(
        id=row.id,
        person_id=row.person_id,
        category=row.category,
        scope=row.scope,
        number=row.number,
        expires_on=row.expires_on,
        version=row.version,
    )


def certificates_of(unit: Unit, person_id: int) -> tuple[Certificate, ...]:
    rows = unit.session.scalars(
        select(CertificateRow)
        .where(CertificateRow.person_id == person_id)
        .order_by(CertificateRow.expires_on.desc(), CertificateRow.id)
    )
    return tuple(_certificate(row) for row in rows)


def add_certificate(unit: Unit, person_id: int, fields: CertificateFields, *, now: datetime) -> Certificate:
    row = CertificateRow(person_id=person_id, created_at=now, changed_at=now)
    _fill_certificate(row, fields)
    unit.session.add(row)
    unit.session.flush()
    return _certificate(row)


def edit_certificate(
    unit: Unit, person_id: int, certificate_id: int, fields: CertificateFields, *, version: int, now: datetime
) -> tuple[Certificate, Certificate]:
    """The certificate before and after."""
    row, before = _certificate_to_edit(unit, person_id, certificate_id, version=version, now=now)
    _fill_certificate(row, fields)
    unit.session.flush()
    return before, _certificate(row)


def remove_certificate(
    unit: Unit, person_id: int, certificate_id: int, *, version: int, now: datetime
) -> Certificate:
    """Take away one that was entered wrongly; an expired one is better kept."""
    row, before = _certificate_to_edit(unit, person_id, certificate_id, version=version, now=now)
    unit.session.delete(row)
    unit.session.flush()
    return before


def _certificate_to_edit(
    unit: Unit, person_id: int, certificate_id: int, *, version: int, now: datetime
) -> tuple[CertificateRow, Certificate]:
    known = unit.session.get(CertificateRow, certificate_id)
    if known is None or known.person_id != person_id:
        raise NotFound()
    before = _certificate(known)
    return row_to_edit(unit, CertificateRow, certificate_id, version=version, now=now), before


def _fill_certificate(row: CertificateRow, fields: CertificateFields) -> None:
    row.category = fields.category
    row.scope = fields.scope
    row.number = fields.number
    row.expires_on = fields.expires_on
