"""What looks wrong in a returned row, held against the point's own past: asked about, never refused."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from statistics import median
from typing import Protocol

from service.domain.day_words import day_words

#: A value this far outside all that was seen before may have slipped a digit [K].
FAR_OUTSIDE_K = 15.0
#: The mended value must lie this close to what was seen before [K].
CLOSE_K = 8.0
#: Air may read this much above the part before anybody is asked [K].
AIR_ABOVE_K = 1.0
#: Currents of one view differ by more than this share of the largest: said first (standards §1a.5).
UNEQUAL_SHARE = 0.10
#: Temperatures of a part and of the air that nothing in the point's past explains [°C].
LIKELY_C = (-40.0, 250.0)
LIKELY_AIR_C = (-35.0, 60.0)
#: Rows with a past that a file needs before its unit is doubted, and the share that must agree.
LEAST_ROWS_FOR_UNIT = 3
SHARE_FOR_UNIT = 0.8

#: What a slipped sign did to the true value, and how it is told.
_SLIPS = (
    (0.1, "ten times"),
    (10.0, "a tenth of"),
    (0.01, "a hundred times"),
    (100.0, "a hundredth of"),
)


class OddityCode(StrEnum):
    DIGIT_SLIP = "digit slip"
    FAHRENHEIT = "degrees Fahrenheit"
    ABOVE_RATING = "load above rating"
    OUTSIDE_ROUND = "date outside the round"
    COPIED = "copied from last time"
    UNEQUAL_CURRENTS = "unequal currents"
    AIR_ABOVE_PART = "air hotter than the part"
    UNLIKELY = "unlikely temperature"
    EMISSIVITY = "unlikely emissivity"
    REFLECTED = "reflected far from the air"
    END_OF_RANGE = "end of the instrument's range"
    SPOT = "spot not filled"
    WINDOW = "window not described"
    CALIBRATION_OVERDUE = "calibration overdue"


@dataclass(frozen=True, slots=True)
class Oddity:
    """One thing to look at again: the field it is in, what is odd, and what to do."""

    code: OddityCode
    field: str
    sentence: str
    remedy: str


class Typed(Protocol):
    """What is looked at in a returned row."""

    @property
    def temperature_c(self) -> float | None: ...
    @property
    def ambient_c(self) -> float | None: ...
    @property
    def current_a(self) -> float | None: ...


@dataclass(frozen=True, slots=True)
class PointPast:
    """What a point showed before [°C]: how often, lowest, middle, highest and last."""

    count: int
    low_c: float
    middle_c: float
    high_c: float
    last_c: float

    @classmethod
    def of(cls, temperatures_c: Sequence[float]) -> "PointPast | None":
        """Sum up earlier temperatures, oldest first; None where there are none."""
        if not temperatures_c:
            return None
        return cls(
            len(temperatures_c),
            min(temperatures_c),
            float(median(temperatures_c)),
            max(temperatures_c),
            temperatures_c[-1],
        )


def odd_in_row(row: Typed, past: PointPast | None, *, rated_current_a: float | None) -> list[Oddity]:
    """What looks wrong in one row by itself and against the point's past.

    Parameters
    ----------
    row : Typed
        The row; fields that are None are not looked at.
    past : PointPast or None
        The point's earlier temperatures.
    rated_current_a : float or None
        Rated current of the equipment [A].

    Returns
    -------
    list of Oddity
        Empty for an ordinary row.

    Notes
    -----
    All figures here are own judgement, no source; they only decide whether somebody is asked.
    """
    found: list[Oddity] = []
    temperature, ambient, current = row.temperature_c, row.ambient_c, row.current_a
    if temperature is not None:
        odd = _slip(temperature, past) or _unlikely(temperature, past)
        if odd is not None:
            found.append(odd)
    if ambient is not None:
        if not LIKELY_AIR_C[0] <= ambient <= LIKELY_AIR_C[1]:
            found.append(_unlikely_air(ambient))
        elif temperature is not None and ambient > temperature + AIR_ABOVE_K:
            found.append(_air_above(ambient, temperature))
    if current is not None and rated_current_a and current > rated_current_a:
        found.append(_above_rating(current, rated_current_a))
    return found


def odd_date(taken_on: date, *, first_day: date, last_day: date) -> Oddity | None:
    """Ask about a reading dated before its round was issued or after today.

    Parameters
    ----------
    taken_on : date
        Day of the reading on the site's clock.
    first_day, last_day : date
        First day on which the round could be walked, and the last, today at the latest.

    Returns
    -------
    Oddity or None
    """
    if first_day <= taken_on <= last_day:
        return None
    side = "before" if taken_on < first_day else "after"
    bound = first_day if taken_on < first_day else last_day
    return Oddity(
        OddityCode.OUTSIDE_ROUND,
        "taken_at",
        f"Taken on {day_words(taken_on)}, {side} {day_words(bound)}: outside the round.",
        "Check day, month and year, and the clock of the instrument.",
    )


def odd_in_view(
    temperatures_c: Sequence[float | None],
    last_c: Sequence[float | None],
    *,
    currents_a: Sequence[float | None] = (),
) -> list[Oddity]:
    """What looks wrong in a view as a whole: its like parts side by side.

    Parameters
    ----------
    temperatures_c, last_c : sequence of float or None
        Of every part of the view, now and on the last visit, in the same order [°C].
    currents_a : sequence of float or None
        Of every phase, without the neutral [A].

    Returns
    -------
    list of Oddity
    """
    found = []
    if _copied(temperatures_c, last_c):
        shown = ", ".join(f"{_figure(value)} °C" for value in temperatures_c if value is not None)
        found.append(
            Oddity(
                OddityCode.COPIED,
                "temperature_c",
                f"All as last time: {shown}.",
                "Make sure that they were read on this visit and not copied.",
            )
        )
    currents = [current for current in currents_a if current is not None]
    most = max(currents, default=0.0)
    if len(currents) > 1 and most > 0:
        share = (most - min(currents)) / most
        if share > UNEQUAL_SHARE + 1e-9:
            shown = ", ".join(_figure(current) for current in currents)
            found.append(
                Oddity(
                    OddityCode.UNEQUAL_CURRENTS,
                    "current_a",
                    f"Phase currents differ by {100 * share:.0f} %: {shown} A.",
                    "Look for unequal load before a bad joint; check that each current stands at its own phase.",
                )
            )
    return found


def fahrenheit_in_file(typed_and_usual_c: Sequence[tuple[float, float]]) -> Oddity | None:
    """Ask once for a whole file whether its temperatures are degrees Fahrenheit.

    Parameters
    ----------
    typed_and_usual_c : sequence of (float, float)
        For every row with a past: the typed figure, and the middle of the point's earlier
        temperatures [°C].

    Returns
    -------
    Oddity or None
        When at least four in five of three or more rows fit the past once converted, and do not
        as they stand.

    Examples
    --------
    >>> fahrenheit_in_file([(97.0, 36.0), (104.0, 41.5), (92.0, 33.0)]).code.value
    'degrees Fahrenheit'
    """
    rows = len(typed_and_usual_c)
    fits = sum(
        abs(typed - usual) > FAR_OUTSIDE_K and abs((typed - 32.0) / 1.8 - usual) <= CLOSE_K
        for typed, usual in typed_and_usual_c
    )
    if rows < LEAST_ROWS_FOR_UNIT or fits < SHARE_FOR_UNIT * rows:
        return None
    typed, usual = (median(column) for column in zip(*typed_and_usual_c, strict=True))
    return Oddity(
        OddityCode.FAHRENHEIT,
        "temperature_c",
        f"{fits} of {rows} temperatures look like degrees Fahrenheit: "
        f"half of them are above {_figure(typed)} °C, where {_figure(usual)} °C is usual.",
        "If the instrument was set to °F, set the unit of the file to °F and upload it again.",
    )


def _slip(temperature: float, past: PointPast | None) -> Oddity | None:
    if past is None:
        return None
    low, high = past.low_c, past.high_c
    if low - FAR_OUTSIDE_K <= temperature <= high + FAR_OUTSIDE_K:
        return None
    for factor, words in _SLIPS:
        mended = temperature * factor
        if low - CLOSE_K <= mended <= high + CLOSE_K:
            return Oddity(
                OddityCode.DIGIT_SLIP,
                "temperature_c",
                f"{_figure(temperature)} °C is {words} what this point usually shows "
                f"({_figure(past.middle_c)} °C): was it {_figure(mended)} °C?",
                "Check the decimal sign; keep the figure if the instrument did show it.",
            )
    return None


def _unlikely(temperature: float, past: PointPast | None) -> Oddity | None:
    low, high = LIKELY_C
    if past is not None:
        low, high = min(low, past.low_c - FAR_OUTSIDE_K), max(high, past.high_c + FAR_OUTSIDE_K)
    if low <= temperature <= high:
        return None
    word = "low" if temperature < low else "high"
    act = "" if temperature < low else ", and tell control at once"
    return Oddity(
        OddityCode.UNLIKELY,
        "temperature_c",
        f"{_figure(temperature)} °C is unlikely {word} for this point.",
        f"Check figure and unit; keep it if the instrument did show it{act}.",
    )


def _unlikely_air(ambient: float) -> Oddity:
    return Oddity(
        OddityCode.UNLIKELY,
        "ambient_c",
        f"{_figure(ambient)} °C is an unlikely air temperature.",
        "Check figure and unit.",
    )


def _air_above(ambient: float, temperature: float) -> Oddity:
    return Oddity(
        OddityCode.AIR_ABOVE_PART,
        "ambient_c",
        f"The air at {_figure(ambient)} °C is hotter than the part at {_figure(temperature)} °C.",
        "Check that the two are not exchanged and that the air was measured near the part.",
    )


def _above_rating(current: float, rated: float) -> Oddity:
    return Oddity(
        OddityCode.ABOVE_RATING,
        "current_a",
        f"{_figure(current)} A is above the rated {_figure(rated)} A.",
        "Check figure and unit; keep it if the meter did show it.",
    )


def _copied(now: Sequence[float | None], last: Sequence[float | None]) -> bool:
    """Two parts at least, every one read now and then, and not one tenth changed."""
    return len(now) > 1 and all(
        a is not None and b is not None and abs(a - b) < 1e-9 for a, b in zip(now, last, strict=True)
    )


def _figure(value: float) -> str:
    """A figure as people write it: no more decimals than were typed, two at most."""
    return f"{value:.2f}".rstrip("0").rstrip(".")
