"""After readings came in: which repairs are proven by them, and which are not."""

from collections.abc import Iterable
from datetime import datetime

from service.domain.findings import Finding
from service.domain.proof import Proof, ReadAgain, prove
from service.domain.words import FindingState
from service.storage import assessments, criteria
from service.storage import finding_subjects as subjects
from service.storage import findings as kept
from service.storage.assessments import StoredVerdict
from service.storage.unit import Unit

CONFIRMED = "confirmed"


def after_readings(unit: Unit, point_ids: Iterable[int], *, now: datetime) -> tuple[int, ...]:
    """Judge every repair of these points that waits for its reading, in the caller's transaction.

    Returns
    -------
    tuple of int
        Findings that moved: to *proven* (the standing starts anew) or *not proven* (attempt
        k ends and k + 1 opens); a proven one whose next visit accuses is reopened likewise.
    """
    waiting = kept.awaiting_proof(unit, point_ids)
    if not waiting:
        return ()
    verdicts = assessments.standing_verdicts(unit, waiting)
    repairs = kept.repairs(unit, [finding.id for finding in waiting.values()])
    kinds = subjects.kinds_of(unit, waiting)
    rules = criteria.criteria_by_id(
        unit, {stored.criteria_id for stands in verdicts.values() for stored in stands}
    )
    moved = []
    for point_id, finding in waiting.items():
        stands = [s for s in verdicts.get(point_id, ()) if s.counts_level]
        made = repairs[finding.id]
        if not stands or not made:
            continue
        by_time = {stored.taken_at: stored for stored in stands}
        proof = prove(
            [
                ReadAgain(stored.taken_at, stored.verdict, stored.verdict.common_high_k)
                for stored in by_time.values()
            ],
            repaired_at=made[-1].repaired_at,
            now=now,
            load_of_finding=finding.load_ratio,
            kind=kinds[point_id],
            criteria=rules[stands[-1].criteria_id],
        )
        if _settle(unit, finding, proof, by_time=by_time, now=now):
            moved.append(finding.id)
    return tuple(moved)


def _settle(
    unit: Unit, finding: Finding, proof: Proof, *, by_time: dict[datetime, StoredVerdict], now: datetime
) -> bool:
    """Write what the proof says, if it is news."""
    if proof.by is None or finding.point_id is None:
        return False
    reading_id = by_time[proof.by.when].reading_id
    if proof.outcome is FindingState.NOT_PROVEN:
        kept.end_repair(unit, finding.id, outcome="not proven", at=proof.by.when, reading_id=reading_id)
        fields = {"attempt": finding.attempt + 1, "closed_at": None, "outcome": ""}
        kept.move_finding(
            unit, finding.id, to=FindingState.NOT_PROVEN, now=now, by_person_id=None, note=proof.sentence,
            fields=fields,
        )  # fmt: skip
        subjects.point_to_finding(unit, finding.point_id, finding.id)
        return True
    if finding.state is FindingState.REPAIRED:
        kept.end_repair(unit, finding.id, outcome="proven", at=proof.by.when, reading_id=reading_id)
        kept.move_finding(
            unit, finding.id, to=FindingState.PROVEN, now=now, by_person_id=None, note=proof.sentence,
            fields={"closed_at": now, "outcome": CONFIRMED if proof.confirmed else ""},
        )  # fmt: skip
        subjects.point_to_finding(unit, finding.point_id, None)
        subjects.reset_standing(unit, finding.point_id, on=proof.by.when.date())
        return True
    if proof.confirmed:
        kept.note_outcome(unit, finding.id, CONFIRMED)
    return False
