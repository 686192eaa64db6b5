"""Look at rounds: the month, one round with its moves, the next stop, a sheet by its code."""

import calendar
from dataclasses import dataclass
from datetime import date, datetime

from service.domain.instrument_checks import InstrumentCheck
from service.domain.people import Actor
from service.domain.permissions import Verb, may, own_rounds_only, require
from service.domain.rounds import Permit, Round, RoundMove, Stop
from service.domain.sheet_codes import read_code
from service.domain.stop_facts import DueTotal, SheetPoint
from service.domain.walking_parties import RoundInstrument, Walker
from service.domain.words import RoundState
from service.errors import Conflict, Invalid, NotFound, Problem
from service.storage import (
    instrument_checks,
    permits,
    round_facts,
    round_questions,
    rounds,
    sheet_rows,
    sheet_scans,
    walking_parties,
)
from service.storage.due_totals import AHEAD, BACK, TAKEN
from service.storage.unit import Store, Unit
from service.usecases.rounds.due import DueSite, count_due, due_sites
from service.usecases.rounds.issue import issue_problems, issue_warnings, read_outfit
from service.usecases.rounds.sight import round_to_see, sight_of
from service.usecases.rounds.timetable import NotOnRound, RoundDay, TimedStop, not_on_round, round_day
from service.usecases.rounds.typed_checks import problem

#: rounds shown of one month
MOST_ROUNDS = 500


@dataclass(frozen=True, slots=True)
class RoundLine:
    """One round in a list. ``points`` are those made at issue, of a draft those it would bring."""

    round: Round
    person: str
    sites: tuple[str, ...]
    stops: int
    points: int
    answered: int


@dataclass(frozen=True, slots=True)
class RoundsMonth:
    """The rounds of one month, what became of their points, and what is due by its end.

    ``due`` counts it at every site; ``opened`` is one of them, equipment by equipment, and
    ``taken`` says by its equipment the day of the round to come that takes it in.
    """

    month: date
    rounds: tuple[RoundLine, ...]
    due: tuple[DueTotal, ...]
    opened: DueSite | None
    taken: dict[int, date]
    may_plan: bool

    @property
    def asked(self) -> int:
        """Points that went out on rounds of this month."""
        return sum(line.points for line in self._out)

    @property
    def answered(self) -> int:
        return sum(line.answered for line in self._out)

    @property
    def due_points(self) -> int:
        return sum(site.points for site in self.due)

    @property
    def due_taken(self) -> int:
        """Due points whose equipment is on a round to come."""
        return sum(site.taken for site in self.due)

    @property
    def _out(self) -> list[RoundLine]:
        inside = (RoundState.DRAFT, RoundState.WITHDRAWN)
        return [line for line in self.rounds if line.round.state not in inside]


@dataclass(frozen=True, slots=True)
class RoundPage:
    """All that the pages of one round show.

    ``problems`` and ``warnings`` are what issuing would say now; empty once it is issued.
    """

    round: Round
    day: RoundDay
    moves: tuple[RoundMove, ...]
    permits: tuple[Permit, ...]
    person: Walker | None
    second: Walker | None
    instrument: RoundInstrument | None
    progress: dict[int, tuple[int, int]]
    problems: tuple[Problem, ...]
    warnings: tuple[str, ...]
    may_plan: bool
    may_read: bool
    may_sign: bool
    may_take_sheets: bool
    may_read_letters: bool
    checks: tuple[InstrumentCheck, ...] = ()
    open_questions: int = 0
    scans: int = 0

    @property
    def in_turn(self) -> tuple[TimedStop, ...]:
        """Stops at machines that run in turn with others: the site is asked to have them run."""
        return tuple(stop for stop in self.day.stops if stop.facts.duty_group)

    @property
    def sites(self) -> dict[int, str]:
        """Names of the round's sites by id, in walking order."""
        return {stop.facts.site_id: stop.facts.site_name for stop in self.day.stops}

    @property
    def running(self) -> bool:
        """True until it is signed off or withdrawn."""
        return self.round.state not in (RoundState.SIGNED_OFF, RoundState.WITHDRAWN)

    @property
    def rows(self) -> int:
        return sum(count for count, _ in self.progress.values())

    @property
    def answered(self) -> int:
        return sum(done for _, done in self.progress.values())


