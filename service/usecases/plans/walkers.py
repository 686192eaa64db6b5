"""Keep who walks when, who is absent and which site is closed; the engineer's to keep."""

from collections.abc import Collection
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from service.domain.people import Actor, Person
from service.domain.permissions import Verb, own_rounds_only, require
from service.domain.planning import (
    Absence,
    SiteClosure,
    WalkingHours,
    hours_unless_told,
)
from service.domain.words import Role
from service.errors import Forbidden, Invalid, NotFound
from service.storage import audit, grants, people, round_facts, walking_hours
from service.storage.unit import Store, Unit
from service.usecases.plans.typed_hours import hours_problems, walks_problems
from service.usecases.plans.typed_spans import span_problems

WALK = (Role.TECHNICIAN, Role.ENGINEER)
#: how far ahead the page looks for absences and closures
AHEAD = timedelta(days=400)


@dataclass(frozen=True, slots=True)
class WalkerLine:
    """Somebody who may walk, with the absences to come."""

    person: Person
    hours: WalkingHours
    absences: tuple[Absence, ...]

    @property
    def told(self) -> bool:
        """True when somebody said so; False for the default of the house."""
        return self.hours.version > 0


@dataclass(frozen=True, slots=True)
class SiteLine:
    """A site in sight with its closures to come."""

    id: int
    name: str
    closures: tuple[SiteClosure, ...]


@dataclass(frozen=True, slots=True)
class WalkersPage:
    walkers: tuple[WalkerLine, ...]
    sites: tuple[SiteLine, ...]


def read_walkers(store: Store, actor: Actor, *, today: date) -> WalkersPage:
    """Everybody in sight who may walk, and every site in sight, with what is to come.

    Raises
    ------
    Forbidden
        Technicians see their own rounds, not the plan behind them.
    """
    _require_sight(actor)
    until = today + AHEAD
    with store.look() as unit:
        sites = round_facts.sites_in_sight(unit, actor.site_ids)
        closed = walking_hours.closures_between(
            unit, [site for site, _, _ in sites], from_on=today, to_on=until
        )
        return WalkersPage(
            walkers=_walkers(unit, actor, from_on=today, to_on=until),
            sites=tuple(
                SiteLine(site, name, tuple(one for one in closed if one.site_id == site))
                for site, _, name in sites
            ),
        )


def _walkers(unit: Unit, actor: Actor, *, from_on: date, to_on: date) -> tuple[WalkerLine, ...]:
    seen = people.people_in_sight(unit, sites=actor.site_ids, clients=actor.clients)
    walkers = [person for person in seen if person.role in WALK]
    ids = [person.id for person in walkers]
    kept = walking_hours.walking_hours_of(unit, ids)
    absent = walking_hours.absences_between(unit, ids, from_on=from_on, to_on=to_on)
    return tuple(
        WalkerLine(
            person,
            kept.get(person.id) or hours_unless_told(person.id, person.role),
            tuple(one for one in absent if one.person_id == person.id),
        )
        for person in walkers
    )


def read_walker(store: Store, actor: Actor, person_id: int, *, today: date) -> WalkerLine:
    """One person with hours and absences to come.

    Raises
    ------
    NotFound, Forbidden
        Absent or out of sight; for technicians, not theirs to see.
    """
    with store.look() as unit:
        person = _person_in_sight(unit, actor, person_id)
        _require_sight(actor)
        absent = walking_hours.absences_between(unit, [person_id], from_on=today, to_on=today + AHEAD)
        return WalkerLine(person, _hours_of(unit, person), absent)


def _hours_of(unit: Unit, person: Person) -> WalkingHours:
    kept = walking_hours.walking_hours_of(unit, [person.id])
    return kept.get(person.id) or hours_unless_told(person.id, person.role)


def set_walking_hours(
    store: Store, actor: Actor, wanted: WalkingHours, *, version: int, now: datetime
) -> WalkingHours:
    """Say when somebody walks, from where, and as what.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer.
    wanted : WalkingHours
        What is to hold; its own version is not looked at.
    version : int
        The version that was read, 0 where nothing was on record.
    now : datetime
        The instant of the request.

    Raises
    ------
    NotFound, Forbidden
        The person is out of sight, or it is not this role's.
    Invalid
        Every problem of hours, part, place and holidays.
    Stale
        Somebody changed them since ``version``.
    """
    wanted = replace(
        wanted,
        hours=wanted.hours.strip(),
        start_place=wanted.start_place.strip(),
        holidays_of=wanted.holidays_of.strip().upper(),
    )
    with store.begin() as unit:
        person = _person_in_sight(unit, actor, wanted.person_id)
        require(actor, Verb.KEEP_REGISTER)
        problems = walks_problems(person.role, walk=WALK) + hours_problems(wanted)
        if problems:
            raise Invalid(problems)
        before = _hours_of(unit, person)
        after = walking_hours.keep_walking_hours(unit, wanted, version=version, now=now)
        audit.note(
            unit,
            actor,
            verb="edit",
            noun="walking hours",
            noun_id=person.id,
            now=now,
            before=_told(before) if before.version else None,
            after={"person": person.name} | _told(after),
        )
        return after


def list_absences(store: Store, actor: Actor, *, from_on: date, to_on: date) -> tuple[Absence, ...]:
    """Absences of everybody in sight that touch a span.

    Raises
    ------
    Forbidden
        Technicians see their own rounds, not the plan behind them.
    """
    _require_sight(actor)
    with store.look() as unit:
        lines = _walkers(unit, actor, from_on=from_on, to_on=to_on)
        found = [absence for line in lines for absence in line.absences]
        return tuple(sorted(found, key=lambda one: (one.from_on, one.id)))


