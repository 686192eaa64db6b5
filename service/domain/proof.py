"""Whether a repair is proven, still waits for its reading, or failed (design §2 *proven*)."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.domain.criteria import Criteria
from service.domain.verdicts import Verdict
from service.domain.words import FindingState, Level, PointKind

_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class ReadAgain:
    """One reading after the repair.

    ``upper_common_k`` is the upper bound of its rise at common load [K], once there is one.
    """

    when: datetime
    verdict: Verdict
    upper_common_k: float | None = None


@dataclass(frozen=True, slots=True)
class Proof:
    """How a repair stands.

    ``outcome`` is *repaired* (waits), *proven* or *not proven*; ``by`` the reading that
    decided. ``confirmed`` says that a later visit found nothing either. ``overdue`` is the
    mark on the Desk: no proving reading within ``proof_days``.
    """

    outcome: FindingState
    by: ReadAgain | None = None
    confirmed: bool = False
    overdue: bool = False
    sentence: str = ""


def prove(
    readings: Sequence[ReadAgain],
    *,
    repaired_at: datetime,
    now: datetime,
    load_of_finding: float | None,
    kind: PointKind,
    criteria: Criteria,
) -> Proof:
    """Judge a repair by the readings after it.

    Parameters
    ----------
    readings : sequence of ReadAgain
        In any order; those before the repair are left out.
    load_of_finding : float or None
        Load of the reading that opened the finding, share of common load; None where the
        part carries no current.

    Returns
    -------
    Proof
        *Proven* by the first reading that is Nothing found, clear of its line, at
        ``proof_load_share`` of the load of the finding or with its upper bound at common load
        under the first line; *not proven* by any reading that accuses, before it or at the
        next visit that could clear or accuses after it.
    """
    after = sorted((r for r in readings if r.when > repaired_at), key=lambda r: r.when)
    proving: ReadAgain | None = None
    for reading in after:
        if reading.verdict.level:
            told = "reads hot again after it was proven" if proving else "still accuses after the repair"
            return Proof(FindingState.NOT_PROVEN, reading, sentence=f"Not proven: {told}.")
        if proving is not None:
            if reading.verdict.clears:
                return Proof(FindingState.PROVEN, proving, confirmed=True, sentence="Proven and confirmed.")
        elif _proves(reading, load_of_finding=load_of_finding, kind=kind, criteria=criteria):
            proving = reading
    if proving is not None:
        return Proof(FindingState.PROVEN, proving, sentence="Proven; the next round confirms or reopens it.")
    return _waits(repaired_at, now, load_of_finding=load_of_finding, criteria=criteria)


def _proves(
    reading: ReadAgain, *, load_of_finding: float | None, kind: PointKind, criteria: Criteria
) -> bool:
    verdict = reading.verdict
    if verdict.level is not Level.NOTHING_FOUND or not verdict.clears:
        return False
    if load_of_finding is None:
        return True
    needed = criteria.proof_load_share * load_of_finding
    if verdict.load_ratio is not None and verdict.load_ratio >= needed - _SLACK:
        return True
    if reading.upper_common_k is None or verdict.reference is None:
        return False
    line = criteria.first_line(verdict.reference, kind)
    return line is not None and reading.upper_common_k < line


def _waits(
    repaired_at: datetime, now: datetime, *, load_of_finding: float | None, criteria: Criteria
) -> Proof:
    overdue = now - repaired_at > timedelta(days=criteria.proof_days)
    at = (
        ""
        if load_of_finding is None
        else f" at {100 * criteria.proof_load_share * load_of_finding:.0f} % load or more"
    )
    late = f"; none within {criteria.proof_days} days" if overdue else ""
    return Proof(
        FindingState.REPAIRED, overdue=overdue, sentence=f"Waits for a reading that finds nothing{at}{late}."
    )