@dataclass(frozen=True, slots=True)
class BuilderPage:
    """The builder: the round, what is not on it, who and what could be given to it."""

    page: RoundPage
    beside: tuple[NotOnRound, ...]
    walkers: tuple[Walker, ...]
    instruments: tuple[RoundInstrument, ...]


@dataclass(frozen=True, slots=True)
class GoTo:
    """The stop to go to, its points, and where it stands in the walk."""

    page: RoundPage
    here: TimedStop
    points: tuple[SheetPoint, ...]
    before: Stop | None
    after: Stop | None


def list_rounds(
    store: Store,
    actor: Actor,
    *,
    first: date | None = None,
    last: date | None = None,
    states: tuple[RoundState, ...] = (),
    after: int = 0,
    limit: int = MOST_ROUNDS,
) -> tuple[Round, ...]:
    """Rounds in sight in the order of their ids, a page of them."""
    require(actor, Verb.SEE)
    with store.look() as unit:
        return rounds.list_rounds(
            unit, sight_of(actor), first=first, last=last, states=states, after=after, limit=limit
        )


def read_month(
    store: Store, actor: Actor, month: date, *, due_at: int | None = None, now: datetime
) -> RoundsMonth:
    """The Rounds place: what happens in a month, and what is due by its end.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who asks; technicians see their own rounds and nothing of what is due.
    month : date
        Any day of it.
    due_at : int, optional
        The site of which every equipment due is told; else the one with most of it.
    now : datetime
        The instant of the request.

    Raises
    ------
    NotFound
        That site is out of sight.
    """
    require(actor, Verb.SEE, site_id=due_at)
    first = month.replace(day=1)
    last = first.replace(day=calendar.monthrange(first.year, first.month)[1])
    narrow = own_rounds_only(actor) or actor.only_round is not None
    with store.look() as unit:
        kept = rounds.list_rounds(unit, sight_of(actor), first=first, last=last, limit=MOST_ROUNDS)
        lines = sorted(
            lines_of(unit, kept),
            key=lambda line: (line.round.planned_on, line.round.start_min, line.round.id),
        )
        until = max(last, now.date())
        due = () if narrow else count_due(unit, actor, until=until, now=now)
        opened, taken = _opened(unit, actor, due, due_at=due_at, until=until, now=now)
    return RoundsMonth(first, tuple(lines), due, opened, taken, may(actor, Verb.KEEP_REGISTER))


def _opened(
    unit: Unit, actor: Actor, due: tuple[DueTotal, ...], *, due_at: int | None, until: date, now: datetime
) -> tuple[DueSite | None, dict[int, date]]:
    """One site's due equipment, and what of it is on a round to come."""
    wanted = next((site.site_id for site in due if due_at in (None, site.site_id)), None)
    if wanted is None:
        return None, {}
    (site,) = due_sites(unit, actor, until=until, site_id=wanted)
    taken = round_facts.occupied(
        unit,
        [one.facts.id for one in site.equipment],
        first=now.date() - BACK,
        last=now.date() + AHEAD,
        states=[state.value for state in TAKEN],
        but=0,
    )
    return site, taken


def lines_of(unit: Unit, kept: tuple[Round, ...]) -> list[RoundLine]:
    """Rounds as a list tells them, in the order given."""
    ids = [one.id for one in kept]
    stops = rounds.count_stops(unit, ids)
    draft = round_facts.count_points(unit, [one.id for one in kept if one.issued_at is None])
    rows = round_facts.count_rows(unit, ids)
    people = walking_parties.walkers_by_id(unit, {one.person_id for one in kept})
    sites = round_facts.site_names(unit, ids)
    return [
        RoundLine(
            round=one,
            person=people[one.person_id].name if one.person_id in people else "",
            sites=sites.get(one.id, ()),
            stops=stops.get(one.id, 0),
            points=rows[one.id][0] if one.id in rows else draft.get(one.id, 0),
            answered=rows[one.id][1] if one.id in rows else 0,
        )
        for one in kept
    ]


