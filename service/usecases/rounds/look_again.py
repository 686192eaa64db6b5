"""Look at returned rows as a whole: what a person should read again before it is stored."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.domain.oddities import (
    Oddity,
    PointPast,
    fahrenheit_in_file,
    odd_date,
    odd_in_row,
    odd_in_view,
)
from service.domain.readings import Reading, TypedRow
from service.domain.rounds import Round
from service.domain.setting_oddities import odd_in_settings, overdue
from service.domain.settings import NO_SETTINGS, Instrument, resolve
from service.domain.site_clock import local_day
from service.domain.visits import VisitPoint
from service.errors import Problem
from service.storage import known_points, readings, settings, walking_parties
from service.storage.known_points import KnownPoint
from service.storage.unit import Unit
from service.usecases.rounds.returned_rows import Sorted

#: How long before the planned day a round may have been walked without anybody being asked.
EARLY = timedelta(days=7)
UNKNOWN_INSTRUMENT = Instrument()


def odd_rows(unit: Unit, round_: Round, returned: Sorted, *, now: datetime) -> list[Problem]:
    """What a person should look at again; nothing of it stands in the way.

    Parameters
    ----------
    unit : Unit
        To look things up in.
    round_ : Round
        The round that came back.
    returned : Sorted
        Its rows; those that would be stored are looked at.
    now : datetime
        The instant of the request.

    Returns
    -------
    list of Problem
        Of the whole send first, then row by row, then view by view.
    """
    rows = [
        LookedAt(row.where, row.expected.point_id, row.expected.view_id, row)
        for row in (one.row for one in returned.to_store)
        if row.expected is not None
    ]
    return odd_among(unit, round_, rows, now=now)


@dataclass(frozen=True, slots=True)
class LookedAt:
    """A reading that is looked at, returned just now or stored long ago; ``where`` names it in what is told."""

    where: str
    point_id: int
    view_id: int
    values: TypedRow | Reading


def odd_among(
    unit: Unit, round_: Round, rows: Sequence[LookedAt], *, now: datetime, before: datetime | None = None
) -> list[Problem]:
    """What looks odd in these readings of one round; each problem's ``where`` begins with theirs.

    Parameters
    ----------
    unit : Unit
        To look things up in.
    round_ : Round
        Their round.
    rows : sequence of LookedAt
        One of each row at most.
    now : datetime
        The instant of the request.
    before : datetime, optional
        Given for stored readings: only what was read earlier is their past, and what a point
        read last is taken from there and not from what it stands at.
    """
    if not rows:
        return []
    known = {one.point.id: one for one in known_points.points_of_views(unit, {row.view_id for row in rows})}
    read = readings.temperatures_of(unit, known, without_round=round_.id, before=before)
    past = {point_id: PointPast.of(temperatures) for point_id, temperatures in read.items()}
    found: list[Problem] = []
    seen_with = _Instruments(unit, round_)
    first = (
        round_.planned_on - EARLY
        if round_.issued_at is None
        else min(round_.planned_on, round_.issued_at.date())
    )
    for row in rows:
        point = known[row.point_id].point
        odd = odd_in_row(row.values, past.get(point.id), rated_current_a=point.rated_current_a)
        today = local_day(now, point.zone)
        odd_day = odd_date(local_day(row.values.taken_at, point.zone), first_day=first, last_day=today)
        odd += [odd_day] if odd_day is not None else []
        odd += seen_with.odd_in(row.values, point)
        found += [_problem(one, f"{row.where}, {point.tag}") for one in odd]
    last_c = {
        point_id: one.memory.last_temperature_c if before is None else _last_c(past.get(point_id))
        for point_id, one in known.items()
    }
    found += _odd_views(rows, known, last_c)
    typed_and_usual = [
        (row.values.temperature_c, summed.middle_c)
        for row in rows
        if row.values.temperature_c is not None and (summed := past.get(row.point_id)) is not None
    ]
    fahrenheit = fahrenheit_in_file(typed_and_usual)
    whole = [fahrenheit] if fahrenheit is not None else []
    return [_problem(odd, "file") for odd in whole + seen_with.overdue()] + found


def _last_c(past: PointPast | None) -> float | None:
    return None if past is None else past.last_c


class _Instruments:
    """What rows were read with, and how many of them after its calibration was due."""

    def __init__(self, unit: Unit, round_: Round) -> None:
        self.facts = settings.instruments_of_client(unit, round_.client_id)
        self.dues = walking_parties.calibrations(unit, round_.client_id)
        self.of_round = settings.settings_of_rounds(unit, [round_.id]).get(round_.id, NO_SETTINGS)
        self.late: Counter[int] = Counter()

    def odd_in(self, row: TypedRow | Reading, point: VisitPoint) -> list[Oddity]:
        used = row.instrument_id or 0
        calibration = self.dues.get(used)
        if calibration is not None and row.temperature_c is not None:
            self.late[used] += calibration.due < local_day(row.taken_at, point.zone)
        instrument = self.facts.get(used, UNKNOWN_INSTRUMENT)
        inputs = resolve(row, point, of_round=self.of_round, instrument=instrument)
        return odd_in_settings(inputs, instrument, outdoor=point.optics.outdoor)

    def overdue(self) -> list[Oddity]:
        return [
            overdue(self.dues[used].name, self.dues[used].serial, self.dues[used].due, readings=count)
            for used, count in self.late.items()
            if count
        ]


def _odd_views(
    rows: Sequence[LookedAt], known: Mapping[int, KnownPoint], last_c: Mapping[int, float | None]
) -> list[Problem]:
    by_view: dict[int, list[LookedAt]] = {}
    for row in rows:
        by_view.setdefault(row.view_id, []).append(row)
    found = []
    for several in by_view.values():
        points = [known[row.point_id].point for row in several]
        odd = odd_in_view(
            [row.values.temperature_c for row in several],
            [last_c[row.point_id] for row in several],
            currents_a=[
                row.values.current_a for row, one in zip(several, points, strict=True) if not one.neutral
            ],
        )
        view = points[0].title.rpartition(":")[0]
        found += [_problem(one, f"{several[0].where}, {view}") for one in odd]
    return found


def _problem(odd: Oddity, where: str) -> Problem:
    return Problem(where, odd.field, "", odd.sentence, odd.remedy)
