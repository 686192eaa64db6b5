"""How near one may stand, as far as the site's own words give it as one figure."""

import re

_NUMBER = r"\d+(?:[.,]\d+)?"
#: metres of each unit (BIPM SI Brochure; international foot and inch of 1959)
_METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}
_UNITS = {
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m", "cm": "cm", "mm": "mm",
    "ft": "ft", "foot": "ft", "feet": "ft", "in": "in", "inch": "in", "inches": "in",
}  # fmt: skip
_WITH_UNIT = re.compile(
    rf"(?<![\w.,])({_NUMBER})\s*({'|'.join(sorted(_UNITS, key=len, reverse=True))})(?!\w)"
)
_ANY_NUMBER = re.compile(_NUMBER)


def stand_off_m(text: str) -> float | None:
    """Metres of a text that holds one figure and its unit; None for every other text.

    Parameters
    ----------
    text : str
        As the site typed it.

    Notes
    -----
    A second figure of any kind, a range, a sign or a unit that is not known make it unclear; then
    nobody guesses: the permit issuer is asked.

    Examples
    --------
    >>> stand_off_m("1.0 m from the open door"), stand_off_m("0.9 to 1.2 m"), stand_off_m("behind the line")
    (1.0, None, None)
    """
    plain = text.casefold()
    numbers = _ANY_NUMBER.findall(plain)
    found = _WITH_UNIT.findall(plain)
    if len(numbers) != 1 or len(found) != 1:
        return None
    figure, unit = found[0]
    metres = float(figure.replace(",", ".")) * _METRES[_UNITS[unit]]
    return metres if metres > 0 else None
