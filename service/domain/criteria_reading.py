"""Criteria as plain JSON values: writing them, and reading them with every problem named."""

import math
from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum
from itertools import pairwise
from typing import Any, TypeVar

from service.domain.bands import (
    VOLTAGES,
    BandRule,
    Confidence,
    Edge,
    KindLine,
    Limit,
    Measure,
    Template,
    Unit,
)
from service.domain.criteria_numbers import CriteriaNumber
from service.domain.words import Level, PointKind, ReferenceKind
from service.errors import Problem

_LONGEST_TEXT = 2000
_LONGEST_LIST = 500
_Word = TypeVar("_Word", bound=StrEnum)


def rule_to_dict(rule: BandRule) -> dict[str, Any]:
    return {
        "reference": rule.reference.value,
        "unit": rule.unit.value,
        "edges": [{"value": edge.value, "closes_up": edge.closes_up} for edge in rule.edges],
        "levels": [int(level) for level in rule.levels],
        "bands": list(rule.bands),
        "source": rule.source,
        "confidence": rule.confidence.value,
    }


def limit_to_dict(limit: Limit) -> dict[str, Any]:
    return {
        "part": limit.part,
        "words": list(limit.words),
        "coating": limit.coating,
        "medium": limit.medium,
        "total_c": limit.total_c,
        "rise_k": limit.rise_k,
        "voltage": limit.voltage,
        "edition": limit.edition,
        "confidence": limit.confidence.value,
    }


def template_to_dict(template: Template) -> dict[str, Any]:
    return {
        "kind": template.kind.value,
        "component": template.component,
        "boxes": list(template.boxes),
        "measure": template.measure.value,
        "wind_max_m_s": template.wind_max_m_s,
        "rule": rule_to_dict(template.rule),
    }


def kind_line_to_dict(line: KindLine) -> dict[str, Any]:
    return {"kind": line.kind.value, "rule": rule_to_dict(line.rule)}


