"""Keeping the register in the browser: new, edit, retire, take back."""

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from starlette.responses import Response

from service.domain.fields import FieldKind, typed_text
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.register import KEY_FIELDS, PARENTS, Noun, Place, Registered
from service.domain.register_fields import FIELDS
from service.errors import Invalid, NotFound, Problem, Stale
from service.pages import register_view as words
from service.pages import view
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form, Posted
from service.pages.loads_seen import register_words
from service.pages.templating import redirect, render
from service.usecases.register import browse
from service.usecases.register.create import create_thing
from service.usecases.register.edit import edit_thing
from service.usecases.register.learn_load import see_load_suggestion
from service.usecases.register.retire import foresee_retiring, restore_thing, retire_thing
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/register")
Id = Annotated[int, Path(ge=1, le=2**53)]
In = Annotated[int | None, Query(ge=1, le=2**53, alias="in")]


def page_of(noun: Noun, place: Place) -> str:
    """The page on which a thing is seen."""
    ids = {n: i for n, i, _ in place.ancestors}
    if noun is Noun.INSTRUMENT:
        return "/set-up/instruments"
    if Noun.EQUIPMENT in ids:
        return f"/equipment/{ids[Noun.EQUIPMENT]}"
    return f"/equipment?site={place.site_id}" if place.site_id is not None else "/equipment"


def trail(noun: Noun, place: Place) -> list[tuple[str, str]]:
    """Where a thing stands, each step with its page."""
    if noun is Noun.INSTRUMENT:
        return [("Set-up", "/set-up"), ("Instruments", "/set-up/instruments")]
    of_site = f"/equipment?site={place.site_id}"
    links = {Noun.CLIENT: "/equipment", Noun.SITE: of_site, Noun.AREA: of_site}
    steps = [("Equipment", "/equipment")]
    for above, thing_id, name in place.ancestors:
        if above in links or above is Noun.EQUIPMENT:
            steps.append((name, links.get(above, f"/equipment/{thing_id}")))
    return steps


def place_in_bar(noun: Noun) -> str:
    return "setup" if noun is Noun.INSTRUMENT else "equipment"


def typed_fields(noun: Noun, form: Form) -> dict[str, str]:
    """Boxes of a form by the names of the catalogue; a box that is not ticked is not sent."""
    fields = {}
    for field in FIELDS[noun]:
        if field.kind is FieldKind.FLAG:
            fields[field.name] = "yes" if form.ticked(field.name) else "no"
        else:
            fields[field.name] = form.typed.get(field.name, "")
    return fields


@router.get("/{noun}/new")
def show_new(request: Request, around: Around, actor: SignedIn, noun: Noun, parent_id: In = None) -> Response:
    return _new_page(request, around, actor, noun, parent_id=parent_id)


def _new_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    noun: Noun,
    *,
    parent_id: int | None,
    typed: Mapping[str, str] | None = None,
    problems: tuple[Problem, ...] = (),
) -> Response:
    require(actor, Verb.KEEP_REGISTER)
    place = Place(0, None)
    if noun in PARENTS:
        if parent_id is None:
            raise NotFound(f"Say in which {PARENTS[noun]} the new {noun} stands.")
        place = browse.parent_to_fill(around.store, actor, noun, parent_id).place
    above = place.ancestors[-1][2] if place.ancestors else ""
    return render(
        request,
        "register/form.html",
        status_code=422 if problems else 200,
        place=place_in_bar(noun),
        title=f"New {noun}{f' in {above}' if above else ''}",
        crumbs=trail(noun, place),
        noun=noun,
        needed=words.needed_words(noun),
        action=f"/register/{noun}/new" + (f"?in={parent_id}" if parent_id is not None else ""),
        groups=words.form_groups(noun, typed, None),
        typed=typed or {},
        thing=None,
        area_options=(),
        loads=(),
        learned=None,
        reason="",
        back=page_of(noun, place),
        problems=problems,
    )


@router.post("/{noun}/new")
def take_new(
    request: Request, around: Around, actor: SignedIn, form: Posted, noun: Noun, parent_id: In = None
) -> Response:
    typed = typed_fields(noun, form)
    try:
        thing = create_thing(
            around.store,
            actor,
            noun,
            parent_id=parent_id,
            fields=words.kept_texts(noun, typed, None),
            now=around.now(),
        )
    except Invalid as error:
        return _new_page(
            request, around, actor, noun, parent_id=parent_id, typed=typed, problems=error.problems
        )
    address = "/equipment"
    if noun not in (Noun.CLIENT, Noun.SITE):  # those two are in sight only from the next request on
        address = page_of(noun, browse.see_thing(around.store, actor, noun, thing.id).place)
    return redirect(address, say=f"{_name(thing)} is in the register.")


def _name(thing: Registered) -> str:
    return str(getattr(thing, "name", ""))


@router.get("/{noun}/{thing_id}/edit")
def show_edit(request: Request, around: Around, actor: SignedIn, noun: Noun, thing_id: Id) -> Response:
    return _edit_page(request, around, actor, noun, thing_id)


