"""Walks whose round has gone out are facts, whatever is planned around them."""

from dataclasses import replace

from service.domain.plans import PlanBody
from service.domain.rounds import Round
from service.domain.words import RoundState
from service.storage import plans, rounds
from service.storage.unit import Unit

#: states in which a round may still follow its walk, or makes room for another
OPEN = (RoundState.DRAFT, RoundState.WITHDRAWN)


def rounds_of_walks(unit: Unit, plan_id: int) -> dict[str, Round]:
    """By walk the round that was made of it."""
    links = plans.rounds_of(unit, plan_id)
    made = rounds.rounds_by_id(unit, links.values())
    return {key: made[round_id] for key, round_id in links.items() if round_id in made}


def held_by_rounds(unit: Unit, plan_id: int, body: PlanBody) -> PlanBody:
    """The plan with every walk frozen whose round is issued, returned or signed off."""
    out = {key for key, round_ in rounds_of_walks(unit, plan_id).items() if round_.state not in OPEN}
    return body.with_walks(
        replace(walk, frozen=True) for walk in body.walks if walk.key in out and not walk.lost
    )
