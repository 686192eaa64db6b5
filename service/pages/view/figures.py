"""Figures beside their uncertainty, and how sure a level is, in words."""

import math

from service.domain.figures_told import ToldFigure, sureness_of, told_with_u
from service.domain.words import Level
from service.pages.view.levels import level_word
from service.pages.view.numbers import NONE, THIN, number, with_unit
from service.pages.view.units import KELVIN, own_unit, own_value_or_none

#: chances under a tenth of a percent are not told as nothing
_LEAST_CHANCE = 0.005


def figure(value: float | None, u: float | None = None, digits: int = 1, unit: str = KELVIN) -> ToldFigure:
    """A figure and its U as two strings; U is empty and the figure has plain digits where u is not known.

    The one place where a page decides how many digits stand beside a U: in the reader's unit, in which
    a U, like every difference, is told by ×9/5 alone.
    """
    own, own_u = own_value_or_none(value, unit), own_value_or_none(u, KELVIN)
    told = told_with_u(own, own_u)
    return ToldFigure(number(own, digits), "") if told is None else told


def measured(value: float | None, u: float | None = None, unit: str = KELVIN) -> str:
    """11.4 ± 1.4 K, from a figure and its standard uncertainty; 11.4 K where that is not known."""
    told, word = figure(value, u, unit=unit), own_unit(unit)
    if told.value == NONE:
        return NONE
    return f"{told}{THIN}{word}" if told.expanded else f"{told.value}{THIN}{word}"


def chance(share: float) -> str:
    """13 %; under 1 % and over 99 % where it is not all or nothing."""
    if 0 < share < _LEAST_CHANCE:
        return f"under 1{THIN}%"
    if 1 - _LEAST_CHANCE < share < 1:
        return f"over 99{THIN}%"
    return with_unit(100 * share, "%", digits=0)


def sureness(band: int | None, chances: tuple[float, ...] | None) -> str:
    """Firm; between Plan repair 87 % and Act now 13 %, and may be higher.

    Empty without a band or without an uncertainty.
    """
    found = sureness_of(band, chances)
    if found is None or band is None:
        return ""
    if found.firm:
        return f"firm: {level_word(band)} {chance(found.own)}"
    told = f"{level_word(band)} {chance(found.own)}"
    if found.other is not None:
        pair = sorted([(Level(band), found.own), (found.other, found.other_chance)])
        told = "between " + " and ".join(f"{level_word(level)} {chance(share)}" for level, share in pair)
    if found.may_be_higher:
        higher = ", ".join(
            f"{level_word(level)} {chance(share)}" for level, share in found.higher if share >= _LEAST_CHANCE
        )
        told += f"; may be higher: {higher}"
    return told


def at_most_hidden(kelvin: float | None) -> str:
    """9 K, rounded up: what could have been missed is never told too small."""
    own, word = own_value_or_none(kelvin, KELVIN), own_unit(KELVIN)
    if own is None:
        return NONE
    if own < 2:
        return with_unit(math.ceil(10 * own - 1e-9) / 10, word)
    return with_unit(float(math.ceil(own - 1e-9)), word, digits=0)
