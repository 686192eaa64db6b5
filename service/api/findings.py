"""Findings and the Desk over JSON."""

from datetime import date, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query, Response
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from service.api.asking import After, Around, Asker, EditedVersion, Limit, tag
from service.api.problems import PROBLEMS
from service.domain.findings import Finding, FindingFile
from service.domain.words import FindingState, Found, Level
from service.usecases.findings import move_finding as moves
from service.usecases.findings.desk import see_desk
from service.usecases.findings.list_findings import list_findings
from service.usecases.findings.open_finding import FindingFields, open_off_round, open_on_point
from service.usecases.findings.repair_fields import RepairFields

router = APIRouter(tags=["findings"], responses=PROBLEMS)
Text = Annotated[str, Field(max_length=2000)]
Amount = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]
Id = Annotated[int, Field(ge=1, le=2**53)]


class Body(BaseModel):
    model_config = ConfigDict(extra="forbid")


class FindingIn(Body):
    """What a person says of a finding; all but the title may stay blank."""

    title: Text = ""
    owner_id: Id | None = None
    due_on: date | None = None
    work_order: Text = ""
    cause: Text = ""
    root_cause: Text = ""
    interim_measure: Text = ""
    cost: Amount | None = None
    consequence: Text = ""

    def fields(self) -> FindingFields:
        return FindingFields(**self.model_dump(include=set(FindingIn.model_fields)))


class NewFinding(FindingIn):
    """On a registered point, or off the round with a site and a place."""

    point_id: Id | None = None
    site_id: Id | None = None
    place: Text = ""
    picture: Text = ""
    temperature_c: Annotated[float, Field(ge=-90, le=2000, allow_inf_nan=False)] | None = None


class PlanIn(Body):
    planned_for: date
    work_order: Text = ""


class RepairIn(Body):
    repaired_at: AwareDatetime
    as_left: Text
    as_found: Text = ""
    by: Text = ""
    cause: Text = ""
    torque_found_nm: Annotated[float, Field(ge=0, le=5000, allow_inf_nan=False)] | None = None
    torque_left_nm: Annotated[float, Field(ge=0, le=5000, allow_inf_nan=False)] | None = None
    micro_ohm_found: Annotated[float, Field(ge=0, le=1e7, allow_inf_nan=False)] | None = None
    micro_ohm_left: Annotated[float, Field(ge=0, le=1e7, allow_inf_nan=False)] | None = None
    replaced: bool = False
    found: Found | None = None
    cost: Amount | None = None


class SetAsideIn(Body):
    reason: Text
    review_on: date


class TellingIn(Body):
    told_whom: Text
    told_at: AwareDatetime
    answer: Text = ""


class AcceptIn(Body):
    note: Text


class CorrectedIn(Body):
    """A word besides what is said of the correction itself."""

    note: Text = ""


class FindingOut(BaseModel):
    id: int
    version: int
    site_id: int
    site_name: str
    point_id: int | None
    point_tag: str
    place: str
    title: str
    state: FindingState
    attempt: int
    level: Level | None
    value_k: float | None
    common_k: float | None
    load_ratio: float | None
    opened_at: datetime
    opened_by: str
    owner_id: int | None
    due_on: date | None
    work_order: str
    cause: str
    root_cause: str
    interim_measure: str
    cost: float | None
    consequence: str
    planned_for: date | None
    set_aside_reason: str
    review_on: date | None
    outcome: str
    told: bool

    @classmethod
    def of(cls, finding: Finding) -> "FindingOut":
        return cls(**{name: getattr(finding, name) for name in cls.model_fields})


class FindingPage(BaseModel):
    findings: list[FindingOut]
    next_after: int | None


class DeskItemOut(BaseModel):
    waiting: str
    since: date
    site_id: int
    title: str
    detail: str
    level: Level | None
    point_id: int | None
    finding_id: int | None
    round_id: int | None
    held_id: int | None = Field(description="a send that is held aside")
    equipment_id: int | None = Field(description="what was carried over too often")


class DeskOut(BaseModel):
    items: list[DeskItemOut]
    more: int


def _out(file: FindingFile, response: Response) -> FindingOut:
    tag(response, file.finding.version)
    return FindingOut.of(file.finding)


@router.get("/desk")
def read_desk(around: Around, actor: Asker) -> DeskOut:
    """What waits for a decision, gravest and oldest first."""
    desk = see_desk(around.store, actor, now=around.now())
    items = [
        DeskItemOut(
            waiting=str(item.waiting),
            **{n: getattr(item, n) for n in DeskItemOut.model_fields if n != "waiting"},
        )
        for item in desk.items
    ]
    return DeskOut(items=items, more=desk.more)


