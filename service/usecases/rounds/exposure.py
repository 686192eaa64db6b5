"""What a round exposes people to, and what its stops stand in: covers, distances, sun."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from service.domain.covers import CoverCount, SiteCovers, count_covers
from service.domain.people import Actor
from service.domain.rounds import Round, stand_off_text
from service.domain.spots import distance_doubts
from service.domain.stand_offs import stand_off_m
from service.domain.sun_hours import SunOfDay, SunOnStop, sun_of_day, sun_on_stop
from service.domain.words import PointKind
from service.storage import covers, round_facts, settings, sheet_rows
from service.storage.unit import Store, Unit
from service.usecases.rounds.issue import targets_of_round
from service.usecases.rounds.sight import round_to_see
from service.usecases.rounds.timetable import RoundDay, TimedStop, round_day


@dataclass(frozen=True, slots=True)
class OutdoorStop:
    """One stop outdoors; ``sun`` is None where its site's place is not on record."""

    stop: TimedStop
    sun: SunOfDay | None
    flag: SunOnStop | None


@dataclass(frozen=True, slots=True)
class Exposure:
    """Covers of the round and of the year at its sites, what is wrong with distances, who stands in the sun.

    ``distances`` is by stop; ``no_stand_off`` counts stops behind a cover whose stand-off is not one
    figure, ``no_width`` views of which the smallest part is not on record.
    """

    covers: CoverCount
    year: tuple[SiteCovers, ...]
    distances: dict[int, tuple[str, ...]]
    no_stand_off: int
    no_width: int
    views: int
    outdoor: tuple[OutdoorStop, ...]


def read_exposure(store: Store, actor: Actor, round_id: int, *, now: datetime) -> Exposure:
    """What the builder and the page of a round say of its exposure.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who asks.
    round_id : int
        The round.
    now : datetime
        The instant of the request; the year so far ends with its day.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id)
        day = round_day(unit, round_, today=now.date())
        kinds = round_facts.kinds_of_equipment(unit, [stop.facts.id for stop in day.stops])
        targets = sheet_rows.targets_of(unit, [stop.facts.id for stop in day.stops])
        views = {target.view_id for target in targets}
        known = {target.view_id for target in targets if target.width_mm is not None}
        return Exposure(
            covers=count_covers(stop.facts.access for stop in day.stops),
            year=_year(unit, {stop.facts.site_id for stop in day.stops}, today=now.date()),
            distances=distances_of(unit, round_, day),
            no_stand_off=sum(
                stop.facts.access.behind_cover and stand_off_of(stop) is None for stop in day.stops
            ),
            no_width=len(views - known),
            views=len(views),
            outdoor=outdoor_stops(day, kinds),
        )


def _year(unit: Unit, site_ids: Collection[int], *, today: date) -> tuple[SiteCovers, ...]:
    opened = covers.covers_opened(unit, site_ids, first=today.replace(month=1, day=1), last=today)
    return tuple(SiteCovers(site, CoverCount(tuple(counts))) for site, counts in opened.items())


def stand_off_of(stop: TimedStop) -> float | None:
    """How near its permit, else the register, lets one stand [m]; None where it is no single figure."""
    return stand_off_m(stand_off_text(stop.facts.stand_off, stop.permit))


def distances_of(unit: Unit, round_: Round, day: RoundDay) -> dict[int, tuple[str, ...]]:
    """By stop: what is wrong with the distances of its views."""
    targets = targets_of_round(round_, sheet_rows.targets_of(unit, [stop.facts.id for stop in day.stops]))
    optics = settings.instruments_of_client(unit, round_.client_id).get(round_.instrument_id or 0)
    found = distance_doubts(
        targets,
        ifov_mrad=None if optics is None else optics.ifov_mrad,
        stand_offs_m={stop.facts.id: stand_off_of(stop) for stop in day.stops},
    )
    of_stop = {stop.facts.id: stop.stop.id for stop in day.stops}
    told: dict[int, list[str]] = {}
    for doubt in found:
        told.setdefault(of_stop[doubt.equipment_id], []).append(doubt.sentence)
    return {stop_id: tuple(sentences) for stop_id, sentences in told.items()}


def outdoor_stops(day: RoundDay, kinds: Mapping[int, frozenset[str]]) -> tuple[OutdoorStop, ...]:
    """Stops outdoors with the sun of their site; strings of photovoltaic modules want it and are left out."""
    suns: dict[int, SunOfDay | None] = {}
    found = []
    for stop in day.stops:
        facts = stop.facts
        if not facts.outdoor or kinds.get(facts.id) == frozenset({PointKind.PHOTOVOLTAIC.value}):
            continue
        if facts.site_id not in suns:
            suns[facts.site_id] = sun_of_day(
                day.round.planned_on,
                latitude_deg=facts.latitude,
                longitude_deg=facts.longitude,
                zone=facts.time_zone,
            )
        sun = suns[facts.site_id]
        flag = None
        if sun is not None:
            flag = sun_on_stop(sun, start_min=stop.time.start_min, end_min=stop.time.end_min)
        found.append(OutdoorStop(stop, sun, flag))
    return tuple(found)
