"""What a re-evaluation is about, in words, and what it may be narrowed to."""

from dataclasses import dataclass

from service.domain.words import PointKind, ReevaluationTarget


@dataclass(frozen=True, slots=True)
class TargetFacts:
    """A reading, point, round or site, with how many readings stand there and what they are of.

    ``reading_uid`` is that of a reading, ``round_id`` that of a round; ``zone`` is the clock on
    which days are told.
    """

    target: ReevaluationTarget
    target_id: int
    title: str
    readings: int
    kinds: tuple[PointKind, ...]
    coatings: tuple[str, ...]
    zone: str
    href: str
    sets: tuple[tuple[int, str], ...] = ()

    @property
    def of_many(self) -> bool:
        """Whether it can be narrowed to some of its points."""
        return self.target in (ReevaluationTarget.ROUND, ReevaluationTarget.SITE)

    @property
    def lasts(self) -> bool:
        """Whether the register may take the new numbers for later visits too."""
        return self.target in (ReevaluationTarget.POINT, ReevaluationTarget.SITE)
