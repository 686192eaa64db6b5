"""Uploads: one row per accepted content, what it was answered, and the findings it opened."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import and_, bindparam, select, update

from service.domain.findings import LIVE
from service.domain.rounds import opens
from service.domain.words import Access, FindingState, Level
from service.storage.bulk import insert_rows, is_one_of, reserve_keys, table_of
from service.storage.permits import permits_of
from service.storage.tables.findings import FindingMoveRow, FindingRow
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import EquipmentRow
from service.storage.tables.rounds import RoundPointRow, StopRow, UploadRow
from service.storage.unit import Unit

_UPLOAD = (
    "id",
    "round_id",
    "content_hash",
    "person_id",
    "device",
    "received_at",
    "file_name",
    "channel",
    "rows_new",
    "rows_equal",
    "rows_corrected",
    "result",
)
_FINDING = (
    "id",
    "version",
    "created_at",
    "changed_at",
    "client_id",
    "site_id",
    "point_id",
    "round_id",
    "reading_id",
    "place",
    "picture",
    "title",
    "state",
    "attempt",
    "level",
    "value_k",
    "common_k",
    "load_ratio",
    "current_a",
    "opened_at",
    "opened_by_id",
    "work_order",
    "cause",
    "root_cause",
    "interim_measure",
    "consequence",
    "set_aside_reason",
    "risk_accepted_note",
    "outcome",
)


def result_of_content(unit: Unit, round_id: int, content_hash: str) -> dict[str, Any] | None:
    """What the first upload of this content was answered, whoever sent it."""
    query = select(UploadRow.result).where(
        UploadRow.round_id == round_id, UploadRow.content_hash == content_hash
    )
    return unit.session.scalar(query)


def upload_result(unit: Unit, round_id: int, upload_id: int) -> dict[str, Any] | None:
    query = select(UploadRow.result).where(UploadRow.id == upload_id, UploadRow.round_id == round_id)
    return unit.session.scalar(query)


def add_upload(
    unit: Unit,
    upload_id: int,
    *,
    round_id: int,
    content_hash: str,
    person_id: int | None,
    device: str,
    received_at: datetime,
    file_name: str,
    channel: str,
    counts: tuple[int, int, int],
    result: dict[str, Any],
) -> None:
    """Keep an accepted upload with its result; ``counts`` are new, equal and corrected rows."""
    row = (
        upload_id,
        round_id,
        content_hash,
        person_id,
        device,
        received_at,
        file_name,
        channel,
        *counts,
        result,
    )
    insert_rows(unit, UploadRow, _UPLOAD, rows=[row])


def set_result(unit: Unit, upload_id: int, result: dict[str, Any]) -> None:
    """Keep what an upload is answered, once that is known."""
    table = table_of(UploadRow)
    unit.connection.execute(update(table).where(table.c.id == upload_id).values(result=result))


def shut_stops(unit: Unit, round_id: int) -> frozenset[int]:
    """Stops behind a cover whose permit does not open them: readings there are marked."""
    permits = {permit.id: permit for permit in permits_of(unit, round_id)}
    query = (
        select(StopRow.id, EquipmentRow.access, StopRow.permit_id)
        .join(EquipmentRow, EquipmentRow.id == StopRow.equipment_id)
        .where(StopRow.round_id == round_id)
    )
    return frozenset(
        stop_id
        for stop_id, access, permit_id in unit.session.execute(query)
        if not opens(Access(access), permits.get(permit_id or 0))
    )


def choose_source(unit: Unit, row_id: int, source: str) -> None:
    """Keep which of two readings the engineer decided for."""
    unit.session.execute(update(RoundPointRow).where(RoundPointRow.id == row_id).values(chosen_source=source))


def live_findings(unit: Unit, point_ids: Iterable[int]) -> dict[int, int]:
    """By point the finding that still wants something of somebody."""
    query = (
        select(FindingRow.point_id, FindingRow.id)
        .where(
            is_one_of(unit, FindingRow.point_id, point_ids),
            FindingRow.state.in_([state.value for state in LIVE]),
        )
        .order_by(FindingRow.id)
    )
    return {point_id: finding_id for point_id, finding_id in unit.session.execute(query) if point_id}


def raise_findings(unit: Unit, finding_ids: Iterable[int], level: Level, *, now: datetime) -> None:
    """Findings whose part has become graver than they say."""
    unit.session.execute(
        update(FindingRow)
        .where(
            and_(
                is_one_of(unit, FindingRow.id, finding_ids),
                FindingRow.level.is_(None) | (FindingRow.level < int(level)),
            )
        )
        .values(level=int(level), version=FindingRow.version + 1, changed_at=now)
        .execution_options(synchronize_session=False)
    )


def parts_off_round(unit: Unit, round_id: int) -> dict[tuple[int, str, str, str], int]:
    """Hot parts met off this round that are findings already: (site, place, picture, title) → id."""
    query = select(
        FindingRow.site_id, FindingRow.place, FindingRow.picture, FindingRow.title, FindingRow.id
    ).where(FindingRow.round_id == round_id, FindingRow.point_id.is_(None))
    return {
        (site_id, place, picture, title): finding_id
        for site_id, place, picture, title, finding_id in unit.session.execute(query)
    }


def open_findings(
    unit: Unit, found: Sequence[dict[str, Any]], *, by_person_id: int | None, now: datetime, note: str
) -> list[int]:
    """Open findings in one go, however many; each names client, site, title and what is known of it."""
    ids = list(reserve_keys(unit, FindingRow, len(found)))
    rows = []
    for finding_id, fields in zip(ids, found, strict=True):
        values = {
            "id": finding_id,
            "version": 1,
            "created_at": now,
            "changed_at": now,
            "state": FindingState.OPEN.value,
            "attempt": 1,
            "opened_at": now,
            "opened_by_id": by_person_id,
        } | fields
        rows.append([values.get(name, _NOTHING.get(name)) for name in _FINDING])
    insert_rows(unit, FindingRow, _FINDING, rows=rows)
    moves = [(finding_id, now, by_person_id, "", FindingState.OPEN.value, note) for finding_id in ids]
    names = ("finding_id", "at", "by_person_id", "from_state", "to_state", "note")
    insert_rows(unit, FindingMoveRow, names, rows=list(moves))
    return ids


_TEXTS = (
    "place",
    "picture",
    "work_order",
    "cause",
    "root_cause",
    "interim_measure",
    "consequence",
    "set_aside_reason",
    "risk_accepted_note",
    "outcome",
)
_NOTHING = dict.fromkeys(_TEXTS, "")


def point_to_findings(unit: Unit, findings: dict[int, int]) -> None:
    """Keep in the states of points which live finding each has."""
    for_all = [{"point": point_id, "finding": finding} for point_id, finding in findings.items()]
    if not for_all:
        return
    states = table_of(PointStateRow)
    unit.connection.execute(
        update(states).where(states.c.point_id == bindparam("point")).values(finding_id=bindparam("finding")),
        for_all,
    )
