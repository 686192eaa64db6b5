"""Standing: the news of the fleet, every point as a stroke, what to decide first."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse
from markupsafe import Markup

from service.charts.months import months
from service.charts.sparkline import Spark, sparkline
from service.charts.strips import strip_key
from service.domain.findings import SetAside
from service.domain.overview import MonthEnd, Moves, Overdue, Overview, SiteCount, WorstPoint
from service.domain.permissions import own_rounds_only
from service.domain.words import FindingState, Level
from service.errors import Problem
from service.pages import view
from service.pages.asking import Around, SignedIn
from service.pages.strip_shelf import StripShelf, shelf_of
from service.pages.templating import render
from service.pages.view import StandingCounts
from service.usecases.condition.overview import see_overview

router = APIRouter()


@router.get("/")
def standing(
    request: Request, around: Around, actor: SignedIn, as_at: Annotated[str, Query(max_length=40)] = ""
) -> HTMLResponse:
    now = around.now()
    day, problems = _as_at(as_at)
    # a technician sees own rounds only, and an earlier day is drawn for the asking: neither is kept
    shared = day is None and not own_rounds_only(actor)
    shelf = shelf_of(around.store, now.date()) if shared else StripShelf(now.date())
    seen = see_overview(around.store, actor, now=now, to_draw=shelf.stale, as_at=day)
    strips = shelf.draw(seen.sites, seen.strokes)
    page = _page(seen, strips, today=now.date())
    return render(
        request, "standing/index.html", status_code=422 if problems else 200, place="standing", page=page,
        problems=problems,
    )  # fmt: skip


def _as_at(typed: str) -> tuple[date | None, list[Problem]]:
    if not typed:
        return None, []
    try:
        return date.fromisoformat(typed), []
    except ValueError:
        return None, [Problem("", "as-at", typed[:40], "This is no day.", "Type it as 2026-11-30.")]


@dataclass(frozen=True, slots=True)
class SiteLine:
    """One row of the field."""

    name: str
    href: str
    read_words: str
    levels: tuple[int, ...]
    points: int
    no_verdict: int
    last_read: date | None
    strip: Markup


@dataclass(frozen=True, slots=True)
class DecideLine:
    """One of *Decide these first*."""

    href: str
    level: Level
    at_least: bool
    value: str
    line_words: str
    place: str
    part: str
    clause: str
    who: str
    spark: Markup


@dataclass(frozen=True, slots=True)
class OverdueLine:
    href: str
    title: str
    words: str


@dataclass(frozen=True, slots=True)
class MonthLine:
    level: Level
    chart: Markup
    ends: tuple[int, ...]
    now: int


@dataclass(frozen=True, slots=True)
class StandingPage:
    """Everything standing/index.html prints."""

    title: str
    lead: str
    as_at: str
    today: str
    is_past: bool
    sites: tuple[SiteLine, ...]
    key: Markup
    decide: tuple[DecideLine, ...]
    none_waits: str
    above_words: str
    overdue: tuple[OverdueLine, ...]
    since_title: str
    since: tuple[tuple[str, str], ...]
    months: tuple[MonthLine, ...]
    month_names: tuple[str, ...]


def _page(seen: Overview, strips: Mapping[int, Markup], *, today: date) -> StandingPage:
    counts = StandingCounts(seen.levels, seen.no_verdict)
    is_past = seen.on < today
    title = view.standing_title(counts)
    above = sum(seen.levels[1:])
    return StandingPage(
        title=f"As at {view.day(seen.on)}: {title[:1].lower()}{title[1:]}" if is_past else title,
        lead=_lead(seen, is_past=is_past),
        as_at=seen.on.isoformat(),
        today=today.isoformat(),
        is_past=is_past,
        sites=tuple(_site_line(site, strips[site.site_id]) for site in seen.sites),
        key=strip_key(),
        decide=tuple(_decide_line(point) for point in seen.worst),
        none_waits=_none_waits(above),
        above_words=f"All {view.counted(above, 'point')} above Nothing found"
        if above > len(seen.worst)
        else "",
        overdue=tuple(_overdue_line(row, today) for row in seen.overdue),
        since_title=f"Since {view.day(seen.since) if is_past else view.long_month_day(seen.since)}",
        since=_since(seen.moves, is_past=is_past),
        months=_month_lines(seen.months, seen.levels),
        month_names=tuple(view.short_month(end.month) for end in seen.months),
    )


def _none_waits(above: int) -> str:
    """What stands where the list of decisions is empty."""
    if not above:
        return "No point stands above Nothing found. Nothing waits for a decision of yours."
    them = "The one point" if above == 1 else f"All {view.counted(above, 'point')}"
    return f"{them} above Nothing found {'is' if above == 1 else 'are'} decided on."


def _lead(seen: Overview, *, is_past: bool) -> str:
    """Coverage, the gentler levels, and whether repairs held; only what there is."""
    levels, points = seen.levels, sum(site.points for site in seen.sites)
    if not points:
        return "Points come from the register; their standings from the rounds."
    said_first = []
    read = sum(site.read for site in seen.sites)
    at = sum(site.read > 0 for site in seen.sites)
    if not is_past:
        where = f"{view.number_word(at)} of {view.counted_in_words(len(seen.sites), 'site')}"
        of = f"{view.thousands(read)} of {view.counted(points, 'point')}"
        said_first.append(f"{of} read in {view.month(seen.month)}, at {where}.")
    rest = []
    if levels[1]:
        rest.append(f"{view.counted(levels[1], 'point')} to be looked at again")
    if levels[2] and (levels[4] or levels[3]):
        rest.append(f"{view.counted(levels[2], 'repair')} to be planned")
    rest.append(f"nothing found on {view.thousands(levels[0])}")
    if seen.no_verdict:
        rest.append(f"no verdict on {view.thousands(seen.no_verdict)}")
    said_first.append(f"{view.sentence_case(view.listed(rest))}.")
    held, again = seen.moves.repairs_held, seen.moves.repairs_read_again
    if again:
        said_first.append(view.repairs_held(held, again))
    return " ".join(said_first)


def _site_line(site: SiteCount, strip: Markup) -> SiteLine:
    last = None if site.last_read_at is None else view.local(site.last_read_at, site.zone).date()
    points = view.counted(site.points, "point")
    return SiteLine(
        name=site.name,
        href=f"/standing/sites/{site.site_id}",
        read_words=points if last is None else f"{points}, read {view.short_day(last)}",
        levels=site.levels,
        points=site.points,
        no_verdict=site.no_verdict,
        last_read=last,
        strip=strip,
    )


def _decide_line(point: WorstPoint) -> DecideLine:
    return DecideLine(
        href=f"/points/{point.point_id}",
        level=point.level,
        at_least=point.at_least,
        value=view.kelvin(point.value_k),
        line_words="" if point.line_k is None else f"line {view.line_value(point.line_k)}",
        place=f"{point.site} · {point.equipment}",
        part=view.place(point.point, point.view),
        clause=_clause(point),
        who=_who(point),
        spark=sparkline(
            Spark(
                on=[visit.taken_at.date() for visit in point.visits],
                rise_k=[view.own_value(visit.rise_k, view.KELVIN) for visit in point.visits],
                level=point.level,
                line_k=view.own_value_or_none(point.line_k, view.KELVIN),
                unit=view.kelvin_word(),
                title=f"{point.equipment}, {point.point}: history of two years",
                episodes=[visit.episode for visit in point.visits],
            )
        ),
    )


def _clause(point: WorstPoint) -> str:
    """What it feeds or says, and why it stands where it stands."""
    return " ".join(
        filter(None, (point.consequence or view.own_words(point.sentence), view.loss_words(point.loss)))
    )


def _who(point: WorstPoint) -> str:
    """Owner, plan and who was told, in one line."""
    if point.aside is not None and point.aside.level is not None:
        return _aside_words(point.aside, point.aside.level, point.level)
    if point.finding_id is None:
        untold = " Nobody is on record as told." if point.level is Level.ACT_NOW else ""
        return f"No finding yet, so no owner.{untold}"
    said_of_it = [point.owner or "No owner yet"]
    if point.finding_state is FindingState.PLANNED and point.planned_for is not None:
        said_of_it.append(f"repair planned for {view.short_day(point.planned_for)}")
    elif point.due_on is not None:
        said_of_it.append(f"decision due {view.short_day(point.due_on)}")
    if point.work_order:
        said_of_it.append(f"work order {point.work_order}")
    if point.told_at is not None:
        said_of_it.append(f"{point.told_whom} told {view.short_day(point.told_at)}")
    elif point.level is Level.ACT_NOW:
        said_of_it.append("nobody is on record as told")
    return "; ".join(said_of_it)


def _aside_words(aside: SetAside, at: Level, now: Level) -> str:
    """Why a point that was set aside is back: it has risen, or its review has come."""
    if now > at:
        return f"Set aside at {at.word}; it has risen since."
    due = (
        "its review has no day"
        if aside.review_on is None
        else f"review due {view.short_day(aside.review_on)}"
    )
    return f"Set aside at {at.word}; {due}."


def _overdue_line(row: Overdue, today: date) -> OverdueLine:
    if row.repaired_at is not None:
        late = f"repaired {view.day(row.repaired_at)}, not proven by a reading since"
    elif row.due_on is not None:
        late = f"was due {view.day(row.due_on)}, {view.span(row.due_on, today)} ago"
    else:
        late = str(row.state)
    return OverdueLine(
        href=f"/findings/{row.finding_id}",
        title=f"{row.site} · {view.own_title(row.title)}",
        words=f"{view.sentence_case(late)}. {row.owner or 'No owner yet'}.",
    )


def _since(moves: Moves, *, is_past: bool) -> tuple[tuple[str, str], ...]:
    rows = []
    up, down = sum(moves.up.values()), sum(moves.down.values())
    if up:
        rows.append(
            (
                f"{view.sentence_case(view.number_word(up))} moved up",
                f"a level: {view.kinds_counted(moves.up)}.",
            )
        )
    if down:
        held = moves.down_after_repair
        rest = (
            f"{view.number_word(held)} of them after a repair that held."
            if held
            else f"{view.kinds_counted(moves.down)}."
        )
        rows.append((f"{view.sentence_case(view.number_word(down))} moved down,", rest))
    waiting = sum(moves.awaiting_proof.values())
    if waiting and not is_past:
        noun = "repair is" if waiting == 1 else "repairs are"
        rows.append(
            (
                f"{view.sentence_case(view.number_word(waiting))} {noun}",
                f"still to be read again, at {view.listed(list(moves.awaiting_proof))}.",
            )
        )
    return tuple(rows)


def _month_lines(ends: Sequence[MonthEnd], levels: tuple[int, ...]) -> tuple[MonthLine, ...]:
    if not ends:
        return ()
    return tuple(
        MonthLine(
            level=level,
            chart=months(
                [*(end.levels[level] for end in ends), levels[level]], title=level.word, level=level
            ),
            ends=tuple(end.levels[level] for end in ends),
            now=levels[level],
        )
        for level in (Level.ACT_NOW, Level.REPAIR_SOON, Level.PLAN_REPAIR, Level.LOOK_AGAIN)
    )
