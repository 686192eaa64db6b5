"""The history of one point: its drawing, why we say so, its visits; as figure and as CSV."""

import csv
import io
from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response
from markupsafe import Markup

from service.charts.explore import history_figure
from service.charts.history import history_pair
from service.charts.legend import history_legend
from service.domain.cells import guarded
from service.domain.figures_told import ToldFigure
from service.domain.people import Actor
from service.domain.permissions import Verb, may, require
from service.domain.point_history import Neighbour, PastVisit, PointHistory
from service.domain.words import Level, ReferenceKind
from service.pages import point_words as said
from service.pages import view
from service.pages.asking import Around, SignedIn
from service.pages.assets import map_styles
from service.pages.picture_words import latest_pair
from service.pages.point_drawings import PartRow, drawn_visits, history_record, parts_picture, reference_of
from service.pages.point_opinions import OpinionsTold, apart_words, opinions_told
from service.pages.point_verdicts import SaidBefore, said_before
from service.pages.templating import render
from service.usecases.condition.point_history import see_point_history
from service.usecases.condition.second_opinions import second_opinions
from service.usecases.pictures.see import list_point_pictures
from service.usecases.spoken_notes.see import list_point_notes

router = APIRouter(prefix="/points")

PointId = Annotated[int, Path(ge=1, le=2**53)]
#: rows of the visits table before all are asked for
SHOWN_VISITS = 12


@dataclass(frozen=True, slots=True)
class VisitLine:
    taken_at: datetime
    reader: str
    ambient_c: float | None
    temperature_c: float | None
    load: float | None
    href: str
    rise: ToldFigure
    common: ToldFigure
    level: Level | None
    at_least: bool
    sure: str
    replaced: bool
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Action:
    word: str
    href: str


@dataclass(frozen=True, slots=True)
class Way:
    name: str
    href: str


@dataclass(frozen=True, slots=True)
class PointPage:
    """Everything points/history.html prints."""

    point_id: int
    title: str
    tag: str
    lead: str
    crumbs: tuple[tuple[str, str], ...]
    scale_title: str
    chart: Markup | None
    legend: Markup
    captions: tuple[str, ...]
    figure_href: str
    level: Level | None
    at_least: bool
    since: date | None
    verdict: str
    reasons: said.Facts
    opinions: OpinionsTold
    before_said: tuple[SaidBefore, ...]
    actions: tuple[Action, ...]
    parts: tuple[Markup, ...]
    parts_title: str
    part_names: tuple[str, ...]
    part_rows: tuple[PartRow, ...]
    last_facts: said.Facts
    register_facts: said.Facts
    visits: tuple[VisitLine, ...]
    scaled: bool
    visits_words: str
    all_href: str
    csv_href: str
    zone: str
    before: Way | None
    after: Way | None


@router.get("/{point_id}")
def point(
    request: Request,
    around: Around,
    actor: SignedIn,
    point_id: PointId,
    visits: Annotated[str, Query(max_length=10)] = "",
) -> HTMLResponse:
    now = around.now()
    every = visits == "all"
    told = None if every else SHOWN_VISITS
    history = see_point_history(around.store, actor, point_id=point_id, told=told, now=now)
    page = _page(history, actor, today=now.date(), every=every)
    return render(
        request,
        "points/history.html",
        place="equipment",
        page=page,
        plotly="/assets/plotly.min.js",
        spoken=list_point_notes(around.store, actor, point_id),
        pair=latest_pair(list_point_pictures(around.store, actor, point_id)),
        without=" ".join(map_styles()),
    )


@router.get("/{point_id}/figure.json")
def figure(around: Around, actor: SignedIn, point_id: PointId) -> JSONResponse:
    now = around.now()
    history = see_point_history(around.store, actor, point_id=point_id, told=0, now=now)
    apart = apart_words(second_opinions(history))
    record = history_record(history, today=now.date(), every_word=True, apart=apart)
    return JSONResponse(history_figure(record))


@router.get("/{point_id}/visits.csv")
def visits_csv(around: Around, actor: SignedIn, point_id: PointId) -> Response:
    history = see_point_history(around.store, actor, point_id=point_id, now=around.now())
    require(actor, Verb.READ_LETTERS)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(said.CSV_HEAD)
    for row in said.csv_rows(history.visits):
        writer.writerow([guarded(cell) if isinstance(cell, str) else cell for cell in row])
    name = "".join(
        letter if letter.isascii() and (letter.isalnum() or letter in "-_") else "-"
        for letter in history.facts.tag
    )
    return Response(
        ("\ufeff" + out.getvalue()).encode(),
        media_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}-visits.csv"'},
    )


