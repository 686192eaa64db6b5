"""Set-up › Criteria: the lines by which a rise becomes a level, each with its source."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from service.domain.bands import BandRule
from service.domain.criteria import Criteria
from service.domain.permissions import Verb, may
from service.domain.words import Level
from service.errors import NotFound
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.templating import redirect, render
from service.pages.view import number
from service.usecases.condition.criteria_sets import choose_site_criteria, see_criteria

router = APIRouter(prefix="/set-up/criteria")


Lines = list[tuple[str, Level, str]]


def band_lines(rule: BandRule, *, quiet_under: str = "") -> Lines:
    """Each band of a column as words, with our level and the table's own words.

    ``quiet_under`` is where the first band begins when nothing is found below it.
    """
    lines: Lines = []
    for place, level in enumerate(rule.levels):
        low = rule.edges[place - 1] if place else None
        high = rule.edges[place] if place < len(rule.edges) else None
        unit = rule.unit.value
        if low is None and high is not None and quiet_under:
            words = f"from {quiet_under} to {'under ' * high.closes_up}{_figure(high.value)} {unit}"
        elif low is None and high is not None:
            words = f"{'under' if high.closes_up else 'up to'} {_figure(high.value)} {unit}"
        elif high is None and low is not None:
            words = f"{'from' if low.closes_up else 'over'} {_figure(low.value)} {unit}"
        elif low is not None and high is not None:
            upto = "to under" if high.closes_up else "to"
            words = f"{'from' if low.closes_up else 'over'} {_figure(low.value)} {upto} {_figure(high.value)} {unit}"
        else:
            words = "any"
        lines.append((words, level, rule.bands[place] if place < len(rule.bands) else ""))
    return lines


def _figure(value: float) -> str:
    return number(value, 0 if value == int(value) else 1)


def columns(criteria: Criteria) -> list[tuple[str, BandRule, Lines]]:
    named = (
        ("Over like parts", criteria.similar, band_lines(criteria.similar)),
        ("Over air", criteria.air, band_lines(criteria.air)),
        ("Over its own baseline", criteria.baseline, _baseline_lines(criteria)),
        ("Share of rated rise", criteria.rated_share, band_lines(criteria.rated_share)),
        ("Colder than its like parts", criteria.cold, band_lines(criteria.cold)),
    )
    return [column for column in named if not column[1].silent]


def _baseline_lines(criteria: Criteria) -> Lines:
    """Under twice its uncertainty a rise over the baseline is none: the quiet band under the table's first."""
    quiet = f"under 2u, or under {_figure(criteria.two_u_k)} K where u is not known"
    told = (quiet, Level.NOTHING_FOUND, "u: standard uncertainty of the rise over the baseline")
    return [told, *band_lines(criteria.baseline, quiet_under="2u")]


@router.get("")
def criteria(request: Request, around: Around, actor: SignedIn) -> HTMLResponse:
    page = see_criteria(around.store, actor, now=around.now())
    return render(
        request, "set_up/criteria.html", place="setup", page=page, may_choose=may(actor, Verb.KEEP_REGISTER),
        names={kept.id: f"{kept.criteria.title}, version {kept.criteria.version}" for kept in page.sets},
        columns={kept.id: columns(kept.criteria) for kept in page.sets},
    )  # fmt: skip


@router.post("/sites/{site_id}")
def choose(around: Around, actor: SignedIn, form: Posted, site_id: int) -> Response:
    chosen = form.whole("criteria_id")
    form.done()
    if site_id > 2**53:
        raise NotFound()
    choose_site_criteria(
        around.store, actor, site_id=site_id, criteria_id=chosen, version=form.version(), now=around.now()
    )
    return redirect("/set-up/criteria", say="From now on this site is judged by that set.")
