"""See a year of a client: rounds walked, how far the interval rules were kept, covers opened, and the auditor's list."""

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from datetime import UTC, date, datetime, time
from itertools import islice

from service.domain.coverage import Coverage, CoveredEquipment, Place, WhyLate, cover, late_points
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.words import Reason, RoundState
from service.domain.year import (
    MONTHS,
    AuditedEquipment,
    CoverageShare,
    EquipmentAsked,
    EquipmentPage,
    Faults,
    MonthCount,
    OpenedFinding,
    YearAsked,
    YearReport,
    YearSite,
    matches,
    shares_by_class,
    shares_by_criticality,
)
from service.errors import NotFound
from service.storage import coverage, why_late, year_counts
from service.storage.unit import Store, Unit
from service.storage.why_late import LastRow
from service.usecases.rounds.sight import sight_of

#: what may stand on the list as late
_LATE = (Coverage.LATE, Coverage.NEVER_READ)


class _Ground:
    """Sites, day and coverage that the figures and the list of a year both stand on."""

    def __init__(self, unit: Unit, actor: Actor, asked: YearAsked, *, now: datetime) -> None:
        self.unit, self.asked = unit, asked
        today = now.date()
        gone = asked.year < today.year
        self.on = date(asked.year, 12, 31) if gone else today
        #: the instant gone by; None stands for now
        self.at = datetime.combine(self.on, time.max, UTC) if gone else None
        self.every_site = year_counts.sites_of_year(unit, actor.site_ids, at_end=self.at)
        self.client_id = _client_of(self.every_site, asked)
        self.sites = tuple(site for site in self.every_site if site.client_id == self.client_id)
        self.site_ids = [site.id for site in self.sites if asked.site_id in (None, site.id)]
        self.fresh: dict[int, Place] = {}
        self.rows = self._covered()

    def _covered(self) -> tuple[CoveredEquipment, ...]:
        listed = coverage.equipment_of_year(self.unit, self.site_ids, at=self.at)
        groups = coverage.point_groups(self.unit, self.site_ids, at=self.at)
        read = {
            one.site_id
            for one in listed
            if any(group.seen_at is not None for group in groups.get(one.id, ()))
        }
        order = coverage.sites_by_id(self.unit, self.client_id)
        self.fresh = {site: (place, len(order)) for place, site in enumerate(order) if site not in read}
        return tuple(
            cover(one, groups.get(one.id, ()), on=self.on, fresh=self.fresh.get(one.site_id))
            for one in listed
        )


def _client_of(sites: Sequence[YearSite], asked: YearAsked) -> int:
    """The client of the site asked for, else the one asked for, else the first; 0 where none is in sight.

    Raises
    ------
    NotFound
        No such site or client in sight that year.
    """
    fitting = [
        site
        for site in sites
        if asked.site_id in (None, site.id) and asked.client_id in (None, site.client_id)
    ]
    if fitting:
        return fitting[0].client_id
    if asked.site_id is None and asked.client_id is None:
        return 0
    raise NotFound("There is no such site or client in your sight in that year.")


def see_year(
    store: Store, actor: Actor, asked: YearAsked, wanted: EquipmentAsked, *, now: datetime
) -> tuple[YearReport, EquipmentPage]:
    """The figures of a year, and a page of the auditor's list.

    Parameters
    ----------
    asked : YearAsked
        The year, and whose.
    wanted : EquipmentAsked
        Which lines of the list.

    Returns
    -------
    YearReport, EquipmentPage
        Read in a fixed number of queries, however large the fleet. Coverage is as of today; of a
        year gone by as of its last day, with what was read, stood and was repaired until then,
        and with access, criticality, condition and intervals as the register has them now.

    Raises
    ------
    NotFound, Forbidden
        Client or site out of sight, or letters are not this role's to read.
    """
    require(actor, Verb.READ_LETTERS, site_id=asked.site_id)
    with store.look() as unit:
        ground = _Ground(unit, actor, asked, now=now)
        return _report(ground, actor, now=now), _page(ground, wanted)


def list_equipment_of_year(
    store: Store, actor: Actor, asked: YearAsked, wanted: EquipmentAsked, *, now: datetime
) -> EquipmentPage:
    """The auditor's list alone; see `see_year`."""
    require(actor, Verb.READ_LETTERS, site_id=asked.site_id)
    with store.look() as unit:
        return _page(_Ground(unit, actor, asked, now=now), wanted)


