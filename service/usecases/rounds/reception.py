"""Receive a round that came back: what of it can be signed, what must be asked or read again."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from service.domain.foretold import Foretold, Worse, worse_than
from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.readings import Reading
from service.domain.reception import MOST_SKEW_S, CameBack, Oddness, Reception, why_hidden
from service.domain.reports import ReportedPoint
from service.domain.rounds import OPEN_FOR_READINGS, Round, RoundPoint
from service.domain.site_clock import local_day
from service.domain.words import RoundState
from service.errors import Conflict
from service.storage import foretold, readings, reports, round_questions, rounds, sheet_scans, spoken_notes
from service.storage.unit import Store, Unit
from service.usecases.rounds.exposure import distances_of
from service.usecases.rounds.look_again import LookedAt, odd_among
from service.usecases.rounds.sight import round_to_see
from service.usecases.rounds.timetable import RoundDay, round_day


@dataclass(frozen=True, slots=True)
class ReceptionPage:
    """A round as it came back, with its day, and what the asker may do about it."""

    round: Round
    day: RoundDay
    reception: Reception
    may_ask: bool
    may_sign: bool


def read_reception(store: Store, actor: Actor, round_id: int, *, now: datetime) -> ReceptionPage:
    """All that came back of a round, row by row.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who asks.
    round_id : int
        An issued, returned or signed-off round.
    now : datetime
        The instant of the request.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    Conflict
        It is a draft or withdrawn: nothing comes back of it.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id)
        if round_.state in (RoundState.DRAFT, RoundState.WITHDRAWN):
            raise Conflict(f"Round {round_.code} is {round_.state}; nothing has come back of it")
        day = round_day(unit, round_, today=now.date())
        zones = {stop.stop.id: stop.facts.time_zone for stop in day.stops}
        reception = _reception(unit, round_, zones, spots=distances_of(unit, round_, day), now=now)
    return ReceptionPage(
        round=round_,
        day=day,
        reception=reception,
        may_ask=may(actor, Verb.KEEP_REGISTER) and round_.state in OPEN_FOR_READINGS,
        may_sign=may(actor, Verb.SIGN_OFF) and round_.state is RoundState.RETURNED,
    )


def _reception(
    unit: Unit, round_: Round, zones: Mapping[int, str], *, spots: Mapping[int, Sequence[str]], now: datetime
) -> Reception:
    points = {point.point_id: point for point in reports.reported_points(unit, round_.id)}
    expected = rounds.points_of(unit, round_.id)
    read = readings.current_of_rows(unit, [row.id for row in expected])
    odd, of_round = _odd(unit, round_, expected, read, now=now)
    told = foretold.foretold_of_round(unit, round_.id)
    spoken = spoken_notes.notes_of_round(unit, round_.id)
    rows = tuple(
        CameBack(
            row_uid=row.uid,
            stop_id=row.stop_id,
            point=points[row.point_id],
            odd=tuple(odd.get(row.uid, ())),
            worse=_worse(points[row.point_id], told.get(row.point_id), zones[row.stop_id]),
            foretold=row.point_id in told,
            spoken=tuple(note for note in spoken if note.row_uid == row.uid),
        )
        for row in expected
    )
    return Reception(
        rows=rows,
        of_round=tuple(of_round),
        questions=round_questions.questions_of(unit, round_.id),
        hidden=why_hidden(rows, spots),
        scans=len(sheet_scans.scans_of_round(unit, round_.id)),
        spoken=tuple(note for note in spoken if not note.row_uid),
    )


def _worse(point: ReportedPoint, told: Foretold | None, zone: str) -> Worse | None:
    if told is None or point.common_k is None or point.taken_at is None:
        return None
    return worse_than(told, point.common_k, point.u_common_k, on=local_day(point.taken_at, zone))


def _odd(
    unit: Unit,
    round_: Round,
    expected: Sequence[RoundPoint],
    read: Sequence[Reading],
    *,
    now: datetime,
) -> tuple[dict[str, list[str]], list[str]]:
    """By row what is odd in it, and what is odd about the whole round."""
    of_row: dict[int, list[Reading]] = {}
    for reading in read:
        of_row.setdefault(reading.row_id or 0, []).append(reading)
    looked = [
        LookedAt(row.uid, row.point_id, row.view_id, _standing(of_row[row.id], row.chosen_source))
        for row in expected
        if row.id in of_row
    ]
    first = min((one.values.taken_at for one in looked), default=None)
    found = [
        Oddness("" if odd.where == "file" else odd.where.partition(",")[0], f"{odd.message} {odd.remedy}")
        for odd in odd_among(unit, round_, looked, now=now, before=first)
    ]
    skews_s = readings.skews_of_round(unit, round_.id)
    for row in expected:
        odd = _odd_in_row(row, of_row.get(row.id, []), skew_s=skews_s.get(row.id, 0.0))
        found += [Oddness(row.uid, words) for words in odd]
    told: dict[str, list[str]] = {}
    for one in found:
        told.setdefault(one.row_uid, []).append(one.sentence)
    return told, told.pop("", [])


def _standing(several: Sequence[Reading], chosen: str | None) -> Reading:
    """Of two readings the one that was chosen, else the first."""
    return next((reading for reading in several if reading.source == chosen), several[0])


def _odd_in_row(row: RoundPoint, several: Sequence[Reading], *, skew_s: float) -> list[str]:
    told = []
    if len(several) > 1 and row.chosen_source is None:
        told.append("Read twice, and nobody has decided which one stands.")
    if any(reading.no_permit_recorded for reading in several):
        told.append("Read with no permit recorded.")
    if skew_s > MOST_SKEW_S:
        told.append(f"The clock of its device was off by {skew_s / 60:.0f} minutes.")
    return told