@router.get("/findings")
def read_findings(
    around: Around,
    actor: Asker,
    after: After = 0,
    limit: Limit = 100,
    state: Annotated[list[FindingState] | None, Query(max_length=10)] = None,
) -> FindingPage:
    """Findings in sight, by id, a page at a time."""
    page = list_findings(around.store, actor, states=state, after=after, limit=limit)
    return FindingPage(
        findings=[FindingOut.of(f) for f in page], next_after=page[-1].id if len(page) == limit else None
    )


@router.post("/findings", status_code=201)
def create_finding(around: Around, actor: Asker, body: NewFinding, response: Response) -> FindingOut:
    """Open a finding on a point, or for a hot part met off the round."""
    now = around.now()
    if body.point_id is not None:
        file = open_on_point(around.store, actor, point_id=body.point_id, fields=body.fields(), now=now)
    else:
        file = open_off_round(
            around.store, actor, site_id=body.site_id or 0, place=body.place, picture=body.picture,
            temperature_c=body.temperature_c, fields=body.fields(), now=now,
        )  # fmt: skip
    return _out(file, response)


@router.get("/findings/{finding_id}")
def read_finding(around: Around, actor: Asker, finding_id: Id, response: Response) -> FindingOut:
    return _out(moves.see_finding(around.store, actor, finding_id=finding_id), response)


@router.put("/findings/{finding_id}")
def edit_finding(
    around: Around, actor: Asker, finding_id: Id, version: EditedVersion, body: FindingIn, response: Response
) -> FindingOut:
    return _out(
        moves.edit_finding(
            around.store,
            actor,
            finding_id=finding_id,
            version=version,
            fields=body.fields(),
            now=around.now(),
        ),
        response,
    )


@router.post("/findings/{finding_id}/plan")
def plan_repair(
    around: Around, actor: Asker, finding_id: Id, version: EditedVersion, body: PlanIn, response: Response
) -> FindingOut:
    return _move(around, actor, finding_id, version, moves.plan_repair, response, **body.model_dump())


@router.post("/findings/{finding_id}/repair")
def record_repair(
    around: Around, actor: Asker, finding_id: Id, version: EditedVersion, body: RepairIn, response: Response
) -> FindingOut:
    """As found and as left; the point's series is cut and it is read again on the next round."""
    repair = RepairFields(**body.model_dump())
    return _move(around, actor, finding_id, version, moves.record_repair, response, repair=repair)


@router.post("/findings/{finding_id}/set-aside")
def set_aside(
    around: Around, actor: Asker, finding_id: Id, version: EditedVersion, body: SetAsideIn, response: Response
) -> FindingOut:
    return _move(around, actor, finding_id, version, moves.set_aside, response, **body.model_dump())


@router.post("/findings/{finding_id}/close-corrected")
def close_corrected(
    around: Around,
    actor: Asker,
    finding_id: Id,
    version: EditedVersion,
    body: CorrectedIn,
    response: Response,
) -> FindingOut:
    """Set an Act now aside whose reading was corrected or judged anew, so that none says so any more."""
    return _move(around, actor, finding_id, version, moves.close_corrected, response, **body.model_dump())


@router.post("/findings/{finding_id}/take-up")
def take_up(
    around: Around, actor: Asker, finding_id: Id, version: EditedVersion, response: Response
) -> FindingOut:
    return _move(around, actor, finding_id, version, moves.take_up_again, response)


@router.post("/findings/{finding_id}/tellings", status_code=201)
def tell(around: Around, actor: Asker, finding_id: Id, body: TellingIn, response: Response) -> FindingOut:
    """Keep whom was told of an Act now, when, and what they answered."""
    file = moves.tell(around.store, actor, finding_id=finding_id, now=around.now(), **body.model_dump())
    return _out(file, response)


@router.post("/findings/{finding_id}/accept-risk")
def accept_risk(
    around: Around, actor: Asker, finding_id: Id, version: EditedVersion, body: AcceptIn, response: Response
) -> FindingOut:
    return _move(around, actor, finding_id, version, moves.accept_risk, response, **body.model_dump())


def _move(
    around: Around,
    actor: Asker,
    finding_id: int,
    version: int,
    use_case: Any,
    response: Response,
    **fields: Any,
) -> FindingOut:
    file: FindingFile = use_case(
        around.store, actor, finding_id=finding_id, version=version, now=around.now(), **fields
    )
    return _out(file, response)
