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
    code such as "1a.2 similar" and ``sentence`` says it in plain words. ``u_k`` is the standard
    uncertainty of ``value_k``, ``u_common_k`` and the interval of 95 % those of ``common_k``;
    ``chances`` are the chances of the five levels by the value as measured. All are None where
    there is no budget. ``smallest_fault_k`` is the smallest fault at common load that this
    reading would have shown; None where that cannot be said.
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
    u_common_k: float | None = None
    common_low_k: float | None = None
    common_high_k: float | None = None
    smallest_fault_k: float | None = None
    cautions: tuple[str, ...] = ()

    @property
    def could_clear(self) -> bool:
        """The conditions would have let the reading clear: its level may lower a standing.

        A cold part shows another fault; it says nothing about an earlier hot one.
        """
        return self.level is not None and not self.at_least and not self.cold

    def chance_from(self, level: Level) -> float | None:
        """Chance that the level is this one or a graver one; None without a budget."""
        return None if self.chances is None else sum(self.chances[level:])

    def still_possible(self, chance: float) -> Level | None:
        """The gravest level whose chance, with all graver ones, is more than this; None without a budget."""
        if self.chances is None:
            return None
        return next((level for level in reversed(Level) if sum(self.chances[level:]) > chance), None)
