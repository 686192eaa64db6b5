"""People under Set-up: accounts, what is granted to them and what they are certified for."""

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from starlette.responses import Response

from service.domain.people import Actor, CertificateFields, PersonFields, PersonRecord, Sight
from service.domain.words import Role
from service.errors import Invalid, Problem
from service.pages.asking import Around, SignedIn
from service.pages.forms import Form, Posted
from service.pages.templating import redirect, render
from service.usecases.people import accounts, certifying, granting, passwords
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/set-up/people")
Id = Annotated[int, Path(ge=1, le=2**53)]
PAGE = 100
ROLES = tuple((role.value, role.value) for role in Role)
NO_DAY = date(1, 1, 1)


@router.get("")
def list_people(
    request: Request, around: Around, actor: SignedIn, after: Annotated[int, Query(ge=0, le=2**53)] = 0
) -> Response:
    found = accounts.list_people(around.store, actor, after=after, limit=PAGE + 1)
    shown = found[:PAGE]
    following = f"/set-up/people?after={shown[-1].id}" if len(found) > PAGE else ""
    return render(request, "set_up/people.html", place="setup", people=shown, following=following)


@router.get("/new")
def new(request: Request, around: Around, actor: SignedIn) -> Response:
    accounts.list_people(around.store, actor, limit=1)
    return _new_page(request, typed={}, problems=())


@router.post("/new")
def create(request: Request, around: Around, actor: SignedIn, form: Posted) -> Response:
    try:
        record = accounts.add_person(
            around.store,
            actor,
            _person_fields(form),
            form.typed.get("password", ""),
            now=around.now(),
            hasher=around.hasher,
        )
    except Invalid as error:
        return _new_page(request, typed=form.typed, problems=error.problems)
    return redirect(_address(record.person.id), say="The account is open. Now grant what it may see.")


@router.get("/{person_id}")
def see(request: Request, around: Around, actor: SignedIn, person_id: Id) -> Response:
    return _person_page(request, around, actor, person_id)


@router.post("/{person_id}/edit")
def edit(request: Request, around: Around, actor: SignedIn, form: Posted, person_id: Id) -> Response:
    try:
        accounts.edit_person(
            around.store, actor, person_id, _person_fields(form), version=form.version(), now=around.now()
        )
    except Invalid as error:
        return _person_page(request, around, actor, person_id, typed=form.typed, problems=error.problems)
    return redirect(_address(person_id), say="Kept.")


@router.post("/{person_id}/close")
def close(around: Around, actor: SignedIn, form: Posted, person_id: Id) -> Response:
    accounts.set_active(around.store, actor, person_id, False, version=form.version(), now=around.now())
    return redirect(_address(person_id), say="The account is closed; its sessions and tokens have ended.")


@router.post("/{person_id}/open")
def open_again(around: Around, actor: SignedIn, form: Posted, person_id: Id) -> Response:
    accounts.set_active(around.store, actor, person_id, True, version=form.version(), now=around.now())
    return redirect(_address(person_id), say="The account is open again.")


@router.post("/{person_id}/password")
def set_password(request: Request, around: Around, actor: SignedIn, form: Posted, person_id: Id) -> Response:
    try:
        passwords.set_password(
            around.store,
            actor,
            person_id,
            form.typed.get("password", ""),
            version=form.version(),
            now=around.now(),
            hasher=around.hasher,
        )
    except Invalid as error:
        return _person_page(request, around, actor, person_id, problems=error.problems)
    return redirect(_address(person_id), say="The password is set. Tell it in person.")


@router.post("/{person_id}/grants")
def grant(request: Request, around: Around, actor: SignedIn, form: Posted, person_id: Id) -> Response:
    client, _, site = form.text("opens").partition("/")
    try:
        granting.grant(around.store, actor, person_id, _whole(client), _whole(site) or None, now=around.now())
    except Invalid as error:
        return _person_page(request, around, actor, person_id, problems=_moved(error, "opens"))
    return redirect(_address(person_id), say="Granted.")


