"""How the trends did: every flag that today's rules would have raised, and what came of it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby, pairwise
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse
from markupsafe import Markup

from service.charts.offsets import OffsetDot, offsets_chart
from service.domain.hindsight import Hindsight, LineChoice, PastFlag, RoundOffset
from service.pages import view
from service.pages.asking import Around, SignedInForOthers
from service.pages.templating import render
from service.trends.offsets import CAP_K
from service.usecases.condition.hindsight import see_hindsight

router = APIRouter(prefix="/reports")

#: rounds running that all rose before a drift is told
DRIFT = 3


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
    today = now.date()
    return render(
        request, "reports/trends.html", place="reports", found=found, title=title(found), setting=setting(found),
        ranges=ranges(found, today), rows=[(flag, gained(flag), told_range(flag)) for flag in found.flags],
        choices=[(shift_words(choice), choice, lead(choice.lead_days)) for choice in found.choices],
        offsets=list(drawn(found.offsets)),
    )  # fmt: skip


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
