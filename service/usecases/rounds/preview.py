"""Say what an upload would do before it is done: stored, changed, and what looks wrong."""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from service.domain.oddities import (
    Oddity,
    PointPast,
    fahrenheit_in_file,
    odd_date,
    odd_in_row,
    odd_in_view,
)
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.readings import VALUE_FIELDS, Change, Reading, TypedRow, UploadPreview
from service.domain.rounds import Round
from service.domain.visits import local_day
from service.errors import Problem
from service.intake.collecting import Problems
from service.intake.parsed_rows import parse_rows
from service.intake.raw_rows import RawRows
from service.storage import known_points, readings, uploads
from service.storage.known_points import KnownPoint
from service.storage.unit import Store, Unit
from service.usecases.rounds.returned_rows import Sorted, sort_rows
from service.usecases.rounds.sight import round_to_see
from service.usecases.rounds.upload import check_open

#: How long before the planned day a round may have been walked without anybody being asked.
EARLY = timedelta(days=7)


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
        returned = sort_rows(unit, actor, round_, parsed=parsed, problems=problems)
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
            warnings=(*returned.read.warnings, *_oddities(unit, round_, returned, now=now)),
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
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M} UTC"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _oddities(unit: Unit, round_: Round, returned: Sorted, *, now: datetime) -> list[Problem]:
    """What a person should look at again; nothing of it stands in the way."""
    rows = [one.row for one in returned.to_store if one.row.expected is not None]
    if not rows:
        return []
    views = {row.expected.view_id for row in rows if row.expected is not None}
    known = {one.point.id: one for one in known_points.points_of_views(unit, views)}
    past = {
        point_id: PointPast.of(temperatures)
        for point_id, temperatures in readings.temperatures_of(unit, known, without_round=round_.id).items()
    }
    found: list[Problem] = []
    first = (
        round_.planned_on - EARLY
        if round_.issued_at is None
        else min(round_.planned_on, round_.issued_at.date())
    )
    for row in rows:
        assert row.expected is not None
        point = known[row.expected.point_id].point
        odd = odd_in_row(row, past.get(point.id), rated_current_a=point.rated_current_a)
        today = local_day(now, row.expected.time_zone)
        odd_day = odd_date(local_day(row.taken_at, row.expected.time_zone), first_day=first, last_day=today)
        odd += [odd_day] if odd_day is not None else []
        found += [_problem(one, f"{row.where}, {row.expected.point_tag}") for one in odd]
    found += _odd_views(rows, known)
    typed_and_usual = [
        (row.temperature_c, summed.middle_c)
        for row in rows
        if row.expected is not None
        and row.temperature_c is not None
        and (summed := past.get(row.expected.point_id)) is not None
    ]
    whole = fahrenheit_in_file(typed_and_usual)
    return ([_problem(whole, "file")] if whole is not None else []) + found


def _odd_views(rows: list[TypedRow], known: Mapping[int, KnownPoint]) -> list[Problem]:
    by_view: dict[int, list[TypedRow]] = {}
    for row in rows:
        if row.expected is not None:
            by_view.setdefault(row.expected.view_id, []).append(row)
    found = []
    for several in by_view.values():
        points = [known[row.expected.point_id] for row in several if row.expected is not None]
        odd = odd_in_view(
            [row.temperature_c for row in several],
            [one.memory.last_temperature_c for one in points],
            currents_a=[
                row.current_a for row, one in zip(several, points, strict=True) if not one.point.neutral
            ],
        )
        view = points[0].point.title.rpartition(":")[0]
        found += [_problem(one, f"{several[0].where}, {view}") for one in odd]
    return found


def _problem(odd: Oddity, where: str) -> Problem:
    return Problem(where, odd.field, "", odd.sentence, odd.remedy)
