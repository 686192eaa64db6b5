"""Rounds, their rows, readings and what each said, written in the order of time."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np
from numpy.random import Generator

from bench.fleet.columns import write
from bench.fleet.lives import Bools, Lives, rise_k
from bench.fleet.register import STAMPS, Fleet, Ints
from service.domain.words import ReferenceKind, RoundState
from service.storage.tables.readings import AssessmentRow, ReadingRow
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit

LAST_DAY = date(2026, 11, 24)
DAYS_BETWEEN = 37
#: the sites of a month are walked one a day
SPREAD = 22


def day_of(fleet: Fleet, site: int, visit: int) -> date:
    back = (fleet.size.visits - 1 - visit) * DAYS_BETWEEN + site % SPREAD
    return LAST_DAY - timedelta(days=back)


def write_visits(unit: Unit, fleet: Fleet, lives: Lives, *, draw: Generator, ids: dict[str, int]) -> None:
    """Every month's rounds of all sites, one after the other, then the loggers' readings."""
    for visit in range(fleet.size.visits):
        _write_rounds(unit, fleet, visit, ids=ids)
        _write_month(unit, fleet, lives, visit=visit, draw=draw, ids=ids)
    _write_logged(unit, fleet, lives, draw=draw, ids=ids)
    _write_doubles(unit, fleet, lives, draw=draw, ids=ids)
    _write_rounds_to_come(unit, fleet, ids)


def _write_rounds(unit: Unit, fleet: Fleet, visit: int, *, ids: dict[str, int]) -> None:
    size = fleet.size
    sites = list(range(size.sites))
    days = [day_of(fleet, site, visit) for site in sites]
    last = visit == size.visits - 1
    states = [RoundState.RETURNED if last and s % 5 == 0 else RoundState.SIGNED_OFF for s in sites]
    nights = [datetime.combine(day, time(17), UTC) for day in days]
    write(
        unit, RoundRow, size.sites, id=np.array(sites) + visit * size.sites + 1, client_id=fleet.client_id,
        code=[f"R{visit + 1:03d}-{s + 1:02d}" for s in sites], name=[f"Month {visit + 1}, works {s + 1:02d}" for s in sites],
        planned_on=days, state=[state.value for state in states], person_id=ids["walker"],
        instrument_id=ids["instrument"], issued_at=nights, returned_at=nights, signed_off_at=nights, **STAMPS,
    )  # fmt: skip
    equipment = np.arange(size.equipment)
    each = size.equipment // size.sites
    write(
        unit, StopRow, size.equipment, id=visit * size.equipment + equipment + 1,
        round_id=visit * size.sites + np.array(fleet.equipment_site) + 1, equipment_id=equipment + 1,
        site_id=np.array(fleet.equipment_site) + 1, position=equipment % each, minutes=6,
        sheet_code=[f"S{visit * size.equipment + k + 1:08d}" for k in range(size.equipment)],
    )  # fmt: skip


def _write_month(
    unit: Unit, fleet: Fleet, lives: Lives, *, visit: int, draw: Generator, ids: dict[str, int]
) -> None:
    size = fleet.size
    points = np.arange(size.points)
    first = visit * size.points + 1
    stops = visit * size.equipment + fleet.equipment_of_point + 1
    write(
        unit, RoundPointRow, size.points, id=points + first, uid=[f"row-{k}" for k in range(first, first + size.points)],
        round_id=visit * size.sites + fleet.site_of_point + 1, stop_id=stops, view_id=fleet.view_of_point + 1,
        point_id=points + 1, position=points % (size.points // size.sites),
    )  # fmt: skip
    mornings = [datetime.combine(day_of(fleet, s, visit), time(8), UTC) for s in range(size.sites)]
    each = size.equipment // size.sites
    taken = [
        mornings[site] + timedelta(minutes=6 * (kit % each))
        for site, kit in zip(fleet.site_of_point.tolist(), fleet.equipment_of_point.tolist(), strict=True)
    ]
    _write_readings(
        unit, fleet, lives, points=points, heights=lives.heights[:, visit], visit=visit, taken=taken, first=first,
        draw=draw, ids=ids, round_id=visit * size.sites + fleet.site_of_point + 1, row_id=points + first,
        source=f"person {ids['walker']}",
        no_permit_recorded=(points % 50 == 0) & (visit == size.visits - 1), twice=_twice(fleet, visit),
    )  # fmt: skip


def _write_readings(
    unit: Unit, fleet: Fleet, lives: Lives, *, points: Ints, heights: Any, visit: int, taken: list[datetime], first: int,
    draw: Generator, ids: dict[str, int], twice: Bools, **of_round: Any,
) -> None:  # fmt: skip
    """Readings of these points at one visit, with what each says."""
    count, round_id = len(points), of_round["round_id"]
    turns = np.array(fleet.rotating)[points]
    value, load = rise_k(heights), draw.uniform(0.45, 0.95, count).round(2)
    read = lives.read[points, visit]
    air = draw.normal(18, 3, count).round(1)
    temperature = np.where(read, (air + 6 + 30 * load**2 + value).round(1), np.nan)
    amps = np.where(turns | ~read, np.nan, (100 * load).round(1))
    keys = np.arange(first, first + count)
    names = [f"{key:032x}" for key in keys.tolist()]
    write(
        unit, ReadingRow, count, id=keys, uid=names, content_hash=[name + name for name in names], point_id=points + 1,
        person_id=ids["walker"], instrument_id=ids["instrument"], received_at=taken, taken_at=taken,
        not_assessable=[None if seen else "O" for seen in read.tolist()], temperature_c=temperature, ambient_c=air,
        current_a=amps, emissivity_set=0.95, reflected_set_c=air,
        typed=[{"temperature": f"{t:.1f}", "ambient": f"{a:.1f}"} for t, a in
               zip(temperature.tolist(), air.tolist(), strict=True)],
        **of_round,
    )  # fmt: skip
    levels = np.where(read & ~lives.silent[points], np.clip(np.floor(heights), 0, 4), np.nan)
    kinds = (ReferenceKind.LIKE_PARTS.value, ReferenceKind.BASELINE.value)
    value = np.where(read, value, np.nan)
    write(
        unit, AssessmentRow, count, id=keys, reading_id=keys, point_id=points + 1, round_id=round_id, taken_at=taken,
        assessed_at=taken, criteria_id=ids["criteria"], method_version="1", episode=(visit >= lives.mended_at[points]) * 1,
        level=levels, band=levels, at_least=False, near_line=False, clears=read, trended=read, counts_trend=~twice,
        reference=[kinds[turn] if seen else None for turn, seen in zip(turns.tolist(), read.tolist(), strict=True)],
        value_k=value, common_k=np.where(turns, np.nan, (value / load).round(2)), corrected_c=temperature,
        rise_air_k=temperature - air, load_ratio=np.where(turns, np.nan, load), over_first_line=heights > 1,
        rule=["1a.2 similar" if seen else "not assessable" for seen in read.tolist()],
        sentence=[f"Over like parts: {k:.1f} K." for k in value.tolist()],
    )  # fmt: skip


def _write_logged(unit: Unit, fleet: Fleet, lives: Lives, *, draw: Generator, ids: dict[str, int]) -> None:
    """Points with a logger: readings beside the rounds, evenly over the years."""
    size = fleet.size
    span = timedelta(days=size.visits * DAYS_BETWEEN)
    start = datetime.combine(LAST_DAY, time(6), UTC) - span
    for k, point in enumerate(logged_points(fleet).tolist()):
        visits = np.arange(size.more) * size.visits // size.more
        for visit in range(size.visits):
            mine = np.flatnonzero(visits == visit)
            taken = [start + span * float((m + 0.5) / size.more) for m in mine.tolist()]
            heights = np.clip(lives.heights[point, visit] + draw.normal(0, 0.1, mine.size), 0, 4.9)
            first = size.points * size.visits + k * size.more + int(mine[0]) + 1 if mine.size else 0
            if mine.size:
                _write_readings(
                    unit, fleet, lives, points=np.full(mine.size, point), heights=heights, visit=visit, taken=taken,
                    first=first, draw=draw, ids=ids, round_id=None, row_id=None, source="device logger",
                    twice=np.zeros(mine.size, dtype=np.bool_),
                )  # fmt: skip


def _twice(fleet: Fleet, visit: int) -> Bools:
    """Points that two people read on a round that is not signed off yet: five at each of its sites."""
    place = np.arange(fleet.size.points) % (fleet.size.points // fleet.size.sites)
    last = visit == fleet.size.visits - 1
    twice: Bools = (place < 5) & (fleet.site_of_point % 5 == 0) & last
    return twice


def _write_doubles(unit: Unit, fleet: Fleet, lives: Lives, *, draw: Generator, ids: dict[str, int]) -> None:
    """What the second person read; the engineer has not chosen yet."""
    size, visit = fleet.size, fleet.size.visits - 1
    points = np.flatnonzero(_twice(fleet, visit))
    sites = fleet.site_of_point[points]
    evening = [datetime.combine(day_of(fleet, site, visit), time(16), UTC) for site in sites.tolist()]
    _write_readings(
        unit, fleet, lives, points=points, heights=lives.heights[points, visit], visit=visit, taken=evening,
        first=size.readings + 1, draw=draw, ids=ids, round_id=visit * size.sites + sites + 1,
        row_id=visit * size.points + points + 1, source=f"person {ids['engineer']}",
        twice=np.ones(points.size, dtype=np.bool_),
    )  # fmt: skip


def logged_points(fleet: Fleet) -> Ints:
    """Places of the points with a logger, spread over the fleet."""
    return np.arange(fleet.size.logged) * (fleet.size.points // max(fleet.size.logged, 1))


def _write_rounds_to_come(unit: Unit, fleet: Fleet, ids: dict[str, int]) -> None:
    """Issued for the days after: every fourth site's first boards, nothing read yet."""
    size = fleet.size
    round_id, stop_id = size.sites * size.visits, size.equipment * size.visits
    row_id = size.points * size.visits
    for site in range(0, size.sites, 4):
        round_id += 1
        write(
            unit, RoundRow, 1, id=round_id, client_id=fleet.client_id, code=f"N-{site + 1:02d}",
            name=f"Next, works {site + 1:02d}", planned_on=LAST_DAY + timedelta(days=2 + site % 4),
            state=RoundState.ISSUED.value, person_id=ids["walker"], instrument_id=ids["instrument"],
            issued_at=datetime.combine(LAST_DAY, time(9), UTC), **STAMPS,
        )  # fmt: skip
        mine = np.flatnonzero(np.array(fleet.equipment_site) == site)[:10]
        stops = dict(zip(mine.tolist(), range(stop_id + 1, stop_id + 1 + mine.size), strict=True))
        write(
            unit, StopRow, mine.size, id=list(stops.values()), round_id=round_id, equipment_id=mine + 1,
            site_id=site + 1, position=np.arange(mine.size), minutes=6,
            sheet_code=[f"S{stop:08d}" for stop in stops.values()],
        )  # fmt: skip
        points = np.flatnonzero(np.isin(fleet.equipment_of_point, mine))
        keys = np.arange(row_id + 1, row_id + 1 + points.size)
        write(
            unit, RoundPointRow, points.size, id=keys, uid=[f"row-{key}" for key in keys.tolist()], round_id=round_id,
            stop_id=[stops[kit] for kit in fleet.equipment_of_point[points].tolist()],
            view_id=fleet.view_of_point[points] + 1, point_id=points + 1, position=np.arange(points.size),
        )  # fmt: skip
        stop_id, row_id = stop_id + mine.size, row_id + points.size
