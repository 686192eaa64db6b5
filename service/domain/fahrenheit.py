"""Temperatures that were typed in °F, as they are kept."""


def kept_celsius(fahrenheit: float) -> float:
    """In °C to the fourth decimal, so that what was typed comes back as it was typed.

    >>> kept_celsius(104.0)
    40.0
    """
    return round((fahrenheit - 32.0) / 1.8, 4)
