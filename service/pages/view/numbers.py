"""Numbers with their signs and units: kelvin, degrees, amps, shares; temperatures in the reader's unit."""

from service.pages.view.units import CELSIUS, KELVIN, own_unit, own_value, own_value_or_none

#: between a number and its unit, so that the two never part at a line's end
THIN = "\u00a0"
MINUS = "−"
NONE = "–"


def number(value: float | None, digits: int = 1) -> str:
    """11.4, with a true minus sign and never "−0.0"; a dash for nothing."""
    if value is None or value != value:
        return NONE
    text = f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def signed(value: float | None, digits: int = 1) -> str:
    """+0.9 or −0.9."""
    text = number(value, digits)
    return text if text == NONE or text.startswith(MINUS) or float(text) == 0 else f"+{text}"


def signed_kelvin(value: float | None, digits: int = 1) -> str:
    """A difference with its sign, under a header that names its unit."""
    return signed(own_value_or_none(value, KELVIN), digits)


def with_unit(value: float | None, unit: str, *, digits: int = 1) -> str:
    text = number(value, digits)
    return text if text == NONE else f"{text}{THIN}{unit}"


def own_number(value: float | None, unit: str, digits: int = 1) -> str:
    """A temperature (°C) or a difference (K) in the reader's unit, its word left to the header."""
    return number(own_value_or_none(value, unit), digits)


def own_with_unit(value: float | None, unit: str, digits: int = 1) -> str:
    """A number with its unit, both the reader's where it is a temperature or a difference."""
    return with_unit(own_value_or_none(value, unit), own_unit(unit), digits=digits)


def kelvin(value: float | None, digits: int = 1) -> str:
    """A difference: 10.0 K, or 18.0 °F."""
    return own_with_unit(value, KELVIN, digits)


def bare_kelvin(value: float | None, digits: int = 1) -> str:
    """A difference under a header that names its unit."""
    return own_number(value, KELVIN, digits)


def kelvin_range(low: float | None, high: float | None, digits: int = 1) -> str:
    if low is None or high is None:
        return NONE
    return f"{bare_kelvin(low, digits)} to {kelvin(high, digits)}"


def line_value(value: float | None, unit: str = KELVIN) -> str:
    """An action line as its source prints it: 15 K, 3.5 K; 27 °F for the first."""
    if value is None:
        return NONE
    own = own_value(float(value), unit)
    return with_unit(own, own_unit(unit), digits=0 if own.is_integer() else 1)


def celsius(value: float | None, digits: int = 1) -> str:
    """A temperature: 100.0 °C, or 212.0 °F."""
    return own_with_unit(value, CELSIUS, digits)


def bare_celsius(value: float | None, digits: int = 1) -> str:
    """A temperature under a header that names its unit."""
    return own_number(value, CELSIUS, digits)


def celsius_range(low: float | None, high: float | None, digits: int = 1) -> str:
    if low is None or high is None:
        return NONE
    return f"{bare_celsius(low, digits)} to {celsius(high, digits)}"


def plain_with_unit(value: float, unit: str) -> str:
    """A number as it was typed, 36.7 or 22, with its unit; both the reader's."""
    gap = f"{THIN}{own_unit(unit)}" if unit else ""
    return f"{own_value(value, unit):g}".replace("-", MINUS) + gap


def amps(value: float | None) -> str:
    return with_unit(value, "A", digits=0 if value is None or abs(value) >= 10 else 1)


def percent(ratio: float | None, digits: int = 0) -> str:
    """A share of one as per cent: 0.71 is 71 %."""
    return with_unit(None if ratio is None else ratio * 100, "%", digits=digits)


def thousands(value: int) -> str:
    """20 000 with a gap that does not break; four digits stay together."""
    return str(value) if abs(value) < 10_000 else f"{value:,}".replace(",", THIN)
