"""What the form for a new finding starts from: a point, or the sites a hot part may be at."""

from dataclasses import dataclass

from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.storage import finding_subjects as subjects
from service.storage.finding_subjects import PointSubject
from service.storage.unit import Store


@dataclass(frozen=True, slots=True)
class Subject:
    """``point`` is None off the round; then ``sites`` are offered."""

    point: PointSubject | None
    sites: tuple[tuple[int, str], ...]
    live_finding_id: int | None = None


def see_subject(store: Store, actor: Actor, *, point_id: int | None) -> Subject:
    """The point with what was last read of it, or the sites in sight.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    with store.look() as unit:
        if point_id is None:
            require(actor, Verb.OPEN_FINDING)
            return Subject(None, subjects.sites_to_choose(unit, actor.site_ids))
        point = subjects.point_subject(
            unit, point_id, person_id=actor.person_id if own_rounds_only(actor) else None
        )
        require(actor, Verb.OPEN_FINDING, site_id=point.site_id)
        return Subject(point, (), subjects.live_finding_id(unit, point_id))
