"""Reports: which rounds came back, and the printable letter of each."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response
from markupsafe import Markup

from service.charts.history import history_chart
from service.domain.people import Actor
from service.domain.reports import RoundReport
from service.domain.words import Level
from service.pages.asking import Around, SignedIn, SignedInForOthers
from service.pages.check_words import check_line, doubts
from service.pages.point_drawings import history_record
from service.pages.round_readings import missed_words
from service.pages.templating import render
from service.pages.view import counted, listed, number_word, sentence_case
from service.reports.round_table import round_table_csv
from service.usecases.condition.point_history import see_point_history
from service.usecases.reports.round_report import list_reports, see_round_report
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/reports")

#: points of one letter that are drawn; the rest is told in words and figures
MOST_CHARTS = 40


def report_title(report: RoundReport) -> str:
    """The letter's first sentence: how many points stand where."""
    counts = [(level, report.count(level)) for level in sorted(Level, reverse=True) if level]
    parts = [f"{number_word(count)} at {level.word}" for level, count in counts if count]
    if not parts:
        read = len(report.points) - len(report.not_read)
        return f"Nothing found at {counted(read, 'point')} read." if read else "No point was read."
    total = len(report.above)
    noun = "point" if total == 1 else "points"
    return f"{sentence_case(number_word(total))} {noun} above Nothing found: {listed(parts)}."


@router.get("")
def index(
    request: Request,
    around: Around,
    actor: SignedIn,
    year: Annotated[int | None, Query(ge=1990, le=2200)] = None,
) -> HTMLResponse:
    shown = year or around.now().year
    found = list_reports(around.store, actor, first=date(shown, 1, 1), last=date(shown, 12, 31))
    months: dict[date, list[object]] = {}
    for round_ in found:
        months.setdefault(round_.planned_on.replace(day=1), []).append(round_)
    return render(request, "reports/index.html", place="reports", months=months, year=shown)


@router.get("/rounds/{round_id}")
def of_round(request: Request, around: Around, actor: SignedInForOthers, round_id: int) -> HTMLResponse:
    report = see_round_report(around.store, actor, round_id=round_id)
    return render(
        request, "reports/round.html", place="reports", report=report, head=report.head, title=report_title(report),
        check_line=check_line, doubts=doubts(report.checks),
        charts=_charts(around, actor, report), now=around.now(), missed=missed_words(report.missed),
    )  # fmt: skip


def _charts(around: Surroundings, actor: Actor, report: RoundReport) -> dict[int, Markup]:
    """By point above Nothing found its history, as on its own page."""
    now = around.now()
    drawn = {}
    for point in report.above[:MOST_CHARTS]:
        history = see_point_history(around.store, actor, point_id=point.point_id, told=0, now=now)
        record = history_record(history, today=now.date())
        drawn[point.point_id] = history_chart(record)
    return drawn


@router.get("/rounds/{round_id}/readings.csv")
def table_of_round(around: Around, actor: SignedIn, round_id: int) -> Response:
    report = see_round_report(around.store, actor, round_id=round_id)
    return Response(
        round_table_csv(report),
        media_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="round-{report.head.code}.csv"'},
    )
