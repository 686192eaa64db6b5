"""In which unit the reader of a page reads temperatures: set once for each request, asked wherever one is told."""

import re
from contextvars import ContextVar
from decimal import Decimal, InvalidOperation

from service.domain.cells import cell_text
from service.domain.findings import OFF_ROUND_TITLE
from service.domain.words import TemperatureUnit

KELVIN, CELSIUS, FAHRENHEIT = "K", "°C", "°F"
#: decimals of a converted number: a box shows fewer than are kept, so that 211 °F comes back as 211
SHOWN_DECIMALS, KEPT_DECIMALS = 6, 9
_reader: ContextVar[TemperatureUnit] = ContextVar("unit_of_the_reader", default=TemperatureUnit.CELSIUS)
_NUMBER = r"[-−+]?\d+(?:\.\d+)?"
#: 12.0 K; 4–15 K; between −60 and 80 °C: numbers that one unit closes, none of them the end of a name
_TOLD = re.compile(
    rf"(?<![\w.])(?:between {_NUMBER} and )?{_NUMBER}(?:(?: to |–| or ){_NUMBER})?(?P<gap>\s?)(?P<unit>°C|K)(?!\w)"
)


def read_in(wanted: TemperatureUnit) -> None:
    """From here on, in this request alone, temperatures are told and taken in that unit."""
    _reader.set(wanted)


def in_fahrenheit() -> bool:
    return _reader.get() is TemperatureUnit.FAHRENHEIT


def own_unit(unit: str) -> str:
    """°F for °C and for K where the reader wants it; every other unit as it is."""
    return FAHRENHEIT if unit in (CELSIUS, KELVIN) and in_fahrenheit() else unit


def celsius_word() -> str:
    """The reader's unit of temperatures, for headers."""
    return own_unit(CELSIUS)


def kelvin_word() -> str:
    """The reader's unit of differences, for headers."""
    return own_unit(KELVIN)


def own_value(value: float, unit: str) -> float:
    """A number in the reader's unit; of a difference (K) ×9/5 alone, of a temperature (°C) with the 32.

    Examples
    --------
    >>> own_value(100.0, "°C"), own_value(10.0, "K")
    (100.0, 10.0)
    """
    if not in_fahrenheit() or unit not in (CELSIUS, KELVIN):
        return value
    return value * 9 / 5 + 32 if unit == CELSIUS else value * 9 / 5


def own_value_or_none(value: float | None, unit: str) -> float | None:
    return None if value is None else own_value(value, unit)


# ---- what is typed ----------------------------------------------------------------------------


def typed_in() -> str:
    """What a form says of the unit of its boxes, so that nobody's number is taken in another one."""
    return _reader.get().value


def stored_value(value: float, unit: str, *, said: str = "") -> float:
    """A number typed in the reader's unit, or in the one its address says, as it is kept: in °C or K."""
    in_f = said == TemperatureUnit.FAHRENHEIT if said else in_fahrenheit()
    if not in_f or unit not in (CELSIUS, KELVIN):
        return value
    return round((value - 32) * 5 / 9 if unit == CELSIUS else value * 5 / 9, KEPT_DECIMALS)


def boxed(text: str, unit: str) -> str:
    """What stands in a box for a kept number; a text that is no number stays.

    Examples
    --------
    >>> boxed("36.7", "°C")
    '36.7'
    """
    number = _decimal(text) if in_fahrenheit() and unit in (CELSIUS, KELVIN) else None
    if number is None:
        return text
    return _plain(number * 9 / 5 + 32 if unit == CELSIUS else number * 9 / 5, SHOWN_DECIMALS)


def unboxed(text: str, unit: str, *, kept: str = "") -> str:
    """What a box says, in °C or K; one sent back untouched says what was ``kept``, to the last digit."""
    if not in_fahrenheit() or unit not in (CELSIUS, KELVIN):
        return text
    if kept and text.strip() == boxed(kept, unit):
        return kept
    number = _decimal(text)
    if number is None:
        return text
    return _plain((number - 32) * 5 / 9 if unit == CELSIUS else number * 5 / 9, KEPT_DECIMALS)


def boxed_value(value: object, unit: str) -> str:
    """A kept value as its box shows it; nothing for none."""
    if value is None:
        return ""
    return boxed(cell_text(value) if isinstance(value, float | int) else str(value), unit)


def _decimal(text: str) -> Decimal | None:
    """A typed number with point or decimal comma; None where it is none, so that its reader says so."""
    plain = text.strip().replace("−", "-").replace("\u00a0", "").replace(" ", "")
    if plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    try:
        number = Decimal(plain)
    except InvalidOperation:
        return None
    return number if number.is_finite() and abs(number) < Decimal(10) ** 15 else None


def _plain(number: Decimal, decimals: int) -> str:
    text = f"{round(number, decimals):f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


# ---- what was said before ---------------------------------------------------------------------


def own_words(text: str) -> str:
    """A sentence kept in °C and K, told in the reader's unit: 12.0 K over its like parts.

    For sentences of ours (verdicts, problems, bands), never for what somebody wrote.
    """
    if not in_fahrenheit() or (CELSIUS not in text and KELVIN not in text):
        return text
    return _TOLD.sub(_told, text)


def own_title(text: str) -> str:
    """The title of a finding: one that was made of a temperature is ours, every other is its writer's."""
    return own_words(text) if text.startswith(f"{OFF_ROUND_TITLE}, ") else text


def _told(found: re.Match[str]) -> str:
    unit = found["unit"]
    numbers = found[0][: found.start("gap") - found.start()]

    def one(number: re.Match[str]) -> str:
        text = number[0].replace("−", "-")
        value = own_value(float(text), unit)
        decimals = max(len(text.partition(".")[2]), 0 if abs(value - round(value)) < 1e-9 else 1)
        told = f"{value:+.{decimals}f}" if text.startswith("+") else f"{value:.{decimals}f}"
        return told.replace("-", "−" if "−" in number[0] or "-" not in number[0] else "-")

    # a dash between two numbers parts them; it is no sign
    told = "–".join(re.sub(_NUMBER, one, part) for part in numbers.split("–"))
    return f"{told}{found['gap']}{FAHRENHEIT}"
