"""Criteria in words: bands, limits and numbers as a person reads them."""

from service.domain.bands import BandRule, Limit, Measure, Template
from service.domain.criteria import Criteria
from service.domain.criteria_differences import COLUMN_NAMES, Difference, Differing, template_name
from service.domain.criteria_kept import KeptCriteria
from service.domain.criteria_numbers import NUMBER_GROUPS, NUMBERS
from service.domain.words import Level
from service.pages.view import NONE, THIN, listed, number, yes_no

BandLine = tuple[str, Level, str]


def band_lines(rule: BandRule, *, quiet_under: str = "") -> list[BandLine]:
    """Each band of a column as words, with our level and the table's own words.

    ``quiet_under`` is where the first band begins when nothing is found below it.
    """
    lines = []
    for place, level in enumerate(rule.levels):
        low = rule.edges[place - 1] if place else None
        high = rule.edges[place] if place < len(rule.edges) else None
        unit = rule.unit.value
        if low is None and high is not None and quiet_under:
            words = f"from {quiet_under} to {'under ' * high.closes_up}{_figure(high.value)} {unit}"
        elif low is None and high is not None:
            words = f"{'under' if high.closes_up else 'up to'} {_figure(high.value)} {unit}"
        elif high is None and low is not None:
            words = f"{'from' if low.closes_up else 'over'} {_figure(low.value)} {unit}"
        elif low is not None and high is not None:
            upto = "to under" if high.closes_up else "to"
            words = f"{'from' if low.closes_up else 'over'} {_figure(low.value)} {upto} {_figure(high.value)} {unit}"
        else:
            words = "any"
        lines.append((words, level, rule.bands[place] if place < len(rule.bands) else ""))
    return lines


def _figure(value: float) -> str:
    digits = next((n for n in range(4) if round(value, n) == value), 4)
    return number(value, digits)


def set_name(kept: KeptCriteria) -> str:
    return f"{kept.criteria.title}, version {kept.criteria.version}"


def columns(criteria: Criteria) -> list[tuple[str, BandRule, list[BandLine]]]:
    """The columns of a set with their bands, the general ones first, then the air column by kind."""
    named = [(words, getattr(criteria, name)) for name, words in COLUMN_NAMES.items()]
    if not criteria.relative_on:
        named = [
            (f"{words} (off)" if words == COLUMN_NAMES["relative"] else words, rule) for words, rule in named
        ]
    named += [(f"Over air, {line.kind}", line.rule) for line in criteria.air_by_kind]
    return [
        (words, rule, [] if rule.silent else _quiet_first(criteria, rule, band_lines(rule)))
        for words, rule in named
    ]


def _quiet_first(criteria: Criteria, rule: BandRule, lines: list[BandLine]) -> list[BandLine]:
    """Under twice its uncertainty a rise over the baseline is none: the quiet band under the table's first."""
    if rule is not criteria.baseline:
        return lines
    quiet = f"under 2u, or under {_figure(criteria.two_u_k)} K where u is not known"
    told = (quiet, Level.NOTHING_FOUND, "u: standard uncertainty of the rise over the baseline")
    return [told, *band_lines(rule, quiet_under="2u")]


def number_words(name: str, value: float) -> str:
    """A number of a set with its unit: 40 %, 1.8, 3 visits, Plan repair."""
    unit = NUMBERS[name].unit
    if unit == "level":
        return Level(int(value)).word
    if unit == "%":
        return f"{_figure(round(100 * value, 6))}{THIN}%"
    return f"{_figure(value)}{THIN}{unit}" if unit else _figure(value)


def number_groups(criteria: Criteria) -> list[tuple[str, list[tuple[str, str]]]]:
    """Every number by its group: label and value in words."""
    return [
        (
            group.title,
            [(one.label, number_words(one.name, getattr(criteria, one.name))) for one in group.numbers],
        )
        for group in NUMBER_GROUPS
    ]


def limit_words(limit: Limit) -> str:
    """Total and rise of a limit: 90 °C, 50 K of rise."""
    told = []
    if limit.total_c is not None:
        told.append(f"{_figure(limit.total_c)}{THIN}°C")
    if limit.rise_k is not None:
        told.append(f"{_figure(limit.rise_k)}{THIN}K of rise")
    return " or ".join(told)


def measure_words(template: Template) -> str:
    """What a template judges, as a heading says it."""
    if template.measure is Measure.RISE:
        return f"rise, {template.rule.reference}"
    return f"{template.measure}{', the smaller the graver' if template.measure.falling else ''}"


def templates(criteria: Criteria) -> list[tuple[str, Template, list[BandLine]]]:
    return [
        (template_name(one), one, [] if one.rule.silent else band_lines(one.rule))
        for one in criteria.templates
    ]


def difference_words(one: Difference, value: Differing) -> str:
    """One side of a difference in words; a dash where that side has no such thing."""
    if value is None:
        return NONE
    if isinstance(value, Template):
        wind = (
            ""
            if value.wind_max_m_s is None
            else f"; clears up to a wind of {_figure(value.wind_max_m_s)} m/s"
        )
        return f"{measure_words(value)}: {_rule_words(value.rule)}{wind}"
    if isinstance(value, BandRule):
        return _rule_words(value)
    if isinstance(value, Limit):
        words = listed(value.words)
        return f"{limit_words(value)}; {value.edition} ({value.confidence.words}); known by: {words}"
    if isinstance(value, bool):
        return yes_no(value)
    if isinstance(value, float | int):
        return number_words(one.name, value)
    return listed(value) if isinstance(value, tuple) else value


def _rule_words(rule: BandRule) -> str:
    if rule.silent:
        return f"no band; {rule.source} ({rule.confidence.words})"
    bands = "; ".join(
        f"{words}: {level.word}{f' (“{published}”)' if published else ''}"
        for words, level, published in band_lines(rule)
    )
    return f"{bands}. {rule.source} ({rule.confidence.words})"
