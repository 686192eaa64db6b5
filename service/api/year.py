"""A year over JSON: its figures, and the auditor's list."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel

from service.api.asking import After, Around, Asker, Limit
from service.api.problems import PROBLEMS
from service.domain.coverage import Coverage
from service.domain.year import (
    AuditedEquipment,
    CoverageShare,
    EquipmentAsked,
    MonthCount,
    YearAsked,
    YearReport,
)
from service.usecases.reports.year import list_equipment_of_year, see_year

router = APIRouter(prefix="/reports/year", tags=["reports"], responses=PROBLEMS)
MaybeId = Annotated[int | None, Query(ge=1, le=2**53)]


def whose_year(
    year: Annotated[int, Query(ge=1990, le=2200)],
    client_id: Annotated[
        int | None, Query(ge=1, le=2**53, description="by default that of the site, else the first by name")
    ] = None,
    site_id: MaybeId = None,
) -> YearAsked:
    return YearAsked(year, client_id, site_id)


Asked = Annotated[YearAsked, Depends(whose_year)]


class MonthOut(BaseModel):
    """Rounds by the month for which they were planned; ``planned`` is without the withdrawn ones."""

    month: int
    planned: int
    walked: int
    signed_off: int
    withdrawn: int
    covers_opened: int
    findings_opened: int

    @classmethod
    def of(cls, one: MonthCount) -> "MonthOut":
        return cls(
            **{name: getattr(one, name) for name in ("month", "planned", "walked", "signed_off", "withdrawn")},
            covers_opened=one.covers,
            findings_opened=one.findings,
        )  # fmt: skip


class CoverageOut(BaseModel):
    """Equipment in use by where it stands; the one without points counts in ``no_points`` only."""

    name: str
    equipment: int
    within_its_date: int
    due: int
    late: int
    never_read: int
    no_points: int
    oldest_on: date | None
    oldest_equipment_id: int | None

    @classmethod
    def of(cls, row: CoverageShare) -> "CoverageOut":
        oldest = row.oldest
        return cls(
            name=row.name,
            equipment=row.equipment,
            within_its_date=row.within,
            due=row.due,
            late=row.late,
            never_read=row.never_read,
            no_points=row.no_points,
            oldest_on=None if oldest is None else oldest.cleared_on,
            oldest_equipment_id=None if oldest is None else oldest.equipment.id,
        )


class YearOut(BaseModel):
    """The figures of a year; coverage stands as at ``on``. A figure per finding is null where none was opened."""

    year: int
    client_id: int
    site_id: int | None
    on: date
    months: list[MonthOut]
    covers_opened: int
    findings_opened: int
    findings_of_readings: int
    findings_behind_covers: int
    covers_per_finding: float | None
    covers_per_finding_behind_covers: float | None
    coverage: CoverageOut
    coverage_by_class: list[CoverageOut]
    coverage_by_criticality: list[CoverageOut]

    @classmethod
    def of(cls, report: YearReport) -> "YearOut":
        faults = report.faults
        return cls(
            year=report.asked.year,
            client_id=report.asked.client_id or 0,
            site_id=report.asked.site_id,
            on=report.on,
            months=[MonthOut.of(one) for one in report.months],
            covers_opened=report.year.covers,
            findings_opened=faults.opened,
            findings_of_readings=faults.of_readings,
            findings_behind_covers=faults.behind_covers,
            covers_per_finding=report.covers_per_finding,
            covers_per_finding_behind_covers=report.covers_per_finding_behind,
            coverage=CoverageOut.of(report.total),
            coverage_by_class=[CoverageOut.of(row) for row in report.classes],
            coverage_by_criticality=[CoverageOut.of(row) for row in report.criticalities],
        )


class WhyLateOut(BaseModel):
    why: str
    points: int


class AuditedOut(BaseModel):
    """One equipment; its days are explained in the documentation of `read_year_equipment`."""

    equipment_id: int
    site_id: int
    site: str
    area: str
    tag: str
    name: str
    equipment_class: str
    criticality: str
    behind_cover: bool
    points: int
    coverage: Coverage
    last_read_on: date | None
    last_could_clear_on: date | None
    due_on: date | None
    late_after: date | None
    rule: str
    why_late: list[WhyLateOut]

    @classmethod
    def of(cls, row: AuditedEquipment) -> "AuditedOut":
        covered, own = row.covered, row.covered.equipment
        return cls(
            equipment_id=own.id,
            site_id=own.site_id,
            site=own.site,
            area=own.area,
            tag=own.tag,
            name=own.name,
            equipment_class=own.equipment_class,
            criticality=own.criticality,
            behind_cover=own.behind_cover,
            points=covered.points,
            coverage=covered.coverage,
            last_read_on=covered.seen_on,
            last_could_clear_on=covered.cleared_on,
            due_on=covered.due_on,
            late_after=covered.late_after,
            rule=covered.rule,
            why_late=[WhyLateOut(why=word, points=points) for word, points in row.why],
        )


class AuditedPageOut(BaseModel):
    on: date
    found: int
    equipment: list[AuditedOut]
    next_after: int | None


@router.get("")
def read_year(around: Around, asker: Asker, asked: Asked) -> YearOut:
    """Rounds by month, coverage against the interval rules, covers opened and findings of a year."""
    nothing = EquipmentAsked(limit=0)
    report, _ = see_year(around.store, asker, asked, nothing, now=around.now())
    return YearOut.of(report)


@router.get("/equipment")
def read_year_equipment(
    around: Around,
    asker: Asker,
    asked: Asked,
    equipment_class: Annotated[
        str | None, Query(max_length=200, description="one class; - for those without")
    ] = None,
    coverage: Coverage | None = None,
    after: After = 0,
    limit: Limit = 100,
) -> AuditedPageOut:
    """Every equipment in use, by site and walking order; pass ``next_after`` as ``after`` for the next page.

    ``last_read_on`` is the latest reading of any of its points, ``last_could_clear_on`` the earliest
    of its points' last readings that could clear; ``late_after`` the last day in time.
    """
    wanted = EquipmentAsked(equipment_class or None, coverage, after, limit)
    page = list_equipment_of_year(around.store, asker, asked, wanted, now=around.now())
    return AuditedPageOut(
        on=page.on,
        found=page.found,
        equipment=[AuditedOut.of(row) for row in page.rows],
        next_after=page.next_after,
    )