@router.post("/{person_id}/grants/{grant_id}/revoke")
def revoke(around: Around, actor: SignedIn, form: Posted, person_id: Id, grant_id: Id) -> Response:
    granting.revoke(around.store, actor, person_id, grant_id, version=form.version(), now=around.now())
    return redirect(_address(person_id), say="Taken back; it holds from now on.")


@router.post("/{person_id}/certificates")
def add_certificate(
    request: Request, around: Around, actor: SignedIn, form: Posted, person_id: Id
) -> Response:
    try:
        expires = form.day("expires_on")
        form.done()
        fields = CertificateFields(
            category=_whole(form.text("category")),
            scope=form.text("scope"),
            number=form.text("number"),
            expires_on=expires or NO_DAY,
        )
        certifying.add_certificate(around.store, actor, person_id, fields, now=around.now())
    except Invalid as error:
        return _person_page(request, around, actor, person_id, typed=form.typed, problems=error.problems)
    return redirect(_address(person_id), say="The certificate is kept.")


@router.post("/{person_id}/certificates/{certificate_id}/remove")
def remove_certificate(
    around: Around, actor: SignedIn, form: Posted, person_id: Id, certificate_id: Id
) -> Response:
    certifying.remove_certificate(
        around.store, actor, person_id, certificate_id, version=form.version(), now=around.now()
    )
    return redirect(_address(person_id), say="The certificate is removed.")


def _address(person_id: int) -> str:
    return f"/set-up/people/{person_id}"


def _whole(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 16 else 0


def _person_fields(form: Form) -> PersonFields:
    role = form.text("role")
    if role not in set(Role):
        raise Invalid([Problem("form", "role", role[:40], "This is no role.", "Choose one of the four.")])
    return PersonFields(
        login=form.text("login"),
        name=form.text("name"),
        role=Role(role),
        email=form.text("email"),
        qualified=form.ticked("qualified"),
    )


def _moved(error: Invalid, field: str) -> tuple[Problem, ...]:
    return tuple(Problem(p.where, field, p.found, p.message, p.remedy) for p in error.problems)


def _new_page(request: Request, *, typed: Mapping[str, str], problems: Any) -> Response:
    return render(
        request,
        "set_up/person_new.html",
        status_code=422 if problems else 200,
        place="setup",
        typed=typed,
        problems=problems,
        roles=ROLES,
    )


def _person_page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    person_id: int,
    *,
    typed: Mapping[str, str] | None = None,
    problems: Any = (),
) -> Response:
    record = accounts.show_person(around.store, actor, person_id)
    return render(
        request,
        "set_up/person.html",
        status_code=422 if problems else 200,
        place="setup",
        record=record,
        someone=record.person,
        typed=typed or {},
        problems=problems,
        roles=ROLES,
        opens=_choices(granting.what_can_be_granted(around.store, actor)),
        today=around.now().date(),
        signs_from=signs_from(record, on=around.now().date()),
    )


def signs_from(record: PersonRecord, *, on: date) -> str:
    """What the certificates of somebody allow on a day, in words."""
    if not record.certificates:
        return "No certificate: neither evaluates nor signs."
    valid = [held for held in record.certificates if held.expires_on >= on]
    if not valid:
        return "Every certificate has expired: neither evaluates nor signs."
    best = max(held.category for held in valid)
    if best == 1:
        return "Category 1: collects; does not evaluate or sign."
    return f"Category {best}: evaluates, and signs as an engineer."


def _choices(sights: tuple[Sight, ...]) -> list[tuple[str, str]]:
    """Options of the grant form: each client whole, then each of its sites."""
    choices: list[tuple[str, str]] = []
    seen: set[int] = set()
    for sight in sights:
        if sight.client_id not in seen:
            seen.add(sight.client_id)
            choices.append((f"{sight.client_id}", f"{sight.client_name}: every site, later ones too"))
        if sight.site_id is not None:
            choices.append((f"{sight.client_id}/{sight.site_id}", f"{sight.client_name}: {sight.site_name}"))
    return choices
