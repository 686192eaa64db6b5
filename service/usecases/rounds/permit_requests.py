"""What must be asked of whom, and by when: permits of the rounds of some weeks, site by site."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.rounds import Permit, Round, needs_permit
from service.domain.run_requests import RunRequest, still_to_ask
from service.domain.walking_parties import Walker
from service.domain.words import PermitState, RoundState
from service.domain.working_days import MOST_LEAD_DAYS, working_days_before
from service.errors import Invalid
from service.storage import rounds, walking_parties
from service.storage.unit import Store, Unit
from service.usecases.rounds.sight import sight_of
from service.usecases.rounds.timetable import TimedStop, round_day
from service.usecases.rounds.typed_checks import problem

#: the longest span that is listed
MOST_DAYS = 200
#: rounds looked through
MOST_ROUNDS = 200


@dataclass(frozen=True, slots=True)
class AskedStop:
    """One cover to be opened, with the permit that is noted for it, or a machine to be run for the visit."""

    stop: TimedStop

    @property
    def day(self) -> date:
        return self.stop.day

    @property
    def request(self) -> RunRequest | None:
        """What was asked last of a machine that runs in turn."""
        return self.stop.run_request

    @property
    def opens(self) -> bool:
        """A cover is opened; else the machine is only to run."""
        return needs_permit(self.stop.facts.access)

    @property
    def runs_in_turn(self) -> str:
        """The group of which it is to be the one that runs; empty for what runs by itself."""
        return self.stop.facts.duty_group

    @property
    def permit(self) -> Permit | None:
        return self.stop.permit

    @property
    def waits(self) -> bool:
        """No permit is asked for, or it was handed back."""
        return self.opens and (self.permit is None or self.permit.state is PermitState.CLOSED)

    @property
    def run_waits(self) -> bool:
        """Nobody was asked to have it run on that day."""
        return bool(self.runs_in_turn) and still_to_ask(self.request, self.day)


@dataclass(frozen=True, slots=True)
class PermitRequest:
    """What one round asks of one site. Minutes are of the day, on the clock of the site."""

    round: Round
    site_id: int
    stops: tuple[AskedStop, ...]
    person: Walker | None
    second: Walker | None
    ask_by: date

    @property
    def waiting(self) -> int:
        """Covers for which no permit is asked for yet."""
        return sum(one.waits for one in self.stops)

    @property
    def runs_waiting(self) -> int:
        """Machines that nobody was asked to run."""
        return sum(one.run_waits for one in self.stops)

    @property
    def covers(self) -> int:
        return sum(one.opens for one in self.stops)

    @property
    def to_run(self) -> tuple[AskedStop, ...]:
        """Machines of which the site is to see that they run."""
        return tuple(one for one in self.stops if one.runs_in_turn)

    @property
    def from_min(self) -> float:
        return min(one.stop.time.start_min for one in self.stops)

    @property
    def to_min(self) -> float:
        return max(one.stop.time.end_min for one in self.stops)

    def late(self, today: date) -> bool:
        """Something is still to be asked for, and its day has gone by."""
        return bool(self.waiting or self.runs_waiting) and self.ask_by < today


@dataclass(frozen=True, slots=True)
class SiteRequests:
    """One site, whom to ask there, and what of."""

    site_id: int
    name: str
    contact_name: str
    contact_phone: str
    requests: tuple[PermitRequest, ...]

    @property
    def waiting(self) -> int:
        return sum(one.waiting for one in self.requests)

    @property
    def covers(self) -> int:
        return sum(one.covers for one in self.requests)

    @property
    def to_run(self) -> int:
        return sum(len(one.to_run) for one in self.requests)

    @property
    def runs_waiting(self) -> int:
        return sum(one.runs_waiting for one in self.requests)


@dataclass(frozen=True, slots=True)
class PermitRequests:
    """The list: ``first`` to ``last`` are the days of the rounds."""

    first: date
    last: date
    lead_days: int
    sites: tuple[SiteRequests, ...]

    @property
    def waiting(self) -> int:
        return sum(site.waiting for site in self.sites)

    @property
    def runs_waiting(self) -> int:
        return sum(site.runs_waiting for site in self.sites)


def list_permit_requests(
    store: Store, actor: Actor, *, first: date, last: date, lead_days: int, now: datetime
) -> PermitRequests:
    """Covers, and machines that run in turn, of the drafts and issued rounds of a span, by site and round.

    Parameters
    ----------
    store, actor
        Where, and for whom: an engineer.
    first, last : date
        Days of the rounds, both included; at most 200 days.
    lead_days : int
        Working days before a round's day by which the site is asked.
    now : datetime
        The instant of the request.

    Raises
    ------
    Invalid
        A span that ends before it begins or is too long, or a lead that is none.
    Forbidden
        Not this role's.
    """
    require(actor, Verb.KEEP_REGISTER)
    problems = []
    if not first <= last <= first + timedelta(days=MOST_DAYS):
        message = f"The span ends before it begins, or is longer than {MOST_DAYS} days."
        problems.append(problem("last", last.isoformat(), message, "Choose other days."))
    if not 0 <= lead_days <= MOST_LEAD_DAYS:
        message = f"Between 0 and {MOST_LEAD_DAYS} working days."
        problems.append(problem("lead", str(lead_days), message, "Type another number."))
    if problems:
        raise Invalid(problems)
    with store.look() as unit:
        wanted = (RoundState.DRAFT, RoundState.ISSUED)
        kept = rounds.list_rounds(
            unit, sight_of(actor), first=first, last=last, states=wanted, limit=MOST_ROUNDS
        )
        found = [
            one
            for round_ in sorted(kept, key=lambda one: (one.planned_on, one.start_min, one.id))
            for one in _requests(unit, round_, lead_days=lead_days, today=now.date())
        ]
    return PermitRequests(first, last, lead_days, _by_site(found))


def _requests(unit: Unit, round_: Round, *, lead_days: int, today: date) -> list[PermitRequest]:
    covered = [
        AskedStop(stop)
        for stop in round_day(unit, round_, today=today).stops
        if needs_permit(stop.facts.access) or stop.facts.duty_group
    ]
    if not covered:
        return []
    people = walking_parties.walkers_by_id(unit, [round_.person_id, round_.second_person_id])
    return [
        PermitRequest(
            round=round_,
            site_id=site_id,
            stops=tuple(one for one in covered if one.stop.facts.site_id == site_id),
            person=people.get(round_.person_id or 0),
            second=people.get(round_.second_person_id or 0),
            ask_by=working_days_before(round_.planned_on, lead_days),
        )
        for site_id in dict.fromkeys(one.stop.facts.site_id for one in covered)
    ]


def _by_site(found: Sequence[PermitRequest]) -> tuple[SiteRequests, ...]:
    sites: dict[int, list[PermitRequest]] = {}
    for one in found:
        sites.setdefault(one.site_id, []).append(one)
    told = [_site(requests) for requests in sites.values()]
    return tuple(sorted(told, key=lambda site: (site.name, site.site_id)))


def _site(requests: Sequence[PermitRequest]) -> SiteRequests:
    facts = requests[0].stops[0].stop.facts
    return SiteRequests(
        facts.site_id, facts.site_name, facts.contact_name, facts.contact_phone, tuple(requests)
    )
