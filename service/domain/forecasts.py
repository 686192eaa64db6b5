"""The weather that somebody expects at a site on a day, and whether outdoor readings could clear in it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

#: Wind above which an outdoor reading can accuse and not clear [m/s]: common practice, no source.
MOST_WIND_M_S = 5.0
#: Rain above which nothing outdoors is read [mm in the day]: wet surfaces, common practice, no source.
MOST_RAIN_MM = 0.0


@dataclass(frozen=True, slots=True)
class Forecast:
    """As typed; ``unfit`` is the word of whoever typed it, whatever wind and rain are."""

    site_id: int
    day: date
    words: str = ""
    wind_m_s: float | None = None
    rain_mm: float | None = None
    unfit: bool = False

    @property
    def why_unfit(self) -> str:
        """Why outdoor readings could not clear that day; empty when they could."""
        told = []
        if self.rain_mm is not None and self.rain_mm > MOST_RAIN_MM:
            told.append(f"rain, {self.rain_mm:g} mm")
        if self.wind_m_s is not None and self.wind_m_s > MOST_WIND_M_S:
            told.append(f"wind, {self.wind_m_s:g} m/s")
        if self.unfit:
            told.append(self.words or "said to be unfit")
        return " and ".join(told)

    @property
    def said(self) -> str:
        """In a clause: as typed, with its figures."""
        figures = [
            f"wind {self.wind_m_s:g} m/s" if self.wind_m_s is not None else "",
            f"rain {self.rain_mm:g} mm" if self.rain_mm is not None else "",
        ]
        return ", ".join(part for part in (self.words, *figures) if part)


def unfit_at(forecasts: Iterable[Forecast]) -> dict[tuple[int, date], Forecast]:
    """By site and day the forecasts in which outdoor readings could not clear."""
    return {(one.site_id, one.day): one for one in forecasts if one.why_unfit}
