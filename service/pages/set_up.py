"""Set-up: what each role finds there, one's own units and one's own password."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.words import TemperatureUnit
from service.errors import Invalid, Problem
from service.pages.asking import Around, SignedIn, session_secret
from service.pages.forms import Posted
from service.pages.templating import redirect, render
from service.usecases.people.own_units import choose_temperature_unit
from service.usecases.people.passwords import change_own_password

router = APIRouter(prefix="/set-up")

#: verb that opens it, word, address, what it is for
DOORS: tuple[tuple[Verb, str, str, str], ...] = (
    (Verb.KEEP_REGISTER, "Criteria", "/set-up/criteria", "By which lines a rise becomes a level, each cited"),
    (Verb.KEEP_REGISTER, "Instruments", "/set-up/instruments", "Cameras and meters, calibration, checks"),
    (
        Verb.KEEP_REGISTER,
        "Emissivities",
        "/set-up/emissivities",
        "What surfaces have, each with its range and source",
    ),
    (
        Verb.KEEP_REGISTER,
        "Phrases",
        "/set-up/phrases",
        "Common phrases for the notes of pictures, to be picked instead of typed",
    ),
    (
        Verb.KEEP_REGISTER,
        "Common loads",
        "/common-loads",
        "Points whose load is only the rating, and what their visits say",
    ),
    (
        Verb.KEEP_REGISTER,
        "Load hours and minutes",
        "/load-hours",
        "What past visits say of when equipment carries its load, and how long a stop takes",
    ),
    (
        Verb.KEEP_REGISTER,
        "Bring a register in",
        "/register/import",
        "From CSV or a workbook, tried out first",
    ),
    (Verb.ADMINISTER, "Presets", "/set-up/criteria", "Criteria that every site may choose, each cited"),
    (Verb.ADMINISTER, "People", "/set-up/people", "Accounts, roles, what each may see, certificates"),
    (Verb.READ_AUDIT, "Who did what", "/set-up/audit", "Every change, with the fields before and after"),
    (Verb.OWN_TOKEN, "Your tokens", "/set-up/tokens", "For a program, or a device that walks one round"),
    (
        Verb.BRING_READINGS,
        "Your calendar",
        "/set-up/calendar",
        "A secret address by which your own calendar shows your rounds",
    ),
    (Verb.OWN_TOKEN, "Your units", "/set-up/units", "Temperatures in °C or °F, as you read and type them"),
    (Verb.OWN_TOKEN, "Your password", "/set-up/password", "Change it; your other sessions end"),
)


UNITS = (
    (TemperatureUnit.CELSIUS.value, "°C, and kelvin for differences"),
    (TemperatureUnit.FAHRENHEIT.value, "°F, for temperatures and for differences"),
)


def doors_for(actor: Actor) -> tuple[tuple[str, str, str], ...]:
    """Word, address and purpose of what a role finds under Set-up."""
    return tuple((word, href, purpose) for verb, word, href, purpose in DOORS if may(actor, verb))


@router.get("")
def show_set_up(request: Request, actor: SignedIn) -> Response:
    return render(request, "set_up/index.html", place="setup", doors=doors_for(actor))


@router.get("/units")
def show_units(request: Request, actor: SignedIn) -> Response:
    return _units_page(request, actor, problems=())


@router.post("/units")
def take_units(request: Request, around: Around, actor: SignedIn, form: Posted) -> Response:
    try:
        chosen = choose_temperature_unit(around.store, actor, form.text("temperature_unit"), now=around.now())
    except Invalid as error:
        return _units_page(request, actor, problems=error.problems)
    unit = "°F" if chosen is TemperatureUnit.FAHRENHEIT else "°C, differences in K"
    return redirect("/set-up/units", say=f"Your pages tell and take temperatures in {unit}.")


def _units_page(request: Request, actor: Actor, *, problems: tuple[Problem, ...]) -> Response:
    return render(
        request,
        "set_up/units.html",
        status_code=422 if problems else 200,
        place="setup",
        choices=UNITS,
        chosen=actor.temperature_unit,
        problems=problems,
    )


@router.get("/password")
def show_password(request: Request, _actor: SignedIn) -> Response:
    return render(request, "set_up/password.html", place="setup")


@router.post("/password")
def take_password(request: Request, around: Around, actor: SignedIn, form: Posted) -> Response:
    try:
        change_own_password(
            around.store,
            actor,
            form.typed.get("password", ""),
            form.typed.get("new_password", ""),
            now=around.now(),
            keep_secret=session_secret(request),
            hasher=around.hasher,
        )
    except Invalid as error:
        return render(
            request, "set_up/password.html", status_code=422, place="setup", problems=error.problems
        )
    return redirect("/set-up", say="Your password is changed. Your other sessions have ended.")
