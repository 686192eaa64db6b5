"""What the pages for bringing readings in show: the stops to type, and files that wait for a yes."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.domain.instrument_checks import CheckedInstrument, InstrumentCheck
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.readings import Reading, source_of
from service.domain.rounds import Round
from service.domain.stop_facts import SheetPoint
from service.domain.words import Access
from service.errors import NotFound
from service.storage import (
    expected_rows,
    instrument_checks,
    readings,
    round_questions,
    sheet_rows,
    sheet_scans,
    staged_files,
    walking_parties,
)
from service.storage.unit import Store, Unit
from service.usecases.rounds.sheets import amps_boxes
from service.usecases.rounds.sight import round_to_see
from service.usecases.rounds.timetable import RoundDay, TimedStop, round_day
from service.usecases.rounds.upload import check_open


@dataclass(frozen=True, slots=True)
class StopLine:
    """One stop in the list: how many of its points are answered."""

    stop: TimedStop
    points: int
    answered: int


@dataclass(frozen=True, slots=True)
class ReturnPage:
    """A round with its stops, how far it has come back, and the checks of what it is read with.

    ``time_zone`` is that of its first stop: the clock on which times are typed.
    """

    round: Round
    lines: tuple[StopLine, ...]
    doubles: int
    open: bool
    checks: tuple[InstrumentCheck, ...] = ()
    instruments: tuple[CheckedInstrument, ...] = ()
    open_questions: int = 0
    scans: int = 0

    @property
    def time_zone(self) -> str:
        return self.lines[0].stop.facts.time_zone if self.lines else "UTC"

    @property
    def points(self) -> int:
        return sum(line.points for line in self.lines)

    @property
    def answered(self) -> int:
        return sum(line.answered for line in self.lines)


@dataclass(frozen=True, slots=True)
class PointBoxes:
    """One point of a stop: what the asker stored for it, and whether somebody else read it too."""

    point: SheetPoint
    stored: Reading | None
    read_by_other: bool


@dataclass(frozen=True, slots=True)
class ViewBoxes:
    """One view of a stop with its points in sheet order."""

    id: int
    name: str
    tag: str
    asks_amps: bool
    asks_neutral: bool
    points: tuple[PointBoxes, ...]

    def stored_value(self, name: str) -> Any:
        """What holds for the whole view, as stored with the first of its points that has it."""
        stored = (getattr(boxes.stored, name) for boxes in self.points if boxes.stored is not None)
        return next((value for value in stored if value is not None), None)

    @property
    def window_transmission(self) -> float | None:
        """What the window lets through by the register."""
        known = (boxes.point.window_transmission for boxes in self.points)
        return next((value for value in known if value is not None), None)


@dataclass(frozen=True, slots=True)
class StopPage:
    """A stop to be typed in, with the one before and after it.

    ``serials`` are serial numbers by instrument, of those that stored readings name.
    """

    round: Round
    stop: TimedStop
    count: int
    views: tuple[ViewBoxes, ...]
    before: int | None
    after: int | None
    serials: Mapping[int, str]

    @property
    def window(self) -> bool:
        """True where parts are seen through an inspection window."""
        return self.stop.facts.access is Access.WINDOW


def read_return_page(store: Store, actor: Actor, *, round_id: int, now: datetime) -> ReturnPage:
    """The stops of a round and what has come back of each.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    with store.look() as unit:
        day, open_ = _day(unit, actor, round_id, now=now)
        answered = readings.answered_by_stop(unit, round_id)
        lines = tuple(StopLine(stop, *answered.get(stop.stop.id, (0, 0))) for stop in day.stops)
        undecided = [
            row for row in expected_rows.rows_read_twice(unit, round_id) if row.chosen_source is None
        ]
        checks = instrument_checks.checks_of_round(unit, round_id)
        instruments = instrument_checks.instruments_of_client(unit, day.round.client_id)
        return ReturnPage(
            day.round,
            lines,
            len(undecided),
            open_,
            checks,
            instruments,
            open_questions=round_questions.count_open(unit, round_id),
            scans=len(sheet_scans.scans_of_round(unit, round_id)),
        )


def read_stop_page(store: Store, actor: Actor, *, round_id: int, stop_id: int, now: datetime) -> StopPage:
    """The boxes of one stop in sheet order, filled with what the asker has stored.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, no stop of this round, or not this role's.
    Conflict
        The round takes no readings.
    """
    with store.look() as unit:
        day, _open = _day(unit, actor, round_id, now=now)
        check_open(day.round)
        order = [stop.stop.id for stop in day.stops]
        if stop_id not in order:
            raise NotFound()
        place = order.index(stop_id)
        points = [point for point in sheet_rows.sheet_points(unit, round_id) if point.stop_id == stop_id]
        stored = readings.current_of_stop(unit, stop_id)
        used = [one.instrument_id for several in stored.values() for one in several]
        serials = walking_parties.serials_of(unit, used)
    return StopPage(
        round=day.round,
        stop=day.stops[place],
        count=len(order),
        views=_views(points, stored, source=source_of(actor.person_id, actor.device)),
        before=order[place - 1] if place else None,
        after=order[place + 1] if place + 1 < len(order) else None,
        serials=serials,
    )


def _day(unit: Unit, actor: Actor, round_id: int, *, now: datetime) -> tuple[RoundDay, bool]:
    round_ = round_to_see(unit, actor, round_id)
    require(actor, Verb.BRING_READINGS)
    return round_day(unit, round_, today=now.date()), round_.state in ("issued", "returned")


def _views(
    points: list[SheetPoint], stored: dict[str, tuple[Reading, ...]], *, source: str
) -> tuple[ViewBoxes, ...]:
    by_view: dict[int, list[SheetPoint]] = {}
    for point in points:
        by_view.setdefault(point.view_id, []).append(point)
    return tuple(
        ViewBoxes(
            id=view_id,
            name=several[0].view_name,
            tag=several[0].view_tag,
            asks_amps=bool(amps_boxes(several)) and several[0].asks_amps,
            asks_neutral=several[0].asks_neutral,
            points=tuple(_boxes(point, stored.get(point.row_uid, ()), source) for point in several),
        )
        for view_id, several in by_view.items()
    )


def _boxes(point: SheetPoint, stored: tuple[Reading, ...], source: str) -> PointBoxes:
    own = next((reading for reading in stored if reading.source == source), None)
    return PointBoxes(point, own, any(reading.source != source for reading in stored))


def keep_file(
    store: Store, actor: Actor, *, round_id: int, file_name: str, content: bytes, now: datetime
) -> str:
    """Keep a chosen file for a day, so that a preview need not ask for it twice.

    Raises
    ------
    NotFound, Forbidden, Conflict
        Out of sight, not this role's, or the round takes no readings.
    """
    with store.begin() as unit:
        round_ = round_to_see(unit, actor, round_id)
        require(actor, Verb.BRING_READINGS)
        check_open(round_)
        return staged_files.stage(
            unit, person_id=actor.person_id, file_name=file_name, content=content, now=now
        )


def kept_file(store: Store, actor: Actor, uid: str, *, now: datetime) -> tuple[str, bytes]:
    """Name and bytes of a file that was kept.

    Raises
    ------
    NotFound
        No longer here, or another person's.
    """
    with store.look() as unit:
        return staged_files.staged(unit, uid, person_id=actor.person_id, now=now)