def _report(ground: _Ground, actor: Actor, *, now: datetime) -> YearReport:
    unit, asked = ground.unit, ground.asked
    years = year_counts.years_of_client(unit, ground.client_id) or (asked.year, asked.year)
    rounds = year_counts.rounds_by_month(
        unit, sight_of(actor), year=asked.year, client_id=ground.client_id, site_id=asked.site_id
    )
    covers = year_counts.covers_by_month(unit, ground.site_ids, year=asked.year)
    findings = year_counts.findings_of_year(unit, ground.site_ids, year=asked.year)
    return YearReport(
        asked=YearAsked(asked.year, ground.client_id, asked.site_id),
        on=ground.on,
        first_year=min(years[0], now.year, asked.year),
        last_year=max(years[1], now.year, asked.year),
        clients=tuple(dict.fromkeys((site.client_id, site.client) for site in ground.every_site)),
        sites=ground.sites,
        months=months_of(rounds, covers, findings),
        faults=Faults.of(findings),
        total=CoverageShare.of("", ground.rows),
        classes=shares_by_class(ground.rows),
        criticalities=shares_by_criticality(ground.rows),
    )


def months_of(
    rounds: dict[int, Counter[RoundState]], covers: dict[int, int], findings: Iterable[OpenedFinding]
) -> tuple[MonthCount, ...]:
    """Twelve months of what was counted; of rounds that are not withdrawn is told how many were planned."""
    opened = Counter(one.month for one in findings)
    return tuple(
        _month(month, rounds.get(month, Counter()), covers.get(month, 0), findings=opened[month])
        for month in range(1, MONTHS + 1)
    )


def _month(month: int, rounds: Counter[RoundState], covers: int, *, findings: int) -> MonthCount:
    withdrawn = rounds[RoundState.WITHDRAWN]
    return MonthCount(
        month=month,
        planned=rounds.total() - withdrawn,
        walked=sum(rounds[state] for state in year_counts.WALKED),
        signed_off=rounds[RoundState.SIGNED_OFF],
        withdrawn=withdrawn,
        covers=covers,
        findings=findings,
    )


def _page(ground: _Ground, wanted: EquipmentAsked) -> EquipmentPage:
    fitting = [row for row in ground.rows if matches(row, wanted)]
    begin = coverage.walk_of(ground.unit, wanted.after)
    rest = (row for row in fitting if begin is None or row.equipment.walk > begin)
    shown = list(islice(rest, None if wanted.limit is None else wanted.limit + 1))
    more = wanted.limit is not None and len(shown) > wanted.limit
    shown = shown[: wanted.limit]
    why = _why(ground, [row for row in shown if row.coverage in _LATE])
    return EquipmentPage(
        on=ground.on,
        rows=tuple(AuditedEquipment(row, why.get(row.equipment.id, ())) for row in shown),
        found=len(fitting),
        next_after=shown[-1].equipment.id if more and shown else None,
    )


def _why(ground: _Ground, rows: Collection[CoveredEquipment]) -> dict[int, tuple[tuple[str, int], ...]]:
    """By equipment the reasons for which its late points are late, each with their number, most first."""
    equipment = {row.equipment.id: row.equipment for row in rows}
    points = tuple(coverage.single_points(ground.unit, ground.site_ids, equipment, at=ground.at))
    late = late_points(equipment, points, on=ground.on, fresh=ground.fresh)
    last = why_late.last_rows(ground.unit, [one.point_id or 0 for one in late], until=ground.on)
    stops = why_late.last_stops(ground.unit, equipment, until=ground.on, to_come=ground.at is None)
    told: dict[int, Counter[str]] = {}
    for one in late:
        word = why_word(
            last.get(one.point_id or 0),
            stops.get(one.equipment_id, {}),
            repaired_on=None if one.repaired_at is None else one.repaired_at.date(),
        )
        told.setdefault(one.equipment_id, Counter())[word] += 1
    return {of: tuple(words.most_common()) for of, words in told.items()}


def why_word(row: LastRow | None, stops: dict[RoundState, date], *, repaired_on: date | None) -> str:
    """Why one late point is late.

    Parameters
    ----------
    row : LastRow or None
        What its last round said of it.
    stops : dict of RoundState to date
        The last day of each state of round that takes its equipment in.
    repaired_on : date or None
        Of a repair that waits for its proof.
    """
    if row is not None and not row.back:
        return WhyLate.NOT_BACK
    if repaired_on is not None and (row is None or row.planned_on <= repaired_on):
        return WhyLate.NOT_READ_AGAIN
    if row is not None and not row.could_clear:
        if row.reason:
            return Reason(row.reason).word
        return WhyLate.COULD_NOT_CLEAR if row.read else WhyLate.NOT_READ
    if repaired_on is not None:
        return WhyLate.NOT_PROVEN
    since = None if row is None else row.planned_on
    if _later(stops.get(RoundState.ISSUED), since):
        return WhyLate.TO_COME
    if _later(stops.get(RoundState.DRAFT), since):
        return WhyLate.DRAFT
    if _later(stops.get(RoundState.WITHDRAWN), since):
        return WhyLate.WITHDRAWN
    return WhyLate.NEVER_ON_A_ROUND if row is None else WhyLate.NOT_SINCE


def _later(day: date | None, since: date | None) -> bool:
    return day is not None and (since is None or day > since)
