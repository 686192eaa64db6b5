"""The printed sheets of a round: one stop a sheet, continued where its views do not fit."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from service.domain.cautions import Cautions, cautions_for
from service.domain.criteria import Criteria
from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.rounds import NOT_OPEN, Round, needs_permit, stand_off_text
from service.domain.stop_facts import EquipmentFacts, SheetPoint
from service.domain.triggers import Trigger, trigger
from service.domain.walking_parties import RoundInstrument, Walker
from service.domain.words import MECHANICAL_KINDS, PointKind, ReferenceKind
from service.storage import sheet_rows, walking_parties
from service.storage.unit import Store
from service.usecases.rounds.sight import round_to_see
from service.usecases.rounds.timetable import RoundDay, TimedStop, round_day

#: boxes that stand side by side in a row, and lines of boxes that fit on one sheet
BOXES_A_LINE = 6
LINES_A_SHEET = 12


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One view: boxes for its points, amps where it asks for them, last values and the trigger."""

    label: str
    view_name: str
    view_tag: str
    points: tuple[SheetPoint, ...]
    amps: tuple[str, ...]
    triggers: tuple[str, ...]
    worst: SheetPoint
    last_read_at: datetime | None
    last_reason: str
    read_again: bool

    @property
    def lines(self) -> int:
        """Lines of boxes it takes on paper."""
        return math.ceil(len(self.points) / BOXES_A_LINE) + math.ceil(len(self.amps) / BOXES_A_LINE)

    @property
    def marked(self) -> bool:
        """True where the row wants more care than the others."""
        return self.read_again or (self.worst.level or 0) >= 2


@dataclass(frozen=True, slots=True)
class Sheet:
    """One piece of paper. ``number`` of ``count`` over the round; ``part`` of ``parts`` of the stop."""

    number: int
    count: int
    part: int
    parts: int
    stop: TimedStop
    cautions: Cautions
    stand_off: str
    not_open: str
    two_people: bool
    first_row: int
    last_row: int
    row_count: int
    rows: tuple[SheetRow, ...]


@dataclass(frozen=True, slots=True)
class Sheets:
    """All sheets of a round, with who walks it."""

    day: RoundDay
    person: Walker | None
    second: Walker | None
    instrument: RoundInstrument | None
    sheets: tuple[Sheet, ...]

    @property
    def round(self) -> Round:
        return self.day.round


def read_sheets(store: Store, actor: Actor, round_id: int, *, now: datetime) -> Sheets:
    """Everything that is printed for a round; a draft prints without codes.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who asks; technicians get their own sheets only.
    round_id : int
        The round.
    now : datetime
        The instant of the request.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id, verb=Verb.TAKE_SHEETS)
        day = round_day(unit, round_, today=now.date())
        points = sheet_rows.sheet_points(unit, round_id)
        criteria = sheet_rows.criteria_of_sites(unit, {stop.facts.site_id for stop in day.stops})
        people = walking_parties.walkers_by_id(unit, [round_.person_id, round_.second_person_id])
        instrument = walking_parties.instrument_by_id(unit, round_.instrument_id)
    return Sheets(
        day=day,
        person=people.get(round_.person_id or 0),
        second=people.get(round_.second_person_id or 0),
        instrument=instrument,
        sheets=tuple(_sheets(day, points, criteria)),
    )


def read_rows(store: Store, actor: Actor, round_id: int) -> tuple[SheetPoint, ...]:
    """Every point of a round in walking order with what it said last.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    with store.look() as unit:
        round_to_see(unit, actor, round_id)
        return sheet_rows.sheet_points(unit, round_id)


def _sheets(day: RoundDay, points: Sequence[SheetPoint], criteria: dict[int, Criteria]) -> Iterator[Sheet]:
    rows = {stop.stop.id: _rows(stop, points, criteria[stop.facts.site_id]) for stop in day.stops}
    pages = {stop_id: _pages(found) for stop_id, found in rows.items()}
    count = sum(len(parts) for parts in pages.values())
    number = 0
    for stop in day.stops:
        parts, before = pages[stop.stop.id], 0
        kinds = frozenset(point.kind for row in rows[stop.stop.id] for point in row.points)
        for part, page in enumerate(parts, start=1):
            number += 1
            yield Sheet(
                number=number,
                count=count,
                part=part,
                parts=len(parts),
                stop=stop,
                cautions=cautions_for(stop.facts, kinds),
                stand_off=stand_off_text(stop.facts.stand_off, stop.permit),
                not_open=NOT_OPEN if stop.closed else "",
                two_people=needs_permit(stop.facts.access),
                first_row=before + 1,
                last_row=before + len(page),
                row_count=len(rows[stop.stop.id]),
                rows=page,
            )
            before += len(page)


