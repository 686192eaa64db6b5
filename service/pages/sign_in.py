"""Signing in and out."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from service.errors import NotSignedIn, Problem, RiselineError, TooManyTries
from service.pages.asking import Around, from_loopback, own_address, session_cookie_name, session_secret
from service.pages.templating import redirect, render
from service.usecases.people.demo import DEMO_PASSWORD, demo_sign_ins
from service.usecases.people.sign_in import actor_by_session, sign_in, sign_out
from service.usecases.surroundings import Surroundings

router = APIRouter(tags=["sign-in"])
Typed = Annotated[str, Form(max_length=1000)]


@router.get("/sign-in")
def show_sign_in(request: Request, around: Around, next: str = "/") -> Response:
    return _form(request, around, wanted=own_address(next))


@router.post("/sign-in")
def take_sign_in(
    request: Request,
    around: Around,
    login: Typed = "",
    password: Typed = "",
    next: Typed = "/",
) -> Response:
    wanted = own_address(next)
    try:
        _, secret = sign_in(
            around.store,
            login,
            password,
            address=request.client.host if request.client else "",
            now=around.now(),
            hours=around.session_hours,
            demo_allowed=around.demo and from_loopback(request),
            hasher=around.hasher,
            old_secret=session_secret(request),
        )
    except (NotSignedIn, TooManyTries) as refusal:
        status = 429 if isinstance(refusal, TooManyTries) else 401
        return _form(request, around, wanted=wanted, login=login, refusal=refusal, status=status)
    response = redirect(wanted)
    response.set_cookie(
        session_cookie_name(around),
        secret,
        max_age=around.session_hours * 3600,
        path="/",
        secure=around.secure_cookies,
        httponly=True,
        samesite="lax",
    )
    return response


@router.post("/sign-out")
def take_sign_out(request: Request, around: Around) -> Response:
    secret = session_secret(request)
    if secret:
        try:
            actor = actor_by_session(around.store, secret, now=around.now())
        except NotSignedIn:
            pass
        else:
            sign_out(around.store, actor, secret, now=around.now())
    response = redirect("/sign-in", say="You are signed out.")
    response.delete_cookie(
        session_cookie_name(around), path="/", secure=around.secure_cookies, httponly=True, samesite="lax"
    )
    return response


def _form(
    request: Request,
    around: Surroundings,
    *,
    wanted: str,
    login: str = "",
    refusal: RiselineError | None = None,
    status: int = 200,
) -> Response:
    problems = [Problem("", "login", "", refusal.message, refusal.remedy)] if refusal else []
    on_show = around.demo and from_loopback(request)
    return render(
        request,
        "sign_in/page.html",
        status_code=status,
        problems=problems,
        login=login[:100],
        wanted=wanted,
        demo_people=demo_sign_ins(around.store) if on_show else (),
        demo_password=DEMO_PASSWORD if on_show else "",
    )
