"""Make the pack of a round: everything that its walk needs where there is no signal."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from service.domain.cautions import COVERS, TWO, Cautions, cautions_for
from service.domain.criteria import Criteria
from service.domain.packs import (
    Pack,
    PackInstrument,
    PackPermit,
    PackPoint,
    PackSite,
    PackStop,
    PackView,
    PointBefore,
    TrendSaid,
    VisitBefore,
)
from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.readings import Reading, source_of
from service.domain.rounds import (
    OPEN_FOR_READINGS,
    Permit,
    Round,
    needs_permit,
    not_open_text,
    stand_off_text,
)
from service.domain.settings import Instrument
from service.domain.stop_facts import EquipmentFacts, SheetPoint
from service.domain.words import UNSCALED_KINDS
from service.errors import Conflict
from service.storage import (
    known_points,
    pack_rows,
    pictures,
    point_state,
    readings,
    settings,
    sheet_rows,
    walking_parties,
)
from service.storage.known_points import KnownPoint
from service.storage.unit import Store, Unit
from service.usecases.rounds.exposure import distances_of
from service.usecases.rounds.sheets import row_trigger
from service.usecases.rounds.sight import round_to_see
from service.usecases.rounds.timetable import RoundDay, TimedStop, round_day

_NO_OPTICS = Instrument()


@dataclass(frozen=True, slots=True)
class _Known:
    """What was looked up of all points of the round at once."""

    points: Mapping[int, KnownPoint]
    episodes: Mapping[int, int]
    before: Mapping[int, list[VisitBefore]]
    trends: Mapping[int, TrendSaid]
    neutrals: Mapping[int, float]
    pictures: Mapping[int, str]
    #: uids of drawings: by equipment, by view
    drawings: tuple[Mapping[int, str], Mapping[int, str]]
    stored: Mapping[str, Reading]


def read_pack(store: Store, actor: Actor, round_id: int, *, now: datetime) -> Pack:
    """Everything a device takes along of a round.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who asks; technicians get their own rounds only. What they brought in already is marked.
    round_id : int
        The round.
    now : datetime
        The instant of the request.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    Conflict
        It takes no readings: a draft, withdrawn, or signed off.

    Notes
    -----
    The number of statements does not depend on the number of stops or points.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id, verb=Verb.TAKE_SHEETS)
        _check_walked(round_)
        day = round_day(unit, round_, today=now.date())
        rows = [row for row in sheet_rows.sheet_points(unit, round_id) if row.row_uid]
        known = _look_up(
            unit,
            round_,
            rows,
            source=source_of(actor.person_id, actor.device),
            now=now,
            equipment={stop.facts.id for stop in day.stops},
        )
        sets = sheet_rows.criteria_of_equipment(unit, {stop.facts.id for stop in day.stops})
        distances = distances_of(unit, round_, day)
        walkers = walking_parties.walkers_by_id(
            unit, {actor.person_id, round_.person_id, round_.second_person_id}
        )
        instruments = _instruments(unit, round_.client_id)
    stops = [
        _stop(
            stop,
            [row for row in rows if row.stop_id == stop.stop.id],
            known=known,
            criteria=sets[stop.facts.id],
            distances=distances.get(stop.stop.id, ()),
        )
        for stop in day.stops
    ]
    return Pack(
        made_at=now,
        person=walkers.get(actor.person_id or 0),
        round=round_,
        walkers=walkers,
        instruments=instruments,
        criteria={_name(one): one for one in sets.values()},
        sites=_sites(day, stops),
        stops=tuple(stops),
    )


def _check_walked(round_: Round) -> None:
    if round_.state not in OPEN_FOR_READINGS:
        remedy = "Issue it first." if round_.state == "draft" else ""
        raise Conflict(f"Round {round_.code} is {round_.state}; it is not walked", remedy=remedy)


def _look_up(
    unit: Unit,
    round_: Round,
    rows: Sequence[SheetPoint],
    *,
    source: str,
    now: datetime,
    equipment: Collection[int],
) -> _Known:
    views = sorted({row.view_id for row in rows})
    points = {one.point.id: one for one in known_points.points_of_views(unit, views)}
    cuts = point_state.cuts_of(unit, points)
    return _Known(
        points=points,
        episodes={point_id: sum(cut <= now for cut in cuts.get(point_id, ())) for point_id in points},
        before=pack_rows.visits_before(unit, points, without_round=round_.id),
        trends=pack_rows.trends_said(unit, points),
        neutrals=pack_rows.last_neutrals(unit, views, without_round=round_.id),
        pictures=pictures.latest_of_views(unit, views),
        drawings=pictures.drawings_of(unit, equipment),
        stored=readings.own_of_round(unit, round_.id, source=source),
    )


