"""The rows of a round as a file to be filled in."""

from collections.abc import Iterator, Sequence
from datetime import datetime

from service.domain.boxes import boxes_of
from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.round_columns import (
    BARE_BELOW,
    FAR_M,
    OFF_ROUND_ROWS,
    OFF_THE_ROUND,
    Cell,
    Column,
    RoundFile,
    columns_for,
)
from service.domain.rounds import Round
from service.domain.stop_facts import SheetPoint
from service.domain.words import NO_VERDICT, Access, Level, PointKind, RoundState
from service.errors import Conflict
from service.storage import sheet_rows
from service.storage.unit import Store
from service.usecases.rounds.sight import round_to_see
from service.usecases.rounds.timetable import RoundDay, TimedStop, round_day


def read_round_file(store: Store, actor: Actor, round_id: int, *, now: datetime) -> RoundFile:
    """The file of an issued round: rows have ids only then.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who asks; technicians get their own rounds only.
    round_id : int
        The round.
    now : datetime
        The instant of the request.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    Conflict
        It is a draft, or was withdrawn: nothing may be read on it.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id, verb=Verb.TAKE_SHEETS)
        if round_.state in (RoundState.DRAFT, RoundState.WITHDRAWN):
            remedy = "Issue it first." if round_.state is RoundState.DRAFT else ""
            raise Conflict(f"Round {round_.code} is {round_.state}; it has no file", remedy=remedy)
        day = round_day(unit, round_, today=now.date())
        points = sheet_rows.sheet_points(unit, round_id)
    rows = tuple(_rows(round_, day, points)) + _off_round(round_, day)
    return RoundFile(round_.code, round_.name, round_.planned_on, rows, columns_of(day, points))


def columns_of(day: RoundDay, points: Sequence[SheetPoint]) -> tuple[Column, ...]:
    """The columns that the points of a round ask for; a file stays as small as its round allows."""
    facts = [stop.facts for stop in day.stops]
    return columns_for(
        windows=any(equipment.access is Access.WINDOW for equipment in facts),
        distances=any(point.target_mm is not None or (point.distance_m or 0.0) > FAR_M for point in points),
        settling=any(equipment.settle_minutes is not None for equipment in facts),
        bare_metal=any((point.emissivity or 1.0) < BARE_BELOW for point in points),
        boxes={box.key for point in points for box in boxes_of(PointKind(point.kind), point.component)},
    )


def _rows(round_: Round, day: RoundDay, points: Sequence[SheetPoint]) -> Iterator[dict[str, Cell]]:
    for stop in day.stops:
        views: dict[int, int] = {}
        for point in points:
            if point.stop_id == stop.stop.id:
                place = views.setdefault(point.view_id, len(views) + 1)
                yield _row(round_, stop, point, label=f"stop {stop.stop.position}.{place}")


def _row(round_: Round, stop: TimedStop, point: SheetPoint, *, label: str) -> dict[str, Cell]:
    level = NO_VERDICT if point.level is None else Level(point.level).word
    return {
        "round_code": round_.code,
        "row_uid": point.row_uid,
        "stop": label,
        "site": stop.facts.site_name,
        "equipment": f"{stop.facts.tag}: {stop.facts.name}",
        "view": point.view_name,
        "point_tag": point.tag,
        "point_name": point.name,
        "phase": point.phase,
        "kind": point.kind,
        "visit_kind": point.visit_kind,
        "last_on": None if point.last_read_at is None else point.last_read_at.date(),
        "last_c": point.last_c,
        "last_level": f"at least {level}" if point.at_least and point.level is not None else level,
    }


def _off_round(round_: Round, day: RoundDay) -> tuple[dict[str, Cell], ...]:
    sites = {stop.facts.site_name for stop in day.stops}
    row: dict[str, Cell] = {"round_code": round_.code, "stop": OFF_THE_ROUND}
    if len(sites) == 1:
        row["site"] = sites.pop()
    return (row,) * OFF_ROUND_ROWS
