"""Absolute limits of standards, found by a point's part, coating and medium."""

import re
from collections.abc import Iterable

from service.domain.bands import HIGH_VOLTAGE, LOW_VOLTAGE, Limit

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


#: Highest total temperature of a winding by the class of its insulation [°C], IEC 60085.
INSULATION_CLASSES_C = {"Y": 90, "A": 105, "E": 120, "B": 130, "F": 155, "H": 180}


def insulation_words(insulation_class: str) -> str:
    """What the class on a plate says, for information only; empty for a class that is not known.

    A casing is 20 to 25 K cooler than its winding: no reading of a casing is ever held against it.

    Examples
    --------
    >>> insulation_words("F")
    'insulation class F: 155 °C in the winding (IEC 60085), which no casing shows'
    """
    limit_c = INSULATION_CLASSES_C.get(insulation_class.strip().upper())
    if limit_c is None:
        return ""
    told = insulation_class.strip().upper()
    return f"insulation class {told}: {limit_c} °C in the winding (IEC 60085), which no casing shows"


_VOLTS = re.compile(r"(\d+(?:[.,]\d+)?)\s*(kv|v)\b")
_VOLTAGE_WORDS = {"lv": LOW_VOLTAGE, "low": LOW_VOLTAGE, "mv": HIGH_VOLTAGE, "hv": HIGH_VOLTAGE}
_VOLTAGE_WORDS |= {"medium": HIGH_VOLTAGE, "high": HIGH_VOLTAGE}


def voltage_side(text: str) -> str:
    """On which side of 1 kV a voltage typed in words lies; empty where it does not say.

    Of several voltages the highest counts. A direct voltage up to 1500 V is low too, but whether
    it is direct is seldom written: it counts as it stands.

    Examples
    --------
    >>> voltage_side("11/0.4 kV"), voltage_side("400 V"), voltage_side("LV"), voltage_side("main")
    ('above 1 kV', 'up to 1 kV', 'up to 1 kV', '')
    """
    told = text.casefold()
    for number, following in re.findall(r"(\d+(?:[.,]\d+)?)\s*/\s*(?=\d+(?:[.,]\d+)?\s*(kv|v)\b)", told):
        told += f" {number} {following}"
    volts = [
        float(number.replace(",", ".")) * (1000.0 if unit == "kv" else 1.0)
        for number, unit in _VOLTS.findall(told)
    ]
    if volts:
        return LOW_VOLTAGE if max(volts) <= 1000.0 else HIGH_VOLTAGE
    for word in re.findall(r"[a-z]+", told):
        if word in _VOLTAGE_WORDS:
            return _VOLTAGE_WORDS[word]
    return ""


class LimitBook:
    """Limits of one set of criteria; of two coatings in one joint the lower limit holds."""

    __slots__ = ("_found", "_limits")

    def __init__(self, limits: Iterable[Limit]) -> None:
        self._limits = tuple(limits)
        self._found: dict[tuple[str, str, str, str], Limit | None] = {}

    def find(self, component: str, coating: str, medium: str, voltage: str = "") -> Limit | None:
        """The lowest limit that holds for a part; None where none is known.

        A component, a coating or a voltage that is not written down has no limit that hangs on it:
        a limit is never guessed. ``voltage`` is the equipment's, in words ("11 kV").
        """
        if not component or not self._limits:
            return None
        key = (component, coating, medium, voltage)
        if key in self._found:
            return self._found[key]
        if len(self._found) >= _REMEMBERED:
            self._found.clear()
        limit = self._found[key] = self._look_up(component, coating, medium, voltage_side(voltage))
        return limit

    def _look_up(self, component: str, coating: str, medium: str, side: str) -> Limit | None:
        part = component.casefold()
        coatings = coatings_of(coating)
        around = medium.strip().casefold() or "air"
        fitting = [
            limit
            for limit in self._limits
            if limit.medium == around
            and (not limit.coating or limit.coating in coatings)
            and (not limit.voltage or limit.voltage == side)
            and any(word in part for word in limit.words)
        ]
        return min(fitting, key=_height, default=None)


def _height(limit: Limit) -> float:
    if limit.total_c is not None:
        return limit.total_c
    return 40.0 + (limit.rise_k or 0.0)
