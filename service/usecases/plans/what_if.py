"""What would be: fewer or more hours, one more qualified person, a site shut for some days."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from service.domain.day_words import day_words
from service.domain.plans import PlanBody, Shut, Walk
from service.errors import Invalid, Problem
from service.storage.unit import Unit

#: hours that a what-if may give or take over a month
MOST_HOURS = 400.0
#: no walk is made shorter or longer than this [min]
SHORTEST_MIN, LONGEST_MIN = 60, 720


class Kind(StrEnum):
    """What is changed."""

    HOURS = "hours"
    QUALIFIED = "qualified person"
    SHUT = "site shut"


@dataclass(frozen=True, slots=True)
class Change:
    """One change of what a plan stands on.

    ``hours`` over the whole month, shared among the open walks; ``site_id`` with ``from_on`` and
    ``to_on`` (ISO days, since it travels as JSON) for a site that is shut.
    """

    kind: str
    hours: float = 0.0
    site_id: int | None = None
    from_on: str = ""
    to_on: str = ""

    def problems(self, body: PlanBody) -> list[Problem]:
        """Everything that is wrong with it."""
        if self.kind == Kind.HOURS and not 0 < abs(self.hours) <= MOST_HOURS:
            message = f"Hours lie between 1 and {MOST_HOURS:g}, with a minus to take them away."
            return [Problem("form", "hours", f"{self.hours:g}", message, "Type for example −8.")]
        if self.kind == Kind.SHUT:
            return self._shut_problems(body)
        if self.kind not in set(Kind):
            return [Problem("form", "kind", self.kind[:40], "No such change.", "Choose one of the list.")]
        return []

    def told(self, sites: Mapping[int, str]) -> str:
        """The change in words."""
        if self.kind == Kind.HOURS:
            word = "more" if self.hours > 0 else "fewer"
            return f"{abs(self.hours):g} hours {word}"
        if self.kind == Kind.QUALIFIED:
            return "a qualified person on every walk"
        days = " to ".join(day_words(date.fromisoformat(day)) for day in (self.from_on, self.to_on))
        return f"{sites.get(self.site_id or 0, 'a site')} closed {days}"

    def _shut_problems(self, body: PlanBody) -> list[Problem]:
        if self.site_id not in body.site_ids:
            return [Problem("form", "site_id", str(self.site_id), "Not a site of the plan.", "Choose one.")]
        try:
            first, last = date.fromisoformat(self.from_on), date.fromisoformat(self.to_on)
        except ValueError:
            return [
                Problem("form", "from_on", self.from_on[:20], "From and to which day?", "Type both days.")
            ]
        if first > last:
            return [Problem("form", "to_on", self.to_on, "The last day is before the first.", "Swap them.")]
        return []


def changed_by(unit: Unit, client_id: int, body: PlanBody, change: Change) -> PlanBody:
    """The plan with the change applied, its stops not yet placed anew.

    Raises
    ------
    Invalid
        The change makes no sense for this plan.
    """
    problems = change.problems(body)
    if problems:
        raise Invalid(problems)
    if change.kind == Kind.HOURS:
        return _with_hours(body, change.hours * 60)
    if change.kind == Kind.QUALIFIED:
        walks = tuple(replace(walk, qualified=True) if walk.open else walk for walk in body.walks)
        return replace(body, walks=walks)
    assert change.site_id is not None
    shut = Shut(
        change.site_id,
        date.fromisoformat(change.from_on),
        date.fromisoformat(change.to_on),
        "shut, as supposed",
    )
    return replace(body, shut=(*body.shut, shut))


def _with_hours(body: PlanBody, minutes: float) -> PlanBody:
    """Minutes given to, or taken from, the ends of the open walks, by their length."""
    whole = sum(walk.end_min - walk.start_min for walk in body.walks if walk.open)
    if not whole:
        return body
    return replace(body, walks=tuple(_stretched(walk, minutes / whole) for walk in body.walks))


def _stretched(walk: Walk, share: float) -> Walk:
    if not walk.open:
        return walk
    length = (walk.end_min - walk.start_min) * (1 + share)
    return replace(walk, end_min=walk.start_min + round(min(max(length, SHORTEST_MIN), LONGEST_MIN)))
