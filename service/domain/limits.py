"""Absolute limits of standards, found by a point's part, coating and medium."""

from collections.abc import Iterable

from service.domain.bands import Limit

#: Words people type for a coating, and the coating of the tables they mean.
COATING_WORDS = (
    ("tin", "tin"),
    ("silver", "silver"),
    ("nickel", "nickel"),
    ("bare", "bare"),
    ("copper", "bare"),
    ("alumin", "bare"),
)
COATING_SIGNS = {"sn": "tin", "ag": "silver", "ni": "nickel", "cu": "bare", "al": "bare"}
#: Looked-up points kept; beyond it the book is looked up afresh.
_REMEMBERED = 4096


def coatings_of(text: str) -> tuple[str, ...]:
    """Coatings named in a text; two of them when the parts of a joint differ.

    Examples
    --------
    >>> coatings_of("Bare copper / tinned")
    ('bare', 'tin')
    >>> coatings_of("Ag")
    ('silver',)
    """
    found = []
    for piece in text.casefold().replace("+", "/").replace(",", "/").split("/"):
        token = piece.strip()
        named = COATING_SIGNS.get(token) or next((c for word, c in COATING_WORDS if word in token), None)
        if named is not None and named not in found:
            found.append(named)
    return tuple(found)


class LimitBook:
    """Limits of one set of criteria; of two coatings in one joint the lower limit holds."""

    __slots__ = ("_found", "_limits")

    def __init__(self, limits: Iterable[Limit]) -> None:
        self._limits = tuple(limits)
        self._found: dict[tuple[str, str, str], Limit | None] = {}

    def find(self, component: str, coating: str, medium: str) -> Limit | None:
        """The lowest limit that holds for a part; None where none is known.

        A component or a coating that is not written down has no limit: a limit is never guessed.
        """
        if not component or not self._limits:
            return None
        key = (component, coating, medium)
        if key in self._found:
            return self._found[key]
        if len(self._found) >= _REMEMBERED:
            self._found.clear()
        limit = self._found[key] = self._look_up(component, coating, medium)
        return limit

    def _look_up(self, component: str, coating: str, medium: str) -> Limit | None:
        part = component.casefold()
        coatings = coatings_of(coating)
        around = medium.strip().casefold() or "air"
        fitting = [
            limit
            for limit in self._limits
            if limit.medium == around
            and (not limit.coating or limit.coating in coatings)
            and any(word in part for word in limit.words)
        ]
        return min(fitting, key=_height, default=None)


def _height(limit: Limit) -> float:
    if limit.total_c is not None:
        return limit.total_c
    return 40.0 + (limit.rise_k or 0.0)
