"""Load hours and minutes learned from visits: on the page of an equipment, and a site's equipment in a list."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request
from markupsafe import Markup
from starlette.responses import Response

from service.charts.load_week import LoadRow, load_week_key, load_week_svg
from service.domain.hours_seen import GROUPS, GroupSeen, HoursSuggestion
from service.domain.load_hours import LoadHours
from service.domain.minutes_seen import WALKED, MinutesSuggestion
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.pages import view
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.rounds import Id
from service.pages.templating import redirect, render
from service.physics.load_windows import LEAST_DAYS, LEAST_VISITS
from service.usecases.register.browse import list_clients
from service.usecases.register.learn_hours import (
    AsVisited,
    VisitedPage,
    list_as_visited,
    take_hours,
    take_minutes,
)
from service.usecases.surroundings import Surroundings

router = APIRouter()
SiteId = Annotated[int | None, Query(ge=1, le=2**53, alias="site")]
After = Annotated[int, Query(ge=0, le=2**53)]


@dataclass(frozen=True, slots=True)
class VisitedWords:
    """What the section on an equipment's page says; ``drawing`` is None without a visit with amps."""

    seen: AsVisited
    evidence: str
    hours: str
    minutes: str
    walks: str
    drawing: Markup | None
    key: Markup


def visited_words(seen: AsVisited) -> VisitedWords:
    """The section in words and as a drawing."""
    hours = seen.hours
    return VisitedWords(
        seen=seen,
        evidence=evidence_words(hours),
        hours=hours_words(hours),
        minutes=minutes_words(seen.minutes),
        walks=walks_words(seen.minutes),
        drawing=load_week_svg([_row(group, hours.typed) for group in _drawn(hours)])
        if hours.visits
        else None,
        key=load_week_key(),
    )


def _drawn(hours: HoursSuggestion) -> list[GroupSeen]:
    """Weekends nobody came in are not drawn, unless hours are typed for them alone."""
    return [group for group in hours.groups if group.minutes] or list(hours.groups[:1])


def _row(group: GroupSeen, typed: LoadHours | None) -> LoadRow:
    days = dict(GROUPS)[group.name]
    return LoadRow(
        name=f"{group.name}, {group.season}" if group.season else group.name,
        typed=() if typed is None else typed.on(days[0]),
        loaded=group.loaded_windows,
        idle=group.idle_windows,
        visits=tuple(zip(group.minutes, group.loaded, strict=True)),
    )


def evidence_words(hours: HoursSuggestion) -> str:
    """64 visits on 61 days …, 58 of them at 40 % load or more."""
    if not hours.visits:
        return "No visit of the last three years says its load: amps, and a common load to hold them against."
    season = " The half-years differ; idle in one of them is left out." if hours.by_season else ""
    return (
        f"{view.counted(hours.visits, 'visit')} on {view.counted(hours.days, 'day')}, {view.day(hours.first)} to "
        f"{view.day(hours.last)}; {hours.loaded} of them at {view.percent(0.4)} load or more.{season}"
    )


def hours_words(hours: HoursSuggestion) -> str:
    """What the visits say of the load hours, or why they say nothing."""
    if not hours.can_tell:
        return f"Cannot tell: no hour has {LEAST_VISITS} visits on {LEAST_DAYS} days that agree."
    if hours.offered:
        return view.sentence_case(view.load_hours_words(hours.text))
    if not hours.text:
        return "Found idle whenever somebody came: no hours to offer."
    return "As typed: the visits say nothing else."


def minutes_words(one: MinutesSuggestion) -> str:
    """What the walks say of the minutes."""
    if one.minutes is None:
        return f"Cannot tell: {len(one.walked)} of {WALKED} walks by the clock."
    if not one.offered:
        return "As registered: the walks say nothing else."
    capped = "; moved by half of that at most" if one.capped else ""
    return f"{view.minutes(one.minutes)} ({view.minutes(one.place.minutes)} registered{capped})"


def walks_words(one: MinutesSuggestion) -> str:
    """How long the last five walks stayed there."""
    if not one.walked:
        return ""
    spans = ", ".join(f"{span:.0f}" for span in one.walked)
    dressing = f" and {view.minutes(one.dressing_min)} for dressing (own rule)" if one.dressing_min else ""
    return (
        f"Minutes there on the last walks: {spans}; their median. From arrival to leaving where that was noted, "
        f"else first to last reading{dressing}."
    )


@router.post("/equipment/{equipment_id}/load-hours")
def take_load_hours(around: Around, actor: SignedIn, form: Posted, equipment_id: Id) -> Response:
    done = take_hours(
        around.store, actor, equipment_id, text=form.text("text"), version=form.version(), now=around.now()
    )
    return redirect(f"/equipment/{equipment_id}", say=f"Load hours: {view.load_hours_words(done.text)}.")


@router.post("/equipment/{equipment_id}/minutes")
def take_stop_minutes(around: Around, actor: SignedIn, form: Posted, equipment_id: Id) -> Response:
    minutes = form.whole("minutes")
    form.done()
    done = take_minutes(
        around.store, actor, equipment_id, minutes=minutes or 0, version=form.version(), now=around.now()
    )
    return redirect(
        f"/equipment/{equipment_id}", say=f"{view.minutes(done.minutes)} at this stop from now on."
    )


@router.get("/load-hours")
def show_site(
    request: Request, around: Around, actor: SignedIn, site_id: SiteId = None, after: After = 0
) -> Response:
    if site_id is None:
        return _choose_site(request, around, actor)
    page = list_as_visited(around.store, actor, site_id, now=around.now(), after=after)
    return render(
        request,
        "register/hours_seen.html",
        place="equipment",
        title=site_title(page),
        page=page,
        lines=[(one, hours_words(one.hours), minutes_words(one.minutes)) for one in page.items],
    )


def _choose_site(request: Request, around: Surroundings, actor: Actor) -> Response:
    require(actor, Verb.KEEP_REGISTER)
    sites = [site for client in list_clients(around.store, actor) for site in client.sites]
    if len(sites) == 1:
        return redirect(f"/load-hours?site={sites[0].id}")
    return render(request, "register/hours_of_sites.html", place="setup", sites=sites)


def site_title(page: VisitedPage) -> str:
    """For how many the visits say other hours or minutes."""
    hours = sum(one.hours.offered for one in page.items)
    minutes = sum(one.minutes.offered for one in page.items)
    if not hours and not minutes:
        return f"The visits at {page.site_name} say no other hours or minutes"
    told = [
        f"other {what} at {view.counted_in_words(count, 'stop')}"
        for what, count in (("load hours", hours), ("minutes", minutes))
        if count
    ]
    return f"The visits at {page.site_name} speak for {view.listed(told)}"
