"""Open a finding on a point, or for a hot part met off the round."""

from dataclasses import dataclass
from datetime import date, datetime

from service.domain.findings import OFF_ROUND_TITLE, FindingFile
from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.domain.words import Level
from service.errors import Conflict, Invalid, Problem
from service.storage import audit, site_state
from service.storage import finding_subjects as subjects
from service.storage import findings as kept
from service.storage.unit import Store, Unit


@dataclass(frozen=True, slots=True)
class FindingFields:
    """What a person types when opening a finding; all but ``title`` may stay blank."""

    title: str = ""
    owner_id: int | None = None
    due_on: date | None = None
    work_order: str = ""
    cause: str = ""
    root_cause: str = ""
    interim_measure: str = ""
    cost: float | None = None
    consequence: str = ""

    def problems(self) -> list[Problem]:
        found = []
        if self.cost is not None and not 0 <= self.cost < 1e9:
            found.append(
                Problem(
                    "form",
                    "cost",
                    str(self.cost),
                    "A cost is between 0 and a thousand million.",
                    "Type it again.",
                )
            )
        texts = ("title", "work_order", "cause", "root_cause", "interim_measure", "consequence")
        found += [
            Problem("form", name, "", "Longer than 2,000 characters.", "Shorten it.")
            for name in texts
            if len(getattr(self, name)) > 2000
        ]
        return found


def open_on_point(
    store: Store, actor: Actor, *, point_id: int, fields: FindingFields, now: datetime
) -> FindingFile:
    """Open a finding on a registered point; it takes level, values and load from the point's state.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Conflict
        The point has a finding that still wants something.
    Invalid
        Fields with problems.
    """
    problems = fields.problems()
    if problems:
        raise Invalid(problems)
    with store.begin() as unit:
        subject = subjects.point_subject(
            unit, point_id, person_id=actor.person_id if own_rounds_only(actor) else None
        )
        require(actor, Verb.OPEN_FINDING, site_id=subject.site_id)
        live = kept.live_finding_of(unit, point_id)
        if live is not None:
            raise Conflict(
                f"This point has a finding already ({live.state}).", remedy=f"Go on with finding {live.id}."
            )
        finding_id = kept.open_finding(
            unit,
            now=now,
            by_person_id=actor.person_id,
            client_id=subject.client_id,
            site_id=subject.site_id,
            point_id=point_id,
            round_id=subject.round_id,
            reading_id=subject.reading_id,
            level=subject.level,
            value_k=subject.value_k,
            common_k=subject.common_k,
            load_ratio=subject.load_ratio,
            current_a=subject.current_a,
            title=fields.title or subject.title,
            consequence=fields.consequence or subject.consequence,
            **_typed(fields),
        )
        subjects.point_to_finding(unit, point_id, finding_id)
        _record(unit, actor, finding_id, subject.site_id, now=now)
        return kept.finding_file(unit, finding_id)


def open_off_round(
    store: Store,
    actor: Actor,
    *,
    site_id: int,
    place: str,
    picture: str = "",
    temperature_c: float | None = None,
    level: Level | None = None,
    fields: FindingFields,
    now: datetime,
) -> FindingFile:
    """A hot part that is not in the register: photo, place and number now, register later.

    Raises
    ------
    Invalid
        No place, or fields with problems.
    """
    problems = fields.problems()
    if not place.strip():
        problems.append(
            Problem(
                "form", "place", "", "A hot part off the round needs its place.", "Say where it is, in words."
            )
        )
    if problems:
        raise Invalid(problems)
    require(actor, Verb.OPEN_FINDING, site_id=site_id)
    with store.begin() as unit:
        title = fields.title or (
            f"{OFF_ROUND_TITLE}, {temperature_c:g} °C"
            if temperature_c is not None
            else "Hot part off the round"
        )
        finding_id = kept.open_finding(
            unit,
            now=now,
            by_person_id=actor.person_id,
            client_id=subjects.client_of_site(unit, site_id),
            site_id=site_id,
            place=place.strip(),
            picture=picture.strip(),
            level=level,
            title=title,
            consequence=fields.consequence,
            **_typed(fields),
        )
        _record(unit, actor, finding_id, site_id, now=now)
        return kept.finding_file(unit, finding_id)


def _typed(fields: FindingFields) -> dict[str, object]:
    return {
        "owner_id": fields.owner_id,
        "due_on": fields.due_on,
        "work_order": fields.work_order,
        "cause": fields.cause,
        "root_cause": fields.root_cause,
        "interim_measure": fields.interim_measure,
        "cost": fields.cost,
    }


def _record(unit: Unit, actor: Actor, finding_id: int, site_id: int, *, now: datetime) -> None:
    audit.note(unit, actor, verb="open", noun="finding", noun_id=finding_id, site_id=site_id, now=now)
    site_state.bump(unit, [site_id], now=now)