def _page(history: PointHistory, actor: Actor, *, today: date, every: bool) -> PointPage:
    facts, stands = history.facts, history.standing
    opinions = second_opinions(history)
    apart = apart_words(opinions)
    record = history_record(history, today=today, apart=apart)
    parts = parts_picture(history)
    latest_first = history.visits[::-1]
    shown = latest_first if every else latest_first[:SHOWN_VISITS]
    count = len(history.drawn)
    own = f"/points/{facts.point_id}"
    return PointPage(
        point_id=facts.point_id,
        title=said.title(history, today=today),
        tag=facts.tag,
        lead=said.lead(history),
        crumbs=(
            ("Equipment", "/equipment"),
            (facts.site, f"/standing/sites/{facts.site_id}"),
            (facts.equipment, f"/equipment/{facts.equipment_id}"),
        ),
        scale_title=record.scale_title,
        chart=history_pair(record) if record.visits else None,
        legend=history_legend(
            record,
            value_words=record.scale_title.removesuffix(f", {view.kelvin_word()}").removeprefix("Rise "),
        ),
        captions=tuple(words for words in (record.fan_words, _left_out(history)) if words),
        figure_href=f"{own}/figure.json",
        level=stands.level,
        at_least=stands.at_least,
        since=stands.since,
        verdict=said.verdict(history),
        reasons=said.reasons(history, today=today),
        opinions=opinions_told(opinions, facts.zone),
        before_said=said_before(history.verdicts, facts.zone),
        actions=_actions(history, actor),
        parts=parts.drawings,
        parts_title=f"The like parts, last {view.counted(len(parts.rows), 'visit')}",
        part_names=parts.names,
        part_rows=parts.rows,
        last_facts=said.last_facts(history),
        register_facts=said.register_facts(history),
        visits=tuple(
            _visit_line(visit, reference_of(history), apart.get(visit.reading_id, "")) for visit in shown
        ),
        scaled=any(visit.common_k is not None for visit in shown),
        visits_words="" if len(shown) == count else f"{len(shown)} of {view.counted(count, 'visit')}.",
        all_href="" if len(shown) == count else f"{own}?visits=all#visits",
        csv_href=f"{own}/visits.csv" if may(actor, Verb.READ_LETTERS) else "",
        zone=facts.zone,
        before=_way(history.before),
        after=_way(history.after),
    )


def _left_out(history: PointHistory) -> str:
    """Visits that the drawing leaves out because they are over another reference."""
    drawn = {visit.reading_id for visit in drawn_visits(history)}
    other = [v for v in history.standing_drawn if v.reading_id not in drawn and v.rise_k is not None]
    if not other:
        return ""
    verb = "is" if len(other) == 1 else "are"
    return f"{view.sentence_case(view.counted(len(other), 'visit'))} not {reference_of(history)} {verb} in the table only."


def _actions(history: PointHistory, actor: Actor) -> tuple[Action, ...]:
    """What this person may do here; the routes belong to findings and rounds."""
    live, facts, actions = said.live_finding(history), history.facts, []
    if live is not None:
        actions.append(Action(f"See the finding, {live.state}", f"/findings/{live.finding_id}"))
    elif may(actor, Verb.OPEN_FINDING) and not facts.retired:
        actions.append(Action("Open a finding", f"/findings/new?point={facts.point_id}"))
    if may(actor, Verb.KEEP_REGISTER) and history.visits:
        actions.append(Action("Evaluate again", f"/reevaluate?target=point&id={facts.point_id}"))
    if may(actor, Verb.KEEP_REGISTER) and not facts.retired:
        actions.append(Action("Look sooner", f"/rounds/new?site={facts.site_id}"))
    return tuple(actions)


def _visit_line(visit: PastVisit, reference: ReferenceKind, apart: str) -> VisitLine:
    named = (f"{view.sentence_case(apart)}. Kept in every figure.",) if apart else ()
    return VisitLine(
        taken_at=visit.taken_at,
        reader=visit.reader,
        ambient_c=visit.ambient_c,
        temperature_c=visit.temperature_c,
        load=visit.load_ratio,
        href="" if visit.round_id is None else f"/readings/{visit.uid}",
        rise=view.figure(visit.value_k, visit.u_k),
        common=view.figure(visit.common_k, visit.u_common_k),
        level=visit.level,
        at_least=visit.at_least,
        sure=view.sureness(visit.band, visit.chances),
        replaced=visit.replaced,
        notes=(*named, *said.visit_notes(visit, reference)),
    )


def _way(neighbour: Neighbour | None) -> Way | None:
    return None if neighbour is None else Way(neighbour.name, f"/points/{neighbour.point_id}")
