"""Who may do what: the one table of verbs and roles (design: "Who may do what")."""

from collections.abc import Collection
from enum import StrEnum

from service.domain.people import Actor
from service.domain.words import Role
from service.errors import Forbidden, NotFound


class Verb(StrEnum):
    SEE = "see register, rounds, points, findings"
    BRING_READINGS = "bring readings in, correct before sign-off"
    OPEN_FINDING = "open a finding; note Act now told whom"
    KEEP_REGISTER = "register, routes, rounds, permits, re-evaluation, criteria of a site"
    MEND = "plan, repair, set aside, prove a finding"
    SIGN_OFF = "sign off a round, release a report"
    ACCEPT_RISK = "accept the risk of an Act now"
    TAKE_SHEETS = "take along the sheets and the file of a round"
    MAKE_LETTERS = "make letters and exports"
    READ_LETTERS = "read letters and exports"
    ADMINISTER = "people, grants, tokens, presets, backups"
    OWN_TOKEN = "own token"  # noqa: S105
    READ_AUDIT = "read the audit trail"


_T, _E, _M, _A = Role.TECHNICIAN, Role.ENGINEER, Role.MANAGER, Role.ADMINISTRATOR

#: Technicians see and serve only rounds given to them and the points on those rounds;
#: use cases check that with ``own_rounds_only``.
ALLOWED: dict[Verb, frozenset[Role]] = {
    Verb.SEE: frozenset({_T, _E, _M, _A}),
    Verb.BRING_READINGS: frozenset({_T, _E}),
    Verb.OPEN_FINDING: frozenset({_T, _E}),
    Verb.KEEP_REGISTER: frozenset({_E}),
    Verb.MEND: frozenset({_E}),
    Verb.SIGN_OFF: frozenset({_E}),
    Verb.ACCEPT_RISK: frozenset({_M}),
    Verb.TAKE_SHEETS: frozenset({_T, _E, _M}),
    Verb.MAKE_LETTERS: frozenset({_E}),
    Verb.READ_LETTERS: frozenset({_E, _M}),
    Verb.ADMINISTER: frozenset({_A}),
    Verb.OWN_TOKEN: frozenset({_T, _E, _M, _A}),
    Verb.READ_AUDIT: frozenset({_E, _M, _A}),
}


#: What a token for one round may do at most, whatever the role of its owner.
ONE_ROUND = frozenset({Verb.SEE, Verb.TAKE_SHEETS, Verb.BRING_READINGS, Verb.OPEN_FINDING})


def may(actor: Actor, verb: Verb) -> bool:
    """True when the role of the actor allows the verb (sites are another question)."""
    if actor.only_round is not None and verb not in ONE_ROUND:
        return False
    return actor.role in ALLOWED[verb]


def require(actor: Actor, verb: Verb, *, site_id: int | None = None) -> None:
    """Refuse what role or grants do not allow.

    Raises
    ------
    NotFound
        The site is outside the grants: told like something absent.
    Forbidden
        The site is in sight, the verb is not the role's.
    """
    if site_id is not None and not actor.sees_site(site_id):
        raise NotFound()
    if not may(actor, verb):
        raise Forbidden(f"As {actor.role} you may not: {verb}.")


def own_rounds_only(actor: Actor) -> bool:
    """True for people who see only the rounds given to them."""
    return actor.role is Role.TECHNICIAN


def sees_round(actor: Actor, round_id: int, *, walkers: Collection[int | None]) -> bool:
    """True when a round (of a site in sight) may be seen.

    Parameters
    ----------
    actor : Actor
        Who asks.
    round_id : int
        The round; a token for one round opens no other.
    walkers : collection of int or None
        ``person_id`` and ``second_person_id`` of the round; a technician must be among them.
    """
    if actor.only_round is not None and actor.only_round != round_id:
        return False
    return not own_rounds_only(actor) or (actor.person_id is not None and actor.person_id in walkers)
