"""See the criteria with their sources, and choose by which one a site or a class of it is judged."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.criteria_differences import Difference, differences
from service.domain.criteria_kept import KeptCriteria, SiteCriteria
from service.domain.people import Actor
from service.domain.permissions import Verb, may, require
from service.errors import Invalid, Problem
from service.storage import audit, criteria_choice, criteria_edits, site_state
from service.storage.unit import Store, Unit
from service.usecases.condition.edit_criteria import in_sight, visible_sets
from service.usecases.condition.presets import ensure_presets

_LONGEST_CLASS = 80


@dataclass(frozen=True, slots=True)
class CriteriaPage:
    """Every set in sight, what each site in sight is judged by, and the clients a set may be made for."""

    sets: tuple[KeptCriteria, ...]
    sites: tuple[SiteCriteria, ...]
    clients: dict[int, str]


@dataclass(frozen=True, slots=True)
class OneSet:
    """A set, its other versions (latest first), and the sites and classes judged by this one."""

    kept: KeptCriteria
    versions: tuple[KeptCriteria, ...]
    sites: tuple[SiteCriteria, ...]
    owner: str
    may_edit: bool


@dataclass(frozen=True, slots=True)
class SideBySide:
    before: KeptCriteria
    after: KeptCriteria
    differences: tuple[Difference, ...]


def see_criteria(store: Store, actor: Actor, *, now: datetime) -> CriteriaPage:
    """Every set in sight, and what each site in sight is judged by."""
    require(actor, Verb.SEE)
    with store.look() as unit:
        there = criteria_choice.kept_criteria(unit)
    if not there:
        ensure_presets(store, now=now)
    with store.look() as unit:
        clients = criteria_edits.client_names(unit, None if actor.every_site else actor.clients)
        return CriteriaPage(_in_sight(unit, actor), _sites(unit, actor, now=now), clients)


def see_set(store: Store, actor: Actor, criteria_id: int, *, now: datetime) -> OneSet:
    """One set with its versions and where it is in force.

    Raises
    ------
    NotFound
        Absent, or another client's.
    """
    with store.look() as unit:
        (kept,) = visible_sets(unit, actor, [criteria_id])
        versions = tuple(one for one in _in_sight(unit, actor) if one.name == kept.name)
        sites = tuple(
            site
            for site in _sites(unit, actor, now=now)
            if site.in_force_id == criteria_id
            or any(choice.criteria_id == criteria_id for choice in site.chosen)
        )
        owners = criteria_edits.client_names(unit, [] if kept.client_id is None else [kept.client_id])
    verb = Verb.ADMINISTER if kept.client_id is None else Verb.KEEP_REGISTER
    may_edit = kept.newest and not kept.shipped and may(actor, verb)
    return OneSet(kept, versions, sites, "".join(owners.values()), may_edit)


def compare_sets(store: Store, actor: Actor, before_id: int, after_id: int) -> SideBySide:
    """Two sets, or two versions of one, side by side.

    Raises
    ------
    NotFound
        One is absent, or another client's.
    """
    with store.look() as unit:
        before, after = visible_sets(unit, actor, [before_id, after_id])
    return SideBySide(before, after, differences(before.criteria, after.criteria))


def choose_site_criteria(
    store: Store, actor: Actor, *, site_id: int, criteria_id: int | None, version: int, now: datetime
) -> CriteriaPage:
    """From now on the site's readings are judged by this set; earlier verdicts keep theirs.

    Raises
    ------
    NotFound, Forbidden, Stale
        Out of sight, not this role's, or changed meanwhile.
    Conflict
        The set may not be chosen yet.
    """
    require(actor, Verb.KEEP_REGISTER, site_id=site_id)
    with store.begin() as unit:
        before = criteria_choice.choose_criteria(unit, site_id, criteria_id, version=version, now=now)
        audit.note(
            unit, actor, verb="choose criteria", noun="site", noun_id=site_id, site_id=site_id, now=now,
            before={"criteria_id": before}, after={"criteria_id": criteria_id},
        )  # fmt: skip
        site_state.bump(unit, [site_id], now=now)
    return see_criteria(store, actor, now=now)


def choose_class_criteria(
    store: Store,
    actor: Actor,
    *,
    site_id: int,
    equipment_class: str,
    criteria_id: int | None,
    version: int,
    now: datetime,
) -> CriteriaPage:
    """From now on readings on this class of equipment are judged by this set, whatever the site's own.

    ``criteria_id`` None takes the choice back: the class is judged as its site again. Raises as
    `choose_site_criteria`, and Invalid without a class.
    """
    require(actor, Verb.KEEP_REGISTER, site_id=site_id)
    told = equipment_class.strip()
    if not told or len(told) > _LONGEST_CLASS or not told.isprintable():
        remedy = "Choose a class of equipment of this site's register."
        raise Invalid([Problem("form", "equipment_class", told[:80], "Which class is not said.", remedy)])
    with store.begin() as unit:
        before = criteria_choice.choose_class_criteria(
            unit, site_id, told, criteria_id=criteria_id, version=version, now=now,
            by_person_id=actor.person_id,
        )  # fmt: skip
        audit.note(
            unit, actor, verb="choose criteria", noun="site", noun_id=site_id, site_id=site_id, now=now,
            before={"equipment_class": told, "criteria_id": before},
            after={"equipment_class": told, "criteria_id": criteria_id},
        )  # fmt: skip
        site_state.bump(unit, [site_id], now=now)
    return see_criteria(store, actor, now=now)


def _in_sight(unit: Unit, actor: Actor) -> tuple[KeptCriteria, ...]:
    return tuple(kept for kept in criteria_choice.kept_criteria(unit) if in_sight(actor, kept))


def _sites(unit: Unit, actor: Actor, *, now: datetime) -> tuple[SiteCriteria, ...]:
    return criteria_choice.criteria_of_sites(unit, actor.site_ids, now=now)
