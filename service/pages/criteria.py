"""Set-up › Criteria: the lines by which a rise becomes a level, whose they are, and where they hold."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import HTMLResponse, Response

from service.domain.criteria_kept import KeptCriteria, SiteCriteria
from service.domain.limits import INSULATION_CLASSES_C
from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.presets import PRESETS
from service.errors import Invalid, Problem
from service.pages import criteria_words as words
from service.pages.asking import Around, SignedInForOthers
from service.pages.criteria_form import PART_NAMES
from service.pages.forms import PostedForOthers
from service.pages.templating import redirect, render
from service.pages.view import THIN, listed, number_word, plural, sentence_case
from service.usecases.condition.criteria_sets import (
    CriteriaPage,
    OneSet,
    choose_class_criteria,
    choose_site_criteria,
    compare_sets,
    see_criteria,
    see_set,
)
from service.usecases.condition.edit_criteria import copy_set, discard_set, offer_set
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/set-up/criteria")
Id = Annotated[int, Path(ge=1, le=2**53)]
HOUSE = "everybody"


def set_page(criteria_id: int) -> str:
    return f"/set-up/criteria/{criteria_id}"


@router.get("")
def criteria(request: Request, around: Around, actor: SignedInForOthers) -> HTMLResponse:
    return _list(request, around, actor)


def _list(
    request: Request, around: Surroundings, actor: Actor, *, problems: tuple[Problem, ...] = ()
) -> HTMLResponse:
    page, today = see_criteria(around.store, actor, now=around.now()), around.now().date()
    names = {kept.id: words.set_name(kept) for kept in page.sets}
    return render(
        request,
        "set_up/criteria.html",
        status_code=422 if problems else 200,
        place="setup",
        page=page,
        title=_news(page),
        names=names,
        rows=[(kept, _standing(kept, page, today), _owner(kept, page)) for kept in _newest(page)],
        offers={site.site_id: _offers(site, page, today) for site in page.sites},
        may_choose=may(actor, Verb.KEEP_REGISTER),
        sources=[(kept.id, names[kept.id]) for kept in _newest(page)],
        owners=_owners(page, actor),
        problems=problems,
    )


def _newest(page: CriteriaPage) -> list[KeptCriteria]:
    """Every set in its newest version: shipped ones first, then presets, then those of clients."""
    newest = [kept for kept in page.sets if kept.newest]
    ranks = {name: rank for rank, name in enumerate(PRESETS)}
    return sorted(newest, key=lambda kept: (ranks.get(kept.name, 99), kept.client_id or 0, kept.name))


def _news(page: CriteriaPage) -> str:
    """What the sites in sight are judged by, in one sentence."""
    in_force = {site.in_force_id for site in page.sites}
    classes = sum(len(site.chosen) for site in page.sites)
    names = {kept.id: kept.criteria.title for kept in page.sets}
    if not in_force:
        return "By which lines a rise becomes a level"
    if len(in_force) == 1:
        sites = "The site is" if len(page.sites) == 1 else f"All {_in_words(len(page.sites), 'site')} are"
        told = f"{sites} judged by “{names[in_force.pop()]}”"
    else:
        told = f"{sentence_case(_in_words(len(page.sites), 'site'))} are judged by {_in_words(len(in_force), 'set')}"
    return f"{told}; {_in_words(classes, 'class')} of equipment by another" if classes else told


def _in_words(value: int, noun: str) -> str:
    """One site, two sites; a gap that does not break lies between."""
    return f"{number_word(value)}{THIN}{noun if value == 1 else plural(noun)}"


def _standing(kept: KeptCriteria, page: CriteriaPage, today: date) -> str:
    """Whether a set is in use, may be chosen, or is off."""
    sites = sum(site.in_force_id == kept.id for site in page.sites)
    classes = sum(choice.criteria_id == kept.id for site in page.sites for choice in site.chosen)
    told = [_in_words(sites, "site")] if sites else []
    told += [_in_words(classes, "class")] if classes else []
    if told:
        return f"in force at {' and '.join(told)}" if sites else f"in force for {told[0]} of equipment"
    if kept.valid_from == date.max:
        return "switched off"
    return "may be chosen" if kept.offered_on(today) else "not valid yet"


def _owner(kept: KeptCriteria, page: CriteriaPage) -> str:
    if kept.shipped:
        return "shipped"
    return "preset of this installation" if kept.client_id is None else page.clients.get(kept.client_id, "")


def _offers(site: SiteCriteria, page: CriteriaPage, today: date) -> list[tuple[int, str]]:
    """Sets that a site may choose: presets that are on and those of its client, and what it has."""
    had = {site.chosen_id, *(choice.criteria_id for choice in site.chosen)}
    return [
        (kept.id, words.set_name(kept))
        for kept in page.sets
        if kept.client_id in (None, site.client_id) and (kept.offered_on(today) or kept.id in had)
    ]


def _owners(page: CriteriaPage, actor: Actor) -> list[tuple[str, str]]:
    """For whom a person may make a set."""
    if may(actor, Verb.ADMINISTER):
        return [(HOUSE, "everybody: a preset")]
    if not may(actor, Verb.KEEP_REGISTER):
        return []
    return [(str(client_id), name) for client_id, name in page.clients.items()]


@router.post("/sites/{site_id}")
def choose(around: Around, actor: SignedInForOthers, form: PostedForOthers, site_id: Id) -> Response:
    chosen = form.whole("criteria_id")
    form.done()
    choose_site_criteria(
        around.store, actor, site_id=site_id, criteria_id=chosen, version=form.version(), now=around.now()
    )
    return redirect("/set-up/criteria", say="From now on this site is judged by that set.")


@router.post("/sites/{site_id}/classes")
def choose_for_class(
    around: Around, actor: SignedInForOthers, form: PostedForOthers, site_id: Id
) -> Response:
    chosen, told = form.whole("criteria_id"), form.text("equipment_class")
    form.done()
    choose_class_criteria(
        around.store, actor, site_id=site_id, equipment_class=told, criteria_id=chosen,
        version=form.version(), now=around.now(),
    )  # fmt: skip
    back = f"From now on “{told}” is judged as its site." if chosen is None else ""
    return redirect("/set-up/criteria", say=back or f"From now on “{told}” is judged by that set.")


@router.post("/copies")
def copy(request: Request, around: Around, actor: SignedInForOthers, form: PostedForOthers) -> Response:
    """A set of one's own out of another; the editor opens on it."""
    source, title, owner = form.whole("criteria_id"), form.text("title"), form.text("owner")
    form.done()
    client_id = int(owner) if owner.isascii() and owner.isdigit() and len(owner) < 16 else None
    try:
        kept = copy_set(
            around.store, actor, source or 0, title=title[:200], client_id=client_id, now=around.now()
        )
    except Invalid as error:
        return _list(request, around, actor, problems=error.problems)
    return redirect(set_page(kept.id), say="The copy is kept. Nothing is judged by it before you choose it.")


