"""The digits of a figure beside its uncertainty: one rule for every door."""

from typing import NamedTuple

from service.domain.words import Level
from service.physics.severity import FIRM_FROM, MAY_BE_HIGHER_FROM
from service.physics.significant import significant
from service.physics.uncertainty import EXPANDED_BY

MINUS = "−"


class ToldFigure(NamedTuple):
    """A figure and its U (k = 2), rounded to one place, as they are printed."""

    value: str
    expanded: str

    def __str__(self) -> str:
        return f"{self.value} ± {self.expanded}"


def told_with_u(value: float | None, u: float | None) -> ToldFigure | None:
    """A figure and U = 2·u, U to two significant digits and the figure to the same place.

    Parameters
    ----------
    value : float or None
        In any unit.
    u : float or None
        Its standard uncertainty, in the same unit.

    Returns
    -------
    ToldFigure or None
        None where either is not known: then nothing is printed beside the figure.

    References
    ----------
    JCGM 100:2008, 7.2.6.

    Examples
    --------
    >>> str(told_with_u(15.6393, 0.8691))
    '15.6 ± 1.7'
    """
    if value is None or u is None:
        return None
    found = significant(value, EXPANDED_BY * u)
    if found is None:
        return None
    return ToldFigure(f"{found.value:f}".replace("-", MINUS), f"{found.uncertainty:f}")


class Sureness(NamedTuple):
    """How sure a level is: firm, else the likeliest other one, and whether a graver one is possible."""

    firm: bool
    own: float
    other: Level | None
    other_chance: float
    higher: tuple[tuple[Level, float], ...]

    @property
    def may_be_higher(self) -> bool:
        return sum(chance for _level, chance in self.higher) >= MAY_BE_HIGHER_FROM


def sureness_of(level: int | None, chances: tuple[float, ...] | None) -> Sureness | None:
    """How sure a level is by the chances of all five; None without a level or chances.

    Parameters
    ----------
    level : int or None
        Level of the band in which the value lies.
    chances : tuple of float or None
        Of the levels 0 to 4.

    Notes
    -----
    Firm from 95 % on; "may be higher" where graver levels together have 10 % or more.

    References
    ----------
    JCGM 106:2012, 7.2 to 7.4 (chances); the two shares are this service's choice.
    """
    if level is None or chances is None:
        return None
    own = chances[level]
    others = sorted(
        ((chance, Level(place)) for place, chance in enumerate(chances) if place != level), reverse=True
    )
    higher = tuple((Level(place), chance) for place, chance in enumerate(chances) if place > level and chance)
    best, other = others[0]
    return Sureness(own >= FIRM_FROM, own, other if best > 0 else None, best, higher)