def add_absence(
    store: Store, actor: Actor, person_id: int, *, from_on: date, to_on: date, note: str, now: datetime
) -> Absence:
    """Note days on which somebody does not walk, both ends included.

    Raises
    ------
    NotFound, Forbidden
        The person is out of sight, or it is not this role's.
    Invalid
        Every problem of days and note.
    """
    with store.begin() as unit:
        person = _person_in_sight(unit, actor, person_id)
        require(actor, Verb.KEEP_REGISTER)
        problems = walks_problems(person.role, walk=WALK) + span_problems(from_on, to_on, note, field="note")
        if problems:
            raise Invalid(problems)
        made = walking_hours.add_absence(unit, person_id, from_on=from_on, to_on=to_on, note=note.strip())
        after = {"person": person.name, "from_on": from_on, "to_on": to_on, "note": made.note}
        audit.note(unit, actor, verb="add", noun="absence", noun_id=made.id, now=now, after=after)
        return made


def remove_absence(store: Store, actor: Actor, absence_id: int, *, now: datetime) -> Absence:
    """Take an absence away again.

    Raises
    ------
    NotFound, Forbidden
        Absent or out of sight, or not this role's.
    """
    with store.begin() as unit:
        gone = walking_hours.absence_by_id(unit, absence_id)
        if gone is None:
            raise NotFound()
        person = _person_in_sight(unit, actor, gone.person_id)
        require(actor, Verb.KEEP_REGISTER)
        walking_hours.remove_absence(unit, absence_id)
        before = {"person": person.name, "from_on": gone.from_on, "to_on": gone.to_on, "note": gone.note}
        audit.note(unit, actor, verb="remove", noun="absence", noun_id=absence_id, now=now, before=before)
        return gone


def list_closures(store: Store, actor: Actor, *, from_on: date, to_on: date) -> tuple[SiteClosure, ...]:
    """Closures of every site in sight that touch a span.

    Raises
    ------
    Forbidden
        Technicians see their own rounds, not the plan behind them.
    """
    _require_sight(actor)
    with store.look() as unit:
        sites = [site for site, _, _ in round_facts.sites_in_sight(unit, actor.site_ids)]
        return walking_hours.closures_between(unit, sites, from_on=from_on, to_on=to_on)


def add_closure(
    store: Store, actor: Actor, site_id: int, *, from_on: date, to_on: date, reason: str, now: datetime
) -> SiteClosure:
    """Note days on which a site lets nobody in, both ends included.

    Raises
    ------
    NotFound, Forbidden
        The site is out of sight, or it is not this role's.
    Invalid
        Every problem of days and reason.
    """
    require(actor, Verb.KEEP_REGISTER, site_id=site_id)
    problems = span_problems(from_on, to_on, reason, field="reason", needed=True)
    if problems:
        raise Invalid(problems)
    with store.begin() as unit:
        if site_id not in _sites_in_use(unit, {site_id}):
            raise NotFound()
        made = walking_hours.add_closure(unit, site_id, from_on=from_on, to_on=to_on, reason=reason.strip())
        _trail_closure(unit, actor, made, verb="add", now=now)
        return made


def remove_closure(store: Store, actor: Actor, closure_id: int, *, now: datetime) -> SiteClosure:
    """Take a closure away again.

    Raises
    ------
    NotFound, Forbidden
        Absent or out of sight, or not this role's.
    """
    with store.begin() as unit:
        gone = walking_hours.closure_by_id(unit, closure_id)
        if gone is None:
            raise NotFound()
        require(actor, Verb.KEEP_REGISTER, site_id=gone.site_id)
        walking_hours.remove_closure(unit, closure_id)
        _trail_closure(unit, actor, gone, verb="remove", now=now)
        return gone


def _sites_in_use(unit: Unit, site_ids: Collection[int]) -> frozenset[int]:
    return frozenset(site for site, _, _ in round_facts.sites_in_sight(unit, frozenset(site_ids)))


def _trail_closure(unit: Unit, actor: Actor, closure: SiteClosure, *, verb: str, now: datetime) -> None:
    told = {"from_on": closure.from_on, "to_on": closure.to_on, "reason": closure.reason}
    audit.note(
        unit,
        actor,
        verb=verb,
        noun="site closure",
        noun_id=closure.id,
        site_id=closure.site_id,
        now=now,
        before=told if verb == "remove" else None,
        after=None if verb == "remove" else told,
    )


def _require_sight(actor: Actor) -> None:
    require(actor, Verb.SEE)
    if own_rounds_only(actor) or actor.only_round is not None:
        raise Forbidden("Technicians see their own rounds, not the plan behind them.")


def _person_in_sight(unit: Unit, actor: Actor, person_id: int) -> Person:
    """Somebody who is granted a site or a client that the actor sees too."""
    account = people.account_by_id(unit, person_id)
    if account is None:
        raise NotFound()
    shared = any(
        grant.site_id in actor.sites if grant.site_id else actor.sees_client(grant.client_id)
        for grant in grants.grants_of(unit, person_id)
    )
    if not (actor.every_site or shared):
        raise NotFound()
    return account.person


def _told(hours: WalkingHours) -> dict[str, Any]:
    fields = asdict(hours)
    return {name: fields[name] for name in fields if name not in ("person_id", "version")}
