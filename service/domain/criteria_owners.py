"""Whose a set of criteria is: shipped, of the house, or of one client; read from its name."""

import re
import unicodedata
from collections.abc import Collection
from datetime import date

from service.domain.presets import PRESETS

#: A set that is valid from this day on is switched off.
NEVER = date.max
_OF_CLIENT = re.compile(r"c(\d{1,18})-")
_HOUSE = "house-"
_LONGEST_SLUG = 60


def new_name(title: str, *, client_id: int | None, taken: Collection[str]) -> str:
    """A name for a new set of a client, or of the house where there is none; never one of ``taken``.

    Examples
    --------
    >>> new_name("Own motor rules, 2026", client_id=7, taken=())
    'c7-own-motor-rules-2026'
    >>> new_name("Own", client_id=None, taken={"house-own"})
    'house-own-2'
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:_LONGEST_SLUG].rstrip("-") or "set"
    name = f"{_HOUSE if client_id is None else f'c{client_id}-'}{slug}"
    number, told = 2, name
    while told in taken or told in PRESETS:
        told, number = f"{name}-{number}", number + 1
    return told


def client_of(name: str) -> int | None:
    """The client whose set this is; None for presets, which everybody may use."""
    found = _OF_CLIENT.match(name)
    return int(found[1]) if found else None


def is_shipped(name: str) -> bool:
    """Whether the set came with the service: it is never edited, only copied."""
    return name in PRESETS
