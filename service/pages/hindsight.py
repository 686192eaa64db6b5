"""How the trends did: every flag that today's rules would have raised, and what came of it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby, pairwise
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse
from markupsafe import Markup
from starlette.responses import Response

from service.charts.offsets import OffsetDot, offsets_chart
from service.domain.called import FALSE_SHARE, CalledPoint, CalledPoints
from service.domain.hindsight import Hindsight, LineChoice, PastFlag, RoundOffset
from service.domain.permissions import Verb, may
from service.pages import view
from service.pages.asking import Around, SignedIn, SignedInForOthers
from service.pages.forms import Posted
from service.pages.templating import redirect, render
from service.trends.offsets import CAP_K
from service.usecases.condition.all_trends import ask_trends, see_asked, stop_asked
from service.usecases.condition.called import see_called_points
from service.usecases.condition.hindsight import see_hindsight

router = APIRouter(prefix="/reports")

#: rounds running that all rose before a drift is told
DRIFT = 3
#: rows of the list of called points
CALLED_SHOWN = 100


@dataclass(frozen=True, slots=True)
class Drawn:
    """The offsets of one site and one kind of reference."""

    site: str
    reference: str
    chart: Markup
    warning: str


@router.get("/trends")
def of_trends(
    request: Request,
    around: Around,
    actor: SignedInForOthers,
    site_id: Annotated[int | None, Query(ge=1)] = None,
) -> HTMLResponse:
    now = around.now()
    found = see_hindsight(around.store, actor, site_id=site_id, now=now)
    called = see_called_points(around.store, actor, site_id=site_id)
    today = now.date()
    return render(
        request, "reports/trends.html", place="reports", found=found, title=title(found), setting=setting(found),
        ranges=ranges(found, today), rows=[(flag, gained(flag), told_range(flag)) for flag in found.flags],
        choices=[(shift_words(choice), choice, lead(choice.lead_days)) for choice in found.choices],
        offsets=list(drawn(found.offsets)), called=called, called_words=called_words(called),
        called_rows=[(point, called_says(point)) for point in called.points[:CALLED_SHOWN]],
        called_more=max(len(called.points) - CALLED_SHOWN, 0),
        waiting=see_asked(around.store, actor), may_ask=may(actor, Verb.KEEP_REGISTER),
    )  # fmt: skip


@router.post("/trends/anew")
def tell_anew(around: Around, actor: SignedIn, form: Posted) -> Response:
    """Have the trends of every site in sight told anew; what is known stays until then."""
    sites = ask_trends(around.store, actor, now=around.now())
    return redirect("/reports/trends", say=f"{view.counted(sites, 'site')} put in line for the workers.")


@router.post("/trends/stop")
def stop_anew(around: Around, actor: SignedIn, form: Posted) -> Response:
    sites = stop_asked(around.store, actor, now=around.now())
    return redirect("/reports/trends", say=f"{view.counted(sites, 'site')} taken back.")


def title(found: Hindsight) -> str:
    """Seventeen of 46 flags proved right, 12 wrong; the rest is open."""
    if not found.flags:
        return f"No trend would have been flagged at {view.counted(found.points, 'point')}"
    rest = len(found.flags) - found.right - found.wrong
    flags = view.counted(len(found.flags), "flag")
    return (
        f"Of {flags}, {view.number_word(found.right)} proved right and {view.number_word(found.wrong)} wrong"
        + (f"; {view.number_word(rest)} cannot be told yet" if rest else "")
    )


def called_words(called: CalledPoints) -> str:
    """31 points of 650 are called. The first 24 stand in a list of which at most 5 % is expected to be false."""
    if not called.points:
        return f"No point is called, of {view.counted(called.scored, 'point')} with visits enough."
    tried = f"{view.sentence_case(view.counted(len(called.points), 'point'))} of {view.thousands(called.scored)} with visits enough {'is' if len(called.points) == 1 else 'are'} called."
    rule = f"a list of which at most {view.percent(FALSE_SHARE)} is expected to be false"
    rest = len(called.points) - called.holding
    if not called.holding:
        return f"{tried} None is sure enough for {rule}: each may be chance."
    held = f"The first {view.number_word(called.holding)} stand" if rest else "All stand"
    if called.holding == 1:
        held = "The first stands" if rest else "It stands"
    others = f" Of the other {view.number_word(rest)} more may be chance." if rest else ""
    return f"{tried} {held} in {rule}: {expected_false(called)}.{others}"


def expected_false(called: CalledPoints) -> str:
    """About two of them; fewer than one is told as such."""
    count = called.expected_false
    if count < 0.5:
        return "that is fewer than one"
    return f"that is about {view.number_word(round(count))}"


def called_says(point: CalledPoint) -> str:
    """Rising: 6.2 K since March 2026."""
    place = point.place
    word = view.sentence_case(place.trend.value)
    if place.risen_k is None or place.onset_on is None:
        return word
    return f"{word}: {view.kelvin(place.risen_k)} since {view.month(place.onset_on)}"


def setting(found: Hindsight) -> str:
    """About one wrong flag per 100 points a year."""
    rate = found.wrong_per_100_years
    if rate is None:
        return "Nothing has been read twice yet."
    years = view.thousands(round(found.years))
    return (
        f"About {rate:.1f} wrong flags per 100 points a year, over {view.counted(found.points, 'point')}"
        f" and {years} point-years."
    )


def ranges(found: Hindsight, today: date) -> str:
    """Two of five ranges of dates held."""
    held, known = found.ranges(today)
    if not known:
        return "No range of dates can be checked yet."
    return f"{view.sentence_case(view.number_word(held))} of {view.number_word(known)} ranges of dates that can be checked held."


def gained(flag: PastFlag) -> str:
    """26 days before a reading alone asked for a repair."""
    days = flag.lead_days
    if days is None:
        return "no reading alone has asked for a repair"
    return (
        "the same day as a reading alone"
        if days == 0
        else f"{view.counted(days, 'day')} before a reading alone"
    )


def told_range(flag: PastFlag) -> str:
    if flag.forecast_from is None:
        return ""
    ends = "or later" if flag.forecast_to is None else f"to {view.month(flag.forecast_to)}"
    reached = "" if flag.reached_on is None else f"; reached {view.day(flag.reached_on)}"
    return f"{view.month(flag.forecast_from)} {ends}{reached}"


def shift_words(choice: LineChoice) -> str:
    if choice.shift == 0:
        return "as they are"
    return f"{abs(choice.shift):g} {'stricter' if choice.shift > 0 else 'looser'}"


def lead(days: float | None) -> str:
    return view.NONE if days is None else f"{view.counted(round(days), 'day')}"


def drawn(offsets: Sequence[RoundOffset]) -> Iterator[Drawn]:
    """One drawing a site and kind of reference."""
    ordered = sorted(offsets, key=lambda one: (one.site, one.reference.value, one.on))
    for (site, reference), group in groupby(ordered, key=lambda one: (one.site, one.reference)):
        rounds = list(group)
        unit = view.kelvin_word()
        dots = [
            OffsetDot(
                one.on,
                view.own_value(one.offset_k, view.KELVIN),
                view.own_value(2 * one.u_k, view.KELVIN),
                f"{view.day(one.on)}: {view.kelvin(one.offset_k)} ± {view.kelvin(2 * one.u_k)} from {view.counted(one.members, 'point')}",
            )
            for one in rounds
        ]
        name = f"{site}, {reference.value}"
        yield Drawn(
            site,
            reference.value,
            offsets_chart(
                dots,
                title=f"What the rounds of {name} shared",
                desc=f"{view.counted(len(dots), 'round')}, last {dots[-1].tip}.",
                unit=unit,
                most=view.own_value(CAP_K, view.KELVIN),
            ),
            warning(rounds),
        )


def warning(rounds: Sequence[RoundOffset]) -> str:
    """A round that shared much, or a drift over the last ones, is said instead of being taken away in silence."""
    last = rounds[-1]
    if abs(last.offset_k) >= CAP_K:
        return (
            f"The round of {view.day(last.on)} shared {view.kelvin(last.offset_k)}: check the instrument and the air"
            " that was typed, and whether most points truly rose."
        )
    tail = rounds[-DRIFT - 1 :]
    rises = all(after.offset_k - before.offset_k > 2 * after.u_k for before, after in pairwise(tail))
    if len(tail) > DRIFT and rises:
        return f"It has climbed for {view.number_word(DRIFT)} rounds: the instrument drifts, or most points rise together."
    return ""
