"""Equipment that runs in turn, one at a time: which of a group a plan reads, and why."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from datetime import date

from service.domain.day_words import day_words
from service.domain.plan_visits import Visit
from service.domain.stop_facts import EquipmentFacts

#: group of a site: its name without regard to case and spaces
GroupKey = tuple[int, str]


def group_key(facts: EquipmentFacts) -> GroupKey | None:
    """The group an equipment belongs to; None for what runs by itself."""
    name = " ".join(facts.duty_group.casefold().split())
    return (facts.site_id, name) if name else None


def in_turn(visits: Sequence[Visit], facts: Iterable[EquipmentFacts]) -> tuple[Visit, ...]:
    """The visits, with those of a group told which of them is read, and why.

    Parameters
    ----------
    visits : sequence of Visit
        What is due or may be taken early.
    facts : iterable of EquipmentFacts
        All equipment in use there: also what of a group is not due.

    Returns
    -------
    tuple of Visit
        In the same order. Of each group the one seen under load longest ago is read, what is due
        before what is only early; beside it whatever the site runs for a visit when asked, and
        what cannot wait. The others say in ``stands_by`` for which they wait.

    Notes
    -----
    Common practice, no source: a machine that does not run shows no heat, so that a reading of it
    could not clear.
    """
    groups: dict[GroupKey, list[Visit]] = {}
    for visit in visits:
        key = group_key(visit.facts)
        if key is not None:
            groups.setdefault(key, []).append(visit)
    members: dict[GroupKey, list[EquipmentFacts]] = {}
    for one in facts:
        key = group_key(one)
        if key in groups:
            members.setdefault(key, []).append(one)
    told = {
        visit.facts.id: visit
        for key, here in groups.items()
        for visit in _settled(here, members.get(key, ()))
    }
    return tuple(told.get(visit.facts.id, visit) for visit in visits)


def _settled(here: Sequence[Visit], members: Collection[EquipmentFacts]) -> list[Visit]:
    others = {one.id: one.tag for one in members}
    if len(others) < 2:  # alone in its group: nothing takes turns
        return list(here)
    ordered = sorted(here, key=lambda visit: (visit.early, visit.loaded_on or date.min, visit.facts.id))
    first = ordered[0]
    found = []
    for visit in ordered:
        partners = [tag for key, tag in others.items() if key != visit.facts.id]
        if visit is first or visit.facts.run_on_request or visit.must:
            found.append(replace(visit, turn=_turn(visit, partners, first=first, alone=len(here) == 1)))
        else:
            found.append(replace(visit, stands_by=f"{first.facts.tag}, {_seen(first)}"))
    return found


def _turn(visit: Visit, partners: Sequence[str], *, first: Visit, alone: bool) -> str:
    """Why it is read, in a clause."""
    told = f"runs in turn with {', '.join(partners)}"
    if visit is first:
        return f"{told}, {_seen(visit)}" if alone else f"{told}, and was seen under load longest ago"
    return f"{told}, and runs for the visit when asked" if visit.facts.run_on_request else told


def _seen(visit: Visit) -> str:
    day = visit.loaded_on
    return "never seen under load" if day is None else f"seen under load last on {day_words(day)}"
