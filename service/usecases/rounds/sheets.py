"""What the printed sheets of a round say, stop by stop; how it lies on paper is the page's affair."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from service.domain.cautions import Cautions, cautions_for
from service.domain.criteria import Criteria
from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.rounds import Round, needs_permit, not_open_text, stand_off_text
from service.domain.stop_facts import EquipmentFacts, SheetPoint
from service.domain.triggers import RowPoint, Trigger, trigger
from service.domain.walking_parties import RoundInstrument, Walker
from service.domain.words import MECHANICAL_KINDS, PointKind, ReferenceKind
from service.storage import sheet_rows, walking_parties
from service.storage.unit import Store
from service.usecases.rounds.exposure import distances_of
from service.usecases.rounds.sight import round_to_see
from service.usecases.rounds.timetable import RoundDay, TimedStop, round_day


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
    def marked(self) -> bool:
        """True where the row wants more care than the others."""
        return self.read_again or (self.worst.level or 0) >= 2


@dataclass(frozen=True, slots=True)
class StopSheet:
    """One stop: cautions first, stand-off in the site's words, a row per view.

    ``not_open`` is what is printed large where the stop may not be opened.
    """

    stop: TimedStop
    cautions: Cautions
    stand_off: str
    not_open: str
    two_people: bool
    #: what is wrong with the distances of its views
    distances: tuple[str, ...]
    rows: tuple[SheetRow, ...]


@dataclass(frozen=True, slots=True)
class Sheets:
    """All sheets of a round, with who walks it."""

    day: RoundDay
    person: Walker | None
    second: Walker | None
    instrument: RoundInstrument | None
    stops: tuple[StopSheet, ...]

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
        criteria = sheet_rows.criteria_of_equipment(unit, {stop.facts.id for stop in day.stops})
        people = walking_parties.walkers_by_id(unit, [round_.person_id, round_.second_person_id])
        instrument = walking_parties.instrument_by_id(unit, round_.instrument_id)
        distances = distances_of(unit, round_, day)
    return Sheets(
        day=day,
        person=people.get(round_.person_id or 0),
        second=people.get(round_.second_person_id or 0),
        instrument=instrument,
        stops=tuple(
            _stop_sheet(
                stop, points, criteria=criteria[stop.facts.id], distances=distances.get(stop.stop.id, ())
            )
            for stop in day.stops
        ),
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


def _stop_sheet(
    stop: TimedStop, points: Sequence[SheetPoint], *, criteria: Criteria, distances: tuple[str, ...]
) -> StopSheet:
    rows = tuple(_rows(stop, points, criteria))
    kinds = frozenset(point.kind for row in rows for point in row.points)
    return StopSheet(
        stop=stop,
        cautions=cautions_for(stop.facts, kinds),
        stand_off=stand_off_text(stop.facts.stand_off, stop.permit),
        not_open=not_open_text(stop.closed),
        two_people=needs_permit(stop.facts.access),
        distances=distances,
        rows=rows,
    )


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
    of_row = RowPoint(
        kind=PointKind(point.kind),
        reference=deciding_column(point, view),
        component=point.component,
        expected_load=facts.usual_load_share,
        common_to_rating=ratio,
        rated_rise_k=point.rated_rise_k,
        baseline_k=point.baseline_k,
    )
    return trigger(of_row, criteria)


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
