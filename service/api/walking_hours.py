"""Who walks when, who is absent and which site is closed, over JSON."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Path, Query, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker, EditedVersion, tag
from service.domain.planning import Absence, SiteClosure, WalkingHours, WalkPart
from service.usecases.plans import walkers
from service.usecases.plans.walkers import AHEAD, WalkerLine

router = APIRouter(tags=["who walks when"])
Id = Annotated[int, Path(ge=1, le=2**53)]
BodyId = Annotated[int, Field(ge=1, le=2**53)]
Text = Annotated[str, Field(max_length=500)]
FromOn = Annotated[date | None, Query(description="first day that is asked about; without it, today")]
ToOn = Annotated[date | None, Query(description="last day; without it, some 13 months after the first")]


class Body(BaseModel):
    model_config = ConfigDict(extra="forbid")


class HoursBody(Body):
    part: WalkPart
    hours: Text = Field(description='days and times on the clock of the sites: "mon-thu 07:30-15:30"')
    start_place: Text = ""
    start_latitude: float | None = None
    start_longitude: float | None = None
    holidays_of: Text = Field(
        default="", description="ISO 3166 country or part whose public holidays are free: GB-SCT"
    )

    def wanted(self, person_id: int) -> WalkingHours:
        return WalkingHours(person_id=person_id, **self.model_dump())


class HoursReply(BaseModel):
    person_id: int
    part: WalkPart
    hours: str
    start_place: str
    start_latitude: float | None
    start_longitude: float | None
    holidays_of: str
    version: int = Field(description="0 while nobody said so and the default of the service holds")

    @classmethod
    def of(cls, hours: WalkingHours) -> "HoursReply":
        return cls.model_validate(hours, from_attributes=True)


class WalkerReply(HoursReply):
    name: str

    @classmethod
    def of_line(cls, line: WalkerLine) -> "WalkerReply":
        return cls(name=line.person.name, **HoursReply.of(line.hours).model_dump())


class AbsenceBody(Body):
    person_id: BodyId
    from_on: date
    to_on: date = Field(description="the last day of it")
    note: Text = Field(default="", description="seen by all who plan; leave out what is private")


class AbsenceReply(BaseModel):
    id: int
    person_id: int
    from_on: date
    to_on: date
    note: str

    @classmethod
    def of(cls, absence: Absence) -> "AbsenceReply":
        return cls.model_validate(absence, from_attributes=True)


class ClosureBody(Body):
    site_id: BodyId
    from_on: date
    to_on: date = Field(description="the last day of it")
    reason: Text


class ClosureReply(BaseModel):
    id: int
    site_id: int
    from_on: date
    to_on: date
    reason: str

    @classmethod
    def of(cls, closure: SiteClosure) -> "ClosureReply":
        return cls.model_validate(closure, from_attributes=True)


@router.get("/walking-hours")
def list_hours(around: Around, asker: Asker) -> list[WalkerReply]:
    """Everybody in sight who may walk, by name; not for technicians."""
    page = walkers.read_walkers(around.store, asker, today=around.now().date())
    return [WalkerReply.of_line(line) for line in page.walkers]


@router.get("/walking-hours/{person_id}")
def read_hours(around: Around, asker: Asker, response: Response, person_id: Id) -> WalkerReply:
    """The hours of one person."""
    line = walkers.read_walker(around.store, asker, person_id, today=around.now().date())
    tag(response, line.hours.version)
    return WalkerReply.of_line(line)


@router.put("/walking-hours/{person_id}")
def set_hours(
    around: Around, asker: Asker, response: Response, person_id: Id, version: EditedVersion, body: HoursBody
) -> HoursReply:
    """Say when somebody walks; If-Match is "0" where nothing was on record."""
    hours = walkers.set_walking_hours(
        around.store, asker, body.wanted(person_id), version=version, now=around.now()
    )
    tag(response, hours.version)
    return HoursReply.of(hours)


@router.get("/absences")
def list_absences(
    around: Around, asker: Asker, from_on: FromOn = None, to_on: ToOn = None
) -> list[AbsenceReply]:
    """Absences of everybody in sight that touch a span."""
    first, last = _span(around.now().date(), from_on, to_on)
    found = walkers.list_absences(around.store, asker, from_on=first, to_on=last)
    return [AbsenceReply.of(absence) for absence in found]


@router.post("/absences", status_code=201)
def add_absence(around: Around, asker: Asker, body: AbsenceBody) -> AbsenceReply:
    """Note days on which somebody does not walk."""
    made = walkers.add_absence(around.store, asker, **body.model_dump(), now=around.now())
    return AbsenceReply.of(made)


@router.delete("/absences/{absence_id}", status_code=204)
def remove_absence(around: Around, asker: Asker, absence_id: Id) -> None:
    """Take an absence away again."""
    walkers.remove_absence(around.store, asker, absence_id, now=around.now())


@router.get("/site-closures")
def list_closures(
    around: Around, asker: Asker, from_on: FromOn = None, to_on: ToOn = None
) -> list[ClosureReply]:
    """Closures of every site in sight that touch a span."""
    first, last = _span(around.now().date(), from_on, to_on)
    found = walkers.list_closures(around.store, asker, from_on=first, to_on=last)
    return [ClosureReply.of(closure) for closure in found]


@router.post("/site-closures", status_code=201)
def add_closure(around: Around, asker: Asker, body: ClosureBody) -> ClosureReply:
    """Note days on which a site lets nobody in."""
    made = walkers.add_closure(around.store, asker, **body.model_dump(), now=around.now())
    return ClosureReply.of(made)


@router.delete("/site-closures/{closure_id}", status_code=204)
def remove_closure(around: Around, asker: Asker, closure_id: Id) -> None:
    """Take a closure away again."""
    walkers.remove_closure(around.store, asker, closure_id, now=around.now())


def _span(today: date, from_on: date | None, to_on: date | None) -> tuple[date, date]:
    first = from_on or today
    return first, to_on or min(first, date.max - AHEAD) + AHEAD
