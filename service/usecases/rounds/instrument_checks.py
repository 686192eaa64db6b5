"""Note a check of an instrument against a reference, on a round or under Set-up, and look at them."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from service.domain.instrument_checks import LONGEST_NOTE, CheckedInstrument, CheckFields, InstrumentCheck
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.rounds import OPEN_FOR_READINGS, Round
from service.errors import Conflict, Invalid, NotFound, Problem
from service.storage import audit, rounds
from service.storage import instrument_checks as kept
from service.storage.unit import Store, Unit
from service.usecases.rounds.sight import round_to_change, round_to_see, sight_of
from service.usecases.rounds.typed_checks import text_problems


@dataclass(frozen=True, slots=True)
class InstrumentPage:
    """An instrument with its checks, the latest first, and the clock that its times are typed on."""

    instrument: CheckedInstrument
    checks: tuple[InstrumentCheck, ...]
    time_zone: str


def check_instrument(
    store: Store, actor: Actor, instrument_id: int, *, fields: CheckFields, now: datetime
) -> InstrumentCheck:
    """Note a check that belongs to no round.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer of the instrument's client.
    instrument_id : int
        What was checked.
    fields : CheckFields
        Occasion, instant, what was true and what was shown [°C].
    now : datetime
        The instant of the request.

    Returns
    -------
    InstrumentCheck
        With its deviation and what that says; the very same check sent again is one.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Invalid
        Fields with problems, all at once.
    Conflict
        The instrument is retired or shows no degrees.
    """
    with store.begin() as unit:
        one = _instrument(unit, actor, instrument_id)
        require(actor, Verb.KEEP_REGISTER)
        return keep_check(unit, actor, one, fields, round_=None, now=now)


def check_on_round(
    store: Store,
    actor: Actor,
    round_id: int,
    *,
    instrument_id: int | None,
    fields: CheckFields,
    now: datetime,
) -> InstrumentCheck:
    """Note a check made while a round is out, by whoever brings its readings in.

    Parameters
    ----------
    instrument_id : int or None
        One of the client's instruments; None means the one the round was given.

    Raises
    ------
    NotFound, Forbidden
        Round or instrument out of sight, or not this role's.
    Invalid
        Fields with problems, or no instrument is named.
    Conflict
        The round takes no readings now, or the instrument is retired or shows no degrees.
    """
    with store.begin() as unit:
        round_ = round_to_change(unit, actor, round_id, verb=Verb.BRING_READINGS)
        if round_.state not in OPEN_FOR_READINGS:
            raise Conflict(f"Round {round_.code} is {round_.state}; its checks no longer change.")
        chosen = round_.instrument_id if instrument_id is None else instrument_id
        if chosen is None:
            nothing = Problem("form", "instrument_id", "", "Which instrument was checked?", "Choose it.")
            raise Invalid([nothing, *fields.problems(now)])
        one = kept.instrument(unit, chosen, client_ids=[round_.client_id])
        return keep_check(unit, actor, one, fields, round_=round_, now=now)


def keep_check(
    unit: Unit,
    actor: Actor,
    one: CheckedInstrument,
    fields: CheckFields,
    *,
    round_: Round | None,
    now: datetime,
) -> InstrumentCheck:
    problems = [*fields.problems(now), *text_problems("note", fields.note, longest=LONGEST_NOTE)]
    if problems:
        raise Invalid(problems)
    if one.retired:
        raise Conflict(f"{one.name} is retired.", remedy="Take it back into use first.")
    if not one.reads_degrees:
        raise Conflict(
            f"{one.name} shows no degrees; a check here compares temperatures.", remedy="Choose another."
        )
    check_id, new = kept.add_check(
        unit, one.id, round_id=None if round_ is None else round_.id, fields=fields
    )
    if new:
        sites = () if round_ is None else sorted(rounds.site_ids_of(unit, round_.id))
        audit.note(
            unit,
            actor,
            verb="note",
            noun=kept.NOUN,
            noun_id=check_id,
            site_id=sites[0] if sites else None,
            now=now,
            after={
                "instrument": one.serial,
                "round": "" if round_ is None else round_.code,
                "occasion": fields.occasion,
                "at": fields.at,
                "reference_c": fields.reference_c,
                "shown_c": fields.shown_c,
                "note": fields.note,
            },
        )
        unit.session.flush()
    return kept.check_by_id(unit, check_id)


def see_instrument(
    store: Store, actor: Actor, instrument_id: int, *, after: int = 0, limit: int = 200
) -> InstrumentPage:
    """An instrument with the history of its checks.

    Raises
    ------
    NotFound
        Absent, or another client's.
    """
    require(actor, Verb.SEE)
    with store.look() as unit:
        one = _instrument(unit, actor, instrument_id)
        return InstrumentPage(
            one,
            kept.checks_of_instrument(unit, one.id, sight_of(actor), after=after, limit=limit),
            kept.zone_of_client(unit, one.client_id, site_ids=actor.site_ids),
        )


def latest_checks(store: Store, actor: Actor, instrument_ids: Collection[int]) -> dict[int, InstrumentCheck]:
    """By instrument its latest check; the caller has seen that they are in sight."""
    require(actor, Verb.SEE)
    with store.look() as unit:
        return kept.latest_checks(unit, instrument_ids)


def list_round_checks(store: Store, actor: Actor, round_id: int) -> tuple[InstrumentCheck, ...]:
    """What was checked on a round, in the order of time.

    Raises
    ------
    NotFound
        The round is absent or out of sight.
    """
    with store.look() as unit:
        return kept.checks_of_round(unit, round_to_see(unit, actor, round_id).id)


def _instrument(unit: Unit, actor: Actor, instrument_id: int) -> CheckedInstrument:
    if actor.only_round is not None:
        raise NotFound()
    return kept.instrument(unit, instrument_id, client_ids=None if actor.every_site else actor.clients)
