"""Look back: what today's rules would have said of every past visit, and what became of it."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from math import floor, isfinite

import numpy as np

from service.domain.hindsight import (
    Ending,
    Hindsight,
    LineChoice,
    Passing,
    PastFlag,
    RoundOffset,
    middle_lead,
    what_came,
)
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.trending import TrendedPoint
from service.domain.words import ReferenceKind
from service.errors import NotFound
from service.storage import condition, hindsight
from service.storage.unit import Store, Unit
from service.trends.hindsight import Flags, LookBack, look_back
from service.trends.policy import policy_for
from service.usecases.condition.overview import sight_of
from service.usecases.condition.series_blocks import blocks_of, read_sites

#: Points looked back over at once; beyond, a site is chosen.
MOST_POINTS = 2500
#: How much higher or lower every line is tried.
SHIFTS = (-1.0, -0.5, 0.0, 0.5, 1.0, 1.5)
_EPOCH = date(1970, 1, 1)


class _Ground:
    """What is known of the points of some sites."""

    def __init__(self, unit: Unit, site_ids: Sequence[int]) -> None:
        self.places = hindsight.places(unit, site_ids)
        zones = {site_id: zone for site_id, zone, _ in self.places.values()}
        self.endings: dict[int, tuple[Ending, ...]] = hindsight.endings(unit, site_ids, zones)
        self.passings: dict[int, tuple[Passing, ...]] = hindsight.passings(
            unit, {point: zone for point, (_, zone, _) in self.places.items()}
        )


def see_hindsight(store: Store, actor: Actor, *, site_id: int | None, now: datetime) -> Hindsight:
    """What the trends would have told of past visits: flags, what came of them, and other lines.

    Parameters
    ----------
    site_id : int, optional
        One site; without it all in sight, as long as they have no more than ``MOST_POINTS``
        points, else the first.

    Raises
    ------
    NotFound
        No such site, or out of sight.

    Notes
    -----
    Reckoned anew from the stored visits by the thresholds of today: nothing of it feeds back into
    them. Visits corrected since count as corrected.
    """
    require(actor, Verb.READ_LETTERS)
    with store.look() as unit:
        sites = condition.site_counts(unit, sight_of(actor))
        chosen = _chosen([site.site_id for site in sites], [sum(site.levels) for site in sites], site_id)
        ground = _Ground(unit, chosen)
        points, visits, sets = read_sites(unit, chosen)
    wanted = {one.point_id for one in points if one.point_id in ground.places}
    looks = [
        (reference, alike, look_back(block, policy_for(reference)))
        for reference, alike, block in blocks_of(points, visits, sets=sets, wanted=wanted, now=now)
    ]
    years = sum(look.watched_years for _, _, look in looks)
    by_shift = {shift: _flags(looks, ground, shift, told=shift == 0) for shift in SHIFTS}
    flags = sorted(by_shift[0.0], key=lambda flag: (flag.first_on, flag.point_id), reverse=True)
    return Hindsight(
        site_id=chosen[0] if len(chosen) == 1 else None,
        sites=tuple((site.site_id, site.name) for site in sites),
        points=len(wanted),
        years=years,
        flags=tuple(flags),
        choices=tuple(_choice(shift, tuple(found), years) for shift, found in by_shift.items()),
        offsets=tuple(_offsets(looks, {site.site_id: site.name for site in sites})),
    )


def _chosen(site_ids: Sequence[int], points: Sequence[int], wanted: int | None) -> list[int]:
    if wanted is not None:
        if wanted not in site_ids:
            raise NotFound(f"There is no site {wanted} in your sight.")
        return [wanted]
    return list(site_ids) if sum(points) <= MOST_POINTS else list(site_ids[:1])


Looks = Sequence[tuple[ReferenceKind, list[TrendedPoint], LookBack]]


def _flags(looks: Looks, ground: _Ground, shift: float, *, told: bool = False) -> list[PastFlag]:
    found = []
    for reference, alike, look in looks:
        flags = look.flags(shift)
        for k in range(len(flags.series)):
            point = alike[flags.series[k]]
            flag = _flag(reference, point, flags, k, ground)
            if told and (flag.reached_on is not None or flag.ended_on is None):
                flag = _with_range(flag, look.forecast(int(flags.series[k]), flags.confirmed_day[k]))
            found.append(flag)
    return found


def _with_range(flag: PastFlag, told: tuple[float, float] | None) -> PastFlag:
    """With the range that was told when it was confirmed; of what ended before its line nobody can check it."""
    if told is None:
        return flag
    return replace(flag, forecast_from=_day(told[0]), forecast_to=_day(told[1]))


def _flag(
    reference: ReferenceKind,
    point: TrendedPoint,
    flags: Flags,
    k: int,
    ground: _Ground,
) -> PastFlag:
    first_on, ended_on = _day(flags.first_day[k]), _day(flags.ended_day[k])
    if first_on is None:
        raise ValueError("a flag begins on a day")
    passings = tuple(
        one
        for one in ground.passings.get(point.point_id, ())
        if one.on >= first_on and (ended_on is None or one.on <= ended_on)
    )
    came, ending = what_came(
        first_on, ended_on, ground.endings.get(point.point_id, ()), passings, cut=bool(flags.cut[k])
    )
    return PastFlag(
        point_id=point.point_id,
        where=ground.places[point.point_id][2],
        reference=reference,
        first_on=first_on,
        confirmed_on=_day(flags.confirmed_day[k]),
        ended_on=ended_on,
        came=came,
        finding_id=None if ending is None else ending.finding_id,
        line_on=passings[0].on if passings else None,
        reached_on=next((one.on for one in passings if one.level == 4), None),
    )


def _choice(shift: float, flags: tuple[PastFlag, ...], years: float) -> LineChoice:
    return LineChoice(
        shift=shift,
        flags=len(flags),
        per_100_years=len(flags) / years * 100 if years > 0 else 0.0,
        right=sum(flag.came.right for flag in flags),
        wrong=sum(flag.came.wrong for flag in flags),
        lead_days=middle_lead(flags),
    )


def _offsets(looks: Looks, names: Mapping[int, str]) -> list[RoundOffset]:
    """What each round shared, where it was large enough to say."""
    found = []
    for reference, alike, look in looks:
        rounds, levelled = look.block.rounds, look.levelled
        if rounds is None or not len(levelled.offset):
            continue
        day = np.full(len(levelled.offset), np.inf)
        np.minimum.at(day, rounds.group, look.block.days)
        sites = sorted({point.site_id for point in alike})
        for j in np.flatnonzero(np.isfinite(levelled.offset)).tolist():
            on = _day(day[j])
            if on is not None:
                site = names[sites[int(rounds.site[j])]]
                offset, u = float(levelled.offset[j]), float(levelled.offset_u[j])
                found.append(RoundOffset(site, on, reference, offset, u, int(levelled.members[j])))
    return sorted(found, key=lambda one: (one.site, one.on))


def _day(days: float) -> date | None:
    return _EPOCH + timedelta(days=floor(days)) if isfinite(days) else None
