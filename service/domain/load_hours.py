"""Hours in which equipment usually carries its load, from the text people type."""

import re
from dataclasses import dataclass
from itertools import pairwise

from service.domain.cells import shown
from service.errors import Problem

_WEEK = {name.lower(): name for name in ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")}
DAYS = tuple(_WEEK)
MIDNIGHT = 24 * 60
REMEDY = 'Write days and times like "mon-fri 07:00-11:30; sat 08:00-12:00".'

Window = tuple[int, int]

_CLOCK = r"(\d{1,2}):(\d{2})"
_TIMES = re.compile(rf"{_CLOCK}\s*(?:-|to)\s*{_CLOCK}")
_SPAN = re.compile(rf"(\d|{'|'.join(_WEEK.values())})\s*-\s*(?=\d|{'|'.join(_WEEK.values())})")
_PART = re.compile(r"(?P<days>[a-z,\s-]*?)\s*(?P<times>\d.*)?")


@dataclass(frozen=True, slots=True)
class LoadHours:
    """Windows per weekday in minutes after midnight on the site's clock, Monday first.

    Windows are in order and never touch; a night shift is cut at midnight.
    """

    by_day: tuple[tuple[Window, ...], ...]

    def on(self, weekday: int) -> tuple[Window, ...]:
        """Windows of a weekday, 0 being Monday (as ``date.weekday`` counts)."""
        return self.by_day[weekday]

    def covers(self, weekday: int, start_min: float, end_min: float) -> bool:
        """True when the whole stay lies in one window."""
        return any(low <= start_min and end_min <= high for low, high in self.by_day[weekday])


def parse_load_hours(text: str) -> LoadHours | None:
    """Windows from a text; None for an empty one, which says that the hours are not known.

    Parts are separated by ``;``. Each has days ("mon-fri", "sat,sun", "daily") and one or more
    times separated by commas; a part without days keeps those of the part before, the first one
    then means every day. "24:00" is the end of a day and 22:00-06:00 runs into the next one.

    Parameters
    ----------
    text : str
        As typed in the register.

    Raises
    ------
    ValueError
        With one sentence that says which piece is not understood.

    Examples
    --------
    >>> hours = parse_load_hours("mon-fri 07:00-11:30; 13:15-15:00")
    >>> hours.on(0), hours.on(6)
    (((420, 690), (795, 900)), ())
    """
    if not text.strip():
        return None
    windows: list[list[Window]] = [[] for _ in DAYS]
    days: tuple[int, ...] = tuple(range(7))
    for part in text.casefold().replace("–", "-").replace("−", "-").split(";"):
        piece = part.strip()
        if not piece:
            continue
        found = _PART.fullmatch(piece)
        if found is None or not found["times"]:
            raise ValueError(f'"{shown(piece)}" has no times.')
        if found["days"].strip():
            days = _days(found["days"])
        for low, high in _times(found["times"]):
            for day in days:
                windows[day].append((low, min(high, MIDNIGHT)))
                if high > MIDNIGHT:
                    windows[(day + 1) % 7].append((0, high - MIDNIGHT))
    return LoadHours(tuple(_merged(day) for day in windows))


def understood_hours(text: str) -> LoadHours | None:
    """Windows from a text of the register; one that is not understood says nothing, like an empty one."""
    try:
        return parse_load_hours(text)
    except ValueError:
        return None


def load_hours_words(text: str) -> str:
    """Load hours as people say them; what is written otherwise stays.

    Examples
    --------
    >>> load_hours_words("mon-fri 07:00-11:30")
    'Mon to Fri 07:00 to 11:30'
    """
    spoken = "".join(_WEEK.get(word, word) for word in re.split(r"([A-Za-z]+)", text))
    return _SPAN.sub(r"\1 to ", spoken).replace("daily", "every day")


def _days(words: str) -> tuple[int, ...]:
    found: list[int] = []
    for word in re.split(r"\s*,\s*|\s+", re.sub(r"\s*-\s*", "-", words.strip().strip(","))):
        if word in ("daily", "every", "day", "always"):
            found.extend(range(7))
            continue
        first, _, last = word.partition("-")
        start, end = _day(first), _day(last or first)
        found.extend((start + step) % 7 for step in range((end - start) % 7 + 1))
    return tuple(dict.fromkeys(found))


def _day(word: str) -> int:
    short = word[:3]
    full = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
    if short in DAYS and full[DAYS.index(short)].startswith(word):
        return DAYS.index(short)
    raise ValueError(f'"{shown(word)}" is not a day.')


def _times(text: str) -> list[Window]:
    windows = []
    for piece in text.split(","):
        found = _TIMES.fullmatch(piece.strip())
        if found is None:
            raise ValueError(f'"{shown(piece.strip())}" is not a time from and to.')
        h1, m1, h2, m2 = (int(digits) for digits in found.groups())
        low, high = 60 * h1 + m1, 60 * h2 + m2
        if m1 > 59 or m2 > 59 or low >= MIDNIGHT or high > MIDNIGHT:
            raise ValueError(f'"{shown(piece.strip())}" is not on the clock.')
        if low == high:
            raise ValueError(f'"{shown(piece.strip())}" is no time at all; all day is 00:00-24:00.')
        windows.append((low, high if high > low else high + MIDNIGHT))
    return windows


def _merged(windows: list[Window]) -> tuple[Window, ...]:
    kept: list[Window] = []
    for low, high in sorted(windows):
        if kept and low <= kept[-1][1]:
            kept[-1] = (kept[-1][0], max(high, kept[-1][1]))
        elif high > low:
            kept.append((low, high))
    assert all(a[1] < b[0] for a, b in pairwise(kept))
    return tuple(kept)


def load_hours_problem(text: str, *, where: str, field: str) -> Problem | None:
    """The problem with a text, or None when it is understood."""
    try:
        parse_load_hours(text)
    except ValueError as error:
        return Problem(where, field, shown(text), f"Load hours: {error}", REMEDY)
    return None
