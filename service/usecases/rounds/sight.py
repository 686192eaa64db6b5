"""Which rounds somebody may see, and the first steps of every use case on one."""

from collections.abc import Collection

from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require, sees_round
from service.domain.rounds import Round
from service.errors import NotFound, Stale
from service.storage import former_walkers, rounds
from service.storage.rounds import Sight
from service.storage.unit import Unit


def sight_of(actor: Actor) -> Sight:
    """What the lists of rounds are narrowed to for this person."""
    return Sight(
        site_ids=actor.site_ids,
        client_ids=None if actor.every_site else actor.clients,
        person_id=actor.person_id if own_rounds_only(actor) else None,
        only_round=actor.only_round,
    )


def round_to_see(unit: Unit, actor: Actor, round_id: int, *, verb: Verb = Verb.SEE) -> Round:
    """The round, when all of its sites are in sight and it is theirs.

    Raises
    ------
    NotFound
        Absent, or out of sight: told alike.
    Forbidden
        In sight, but the verb is not the role's.
    """
    return _checked(unit, actor, rounds.round_by_id(unit, round_id), verb=verb)


def round_to_change(
    unit: Unit,
    actor: Actor,
    round_id: int,
    *,
    verb: Verb = Verb.KEEP_REGISTER,
    version: int | None = None,
) -> Round:
    """The same, held until the end of the writing unit.

    Raises
    ------
    Stale
        Somebody changed it since ``version``; told before anything else is judged.
    """
    round_ = _checked(unit, actor, rounds.lock_round(unit, round_id), verb=verb)
    if version is not None and round_.version != version:
        raise Stale(round_.version)
    return round_


def round_walked_before(unit: Unit, actor: Actor, round_id: int) -> Round:
    """A round that this person had in hand once it was issued, until somebody else was given it; held.

    Nothing of it may be seen or changed any more; what was typed on its walk may still be held aside.

    Raises
    ------
    NotFound
        Absent, never theirs, or one of its sites is out of sight by now: told alike.
    """
    round_ = rounds.lock_round(unit, round_id)
    if round_ is None or actor.person_id is None:
        raise NotFound()
    if not former_walkers.has_walked(unit, round_id, actor.person_id):
        raise NotFound()
    return _with_walkers(unit, actor, round_, walkers=(actor.person_id,), verb=Verb.BRING_READINGS)


def _checked(unit: Unit, actor: Actor, round_: Round | None, *, verb: Verb) -> Round:
    if round_ is None:
        raise NotFound()
    walkers = (round_.person_id, round_.second_person_id)
    return _with_walkers(unit, actor, round_, walkers=walkers, verb=verb)


def _with_walkers(
    unit: Unit, actor: Actor, round_: Round, *, walkers: Collection[int | None], verb: Verb
) -> Round:
    sites = rounds.site_ids_of(unit, round_.id)
    in_sight = all(actor.sees_site(site) for site in sites) if sites else actor.sees_client(round_.client_id)
    if not in_sight or not sees_round(actor, round_.id, walkers=walkers):
        raise NotFound()
    require(actor, verb)
    return round_