def _pages(rows: Sequence[SheetRow]) -> list[tuple[SheetRow, ...]]:
    """Rows by sheet: as many as their lines of boxes leave room for, at least one."""
    pages: list[list[SheetRow]] = [[]]
    used = 0
    for row in rows:
        if pages[-1] and used + row.lines > LINES_A_SHEET:
            pages.append([])
            used = 0
        pages[-1].append(row)
        used += row.lines
    return [tuple(page) for page in pages]


def _rows(stop: TimedStop, points: Sequence[SheetPoint], criteria: Criteria) -> list[SheetRow]:
    views: dict[int, list[SheetPoint]] = {}
    for point in points:
        if point.stop_id == stop.stop.id:
            views.setdefault(point.view_id, []).append(point)
    return [
        _row(f"{stop.stop.position}.{place}", view, stop.facts, criteria)
        for place, view in enumerate(views.values(), start=1)
    ]


def _row(label: str, view: list[SheetPoint], facts: EquipmentFacts, criteria: Criteria) -> SheetRow:
    first = view[0]
    seen = [point.last_read_at for point in view if point.last_read_at is not None]
    reasons = {point.not_assessable for point in view if point.not_assessable}
    triggers = [row_trigger(point, view, facts=facts, criteria=criteria) for point in view]
    return SheetRow(
        label=label,
        view_name=first.view_name,
        view_tag=first.view_tag,
        points=tuple(view),
        amps=amps_boxes(view),
        triggers=tuple(dict.fromkeys(told.sentence for told in triggers if told is not None)),
        worst=max(view, key=lambda point: (-1 if point.level is None else point.level, point.value_k or 0.0)),
        last_read_at=max(seen, default=None),
        last_reason="".join(sorted(reasons)),
        read_again=any(point.visit_kind == "read again" for point in view),
    )


def amps_boxes(view: Sequence[SheetPoint]) -> tuple[str, ...]:
    """Labels of the amps boxes of a view: each phase once, then the neutral."""
    first = view[0]
    if not first.asks_amps:
        return ("N",) if first.asks_neutral else ()
    phases = tuple(dict.fromkeys(point.phase for point in view if point.phase)) or ("A",)
    return (*phases, "N") if first.asks_neutral and "N" not in phases else phases


def row_trigger(
    point: SheetPoint, view: Sequence[SheetPoint], *, facts: EquipmentFacts, criteria: Criteria
) -> Trigger | None:
    """Above which figure the reader tells control at once; by the column that decides for the point."""
    ratio = 1.0
    if point.common_load_a and facts.rated_current_a:
        ratio = point.common_load_a / facts.rated_current_a
    return trigger(
        PointKind(point.kind),
        criteria,
        reference=deciding_column(point, view),
        component=point.component,
        expected_load=facts.usual_load_share,
        common_to_rating=ratio,
        rated_rise_k=point.rated_rise_k,
        baseline_k=point.baseline_k,
    )


def deciding_column(point: SheetPoint, view: Sequence[SheetPoint]) -> ReferenceKind:
    """Like parts where there are any; else share of rated rise, own baseline, air, as far as known."""
    alike = [other for other in view if other.kind == point.kind]
    if ReferenceKind(point.reference_kind) is ReferenceKind.LIKE_PARTS and len(alike) > 1:
        return ReferenceKind.LIKE_PARTS
    if point.rated_rise_k is not None:
        return ReferenceKind.RATED_SHARE
    if point.baseline_k is not None:
        return ReferenceKind.BASELINE
    if PointKind(point.kind) in MECHANICAL_KINDS and len(alike) > 1:
        return ReferenceKind.LIKE_PARTS
    return ReferenceKind.AIR
