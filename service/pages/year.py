"""The year of a client: rounds by month, coverage against the interval rules, covers opened, the auditor's list."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import HTMLResponse, Response

from service.charts.year_months import year_legend, year_pair
from service.domain.coverage import Coverage
from service.domain.year import NO_CLASS, EquipmentAsked, YearAsked
from service.pages import year_words as said
from service.pages.asking import Around, SignedInForOthers
from service.pages.templating import render
from service.reports.year_table import why_told, year_table_csv, year_table_xlsx
from service.usecases.reports.year import list_equipment_of_year, see_year

router = APIRouter(prefix="/reports/year")
PAGE = 30
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
#: a form sends what was left open as an empty text
Choice = Annotated[str, Query(max_length=20, pattern=r"^[0-9]*$")]


def whose_year(
    around: Around,
    year: Annotated[int | None, Query(ge=1990, le=2200)] = None,
    client_id: Choice = "",
    site_id: Choice = "",
) -> YearAsked:
    return YearAsked(year or around.now().year, int(client_id or 0) or None, int(site_id or 0) or None)


def which_equipment(
    equipment_class: Annotated[str, Query(max_length=200)] = "",
    coverage: Annotated[str, Query(max_length=20)] = "",
    after: Annotated[int, Query(ge=0, le=2**53)] = 0,
) -> EquipmentAsked:
    known = {one.value: one for one in Coverage}
    return EquipmentAsked(equipment_class or None, known.get(coverage), after)


Asked = Annotated[YearAsked, Depends(whose_year)]
Wanted = Annotated[EquipmentAsked, Depends(which_equipment)]


@router.get("")
def of_year(
    request: Request, around: Around, actor: SignedInForOthers, asked: Asked, wanted: Wanted
) -> HTMLResponse:
    now = around.now()
    lines = EquipmentAsked(wanted.equipment_class, wanted.coverage, wanted.after, PAGE)
    report, page = see_year(around.store, actor, asked, lines, now=now)
    today, whose = now.date(), report.asked
    months = said.drawn_months(report, today=today)
    name = f"Rounds and covers of {asked.year}, month by month"
    return render(
        request, "reports/year.html", place="reports", report=report, page=page, wanted=wanted, said=said,
        title=said.title(report, today=today), lead=said.lead(report, today=today), whose=whose,
        drawing=year_pair(months, title=name, desc=said.picture_words(report)) if said.has_months(report) else "",
        legend=year_legend(months),
        years=range(report.last_year, report.first_year - 1, -1), coverages=list(Coverage), no_class=NO_CLASS,
        why_told=why_told, list_title=said.list_title(page.found, wanted), first_href=said.address(whose, wanted),
        next_href=said.address(whose, wanted, after=page.next_after) if page.next_after else "",
        csv_href=said.address(whose, wanted, path="/reports/year/equipment.csv"),
        xlsx_href=said.address(whose, wanted, path="/reports/year/equipment.xlsx"),
    )  # fmt: skip


@router.get("/equipment.csv")
def list_csv(around: Around, actor: SignedInForOthers, asked: Asked, wanted: Wanted) -> Response:
    page = list_equipment_of_year(around.store, actor, asked, wanted, now=around.now())
    return _attached(year_table_csv(page), kind="text/csv; charset=utf-8", name=f"equipment-{page.on}.csv")


@router.get("/equipment.xlsx")
def list_xlsx(around: Around, actor: SignedInForOthers, asked: Asked, wanted: Wanted) -> Response:
    page = list_equipment_of_year(around.store, actor, asked, wanted, now=around.now())
    title = f"{said.list_title(page.found, wanted)}, year {asked.year}"
    return _attached(year_table_xlsx(page, title=title), kind=XLSX, name=f"equipment-{page.on}.xlsx")


def _attached(content: bytes, *, kind: str, name: str) -> Response:
    header = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=kind, headers=header)
