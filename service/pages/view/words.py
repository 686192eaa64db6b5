"""Counts, plurals and lists in sentences."""

from collections.abc import Mapping, Sequence

from service.domain.words import PointKind
from service.pages.view.numbers import NONE, THIN, thousands

SMALL_NUMBERS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)


def plural(noun: str) -> str:
    if noun.endswith("y") and noun[-2:-1] not in "aeiou":
        return f"{noun[:-1]}ies"
    return f"{noun}es" if noun.endswith(("s", "ch", "sh")) else f"{noun}s"


def counted(value: int, noun: str, many: str = "") -> str:
    """1 point, 2 points, 0 points."""
    return f"{thousands(value)}{THIN}{noun if value == 1 else many or plural(noun)}"


def number_word(value: int) -> str:
    """Two rather than 2, up to twelve; for sentences."""
    return SMALL_NUMBERS[value] if 0 <= value < len(SMALL_NUMBERS) else thousands(value)


def sentence_case(text: str) -> str:
    return text[:1].upper() + text[1:]


def listed(words: Sequence[str]) -> str:
    """a, b and c."""
    return " and ".join((", ".join(words[:-1]), words[-1])) if len(words) > 1 else "".join(words)


#: kinds whose plural is not made by an s at the end
KIND_PLURALS = {
    "coupling or belt": "couplings or belts",
    "refractory or insulation": "refractories or insulations",
}


def kinds_counted(kinds: Mapping[PointKind, int]) -> str:
    """Two bearings and one joint."""
    words = [
        f"{number_word(count)} {str(kind) if count == 1 else KIND_PLURALS.get(kind, plural(kind))}"
        for kind, count in sorted(kinds.items(), key=lambda item: (-item[1], item[0]))
    ]
    return listed(words)


def counted_in_words(value: int, noun: str) -> str:
    """Twelve sites, one site; digits past twelve."""
    return f"{number_word(value)} {noun if value == 1 else plural(noun)}"


def place(*parts: str) -> str:
    """Pump 3, Bearing: what is said once is not said again."""
    return ", ".join(dict.fromkeys(part for part in parts if part))


def yes_no(value: bool | None) -> str:
    return NONE if value is None else ("yes" if value else "no")