def _instruments(unit: Unit, client_id: int) -> tuple[PackInstrument, ...]:
    optics = settings.instruments_of_client(unit, client_id)
    kinds = pack_rows.kinds_of_instruments(unit, client_id)
    return tuple(
        PackInstrument(one, kinds.get(one.id, ""), optics.get(one.id, _NO_OPTICS))
        for one in walking_parties.instruments_of(unit, client_id)
    )


def _stop(
    timed: TimedStop,
    rows: Sequence[SheetPoint],
    *,
    known: _Known,
    criteria: Criteria,
    distances: tuple[str, ...],
) -> PackStop:
    facts = timed.facts
    by_view: dict[int, list[SheetPoint]] = {}
    for row in rows:
        by_view.setdefault(row.view_id, []).append(row)
    return PackStop(
        id=timed.stop.id,
        position=timed.stop.position,
        sheet_code=timed.stop.sheet_code or "",
        facts=facts,
        access_words=timed.access_words,
        arrive_min=timed.time.start_min,
        minutes=timed.stop.minutes,
        two_people=needs_permit(facts.access),
        stand_off=stand_off_text(facts.stand_off, timed.permit),
        permit=_permit(timed.permit),
        not_open=not_open_text(timed.closed),
        running=timed.running,
        cautions=cautions_for(facts, frozenset(row.kind for row in rows)),
        distances=distances,
        criteria=_name(criteria),
        drawing=known.drawings[0].get(facts.id),
        views=tuple(
            _view(view_id, of_view, facts=facts, known=known, criteria=criteria)
            for view_id, of_view in by_view.items()
        ),
    )


def _permit(permit: Permit | None) -> PackPermit | None:
    if permit is None:
        return None
    return PackPermit(permit.id, permit.state.value, permit.number, permit.valid_from, permit.valid_to)


def _view(
    view_id: int, rows: Sequence[SheetPoint], *, facts: EquipmentFacts, known: _Known, criteria: Criteria
) -> PackView:
    triggers = [row_trigger(row, rows, facts=facts, criteria=criteria) for row in rows]
    return PackView(
        id=view_id,
        triggers=tuple(dict.fromkeys(told.sentence for told in triggers if told is not None)),
        neutral_last_a=known.neutrals.get(view_id),
        picture=known.pictures.get(view_id),
        drawing=known.drawings[1].get(view_id),
        points=tuple(_point(row, known=known, criteria=criteria) for row in rows),
    )


def _point(row: SheetPoint, *, known: _Known, criteria: Criteria) -> PackPoint:
    of_point = known.points[row.point_id]
    point, memory, episode = of_point.point, of_point.memory, known.episodes[row.point_id]
    return PackPoint(
        row=row,
        point=point,
        before=PointBefore.of(known.before.get(row.point_id, ()), episode=episode),
        trend=known.trends.get(row.point_id),
        baseline_k=memory.baseline_k if memory.episode == episode else None,
        scales=point.kind not in UNSCALED_KINDS and criteria.scales_class(point.equipment_class),
        templates=criteria.templates_for(point.kind, point.component),
        limit=criteria.book.find(point.component, point.coating, point.medium, point.voltage_class),
        stored=known.stored.get(row.row_uid),
    )


def _sites(day: RoundDay, stops: Sequence[PackStop]) -> tuple[PackSite, ...]:
    """Sites in walking order, each with the cautions of all of its stops, said once."""
    facts = {stop.facts.site_id: stop.facts for stop in reversed(day.stops)}
    order = dict.fromkeys(stop.facts.site_id for stop in day.stops)
    return tuple(
        _site(facts[site_id], [stop for stop in stops if stop.facts.site_id == site_id]) for site_id in order
    )


def _site(facts: EquipmentFacts, stops: Sequence[PackStop]) -> PackSite:
    lines = dict.fromkeys(line for stop in stops for line in stop.cautions.lines)
    behind = any(stop.two_people for stop in stops)
    return PackSite(facts, tuple(lines), _before_doors(stops[0].cautions, behind_cover=behind))


def _before_doors(cautions: Cautions, *, behind_cover: bool) -> str:
    """What is said once on entering a site, before any door is opened."""
    told = list(cautions.lines[:3])
    if behind_cover:
        told += [line for line in (COVERS, TWO) if line not in told]
    return " ".join(told)


def _name(criteria: Criteria) -> str:
    return f"{criteria.id}/{criteria.version}"
