"""Where two sets of criteria differ, field by field, as a person compares them side by side."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar

from service.domain.bands import BandRule, KindLine, Limit, Template
from service.domain.criteria import Criteria
from service.domain.criteria_numbers import NUMBER_GROUPS

Differing = str | float | bool | tuple[str, ...] | BandRule | Limit | Template | None
_Thing = TypeVar("_Thing")

#: Columns of a set with their names, in the order in which they are shown.
COLUMN_NAMES = {
    "similar": "Over like parts",
    "air": "Over air",
    "baseline": "Over its own baseline",
    "rated_share": "Share of rated rise",
    "cold": "Colder than its like parts",
    "relative": "Relative difference at low load",
}


@dataclass(frozen=True, slots=True)
class Difference:
    """One field that differs; None on the side that has no such thing.

    ``where`` is the part of the set, ``what`` the field, ``name`` the number's field name or empty.
    """

    where: str
    what: str
    before: Differing
    after: Differing
    name: str = ""


def differences(before: Criteria, after: Criteria) -> tuple[Difference, ...]:
    """Every field in which two sets differ, in the order in which a set is read.

    Id and version are no fields of this kind: they say which set it is.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from service.domain.presets import TWO_COLUMN
    >>> [one.what for one in differences(TWO_COLUMN, replace(TWO_COLUMN, exponent=1.7))]
    ['Exponent n of the rise with current']
    """
    return (
        *_about(before, after),
        *_columns(before, after),
        *_numbers(before, after),
        *_matched("Over air, by kind", _kind_lines(before), _kind_lines(after)),
        *_matched("Limits", _limits(before), _limits(after)),
        *_matched("Kinds without a published band", _templates(before), _templates(after)),
    )


def _about(before: Criteria, after: Criteria) -> Iterable[Difference]:
    for what, old, new in (
        ("Title", before.title, after.title),
        ("Citation", before.citation, after.citation),
        ("How sure of its numbers", before.confidence.words, after.confidence.words),
    ):
        if old != new:
            yield Difference("About the set", what, old, new)


def _columns(before: Criteria, after: Criteria) -> Iterable[Difference]:
    for name, what in COLUMN_NAMES.items():
        if getattr(before, name) != getattr(after, name):
            yield Difference("Columns", what, getattr(before, name), getattr(after, name))
    if before.relative_on != after.relative_on:
        what = "Relative difference is told"
        yield Difference("Columns", what, before.relative_on, after.relative_on)


def _numbers(before: Criteria, after: Criteria) -> Iterable[Difference]:
    for group in NUMBER_GROUPS:
        for number in group.numbers:
            old, new = getattr(before, number.name), getattr(after, number.name)
            if old != new:
                yield Difference(group.title, number.label, old, new, name=number.name)
    if before.unscaled_classes != after.unscaled_classes:
        what = "Classes of equipment never scaled"
        yield Difference("Load", what, before.unscaled_classes, after.unscaled_classes)


def _matched(
    where: str, before: Mapping[str, Differing], after: Mapping[str, Differing]
) -> Iterable[Difference]:
    for what in dict.fromkeys((*before, *after)):
        if before.get(what) != after.get(what):
            yield Difference(where, what, before.get(what), after.get(what))


def _kind_lines(criteria: Criteria) -> dict[str, Differing]:
    return {what: line.rule for what, line in _told_apart(criteria.air_by_kind, _kind_of).items()}


def _kind_of(line: KindLine) -> str:
    return line.kind.value


def _limits(criteria: Criteria) -> Mapping[str, Limit]:
    return _told_apart(criteria.limits, limit_name)


def _templates(criteria: Criteria) -> Mapping[str, Template]:
    return _told_apart(criteria.templates, template_name)


def limit_name(limit: Limit) -> str:
    """What a limit is for: part, coating, medium and voltage."""
    return ", ".join(filter(None, (limit.part, limit.coating, limit.medium, limit.voltage)))


def template_name(template: Template) -> str:
    """What a template is for: kind, component and what it judges."""
    measure = "" if template.measure.value == "rise" else template.measure.value
    return ", ".join(filter(None, (template.kind.value, template.component, measure)))


def _told_apart(things: Iterable[_Thing], name: Callable[[_Thing], str]) -> dict[str, _Thing]:
    """Things by their name; of one name the second is told as such."""
    found: dict[str, _Thing] = {}
    for thing in things:
        told, number = name(thing), 2
        while told in found:
            told, number = f"{name(thing)} ({number})", number + 1
        found[told] = thing
    return found
