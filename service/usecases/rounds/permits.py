"""Permits of a round: asked, granted, closed, each with who and when."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.rounds import Permit, Round, check_permit_move, check_running
from service.domain.words import PermitState
from service.errors import Conflict, Invalid, NotFound, Problem, Stale
from service.storage import audit, permits, rounds, typed_permits
from service.storage.unit import Store, Unit
from service.usecases.rounds.sight import round_to_change
from service.usecases.rounds.typed_checks import problem, text_problems


@dataclass(frozen=True, slots=True)
class PermitFields:
    """As the issuer wrote them; all may be empty while the permit is only asked for."""

    number: str = ""
    issuer: str = ""
    covers: str = ""
    valid_from: datetime | None = None
    valid_to: datetime | None = None
    escort: str = ""
    stand_off: str = ""

    def problems(self) -> list[Problem]:
        found = []
        for name in ("number", "issuer", "covers", "escort", "stand_off"):
            found += text_problems(name, getattr(self, name), longest=500)
        if self.valid_from and self.valid_to and self.valid_to <= self.valid_from:
            found.append(
                problem(
                    "valid_to", self.valid_to.isoformat(), "It ends before it begins.", "Check both times."
                )
            )
        return found

    def missing(self) -> list[Problem]:
        """What a granted permit must say and does not."""
        found = []
        if not self.number.strip():
            found.append(problem("number", "", "A granted permit has a number.", "Type it from the permit."))
        if not self.issuer.strip():
            found.append(problem("issuer", "", "Who issued it?", "Type the name on the permit."))
        for name, word in (("valid_from", "from"), ("valid_to", "to")):
            if getattr(self, name) is None:
                message = f"The permit does not say {word} when it is valid."
                found.append(problem(name, "", message, "Type day and time."))
        return found


def ask_permit(
    store: Store,
    actor: Actor,
    round_id: int,
    *,
    site_id: int,
    stop_ids: Sequence[int],
    fields: PermitFields,
    now: datetime,
) -> Permit:
    """Note that a permit was asked for, and which stops it is to cover.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Conflict
        The round is over.
    Invalid
        No stops, stops of another site, or fields with problems.
    """
    with store.begin() as unit:
        round_ = round_to_change(unit, actor, round_id)
        check_running(round_)
        problems = fields.problems() + _stop_problems(unit, round_, site_id, stop_ids)
        if problems:
            raise Invalid(problems)
        permit = permits.add_permit(
            unit,
            round_id=round_id,
            site_id=site_id,
            fields=_stripped(fields),
            by=actor.person_id,
            now=now,
        )
        permits.put_under(unit, permit.id, stop_ids, round_id=round_id)
        after = asdict(fields) | {"stops": list(stop_ids), "round": round_.code}
        _trail(unit, actor, permit, verb="ask", now=now, after=after)
        return permit


def edit_permit(
    store: Store,
    actor: Actor,
    permit_id: int,
    fields: PermitFields,
    *,
    stop_ids: Sequence[int],
    version: int,
    now: datetime,
) -> Permit:
    """Type what the permit says; a granted one keeps number, issuer and times.

    Raises
    ------
    Conflict
        The permit is closed, or the round is over.
    Invalid
        Fields or stops with problems.
    Stale
        Somebody changed it since ``version``.
    """
    with store.begin() as unit:
        permit, round_ = _held(unit, actor, permit_id, version=version)
        if permit.state is PermitState.CLOSED:
            raise Conflict("A closed permit no longer changes", remedy="Ask for another one.")
        problems = fields.problems() + _stop_problems(unit, round_, permit.site_id, stop_ids)
        if permit.state is PermitState.GRANTED:
            problems += fields.missing()
        if problems:
            raise Invalid(problems)
        after = permits.edit_permit(unit, permit_id, version=version, fields=_stripped(fields), now=now)
        permits.put_under(unit, permit_id, stop_ids, round_id=round_.id)
        before = {name: getattr(permit, name) for name in asdict(fields)}
        typed_permits.settle(unit, permit_id, by=actor.person_id, now=now)
        _trail(unit, actor, permit, verb="edit", now=now, before=before, after=asdict(fields))
        return after


def grant_permit(
    store: Store,
    actor: Actor,
    permit_id: int,
    *,
    version: int,
    now: datetime,
    fields: PermitFields | None = None,
    stop_ids: Sequence[int] | None = None,
) -> Permit:
    """Note that the site granted it; by then number, issuer, from and to are typed.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer.
    permit_id : int
        The permit.
    version : int
        The version that was read.
    now : datetime
        The instant of the request.
    fields : PermitFields, optional
        What the permit says, where it is typed together with the grant.
    stop_ids : sequence of int, optional
        The stops under it, where they are chosen together with the grant.

    Raises
    ------
    Conflict
        It is granted or closed already.
    Invalid
        Number, issuer, from or to is missing.
    """
    with store.begin() as unit:
        permit, round_ = _held(unit, actor, permit_id, version=version)
        check_permit_move(permit, PermitState.GRANTED)
        typed = fields or _fields_of(permit)
        problems = typed.problems() + typed.missing()
        if stop_ids is not None:
            problems += _stop_problems(unit, round_, permit.site_id, stop_ids)
        if problems:
            raise Invalid(problems)
        if fields is not None:
            permit = permits.edit_permit(unit, permit_id, version=version, fields=_stripped(fields), now=now)
            version = permit.version
        if stop_ids is not None:
            permits.put_under(unit, permit_id, stop_ids, round_id=round_.id)
        by = actor.person_id
        granted = permits.move_permit(
            unit, permit_id, version=version, to=PermitState.GRANTED, by=by, now=now
        )
        typed_permits.settle(unit, permit_id, by=by, now=now)
        _trail(unit, actor, permit, verb="grant", now=now, after=asdict(typed))
        return granted


def close_permit(store: Store, actor: Actor, permit_id: int, *, version: int, now: datetime) -> Permit:
    """Note that it was handed back; allowed after sign-off too, since paper comes late.

    Raises
    ------
    Conflict
        It is closed already.
    """
    with store.begin() as unit:
        permit, _ = _held(unit, actor, permit_id, version=version, running=False)
        check_permit_move(permit, PermitState.CLOSED)
        closed = permits.move_permit(
            unit, permit_id, version=version, to=PermitState.CLOSED, by=actor.person_id, now=now
        )
        typed_permits.settle(unit, permit_id, by=actor.person_id, now=now)
        _trail(unit, actor, permit, verb="close", now=now)
        return closed


def _held(
    unit: Unit, actor: Actor, permit_id: int, *, version: int, running: bool = True
) -> tuple[Permit, Round]:
    round_id = permits.round_of_permit(unit, permit_id)
    if round_id is None:
        raise NotFound()
    round_ = round_to_change(unit, actor, round_id)
    permit = permits.lock_permit(unit, permit_id)
    if permit.version != version:
        raise Stale(permit.version)
    if running:
        check_running(round_)
    return permit, round_


def _fields_of(permit: Permit) -> PermitFields:
    return PermitFields(
        number=permit.number,
        issuer=permit.issuer,
        covers=permit.covers,
        valid_from=permit.valid_from,
        valid_to=permit.valid_to,
        escort=permit.escort,
        stand_off=permit.stand_off,
    )


def _stripped(fields: PermitFields) -> dict[str, object]:
    return {
        name: value.strip() if isinstance(value, str) else value for name, value in asdict(fields).items()
    }


def _stop_problems(unit: Unit, round_: Round, site_id: int, stop_ids: Sequence[int]) -> list[Problem]:
    of_site = {stop.id for stop in rounds.stops_of(unit, round_.id) if stop.site_id == site_id}
    if not of_site:
        return [problem("site_id", str(site_id), "No stop of this round is there.", "Choose another site.")]
    if not stop_ids:
        return [problem("stop_ids", "", "Which stops does it cover?", "Choose at least one.")]
    foreign = [stop_id for stop_id in stop_ids if stop_id not in of_site]
    if foreign:
        message = "A permit covers stops of its own site only."
        return [problem("stop_ids", str(foreign[0]), message, "Ask for one permit a site.")]
    return []


def _trail(
    unit: Unit,
    actor: Actor,
    permit: Permit,
    *,
    verb: str,
    now: datetime,
    before: dict[str, object] | None = None,
    after: dict[str, object] | None = None,
) -> None:
    audit.note(
        unit,
        actor,
        verb=verb,
        noun="permit",
        noun_id=permit.id,
        site_id=permit.site_id,
        now=now,
        before=before,
        after=after,
    )