@router.get("/{criteria_id}")
def one_set(request: Request, around: Around, actor: SignedInForOthers, criteria_id: Id) -> HTMLResponse:
    seen = see_set(around.store, actor, criteria_id, now=around.now())
    chosen = seen.kept.criteria
    return render(
        request,
        "set_up/criteria_set.html",
        place="setup",
        seen=seen,
        kept=seen.kept,
        name=words.set_name(seen.kept),
        parts=PART_NAMES,
        columns=words.columns(chosen),
        numbers=words.number_groups(chosen),
        limits=[(limit, words.limit_words(limit)) for limit in chosen.limits],
        templates=[
            (told, one, words.measure_words(one), lines) for told, one, lines in words.templates(chosen)
        ],
        insulation=INSULATION_CLASSES_C,
        next_version=chosen.version + 1,
        in_force=_in_force(seen),
        offered=seen.kept.offered_on(around.now().date()),
        off=seen.kept.valid_from == date.max,
        may_offer=seen.kept.client_id is None and seen.kept.newest and may(actor, Verb.ADMINISTER),
        before=next((one for one in seen.versions if one.criteria.version < chosen.version), None),
    )


def _in_force(seen: OneSet) -> list[str]:
    """Where a set is in force: at whole sites, or there for single classes of equipment."""
    set_id = seen.kept.id
    told = []
    for site in seen.sites:
        classes = [choice.equipment_class for choice in site.chosen if choice.criteria_id == set_id]
        if site.in_force_id == set_id:
            told.append(f"at {site.site_name}")
        elif classes:
            told.append(f"at {site.site_name} for {listed(classes)}")
    return told


@router.get("/{criteria_id}/differences")
def differences(
    request: Request,
    around: Around,
    actor: SignedInForOthers,
    criteria_id: Id,
    other_id: Annotated[int | None, Query(ge=1, le=2**53, alias="with")] = None,
) -> HTMLResponse:
    """Two sets side by side; without another the one before it, or the shipped one."""
    page = see_criteria(around.store, actor, now=around.now())
    if other_id is None:
        seen = see_set(around.store, actor, criteria_id, now=around.now())
        before = [one for one in seen.versions if one.criteria.version < seen.kept.criteria.version]
        shipped = [one for one in _newest(page) if one.shipped and one.id != criteria_id]
        other_id = (before or shipped)[0].id
    side = compare_sets(around.store, actor, other_id, criteria_id)
    told: dict[str, list[tuple[str, str, str]]] = {}
    for one in side.differences:
        sides = (words.difference_words(one, one.before), words.difference_words(one, one.after))
        told.setdefault(one.where, []).append((one.what, *sides))
    return render(
        request,
        "set_up/criteria_differences.html",
        place="setup",
        before=side.before,
        after=side.after,
        names={kept.id: words.set_name(kept) for kept in page.sets},
        told=list(told.items()),
        title=_differences_title(len(side.differences)),
    )


def _differences_title(count: int) -> str:
    if not count:
        return "Nothing differs"
    return sentence_case(f"{_in_words(count, 'entry')} {'differs' if count == 1 else 'differ'}")


@router.post("/{criteria_id}/offer")
def offer(around: Around, actor: SignedInForOthers, form: PostedForOthers, criteria_id: Id) -> Response:
    offered = form.ticked("offered")
    offer_set(around.store, actor, criteria_id, edits=form.version(), offered=offered, now=around.now())
    say = "Sites may choose this preset now." if offered else "No site may choose this preset from now on."
    return redirect(set_page(criteria_id), say=say)


@router.post("/{criteria_id}/discard")
def discard(around: Around, actor: SignedInForOthers, form: PostedForOthers, criteria_id: Id) -> Response:
    discard_set(around.store, actor, criteria_id, edits=form.version(), now=around.now())
    return redirect("/set-up/criteria", say="That version is thrown away; nothing was judged by it.")