def _edit_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    noun: Noun,
    thing_id: int,
    *,
    typed: Mapping[str, str] | None = None,
    reason: str = "",
    problems: tuple[Problem, ...] = (),
) -> Response:
    seen = browse.see_thing(around.store, actor, noun, thing_id)
    require(actor, Verb.KEEP_REGISTER, site_id=seen.place.site_id)
    areas = browse.areas_to_choose(around.store, actor, seen) if noun is Noun.EQUIPMENT else ()
    loads = browse.see_common_loads(around.store, actor, thing_id) if noun is Noun.POINT else ()
    learned = see_load_suggestion(around.store, actor, thing_id) if noun is Noun.POINT else None
    return render(
        request,
        "register/form.html",
        status_code=422 if problems else 200,
        place=place_in_bar(noun),
        title=f"Edit {_name(seen.thing)}",
        crumbs=trail(noun, seen.place),
        noun=noun,
        needed=words.needed_words(noun),
        action=f"/register/{noun}/{thing_id}/edit",
        groups=words.form_groups(noun, typed, seen.thing),
        typed=typed or {},
        thing=seen.thing,
        area_options=[(area.id, area.name) for area in areas],
        loads=loads,
        learned=learned,
        learned_words="" if learned is None else register_words(learned),
        reason=reason,
        back=page_of(noun, seen.place),
        problems=problems,
    )


@router.post("/{noun}/{thing_id}/edit")
def take_edit(
    request: Request, around: Around, actor: SignedIn, form: Posted, noun: Noun, thing_id: Id
) -> Response:
    typed = typed_fields(noun, form)
    reason = form.text("reason") if noun is Noun.POINT else ""
    problems: tuple[Problem, ...]
    try:
        area_id = form.whole("area_id") if noun is Noun.EQUIPMENT else None
        form.done()
        shown = browse.see_thing(around.store, actor, noun, thing_id).thing if view.in_fahrenheit() else None
        thing = edit_thing(
            around.store,
            actor,
            noun,
            thing_id,
            version=form.version(),
            fields=words.kept_texts(noun, typed, shown),
            move_to=area_id,
            reason=reason,
            now=around.now(),
            where="",
        )
    except Invalid as error:
        problems = error.problems
    except Stale:
        problems = _both_versions(browse.see_thing(around.store, actor, noun, thing_id).thing, noun, typed)
    else:
        seen = browse.see_thing(around.store, actor, noun, thing_id)
        return redirect(page_of(noun, seen.place), say=f"{_name(thing)} is kept as edited.")
    return _edit_page(request, around, actor, noun, thing_id, typed=typed, reason=reason, problems=problems)


def _both_versions(now_kept: Registered, noun: Noun, typed: Mapping[str, str]) -> tuple[Problem, ...]:
    """Somebody was faster: what stands there now, beside what was typed; neither is overwritten."""
    differing = []
    for field in FIELDS[noun]:
        kept = view.boxed(typed_text(getattr(now_kept, field.name)), field.unit)
        if kept != typed[field.name].strip():
            differing.append(
                Problem(
                    "",
                    field.name,
                    kept or "nothing",
                    "Somebody changed this entry meanwhile; this is what it says now.",
                    "Leave yours or type theirs, then keep it.",
                )
            )
    whole = Problem(
        "form", "", "", "Somebody changed this entry meanwhile.", "Look through it, then keep it."
    )
    return tuple(differing) or (whole,)


@router.get("/{noun}/{thing_id}/retire")
def show_retire(request: Request, around: Around, actor: SignedIn, noun: Noun, thing_id: Id) -> Response:
    retiring = foresee_retiring(around.store, actor, noun, thing_id)
    seen = browse.see_thing(around.store, actor, noun, thing_id)
    return render(
        request,
        "register/retire.html",
        place=place_in_bar(noun),
        title=f"Retire {_name(seen.thing)}?",
        crumbs=trail(noun, seen.place),
        noun=noun,
        retiring=retiring,
        thing=seen.thing,
        back=page_of(noun, seen.place),
    )


@router.post("/{noun}/{thing_id}/retire")
def take_retire(around: Around, actor: SignedIn, form: Posted, noun: Noun, thing_id: Id) -> Response:
    place = browse.see_thing(around.store, actor, noun, thing_id).place
    retired = retire_thing(around.store, actor, noun, thing_id, version=form.version(), now=around.now())
    along = f", and with it {retired.words}" if retired.words else ""
    above = PARENTS.get(noun)
    still_there = above in (Noun.EQUIPMENT, Noun.VIEW) or noun is Noun.INSTRUMENT
    address = page_of(noun, place) if still_there else "/equipment"
    if noun in (Noun.AREA, Noun.EQUIPMENT) and place.site_id is not None:
        address = f"/equipment?site={place.site_id}"
    return redirect(address, say=f"{_name(retired.thing)} is retired{along}.")


@router.post("/{noun}/{thing_id}/restore")
def take_restore(around: Around, actor: SignedIn, form: Posted, noun: Noun, thing_id: Id) -> Response:
    thing = restore_thing(around.store, actor, noun, thing_id, version=form.version(), now=around.now())
    place = browse.see_thing(around.store, actor, noun, thing_id).place
    return redirect(page_of(noun, place), say=f"{_name(thing)} is back in use.")


@router.get("/retired")
def show_retired(
    request: Request,
    around: Around,
    actor: SignedIn,
    site: Annotated[int | None, Query(ge=1, le=2**53)] = None,
) -> Response:
    """What is retired at a site, or with no site: retired clients, sites and instruments."""
    require(actor, Verb.KEEP_REGISTER)
    lists = browse.list_retired(around.store, actor, site_id=site)
    return render(
        request,
        "register/retired.html",
        place="equipment",
        lists=lists,
        count=sum(len(items) for _, items in lists),
        site=None if site is None else browse.see_thing(around.store, actor, Noun.SITE, site).thing,
        keys={noun: KEY_FIELDS[noun] for noun in Noun},
    )
