"""Reserve days of a plan: seen, kept or given up by hand, and used when the weather spoils a walk."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from service.domain.forecasts import Forecast, unfit_at
from service.domain.plans import PlanBody, Walk
from service.domain.reserve_days import Reserve, ReserveDay, is_kept, reserve_days
from service.domain.rounds import Round
from service.domain.stop_facts import EquipmentFacts
from service.domain.words import RoundState
from service.errors import Invalid
from service.usecases.plans.candidates import Ground
from service.usecases.plans.change import Edit, retimed, walk_of_plan
from service.usecases.rounds.typed_checks import problem

#: states of a round that has been walked
WALKED = (RoundState.RETURNED, RoundState.SIGNED_OFF)


@dataclass(frozen=True, slots=True)
class SpoiledWalk:
    """A walk with outdoor stops at a site whose forecast is unfit, and the day that is kept for it."""

    walk: Walk
    forecast: Forecast
    stops: int
    reserve: Walk | None


def walked_keys(made: Mapping[str, Round]) -> frozenset[str]:
    """Walks whose round has come back."""
    return frozenset(key for key, round_ in made.items() if round_.state in WALKED)


def reserves_of_plan(
    body: PlanBody, facts: Mapping[int, EquipmentFacts], made: Mapping[str, Round]
) -> tuple[ReserveDay, ...]:
    """The days kept free, with what they stand in for."""
    return reserve_days(body, _outdoor(facts), walked_keys(made))


def spoiled_walks(
    body: PlanBody,
    facts: Mapping[int, EquipmentFacts],
    made: Mapping[str, Round],
    forecasts: Iterable[Forecast],
) -> tuple[SpoiledWalk, ...]:
    """Walks still to be walked whose outdoor stops could not be cleared by the forecast."""
    kept = reserves_of_plan(body, facts, made)
    unfit = unfit_at(forecasts)
    outdoor = _outdoor(facts)
    found = []
    for walk in body.walks:
        if walk.lost or walk.key in walked_keys(made):
            continue
        there = [facts[stop.equipment_id].site_id for stop in walk.stops if stop.equipment_id in outdoor]
        for site_id in sorted(set(there)):
            forecast = unfit.get((site_id, walk.day))
            if forecast is not None:
                reserve = next((one.walk for one in kept if walk in one.stands_for), None)
                found.append(SpoiledWalk(walk, forecast, there.count(site_id), reserve))
    return tuple(found)


def _outdoor(facts: Mapping[int, EquipmentFacts]) -> frozenset[int]:
    return frozenset(key for key, one in facts.items() if one.outdoor)


# ---- by hand -------------------------------------------------------------------------------


def reserving(key: str, *, kept: bool) -> Edit:
    """Keep a day free for outdoor readings, or give it up; one given up is not chosen again."""

    def edit(body: PlanBody, _ground: Ground) -> tuple[PlanBody, str]:
        walk = walk_of_plan(body, key)
        if kept and (walk.stops or walk.lost):
            message = "Only a day with nothing on it can be kept free."
            raise Invalid([problem("reserve", walk.named, message, "Move its stops first.")])
        state = Reserve.BY_HAND if kept else Reserve.GIVEN_UP
        word = "kept in reserve" if kept else "given up as reserve"
        return body.with_walks([replace(walk, reserve=state.value)]), f"{walk.named} {word}"

    return edit


def moving_to_reserve(key: str) -> Edit:
    """Put the outdoor stops of a walk on the day that is kept for them; what is indoors stays.

    The day is then a walk like any other, and no other is kept in its place until the plan is drawn up.
    """

    def edit(body: PlanBody, ground: Ground) -> tuple[PlanBody, str]:
        walk = walk_of_plan(body, key)
        reserve = _reserve_after(body, walk)
        outdoor = {one for one, visit in ground.by_equipment.items() if visit.facts.outdoor}
        moving = tuple(stop for stop in walk.stops if stop.equipment_id in outdoor)
        if not moving:
            raise Invalid([problem("walk", walk.named, "Nothing on it stands outdoors.", "Leave it.")])
        staying = tuple(stop for stop in walk.stops if stop.equipment_id not in outdoor)
        moved = [replace(stop, held=True, pinned_min=None) for stop in moving]
        changed = body.with_walks(
            [
                replace(walk, stops=staying, frozen=False),
                replace(reserve, stops=tuple(moved), reserve=Reserve.NONE.value),
            ]
        )
        timed = retimed(changed, ground, {walk.key, reserve.key})
        return timed, f"outdoor stops of {walk.named} moved to the reserve day, {reserve.named}"

    return edit


def _reserve_after(body: PlanBody, walk: Walk) -> Walk:
    for one in body.walks:
        if is_kept(one) and one.person_id == walk.person_id and one.day > walk.day:
            return one
    message = "No day after it is kept in reserve."
    raise Invalid([problem("walk", walk.named, message, "Keep a free day in reserve, or move the stops.")])