class Group:
    """One group of plain fields, read with every problem kept; a field with one reads as a stand-in.

    The caller raises ``Invalid`` when ``problems`` is not empty, so no stand-in gets out.
    """

    def __init__(self, where: str, body: object, *, problems: list[Problem], known: Iterable[str]) -> None:
        self.where = where
        self.problems = problems
        self.given = isinstance(body, Mapping)
        self.body: Mapping[str, Any] = body if isinstance(body, Mapping) else {}
        if not self.given:
            self.refuse("", "A group of fields is expected here.", found=body, remedy="Fill in its fields.")
        for name in sorted(set(map(str, self.body)) - set(known)):
            self.refuse(
                name,
                "There is no such field.",
                found=self.body.get(name),
                remedy="Remove it, or mend its name.",
            )

    def refuse(self, field: str, message: str, *, found: object, remedy: str) -> None:
        shown = "" if found is None else str(found)[:80]
        self.problems.append(Problem(self.where, field, shown, message, remedy))

    def group(self, field: str, *, known: Iterable[str], where: str = "") -> "Group":
        return Group(where or field, self.body.get(field), problems=self.problems, known=known)

    def groups(self, field: str, *, known: Sequence[str]) -> list["Group"]:
        """The entries of a list that are groups; the others are refused and left out."""
        entries = [
            Group(f"{self.where}, {field} {n}", entry, problems=self.problems, known=known)
            for n, entry in enumerate(self.items(field), start=1)
        ]
        return [entry for entry in entries if entry.given]

    def items(self, field: str) -> Sequence[Any]:
        value = self.body.get(field, ())
        if isinstance(value, Sequence) and not isinstance(value, str | bytes) and len(value) <= _LONGEST_LIST:
            return value
        self.refuse(
            field, "A list is expected here.", found=value, remedy=f"Give at most {_LONGEST_LIST} entries."
        )
        return ()

    def text(self, field: str, *, needed: bool = True) -> str:
        value = self.body.get(field, "")
        if not isinstance(value, str) or len(value) > _LONGEST_TEXT:
            remedy = f"Write at most {_LONGEST_TEXT} characters."
            self.refuse(field, "A text is expected here.", found=value, remedy=remedy)
            return ""
        if needed and not value.strip():
            self.refuse(field, "This text is missing.", found=value, remedy="Fill it in.")
        return value

    def texts(self, field: str) -> tuple[str, ...]:
        return tuple(str(item)[:_LONGEST_TEXT] for item in self.items(field))

    def words(self, field: str, *, default: tuple[str, ...]) -> tuple[str, ...]:
        """Words to look for in other texts: small letters, none of them empty."""
        if field not in self.body:
            return default
        words = tuple(word.casefold().strip() for word in self.texts(field))
        if not all(words):
            remedy = "Remove it, or write a word of a class of equipment."
            self.refuse(field, "A word is empty.", found=None, remedy=remedy)
        return words

    def flag(self, field: str, *, default: bool) -> bool:
        value = self.body.get(field, default)
        if isinstance(value, bool):
            return value
        self.refuse(field, "Yes or no is expected here.", found=value, remedy="Write true or false.")
        return default

    def number(self, field: str, *, low: float, high: float, default: float | None = None) -> float:
        value = self.body.get(field, default)
        remedy = f"Give a number from {low:g} to {high:g}."
        if isinstance(value, bool) or not isinstance(value, int | float) or not _finite(value):
            self.refuse(field, "A number is expected here.", found=value, remedy=remedy)
            return low
        if not low <= value <= high:
            self.refuse(field, "This number is out of range.", found=value, remedy=remedy)
            return low
        return float(value)

    def number_or_none(self, field: str, *, low: float, high: float) -> float | None:
        return None if self.body.get(field) is None else self.number(field, low=low, high=high)

    def whole(self, field: str, *, low: int, high: int, default: float | None = None) -> int:
        value = self.number(field, low=low, high=high, default=default)
        if value != int(value):
            remedy = f"From {low} to {high}, without a fraction."
            self.refuse(field, "A whole number is expected here.", found=value, remedy=remedy)
        return int(value)

    def ranged(self, number: CriteriaNumber, *, default: float | None = None) -> float:
        """A number of a set within the range a site may choose in."""
        if number.whole:
            return self.whole(number.name, low=int(number.low), high=int(number.high), default=default)
        return self.number(number.name, low=number.low, high=number.high, default=default)

    def word(self, field: str, words: type[_Word]) -> _Word:
        value = self.body.get(field)
        for word in words:
            if isinstance(value, str) and word.value == value:
                return word
        remedy = f"Choose one of: {', '.join(words)}."
        self.refuse(field, "This word is not in the list.", found=value, remedy=remedy)
        return next(iter(words))

    def levels(self, field: str) -> tuple[Level, ...]:
        found = []
        for value in self.items(field):
            if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 4:
                remedy = "Give whole numbers from 0 to 4."
                self.refuse(field, "A level is expected here.", found=value, remedy=remedy)
            else:
                found.append(Level(value))
        return tuple(found)


