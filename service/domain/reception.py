"""What came back of a round: read, not read and why, odd, worse than foretold, above Nothing found."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from service.domain.foretold import Worse
from service.domain.questions import RoundQuestion
from service.domain.reports import CouldHaveMissed, ReportedPoint, could_have_missed
from service.domain.spoken_notes import SpokenNote
from service.domain.words import Reason

#: a clock that is further off than this is told [s] (own judgement, no source: pictures and readings
#: are matched within minutes)
MOST_SKEW_S = 120.0
#: load share under which a fault of 1 K at common load is a third of it or less: (1/0.57)² ≈ 3
LOW_LOAD = 0.57
#: above this wind nothing can be said of what was hidden [m/s] (the physics of it has the same line)
CALM_M_S = 1.0
#: emissivity under which a part shows half of its rise or less
LOW_EMISSIVITY = 0.5


@dataclass(frozen=True, slots=True)
class Oddness:
    """One thing to look at again in a row of the round; ``row_uid`` empty: of the round as a whole."""

    row_uid: str
    sentence: str


@dataclass(frozen=True, slots=True)
class CameBack:
    """One row of the round as it came back."""

    row_uid: str
    stop_id: int
    point: ReportedPoint
    odd: tuple[str, ...] = ()
    worse: Worse | None = None
    foretold: bool = False
    spoken: tuple[SpokenNote, ...] = ()

    @property
    def missing(self) -> bool:
        return not self.point.read and self.point.reason is None

    @property
    def not_read(self) -> bool:
        return self.point.reason is not None


@dataclass(frozen=True, slots=True)
class Counts:
    """How many rows of a stop, or of the round, are what."""

    rows: int = 0
    read: int = 0
    reasons: Mapping[Reason, int] = field(default_factory=dict)
    missing: int = 0
    odd: int = 0
    worse: int = 0
    above: int = 0

    @property
    def not_read(self) -> int:
        return sum(self.reasons.values())

    @property
    def letters(self) -> str:
        """K 2, O 1: the reason letters with their counts, in their order."""
        return ", ".join(
            f"{reason.value} {self.reasons[reason]}" for reason in Reason if reason in self.reasons
        )


def counts_of(rows: Iterable[CameBack]) -> Counts:
    several = list(rows)
    return Counts(
        rows=len(several),
        read=sum(row.point.read for row in several),
        reasons=Counter(row.point.reason for row in several if row.point.reason is not None),
        missing=sum(row.missing for row in several),
        odd=sum(bool(row.odd) for row in several),
        worse=sum(row.worse is not None for row in several),
        above=sum(row.point.read and row.point.above for row in several),
    )


@dataclass(frozen=True, slots=True)
class Hidden:
    """Why clean readings of the round would hide a fault: a reason and how many of them have it."""

    words: str
    count: int


def why_hidden(rows: Sequence[CameBack], spots: Mapping[int, Sequence[str]]) -> tuple[Hidden, ...]:
    """Reasons for which clean readings would have hidden more, the commonest first.

    Parameters
    ----------
    rows : sequence of CameBack
        All rows of the round; those that accuse nobody are looked at.
    spots : mapping of int to sequence of str
        By stop what is wrong with its distances for the lens that was used.
    """
    clean = [row for row in rows if row.point.read and not row.point.above]
    found: Counter[str] = Counter()
    for row in clean:
        found.update(_reasons(row.point, far=bool(spots.get(row.stop_id))))
    return tuple(Hidden(words, count) for words, count in found.most_common())


def _reasons(point: ReportedPoint, *, far: bool) -> list[str]:
    told = []
    if point.load_ratio is None and point.common_load_a is not None:
        told.append("the load is not known")
    elif point.load_ratio is not None and point.load_ratio < LOW_LOAD:
        told.append(f"load under {100 * LOW_LOAD:.0f} % of common load")
    if point.wind_m_s is not None and point.wind_m_s > CALM_M_S:
        told.append(f"wind over {CALM_M_S:g} m/s")
    if far:
        told.append("the spot of the lens is not filled at that stop")
    if point.emissivity is not None and point.emissivity < LOW_EMISSIVITY:
        told.append(f"emissivity under {LOW_EMISSIVITY:g}")
    if point.window_transmission is not None:
        told.append("read through a window")
    return told


@dataclass(frozen=True, slots=True)
class Reception:
    """A round as it came back, row by row in walking order; ``of_round`` is odd about all of it."""

    rows: tuple[CameBack, ...]
    of_round: tuple[str, ...] = ()
    questions: tuple[RoundQuestion, ...] = ()
    hidden: tuple[Hidden, ...] = ()
    scans: int = 0
    #: notes spoken to a stop as a whole; those to a row are with their row
    spoken: tuple[SpokenNote, ...] = ()

    @property
    def counts(self) -> Counts:
        return counts_of(self.rows)

    def of_stop(self, stop_id: int) -> tuple[CameBack, ...]:
        return tuple(row for row in self.rows if row.stop_id == stop_id)

    @property
    def notes(self) -> int:
        """Spoken notes, to rows and to stops."""
        return len(self.spoken) + sum(len(row.spoken) for row in self.rows)

    @property
    def open_questions(self) -> int:
        return sum(question.open for question in self.questions)

    @property
    def missed(self) -> CouldHaveMissed:
        return could_have_missed(row.point for row in self.rows)

    @property
    def foretold(self) -> int:
        """Read rows of which something had been foretold."""
        return sum(row.foretold and row.point.read for row in self.rows)
