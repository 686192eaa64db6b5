"""Who and what can be given to a round: people with their grants and certificates, instruments."""

from collections.abc import Collection

from sqlalchemy import select

from service.domain.walking_parties import Calibration, RoundInstrument, Walker
from service.domain.words import Role
from service.storage.instrument_checks import latest_checks
from service.storage.tables.people import CertificateRow, GrantRow, PersonRow
from service.storage.tables.register import InstrumentRow, SiteRow
from service.storage.unit import Unit

_WALK = (Role.TECHNICIAN.value, Role.ENGINEER.value)


def walkers_for(unit: Unit, site_ids: Collection[int], *, client_id: int) -> tuple[Walker, ...]:
    """Active technicians and engineers whose grants reach every one of these sites, by name."""
    query = (
        select(PersonRow, GrantRow.site_id)
        .join(GrantRow, GrantRow.person_id == PersonRow.id)
        .where(PersonRow.active.is_(True), PersonRow.role.in_(_WALK), GrantRow.client_id == client_id)
        .order_by(PersonRow.name, PersonRow.id)
    )
    people: dict[int, PersonRow] = {}
    granted: dict[int, set[int | None]] = {}
    for row, site_id in unit.session.execute(query):
        people[row.id] = row
        granted.setdefault(row.id, set()).add(site_id)
    wanted = set(site_ids)
    able = [row for row in people.values() if None in granted[row.id] or wanted <= granted[row.id]]
    return _walkers(unit, able)


def sites_reached(unit: Unit, site_ids: Collection[int], *, client_id: int) -> dict[int, frozenset[int]]:
    """By person with any grant of the client: those of these sites, all of them its own, that it opens."""
    query = select(GrantRow.person_id, GrantRow.site_id).where(GrantRow.client_id == client_id)
    wanted = frozenset(site_ids)
    reached: dict[int, frozenset[int]] = {}
    for person_id, site_id in unit.session.execute(query):
        opened = wanted if site_id is None else wanted & {site_id}
        reached[person_id] = reached.get(person_id, frozenset()) | opened
    return reached


def walkers_by_id(unit: Unit, person_ids: Collection[int | None]) -> dict[int, Walker]:
    """These people, whatever their grants, so that a page can name them."""
    wanted = [person_id for person_id in person_ids if person_id is not None]
    rows = unit.session.scalars(select(PersonRow).where(PersonRow.id.in_(wanted))).all()
    return {walker.id: walker for walker in _walkers(unit, list(rows))}


def _walkers(unit: Unit, rows: list[PersonRow]) -> tuple[Walker, ...]:
    query = select(CertificateRow).where(CertificateRow.person_id.in_([row.id for row in rows]))
    held: dict[int, list[CertificateRow]] = {row.id: [] for row in rows}
    for certificate in unit.session.scalars(query):
        held[certificate.person_id].append(certificate)
    return tuple(
        Walker(
            id=row.id,
            name=row.name,
            role=Role(row.role),
            qualified=row.qualified,
            active=row.active,
            certificates=tuple((c.category, c.expires_on) for c in held[row.id]),
        )
        for row in rows
    )


def instruments_of(unit: Unit, client_id: int) -> tuple[RoundInstrument, ...]:
    """Instruments of the client still in use, by name, each with its last check."""
    query = select(InstrumentRow).where(
        InstrumentRow.client_id == client_id, InstrumentRow.retired_at.is_(None)
    )
    rows = unit.session.scalars(query.order_by(InstrumentRow.name, InstrumentRow.id)).all()
    return _instruments(unit, list(rows))


def instrument_by_id(unit: Unit, instrument_id: int | None) -> RoundInstrument | None:
    row = None if instrument_id is None else unit.session.get(InstrumentRow, instrument_id)
    return None if row is None else _instruments(unit, [row])[0]


def calibrations(unit: Unit, client_id: int) -> dict[int, Calibration]:
    """By instrument of a client, the retired ones too: the day its calibration is due."""
    query = select(InstrumentRow.id, InstrumentRow.name, InstrumentRow.serial, InstrumentRow.calibration_due)
    rows = unit.session.execute(query.where(InstrumentRow.client_id == client_id))
    return {
        instrument: Calibration(name, serial, due)
        for instrument, name, serial, due in rows
        if due is not None
    }


def serials_of(unit: Unit, instrument_ids: Collection[int | None]) -> dict[int, str]:
    """Serial numbers by instrument."""
    query = select(InstrumentRow.id, InstrumentRow.serial)
    wanted = {instrument for instrument in instrument_ids if instrument is not None}
    serials: dict[int, str] = dict(unit.session.execute(query.where(InstrumentRow.id.in_(wanted))).all())
    return serials


def _instruments(unit: Unit, rows: list[InstrumentRow]) -> tuple[RoundInstrument, ...]:
    checked = latest_checks(unit, [row.id for row in rows])
    return tuple(
        RoundInstrument(
            id=row.id,
            client_id=row.client_id,
            serial=row.serial,
            name=row.name,
            calibration_due=row.calibration_due,
            last_check=checked.get(row.id),
            retired_at=row.retired_at,
        )
        for row in rows
    )


def client_of_sites(unit: Unit, site_ids: Collection[int]) -> frozenset[int]:
    return frozenset(unit.session.scalars(select(SiteRow.client_id).where(SiteRow.id.in_(site_ids))))