def _finite(value: int | float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number too large for any float
        return False


RULE_FIELDS = ("reference", "unit", "edges", "levels", "bands", "source", "confidence")
LIMIT_FIELDS = ("part", "words", "coating", "medium", "voltage", "total_c", "rise_k", "edition", "confidence")
TEMPLATE_FIELDS = ("kind", "component", "boxes", "measure", "wind_max_m_s", "rule")
KIND_LINE_FIELDS = ("kind", "rule")


def read_rule(
    group: Group,
    reference: ReferenceKind | None,
    *,
    may_be_silent: bool,
    unit: Unit | None = None,
    falling: bool = False,
) -> BandRule:
    """One column.

    Parameters
    ----------
    group : Group
        Its fields.
    reference, unit
        What it must be over, and its unit; None leaves either open.
    may_be_silent : bool
        It may have no edges.
    falling : bool
        The smaller the value the graver: its levels fall.
    """
    given = group.word("reference", ReferenceKind)
    if reference is not None and given is not reference:
        remedy = f"Use “{reference}” here."
        group.refuse("reference", "This column is over something else.", found=given, remedy=remedy)
    its_unit = group.word("unit", Unit)
    if unit is not None and its_unit is not unit:
        remedy = f"Use “{unit}” here."
        group.refuse("unit", "This column has another unit.", found=its_unit, remedy=remedy)
    before = len(group.problems)
    edges = tuple(
        Edge(edge.number("value", low=-1000, high=2000), edge.flag("closes_up", default=False))
        for edge in group.groups("edges", known=("value", "closes_up"))
    )
    edges_read = len(group.problems) == before
    rule = BandRule(
        reference=given,
        unit=its_unit,
        edges=edges,
        levels=group.levels("levels"),
        bands=group.texts("bands"),
        source=group.text("source"),
        confidence=group.word("confidence", Confidence),
    )
    _check_rule(group, rule, may_be_silent=may_be_silent, falling=falling, edges_read=edges_read)
    return rule


def _check_rule(
    group: Group, rule: BandRule, *, may_be_silent: bool, falling: bool, edges_read: bool
) -> None:
    """What the fields of a column must be together; edges that were refused stand in no order."""
    values = [edge.value for edge in rule.edges]
    if not values and not may_be_silent:
        group.refuse("edges", "A column needs at least one edge.", found=None, remedy="Give its edges.")
    if edges_read and any(a >= b for a, b in pairwise(values)):
        group.refuse("edges", "Edges must rise.", found=values, remedy="Sort them and drop doubles.")
    levels = rule.levels[::-1] if falling else rule.levels
    if any(a > b for a, b in pairwise(levels)):
        found = [int(level) for level in rule.levels]
        message = "A smaller value may not be milder." if falling else "A hotter band may not be milder."
        remedy = f"Let the levels {'fall' if falling else 'rise'}."
        group.refuse("levels", message, found=found, remedy=remedy)
    for field, count in (("levels", len(rule.levels)), ("bands", len(rule.bands))):
        if count != len(values) + 1:
            remedy = f"Give {len(values) + 1}."
            group.refuse(field, "There must be one more than there are edges.", found=count, remedy=remedy)


def read_limit(group: Group) -> Limit:
    limit = Limit(
        voltage=_one_of(group, "voltage", ("", *VOLTAGES)),
        part=group.text("part"),
        words=tuple(word.casefold().strip() for word in group.texts("words")),
        coating=group.text("coating", needed=False),
        medium=group.text("medium"),
        total_c=group.number_or_none("total_c", low=0, high=1000),
        rise_k=group.number_or_none("rise_k", low=0, high=1000),
        edition=group.text("edition"),
        confidence=group.word("confidence", Confidence),
    )
    if limit.total_c is None and limit.rise_k is None:
        group.refuse("total_c", "A limit needs a number.", found=None, remedy="Give total_c or rise_k.")
    if not limit.words or not all(limit.words):
        remedy = "Give at least one word found in the component's name."
        group.refuse("words", "No word says which part this is.", found=limit.words, remedy=remedy)
    return limit


def _one_of(group: Group, field: str, words: Sequence[str]) -> str:
    value = group.body.get(field, "")
    if value in words:
        return str(value)
    remedy = f"Choose one of: {', '.join(filter(None, words))}; or leave it empty."
    group.refuse(field, "This word is not in the list.", found=value, remedy=remedy)
    return ""


def read_template(group: Group) -> Template:
    kind = group.word("kind", PointKind)
    measure = group.word("measure", Measure) if "measure" in group.body else Measure.RISE
    is_kind = group.body.get("kind") == kind.value
    if is_kind and not measure.fits(kind):
        remedy = "Choose another measure, or another kind."
        group.refuse("measure", f"The kind “{kind}” has no boxes for this.", found=measure, remedy=remedy)
    rule = group.group("rule", known=RULE_FIELDS, where=f"{group.where}, rule")
    return Template(
        kind=kind,
        component=group.text("component", needed=False).casefold().strip(),
        boxes=group.texts("boxes"),
        rule=read_rule(
            rule,
            None if measure is Measure.RISE else ReferenceKind.AIR,
            may_be_silent=True,
            unit=measure.unit or _unit_of_rise(rule),
            falling=measure.falling,
        ),
        measure=measure,
        wind_max_m_s=group.number_or_none("wind_max_m_s", low=0, high=1),
    )


def _unit_of_rise(rule: Group) -> Unit:
    is_share = rule.body.get("reference") == ReferenceKind.RATED_SHARE.value
    return Unit.PERCENT if is_share else Unit.KELVIN


def read_kind_line(group: Group) -> KindLine:
    rule = group.group("rule", known=RULE_FIELDS, where=f"{group.where}, rule")
    return KindLine(
        kind=group.word("kind", PointKind),
        rule=read_rule(rule, ReferenceKind.AIR, may_be_silent=True, unit=Unit.KELVIN),
    )
