"""Checks of instruments against a reference, each with its instrument and whoever made it."""

from collections.abc import Collection, Iterable, Sequence
from functools import cache
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, exists, func, or_, select

from service.domain.instrument_checks import (
    Accuracy,
    CheckedInstrument,
    CheckFields,
    InstrumentCheck,
    Occasion,
)
from service.errors import NotFound
from service.storage.bulk import is_one_of
from service.storage.rounds import Sight
from service.storage.tables.record import AuditRow
from service.storage.tables.register import InstrumentCheckRow, InstrumentRow, SiteRow
from service.storage.tables.rounds import RoundRow, StopRow
from service.storage.unit import Unit

#: how the trail of who did what calls a check
NOUN = "instrument check"


def instrument(unit: Unit, instrument_id: int, *, client_ids: Collection[int] | None) -> CheckedInstrument:
    """An instrument of one of the clients (None: of any).

    Raises
    ------
    NotFound
        Absent, or another client's: told alike.
    """
    row = unit.session.get(InstrumentRow, instrument_id)
    if row is None or (client_ids is not None and row.client_id not in client_ids):
        raise NotFound("There is no such instrument.")
    return _instrument(row)


def instruments_of_client(unit: Unit, client_id: int) -> tuple[CheckedInstrument, ...]:
    """Instruments in use that show degrees, by name."""
    query = (
        select(InstrumentRow)
        .where(InstrumentRow.client_id == client_id, InstrumentRow.retired_at.is_(None))
        .order_by(InstrumentRow.name, InstrumentRow.id)
    )
    found = (_instrument(row) for row in unit.session.scalars(query))
    return tuple(one for one in found if one.reads_degrees)


def zone_of_client(unit: Unit, client_id: int, *, site_ids: Collection[int] | None) -> str:
    """The zone that all sites in sight share; UTC where they do not, or there are none."""
    query = select(SiteRow.time_zone).where(SiteRow.client_id == client_id, SiteRow.retired_at.is_(None))
    if site_ids is not None:
        query = query.where(SiteRow.id.in_(site_ids))
    zones = unit.session.scalars(query.distinct()).all()
    return zones[0] if len(zones) == 1 else "UTC"


def add_check(
    unit: Unit, instrument_id: int, *, round_id: int | None, fields: CheckFields
) -> tuple[int, bool]:
    """Keep a check; the very same one, sent again, is the one that is there. Its id, and whether it is new."""
    row = InstrumentCheckRow
    there = unit.session.scalar(
        select(row.id).where(
            row.instrument_id == instrument_id,
            row.round_id.is_(None) if round_id is None else row.round_id == round_id,
            row.at == fields.at,
            row.occasion == fields.occasion,
            row.reference_c == fields.reference_c,
            row.shown_c == fields.shown_c,
            row.note == fields.note,
        )
    )
    if there is not None:
        return there, False
    made = InstrumentCheckRow(
        instrument_id=instrument_id, round_id=round_id, at=fields.at, occasion=fields.occasion,
        reference_c=fields.reference_c, shown_c=fields.shown_c, note=fields.note,
    )  # fmt: skip
    unit.session.add(made)
    unit.session.flush()
    return made.id, True


def check_by_id(unit: Unit, check_id: int) -> InstrumentCheck:
    return _read(unit, _checks().where(InstrumentCheckRow.id == check_id))[0]


def checks_of_instrument(
    unit: Unit, instrument_id: int, sight: Sight, *, after: int = 0, limit: int = 200
) -> tuple[InstrumentCheck, ...]:
    """Its checks, the latest first; a round is named only where it is in sight.

    ``after`` is the id of the last check of the page before.
    """
    query = _checks(_seen(sight)).where(InstrumentCheckRow.instrument_id == instrument_id)
    if after:
        at = select(InstrumentCheckRow.at).where(InstrumentCheckRow.id == after).scalar_subquery()
        same = and_(InstrumentCheckRow.at == at, InstrumentCheckRow.id < after)
        query = query.where(or_(InstrumentCheckRow.at < at, same))
    order = (InstrumentCheckRow.at.desc(), InstrumentCheckRow.id.desc())
    return _read(unit, query.order_by(*order).limit(limit))


def checks_of_round(unit: Unit, round_id: int) -> tuple[InstrumentCheck, ...]:
    """What was checked on a round, in the order of time."""
    query = _all_checks().where(InstrumentCheckRow.round_id == round_id)
    return _read(unit, query.order_by(InstrumentCheckRow.at, InstrumentCheckRow.id))


def latest_checks(unit: Unit, instrument_ids: Iterable[int]) -> dict[int, InstrumentCheck]:
    """By instrument its latest check."""
    row = InstrumentCheckRow
    latest = (
        select(row.instrument_id, func.max(row.at).label("at"))
        .where(is_one_of(unit, row.instrument_id, instrument_ids))
        .group_by(row.instrument_id)
        .subquery()
    )
    query = (
        _all_checks()
        .join(latest, and_(latest.c.instrument_id == row.instrument_id, latest.c.at == row.at))
        .order_by(row.id)
    )
    return {check.instrument.id: check for check in _read(unit, query)}


@cache
def _all_checks() -> Select[*tuple[Any, ...]]:
    return _checks()


def _checks(seen: ColumnElement[bool] | None = None) -> Select[*tuple[Any, ...]]:
    """Each check with its instrument, the code of its round where that is seen, and who noted it."""
    by = and_(AuditRow.noun == NOUN, AuditRow.noun_id == InstrumentCheckRow.id)
    named = RoundRow.id == InstrumentCheckRow.round_id
    return (
        select(InstrumentCheckRow, InstrumentRow, RoundRow.code, AuditRow.person_name)
        .join(InstrumentRow, InstrumentRow.id == InstrumentCheckRow.instrument_id)
        .outerjoin(RoundRow, named if seen is None else and_(named, seen))
        .outerjoin(AuditRow, by)
    )


def _seen(sight: Sight) -> ColumnElement[bool]:
    """Rounds all of whose sites are in sight and, for technicians, that are theirs."""
    clauses: list[ColumnElement[bool]] = []
    if sight.site_ids is not None:
        foreign = exists().where(StopRow.round_id == RoundRow.id, StopRow.site_id.not_in(sight.site_ids))
        clauses.append(~foreign)
    if sight.person_id is not None:
        clauses.append(
            or_(RoundRow.person_id == sight.person_id, RoundRow.second_person_id == sight.person_id)
        )
    if sight.only_round is not None:
        clauses.append(RoundRow.id == sight.only_round)
    return and_(True, *clauses)


def _read(unit: Unit, query: Select[*tuple[Any, ...]]) -> tuple[InstrumentCheck, ...]:
    return tuple(_check(record) for record in unit.session.execute(query))


def _check(record: Sequence[Any]) -> InstrumentCheck:
    row, of, code, by = record
    return InstrumentCheck(
        id=row.id, instrument=_instrument(of), round_id=row.round_id if code else None, round_code=code or "",
        at=row.at, occasion=Occasion(row.occasion), reference_c=row.reference_c, shown_c=row.shown_c,
        note=row.note, by=by or "somebody",
    )  # fmt: skip


def _instrument(row: InstrumentRow) -> CheckedInstrument:
    return CheckedInstrument(
        id=row.id, client_id=row.client_id, name=row.name, serial=row.serial, kind=row.kind,
        accuracy=Accuracy(row.accuracy_k, row.accuracy_percent), retired=row.retired_at is not None,
    )  # fmt: skip