def read_round(store: Store, actor: Actor, round_id: int, *, now: datetime) -> RoundPage:
    """One round with its stops by the clock, its moves, permits and party.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    with store.look() as unit:
        return _page(unit, actor, round_to_see(unit, actor, round_id), now=now)


def _page(unit: Unit, actor: Actor, round_: Round, *, now: datetime) -> RoundPage:
    people = walking_parties.walkers_by_id(unit, [round_.person_id, round_.second_person_id])
    outfit = read_outfit(unit, round_) if round_.state is RoundState.DRAFT else None
    return RoundPage(
        round=round_,
        day=round_day(unit, round_, today=now.date()),
        moves=rounds.moves_of(unit, round_.id),
        permits=permits.permits_of(unit, round_.id),
        person=people.get(round_.person_id or 0),
        second=people.get(round_.second_person_id or 0),
        instrument=walking_parties.instrument_by_id(unit, round_.instrument_id),
        progress=sheet_rows.progress_by_stop(unit, round_.id),
        problems=() if outfit is None else tuple(issue_problems(outfit)),
        warnings=() if outfit is None else tuple(issue_warnings(outfit, day=round_.planned_on)),
        may_plan=may(actor, Verb.KEEP_REGISTER),
        may_read=may(actor, Verb.BRING_READINGS),
        may_sign=may(actor, Verb.SIGN_OFF),
        may_take_sheets=may(actor, Verb.TAKE_SHEETS),
        may_read_letters=may(actor, Verb.READ_LETTERS),
        checks=instrument_checks.checks_of_round(unit, round_.id),
        open_questions=round_questions.count_open(unit, round_.id),
        scans=len(sheet_scans.scans_of_round(unit, round_.id)),
    )


def read_builder(store: Store, actor: Actor, round_id: int, *, now: datetime) -> BuilderPage:
    """The builder's page; who may see the round may look at it, engineers change it.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id)
        page = _page(unit, actor, round_, now=now)
        editable = page.may_plan and round_.state is RoundState.DRAFT
        return BuilderPage(
            page=page,
            beside=not_on_round(unit, actor, page.day, today=now.date()) if editable else (),
            walkers=walking_parties.walkers_for(unit, page.sites, client_id=round_.client_id),
            instruments=walking_parties.instruments_of(unit, round_.client_id),
        )


def read_go_to(
    store: Store, actor: Actor, round_id: int, *, stop_id: int | None = None, now: datetime
) -> GoTo:
    """The stop named, or the first one with points still to be read, or the last one.

    Raises
    ------
    NotFound
        The round or the stop is absent or out of sight.
    Conflict
        The round has no stops.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id)
        page = _page(unit, actor, round_, now=now)
        stops = page.day.stops
        if not stops:
            raise Conflict(f"Round {round_.code} has no stops")
        place = _place(page) if stop_id is None else _place_of(page, stop_id)
        here = stops[place]
        points = [row for row in sheet_rows.sheet_points(unit, round_id) if row.stop_id == here.stop.id]
        return GoTo(
            page=page,
            here=here,
            points=tuple(points),
            before=stops[place - 1].stop if place else None,
            after=stops[place + 1].stop if place + 1 < len(stops) else None,
        )


def _place(page: RoundPage) -> int:
    for place, stop in enumerate(page.day.stops):
        rows, done = page.progress.get(stop.stop.id, (1, 0))
        if done < rows:
            return place
    return len(page.day.stops) - 1


def _place_of(page: RoundPage, stop_id: int) -> int:
    for place, stop in enumerate(page.day.stops):
        if stop.stop.id == stop_id:
            return place
    raise NotFound()


def find_sheet(store: Store, actor: Actor, typed: str) -> tuple[Round, Stop]:
    """The round and stop of a sheet by the code printed on it.

    Raises
    ------
    Invalid
        No code can read like this: a character is wrong or two are exchanged.
    NotFound
        No such sheet in sight.
    """
    require(actor, Verb.SEE)
    code = read_code(typed)
    if code is None:
        message = "This is not a sheet code: a character is missing, wrong or exchanged."
        raise Invalid([problem("code", typed[:20], message, "Read it again from the sheet.")])
    with store.look() as unit:
        stop = rounds.stop_of_sheet(unit, code)
        if stop is None:
            raise NotFound("No sheet of a round in your sight has this code")
        return round_to_see(unit, actor, stop.round_id), stop
