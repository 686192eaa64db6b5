"""Covers that a round opens, and how long dressing for each takes."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from service.domain.words import Access

#: Minutes to dress, open and close again, by how a board is reached: the protective equipment that
#: the label or the permit names, bolts out and in (own rule, no source; the site's own habit goes
#: before it). The one place where they stand.
DRESSING_MIN: dict[Access, int] = {
    Access.CLOSED_FRONT: 0,
    Access.WINDOW: 0,
    Access.HINGED_COVER: 10,
    Access.BOLTED_COVER: 20,
}
RULE = "own rule, no source"


@dataclass(frozen=True, slots=True)
class CoverCount:
    """How many boards are read how: each stop counts once."""

    by_access: tuple[tuple[Access, int], ...]

    @property
    def opened(self) -> int:
        return sum(count for access, count in self.by_access if access.behind_cover)

    @property
    def dressing_min(self) -> int:
        return sum(count * DRESSING_MIN[access] for access, count in self.by_access)


@dataclass(frozen=True, slots=True)
class SiteCovers:
    """Covers opened at a site so far this year, by the access on record today."""

    site_name: str
    count: CoverCount


def count_covers(accesses: Iterable[Access]) -> CoverCount:
    """Count stops by how they are reached, in the order of the register's words."""
    counted = Counter(accesses)
    return CoverCount(tuple((access, counted[access]) for access in Access if counted[access]))
