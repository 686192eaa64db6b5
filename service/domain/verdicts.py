"""What one reading says: band, level, reference and the rule that decided."""

from dataclasses import dataclass

from service.domain.words import Level, ReferenceKind


@dataclass(frozen=True, slots=True)
class Verdict:
    """Outcome of judging one reading (standards.md §1a).

    ``level`` is None for *No verdict*. ``clears`` is true only when the reading may stand as
    proof of nothing found (full conditions, not near a line). ``trended`` says whether the
    value may enter the series of ``reference``. ``value_k`` is the deciding rise as measured,
    ``common_k`` the same at common load (None where scaling is refused). ``rule`` is a short
    code such as "1a.2 similar" and ``sentence`` says it in plain words. U and chances per
    level stay None until the uncertainty budget fills them.
    """

    point_id: int
    level: Level | None
    band: Level | None
    at_least: bool
    near_line: bool
    clears: bool
    trended: bool
    reference: ReferenceKind | None
    value_k: float | None
    common_k: float | None
    rise_air_k: float | None
    load_ratio: float | None
    share_of_rated: float | None
    over_first_line: bool
    rule: str
    sentence: str
    published_band: str = ""
    source: str = ""
    cold: bool = False
    unequal_load: bool = False
    members: tuple[int, ...] = ()
    u_k: float | None = None
    chances: tuple[float, ...] | None = None

    @property
    def could_clear(self) -> bool:
        """The conditions would have let the reading clear: its level may lower a standing.

        A cold part shows another fault; it says nothing about an earlier hot one.
        """
        return self.level is not None and not self.at_least and not self.cold
