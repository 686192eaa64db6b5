"""What a re-evaluation moved: every figure and every standing, before and after."""

from collections.abc import Iterable, Sequence

from service.domain.reevaluation import Moved, Reevaluated, StandingMoved
from service.domain.visits import Judged, grave
from service.storage import reevaluations
from service.storage.reevaluations import Standing
from service.storage.unit import Unit
from service.usecases.condition.assess import Assessed
from service.usecases.condition.visit_work import Work


def outcome_of(
    unit: Unit,
    stands: Sequence[Standing],
    assessed: Assessed,
    work: Work,
    *,
    trends_changed: int | None,
) -> Reevaluated:
    """Before and after of every reading judged anew, and of every point that stands elsewhere."""
    before = {one.reading_id: one for one in stands}
    unknown = set(assessed.judged) - before.keys()
    before |= {one.reading_id: one for one in _replaced(unit, work, unknown)}
    moved = [_moved(before[r], judged) for r, judged in assessed.judged.items() if r in before]
    moved = [one for one in moved if one.level_moves or one.value_before_k != one.value_after_k]
    moved.sort(key=lambda one: (not one.level_moves, -max(grave(one.level_before), grave(one.level_after))))
    standings = []
    for point_id, memory in work.memories.items():
        known = work.known[point_id]
        if memory.standing.level != known.was:
            standings.append(
                StandingMoved(point_id, known.point.tag, known.point.title, known.was, memory.standing.level)
            )
    return Reevaluated(len(stands), tuple(moved), tuple(standings), trends_changed)


def _replaced(unit: Unit, work: Work, reading_ids: Iterable[int]) -> list[Standing]:
    """Assessments of later visits that were replaced on the way."""
    ids = [work.replaces[r] for r in reading_ids if r in work.replaces]
    return reevaluations.assessments_by_id(unit, ids) if ids else []


def _moved(before: Standing, judged: Judged) -> Moved:
    point, verdict = judged.reading.point, judged.verdict
    return Moved(
        reading_id=before.reading_id,
        point_id=point.id,
        point_tag=point.tag,
        title=point.title,
        taken_at=before.taken_at,
        zone=point.zone,
        level_before=before.level,
        level_after=verdict.level,
        at_least_before=before.at_least,
        at_least_after=verdict.at_least,
        value_before_k=before.value_k,
        value_after_k=verdict.value_k,
        u_before_k=before.u_k,
        u_after_k=verdict.u_k,
    )
