"""Say what an upload would do before it is done: stored, changed, and what looks wrong."""

from collections.abc import Iterable, Mapping
from datetime import datetime

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.readings import VALUE_FIELDS, Change, Reading, TypedRow, UploadPreview
from service.domain.round_columns import BY_NAME
from service.intake.collecting import Problems
from service.intake.parsed_rows import parse_rows
from service.intake.raw_rows import RawRows
from service.storage import readings, uploads
from service.storage.unit import Store, Unit
from service.usecases.rounds.look_again import odd_rows
from service.usecases.rounds.returned_rows import Sorted, sort_rows
from service.usecases.rounds.sight import round_to_see
from service.usecases.rounds.upload import check_open


def preview_upload(
    store: Store, actor: Actor, *, round_id: int, rows: RawRows, content_hash: str, now: datetime
) -> UploadPreview:
    """What would be stored, what changed since last time and what looks wrong; nothing is stored.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who walked the round, or an engineer.
    round_id : int
        An issued or returned round.
    rows : RawRows
        The rows as they came.
    content_hash : str
        Name of the content, so that a file stored before is told as such.
    now : datetime
        The instant of the request.

    Raises
    ------
    Conflict
        The round takes no readings.
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    problems = Problems()
    parsed = parse_rows(rows, problems)
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id)
        require(actor, Verb.BRING_READINGS)
        stored = uploads.result_of_content(unit, round_id, content_hash) is not None
        if not stored:
            check_open(round_)
        returned = sort_rows(unit, actor, round_, parsed=parsed, problems=problems, now=now)
        shut = uploads.shut_stops(unit, round_id)
        unread = readings.count_unread(unit, round_id)
        return UploadPreview(
            round_id=round_id,
            round_code=round_.code,
            rows_new=returned.new,
            rows_equal=returned.equal,
            rows_corrected=len(returned.corrected),
            rows_second=len(returned.second),
            rows_blank=returned.read.blank,
            off_round=len(returned.off_round),
            not_assessable=sum(one.row.not_assessable is not None for one in returned.to_store),
            without_permit=_without_permit(returned, shut),
            still_not_read=max(0, unread - (returned.new - len(returned.second))),
            already_stored=stored,
            changes=_changes(unit, returned),
            warnings=(*returned.read.warnings, *odd_rows(unit, round_, returned, now=now)),
            problems=tuple(problems.in_row_order),
            problem_count=problems.count,
            decimal=parsed.ways.decimal,
            temperature_unit=parsed.ways.temperature_unit,
        )


def _without_permit(returned: Sorted, shut: frozenset[int]) -> int:
    return sum(
        one.row.expected is not None
        and one.row.expected.stop_id in shut
        and one.row.temperature_c is not None
        for one in returned.to_store
    )


def _changes(unit: Unit, returned: Sorted) -> tuple[Change, ...]:
    """Field by field what the corrections would change."""
    corrected = {one.supersedes.id: one.row for one in returned.corrected if one.supersedes is not None}
    if not corrected:
        return ()
    row_ids = {row.expected.row_id for row in corrected.values() if row.expected is not None}
    changes: list[Change] = []
    for reading in readings.current_of_rows(unit, row_ids):
        row = corrected.get(reading.id)
        if row is not None:
            changes += _differences(reading, row)
    return tuple(changes)


def _differences(reading: Reading, row: TypedRow) -> Iterable[Change]:
    tag = row.expected.point_tag if row.expected is not None else ""
    for name in VALUE_FIELDS:
        was, now = getattr(reading, name), getattr(row, name)
        if was != now and not (name == "taken_at" and not row.time_typed):
            yield Change(row.where, tag, name, _shown(was), _shown(now))


def _shown(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        return ", ".join(f"{_title(key)}: {_shown(answer)}" for key, answer in value.items())
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M} UTC"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _title(key: str) -> str:
    column = BY_NAME.get(key)
    return key if column is None else column.header
