"""Standing of one site: every point large, area by area, and as rows."""

from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Annotated

from fastapi import APIRouter, Path, Request
from fastapi.responses import HTMLResponse
from markupsafe import Markup

from service.charts.strips import LARGE_RUNG, Strip, strip_key, strip_lines
from service.domain.overview import SitePicture
from service.domain.words import Level
from service.pages import view
from service.pages.asking import Around, SignedIn
from service.pages.strip_shelf import as_strip, pending_words, said
from service.pages.templating import render
from service.pages.view import StandingCounts
from service.usecases.condition.overview import see_site

router = APIRouter()

#: points on one line of a site's own page
LARGE_PER_LINE = 90


@dataclass(frozen=True, slots=True)
class AreaStrip:
    name: str
    words: str
    strip: Markup


@dataclass(frozen=True, slots=True)
class PointLine:
    href: str
    name: str
    tag: str
    area: str
    level: Level | None
    at_least: bool
    value_k: float | None
    trend: str
    last_read: date | None


@dataclass(frozen=True, slots=True)
class SitePage:
    """Everything standing/site.html prints."""

    name: str
    title: str
    lead: str
    equipment_href: str
    key: Markup
    areas: tuple[AreaStrip, ...]
    points: tuple[PointLine, ...]


@router.get("/standing/sites/{site_id}")
def site(
    request: Request, around: Around, actor: SignedIn, site_id: Annotated[int, Path(ge=1, le=2**53)]
) -> HTMLResponse:
    picture = see_site(around.store, actor, site_id=site_id, now=around.now())
    return render(request, "standing/site.html", place="standing", page=_site_page(picture))


def _site_page(picture: SitePicture) -> SitePage:
    of = picture.site
    news = view.standing_title(StandingCounts(of.levels, of.no_verdict))
    last = "" if of.last_read_at is None else f" Last read {view.day(of.last_read_at, of.zone)}."
    return SitePage(
        name=of.name,
        title=f"{of.name}: {news[:1].lower()}{news[1:]}",
        lead=f"{said(of, pending=int(picture.strokes.pending.sum())).split(': ', 1)[1]}{last}",
        equipment_href=f"/equipment?site={of.site_id}",
        key=strip_key(),
        areas=_area_strips(picture),
        points=tuple(
            PointLine(
                href=f"/points/{point.point_id}", name=point.name, tag=point.tag, area=point.area, level=point.level,
                at_least=point.at_least, value_k=point.value_k,
                trend="being worked out" if point.pending else point.trend,
                last_read=None if point.last_read_at is None else view.local(point.last_read_at, of.zone).date(),
            )
            for point in picture.points
        ),
    )  # fmt: skip


def _area_said(name: str, strip: Strip) -> str:
    """Switchroom: 24 points. 3 trends are being worked out."""
    points = view.counted(strip.levels.size, "point")
    return f"{name}: {points}. {pending_words(int(strip.pending.sum()))}".rstrip()


def _area_strips(picture: SitePicture) -> tuple[AreaStrip, ...]:
    """One strip per area, all on one scale; areas follow each other in walking order."""
    whole = as_strip(picture.site.name, picture.strokes)
    runs, start = [], 0
    for name, group in groupby(picture.strokes.areas):
        size = len(list(group))
        runs.append((name, start, start + size))
        start += size
    scale = min(max((stop - first for _, first, stop in runs), default=1), LARGE_PER_LINE)
    return tuple(
        AreaStrip(
            name=name,
            words=view.counted(stop - first, "point"),
            strip=strip_lines(
                whole.part(first, stop), scale=scale, label=_area_said(name, whole.part(first, stop)),
                per_line=LARGE_PER_LINE, every=True, rung=LARGE_RUNG,
            ),
        )
        for name, first, stop in runs
    )  # fmt: skip
