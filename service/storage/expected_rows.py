"""The rows that a round expects back: the places of its points, its sites and instruments by name."""

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Select, func, or_, select

from service.domain.readings import ExpectedRound, ExpectedRow
from service.domain.rounds import Round
from service.domain.words import PointKind, VisitKind
from service.storage.bulk import is_one_of_texts
from service.storage.readings import CURRENT
from service.storage.tables.readings import ReadingRow
from service.storage.tables.register import InstrumentRow, PointRow, SiteRow
from service.storage.tables.rounds import RoundPointRow, StopRow
from service.storage.unit import Unit

#: Up to so many rows are looked up by name; for more the whole round is read, which is quicker.
FEW_NAMED = 300


def expected_round(unit: Unit, round_: Round, *, uids: Iterable[str], tags: Iterable[str]) -> ExpectedRound:
    """What the rows named by id or point tag are held against; a few rows do not load the whole."""
    return ExpectedRound(
        id=round_.id,
        code=round_.code,
        planned_on=round_.planned_on,
        start_min=round_.start_min,
        instrument_id=round_.instrument_id,
        rows=tuple(_expected_rows(unit, round_.id, set(uids), set(tags))),
        sites=_sites(unit, round_.id),
        instruments=_instruments(unit, round_.client_id),
    )


def _expected_query(round_id: int) -> Select[*tuple[Any, ...]]:
    return (
        select(
            RoundPointRow.id,
            RoundPointRow.uid,
            RoundPointRow.stop_id,
            StopRow.position,
            RoundPointRow.view_id,
            RoundPointRow.point_id,
            StopRow.site_id,
            PointRow.tag,
            PointRow.name,
            PointRow.phase,
            PointRow.kind,
            RoundPointRow.visit_kind,
            SiteRow.time_zone,
            RoundPointRow.chosen_source,
        )
        .join(StopRow, StopRow.id == RoundPointRow.stop_id)
        .join(PointRow, PointRow.id == RoundPointRow.point_id)
        .join(SiteRow, SiteRow.id == StopRow.site_id)
        .where(RoundPointRow.round_id == round_id)
        .order_by(RoundPointRow.position, RoundPointRow.id)
    )


def _expected_rows(unit: Unit, round_id: int, uids: set[str], tags: set[str]) -> Iterable[ExpectedRow]:
    query = _expected_query(round_id)
    if len(uids) + len(tags) <= FEW_NAMED:
        named = [is_one_of_texts(unit, RoundPointRow.uid, sorted(uids))] if uids else []
        named += [is_one_of_texts(unit, PointRow.tag, sorted(tags))] if tags else []
        if not named:
            return ()
        query = query.where(or_(*named))
    return [_expected(row) for row in unit.connection.execute(query).all()]


_KINDS = {kind.value: kind for kind in PointKind}
_VISITS = {kind.value: kind for kind in VisitKind}


def _expected(row: Sequence[Any]) -> ExpectedRow:
    row_id, uid, stop, position, view, point, site, tag, name, phase, kind, visit_kind, zone, chosen = row
    return ExpectedRow(
        row_id,
        uid,
        stop,
        position,
        view,
        point,
        site,
        tag,
        name,
        phase,
        _KINDS[kind],
        _VISITS[visit_kind],
        zone,
        chosen,
    )


def _sites(unit: Unit, round_id: int) -> dict[int, tuple[str, str, str]]:
    query = (
        select(SiteRow.id, SiteRow.code, SiteRow.name, SiteRow.time_zone)
        .where(SiteRow.id.in_(select(StopRow.site_id).where(StopRow.round_id == round_id)))
        .order_by(SiteRow.id)
    )
    return {site_id: (code, name, zone) for site_id, code, name, zone in unit.session.execute(query)}


def _instruments(unit: Unit, client_id: int) -> dict[str, int]:
    query = select(InstrumentRow.serial, InstrumentRow.id).where(InstrumentRow.client_id == client_id)
    return {serial.casefold(): instrument_id for serial, instrument_id in unit.session.execute(query)}


def row_uid_of(unit: Unit, row_id: int | None) -> str:
    """The id under which a row of a round went out."""
    return unit.session.scalar(select(RoundPointRow.uid).where(RoundPointRow.id == row_id)) or ""


def rows_read_twice(unit: Unit, round_id: int) -> tuple[ExpectedRow, ...]:
    """Rows of a round with valid readings of more than one source."""
    twice = (
        select(ReadingRow.row_id)
        .where(ReadingRow.round_id == round_id, CURRENT)
        .group_by(ReadingRow.row_id)
        .having(func.count(ReadingRow.source.distinct()) > 1)
    )
    query = _expected_query(round_id).where(RoundPointRow.id.in_(twice))
    return tuple(_expected(row) for row in unit.session.execute(query))
