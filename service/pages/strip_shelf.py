"""Strips drawn before, kept as long as nothing shown of their site has changed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from weakref import WeakKeyDictionary

from markupsafe import Markup

from service.charts.strips import Strip, strip_lines
from service.domain.overview import SiteCount, Strokes
from service.domain.words import Level
from service.pages.view import counted, level_word, listed
from service.storage.unit import Store

#: points on one line of a strip
PER_LINE = 180


@dataclass(frozen=True, slots=True)
class _Mark:
    """What a drawn strip stands on: it is good only as long as all of this is the same."""

    data_version: int
    points: int


@dataclass(slots=True)
class StripShelf:
    """Strips by site and scale; ``day`` matters because a repair leaves the drawing after a year.

    Whoever sees other sites may have another scale: their strips stand side by side here, so that
    two people never make each other's be drawn again.
    """

    day: date
    kept: dict[tuple[int, int], tuple[_Mark, Markup]] = field(default_factory=dict)

    def stale(self, sites: Sequence[SiteCount]) -> list[int]:
        """Sites whose strip must be drawn (again)."""
        scale = common_scale(sites)
        return [site.site_id for site in sites if not self._is_fresh(site, scale)]

    def _is_fresh(self, site: SiteCount, scale: int) -> bool:
        mark, _ = self.kept.get((site.site_id, scale), (None, Markup()))
        return mark == _mark(site)

    def draw(self, sites: Sequence[SiteCount], strokes: Mapping[int, Strokes]) -> dict[int, Markup]:
        """Every site's strip: drawn from its strokes where given, else the one kept.

        One kept may by now be newer than the counts of this page, when somebody else has drawn it
        after a change: it is shown all the same.
        """
        scale = common_scale(sites)
        for site in sites:
            if site.site_id in strokes:
                strip = strip_lines(
                    as_strip(site.name, strokes[site.site_id]),
                    scale=scale,
                    label=said(site, pending=int(strokes[site.site_id].pending.sum())),
                    per_line=PER_LINE,
                )
                self.kept[site.site_id, scale] = (_mark(site), strip)
        blank = (None, Markup())
        return {site.site_id: self.kept.get((site.site_id, scale), blank)[1] for site in sites}


_SHELVES: WeakKeyDictionary[Store, StripShelf] = WeakKeyDictionary()


def shelf_of(store: Store, day: date) -> StripShelf:
    """The shelf shared by everybody who sees all points of their sites; emptied every day."""
    shelf = _SHELVES.get(store)
    if shelf is None or shelf.day != day:
        shelf = _SHELVES[store] = StripShelf(day)
    return shelf


def common_scale(sites: Sequence[SiteCount]) -> int:
    """Points that fill the width: those of the largest site, so that sites compare in size."""
    return max((site.points for site in sites), default=1) or 1


def as_strip(name: str, strokes: Strokes) -> Strip:
    return Strip(
        name=name,
        point_ids=strokes.point_ids,
        levels=strokes.levels,
        now=strokes.now,
        then=strokes.then,
        steady=strokes.steady,
        repaired=strokes.repaired,
        pending=strokes.pending,
        names=strokes.names,
    )


def said(site: SiteCount, *, pending: int = 0) -> str:
    """Highbeck works: 92 points; 1 Act now and 3 Look again. 12 trends are being worked out."""
    above = [
        f"{site.levels[level]} {level_word(level)}"
        for level in reversed(Level)
        if level and site.levels[level]
    ]
    words = f"{site.name}: {counted(site.points, 'point')}; {listed(above) or 'nothing above Nothing found'}."
    return f"{words} {pending_words(pending)}".rstrip()


def pending_words(count: int) -> str:
    """Twelve trends are being worked out; empty where none is."""
    if not count:
        return ""
    return f"{counted(count, 'trend')} {'is' if count == 1 else 'are'} being worked out."


def _mark(site: SiteCount) -> _Mark:
    return _Mark(site.data_version, site.points)
