"""Permits to ask for: by site, for the rounds of some weeks; to be printed, or taken along as CSV."""

from datetime import date, timedelta
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from service.domain.people import Actor
from service.domain.run_requests import run_words
from service.domain.walking_parties import Walker
from service.domain.words import PermitState
from service.domain.working_days import PERMIT_LEAD_DAYS
from service.errors import Invalid, Problem
from service.pages import view
from service.pages.asking import Around, SignedInForOthers
from service.pages.rounds import attached
from service.pages.run_words import run_state
from service.pages.templating import render
from service.reports.permit_requests import permit_requests_csv
from service.usecases.rounds.permit_requests import (
    AskedStop,
    PermitRequest,
    PermitRequests,
    list_permit_requests,
)
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/rounds/permits")
Typed = Annotated[str, Query(max_length=20)]
#: rounds of the coming month, where nobody says otherwise
SPAN_DAYS = 31


@router.get("")
def show(
    request: Request,
    around: Around,
    actor: SignedInForOthers,
    first: Typed = "",
    last: Typed = "",
    lead: Typed = "",
) -> Response:
    found, problems = _asked(around, actor, first, last=last, lead=lead)
    today = around.now().date()
    return render(
        request,
        "rounds/permit_requests.html",
        status_code=422 if problems else 200,
        place="rounds",
        title=requests_title(found),
        found=found,
        typed={
            "first": first or found.first.isoformat(),
            "last": last or found.last.isoformat(),
            "lead": lead or str(found.lead_days),
        },
        query=f"first={found.first.isoformat()}&last={found.last.isoformat()}&lead={found.lead_days}",
        today=today,
        state_words=state_words,
        when_words=when_words,
        run_words=run_words,
        walkers=walkers,
        problems=problems,
    )


@router.get(".csv")
def csv_file(
    around: Around, actor: SignedInForOthers, first: Typed = "", last: Typed = "", lead: Typed = ""
) -> Response:
    found, problems = _asked(around, actor, first, last=last, lead=lead)
    if problems:
        raise Invalid(problems)
    rows = [
        csv_row(site.name, site.contact_name, site.contact_phone, one, asked)
        for site in found.sites
        for one in site.requests
        for asked in one.stops
    ]
    name = f"permits-{found.first.isoformat()}-to-{found.last.isoformat()}.csv"
    return attached(permit_requests_csv(rows), "text/csv; charset=utf-8", name)


def _asked(
    around: Surroundings, actor: Actor, first: str, *, last: str, lead: str
) -> tuple[PermitRequests, list[Problem]]:
    """The list as asked for; with a slip in the address the usual one, and what was wrong."""
    today = around.now().date()
    problems: list[Problem] = []
    start = _day("first", first, problems) or today
    end = _day("last", last, problems) or start + timedelta(days=SPAN_DAYS)
    lead_days = _whole(lead, problems)
    at: dict[str, Any] = {"now": around.now()}
    if not problems:
        try:
            return list_permit_requests(
                around.store, actor, first=start, last=end, lead_days=lead_days, **at
            ), []
        except Invalid as error:
            problems = list(error.problems)
    usual = today + timedelta(days=SPAN_DAYS)
    return list_permit_requests(
        around.store, actor, first=today, last=usual, lead_days=PERMIT_LEAD_DAYS, **at
    ), problems


def _day(name: str, typed: str, problems: list[Problem]) -> date | None:
    try:
        return date.fromisoformat(typed) if typed else None
    except ValueError:
        problems.append(Problem("form", name, typed, "This is not a day.", "Type it as 2026-12-08."))
        return None


def _whole(typed: str, problems: list[Problem]) -> int:
    if not typed:
        return PERMIT_LEAD_DAYS
    if typed.isascii() and typed.isdigit():
        return int(typed)
    problems.append(Problem("form", "lead", typed, "This is not a whole number.", "Type it as 5."))
    return PERMIT_LEAD_DAYS


def requests_title(found: PermitRequests) -> str:
    """Four covers at two sites still wait for a permit to be asked for."""
    covers = sum(site.covers for site in found.sites)
    if not covers:
        return _runs_title(found)
    sites = [site for site in found.sites if site.waiting]
    if not sites:
        return f"Permits for all {view.counted(covers, 'cover')} are asked for{_and_runs(found)}"
    count = view.number_word(found.waiting)
    where = sites[0].name if len(sites) == 1 else f"{view.number_word(len(sites))} sites"
    verb = "cover waits" if found.waiting == 1 else "covers wait"
    return view.sentence_case(f"{count} {verb} for a permit to be asked for at {where}{_and_runs(found)}")


def _and_runs(found: PermitRequests) -> str:
    waiting = found.runs_waiting
    return f"; {_machines(waiting)} still to be asked to run" if waiting else ""


def _runs_title(found: PermitRequests) -> str:
    """Where no cover is opened."""
    runs = sum(site.to_run for site in found.sites)
    if not runs:
        return f"No cover is opened on rounds from {view.day(found.first)} to {view.day(found.last)}"
    told = f"{view.sentence_case(_machines(runs))} to be run for a visit; no cover is opened"
    return told if found.runs_waiting else f"{told}, and all are asked for"


def _machines(count: int) -> str:
    return f"{view.number_word(count)} machine{'' if count == 1 else 's'}"


def when_words(one: PermitRequest, today: date) -> str:
    """Until when to ask; a day that has gone by is no advice."""
    if one.late(today):
        return f"At once: asking was due {view.day(one.ask_by)}"
    return f"Ask by {view.day(one.ask_by)}"


def state_words(asked: AskedStop) -> str:
    """What is noted of the permit of a cover."""
    permit = asked.permit
    if permit is None:
        return "to be asked for"
    if permit.state is PermitState.CLOSED:
        return "handed back: ask again"
    number = f", {permit.number}" if permit.number else ", no number yet"
    return f"{permit.state.value}{number}"


def walkers(one: PermitRequest) -> str:
    """Who comes: names, and who of them is on record as qualified."""
    party = [_walker(walker) for walker in (one.person, one.second) if walker is not None]
    return view.listed(party) or "nobody named yet"


def _walker(walker: Walker) -> str:
    return f"{walker.name} (qualified)" if walker.qualified else walker.name


def csv_row(site: str, contact: str, phone: str, one: PermitRequest, asked: AskedStop) -> list[str]:
    """One cover as a row of the file."""
    facts, time = asked.stop.facts, asked.stop.time
    return [
        site,
        contact,
        phone,
        one.ask_by.isoformat(),
        one.round.planned_on.isoformat(),
        view.minute_of_day(time.start_min),
        view.minute_of_day(time.end_min),
        one.round.code,
        facts.tag,
        facts.name,
        facts.area_name,
        facts.access.value,
        facts.voltage_class,
        facts.stand_off,
        _walker(one.person) if one.person else "",
        _walker(one.second) if one.second else "",
        "to be asked for" if asked.waits else asked.permit.state.value if asked.permit else "",
        asked.permit.number if asked.permit else "",
        asked.runs_in_turn,
        run_state(asked.request, asked.day) if asked.runs_in_turn else "",
    ]
