"""Errors as pages: the only room of the HTML door that knows status codes."""

import logging
from contextlib import suppress
from http import HTTPStatus

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response

from service import errors
from service.errors import Problem
from service.pages.asking import sign_in_address, signed_in
from service.pages.templating import render
from service.security.addresses import without_secret

log = logging.getLogger(__name__)

STATUS: dict[type[errors.RiselineError], int] = {
    errors.Invalid: 422,
    errors.NotSignedIn: 401,
    errors.Forbidden: 403,
    errors.NotFound: 404,
    errors.Conflict: 409,
    errors.Stale: 409,
    errors.VersionMissing: 400,
    errors.KeyMissing: 400,
    errors.KeyReused: 409,
    errors.KeyBusy: 409,
    errors.TooLarge: 413,
    errors.Unsupported: 415,
    errors.TooManyTries: 429,
    errors.Unavailable: 503,
    errors.StorageFull: 507,
}
TITLES = {
    400: "This request was not understood",
    404: "There is nothing at this address",
    405: "This page cannot be used in that way",
    413: "That is larger than accepted",
    415: "This kind of file is not accepted",
}


def answer_with_page(request: Request, error: Exception) -> Response:
    """A page (or the way to the sign-in page) for any error that reached the door."""
    request.state.demo = request.app.state.surroundings.demo
    if isinstance(error, errors.NotSignedIn):
        return _ask_to_sign_in(request, error)
    if isinstance(error, errors.Stale):
        return _page(
            request,
            409,
            title="Somebody changed this meanwhile",
            message="Your changes were not stored, so that theirs are not lost.",
            remedy="Go back, open it again to see what it says now, then edit.",
        )
    if isinstance(error, errors.RiselineError):
        return _told(request, error)
    if isinstance(error, RequestValidationError):
        return _page(
            request,
            422,
            title="The form has problems",
            message="Nothing was stored.",
            problems=_framework_problems(error),
        )
    if isinstance(error, HTTPException):
        _know_who(request)
        title = TITLES.get(error.status_code, HTTPStatus(error.status_code).phrase)
        return _page(request, error.status_code, title=title, headers=dict(error.headers or {}))
    log.error("unforeseen error at %s %s", request.method, without_secret(request.url.path), exc_info=error)
    return _page(
        request, 500, title="Something went wrong here", message="It has been logged; nothing was stored."
    )


def _know_who(request: Request) -> None:
    """An address that no route has met nobody yet; its page still shows the places to go to."""
    with suppress(errors.RiselineError):
        signed_in(request)


def _told(request: Request, error: errors.RiselineError) -> Response:
    status = next((STATUS[kind] for kind in type(error).__mro__ if kind in STATUS), 400)
    return _page(
        request,
        status,
        title=TITLES[404] if status == 404 else error.title,
        message="" if status == 404 or error.message == error.title else error.message,
        remedy=error.remedy,
        problems=error.problems if isinstance(error, errors.Invalid) else (),
        headers={"Retry-After": "2"} if isinstance(error, errors.Unavailable) else {},
    )


def _ask_to_sign_in(request: Request, error: errors.NotSignedIn) -> Response:
    if request.method in ("GET", "HEAD"):
        return RedirectResponse(sign_in_address(request), status_code=303)
    return _page(
        request,
        401,
        title="You are not signed in",
        message=error.message,
        remedy="Sign in in another tab, then go back here and send the form again: what you typed is kept.",
    )


def _framework_problems(error: RequestValidationError) -> tuple[Problem, ...]:
    return tuple(
        Problem(
            where="form" if entry["loc"][:1] == ("body",) else "address",
            field=str(entry["loc"][-1]) if entry["loc"] else "",
            found=str(entry.get("input"))[:80],
            message=str(entry["msg"]) + ".",
            remedy="Go back and correct it.",
        )
        for entry in error.errors()
    )


def _page(
    request: Request,
    status: int,
    *,
    title: str,
    message: str = "",
    remedy: str = "",
    problems: tuple[Problem, ...] = (),
    headers: dict[str, str] | None = None,
) -> Response:
    return render(
        request,
        "problems/page.html",
        status_code=status,
        headers=headers,
        title=title,
        message=message,
        remedy=remedy,
        problems=problems,
    )
