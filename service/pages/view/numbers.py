"""Numbers with their signs and units: kelvin, degrees, amps, shares."""

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


def with_unit(value: float | None, unit: str, *, digits: int = 1) -> str:
    text = number(value, digits)
    return text if text == NONE else f"{text}{THIN}{unit}"


def kelvin(value: float | None, digits: int = 1) -> str:
    return with_unit(value, "K", digits=digits)


def kelvin_range(low: float | None, high: float | None, digits: int = 1) -> str:
    if low is None or high is None:
        return NONE
    return f"{number(low, digits)} to {number(high, digits)}{THIN}K"


def line_value(value: float | None) -> str:
    """An action line as its source prints it: 15 K, 3.5 K."""
    if value is None:
        return NONE
    return kelvin(value, 0 if float(value).is_integer() else 1)


def celsius(value: float | None, digits: int = 1) -> str:
    return with_unit(value, "°C", digits=digits)


def amps(value: float | None) -> str:
    return with_unit(value, "A", digits=0 if value is None or abs(value) >= 10 else 1)


def percent(ratio: float | None, digits: int = 0) -> str:
    """A share of one as per cent: 0.71 is 71 %."""
    return with_unit(None if ratio is None else ratio * 100, "%", digits=digits)


def thousands(value: int) -> str:
    """20 000 with a gap that does not break; four digits stay together."""
    return str(value) if abs(value) < 10_000 else f"{value:,}".replace(",", THIN)
