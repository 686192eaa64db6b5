"""Who asks, at the HTML door: dependencies shared by every page."""

from ipaddress import ip_address
from typing import Annotated
from urllib.parse import quote, urlsplit

from fastapi import Depends, Request

from service.domain.people import Actor
from service.errors import NotSignedIn
from service.pages.view import units
from service.usecases.people.sign_in import actor_by_session
from service.usecases.surroundings import Surroundings

SESSION_COOKIE = "__Host-riseline"
PLAIN_SESSION_COOKIE = "riseline"
SIGN_IN = "/sign-in"
FORWARDED = ("x-forwarded-for", "x-forwarded-host", "x-real-ip", "forwarded", "via")


def surroundings_of(request: Request) -> Surroundings:
    surroundings: Surroundings = request.app.state.surroundings
    request.state.demo = surroundings.demo
    return surroundings


def session_cookie_name(around: Surroundings) -> str:
    """With TLS the name itself binds the cookie to this host, its root path and TLS."""
    return SESSION_COOKIE if around.secure_cookies else PLAIN_SESSION_COOKIE


def session_secret(request: Request) -> str:
    """The secret this browser carries; empty when it carries none."""
    return request.cookies.get(session_cookie_name(surroundings_of(request)), "")


def signed_in(request: Request) -> Actor:
    """Who is signed in; the page's frame learns it too.

    Raises
    ------
    NotSignedIn
        No session; a page that is only read then leads to the sign-in page.
    """
    around = surroundings_of(request)
    secret = session_secret(request)
    if not secret:
        raise NotSignedIn(remedy="Sign in, then open this page again.")
    actor = actor_by_session(around.store, secret, now=around.now())
    request.state.actor = actor
    request.state.client_name = actor.client_name
    return actor


async def reading_in_own_unit(actor: Annotated[Actor, Depends(signed_in)]) -> Actor:
    """Who is signed in, with their unit of temperature set for the rest of this request.

    It must not become a plain ``def``: that would run in a thread on a copy of the context, and
    what is set in a copy never reaches the endpoint.
    """
    units.read_in(actor.temperature_unit)
    return actor


def sign_in_address(request: Request) -> str:
    """The sign-in page, which leads back to where one wanted to go."""
    wanted = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    return SIGN_IN if wanted == "/" else f"{SIGN_IN}?next={quote(wanted, safe='')}"


def own_address(wanted: str) -> str:
    """The address if it is a page of this site, else the first page."""
    parts = urlsplit(wanted) if wanted.isprintable() and "\\" not in wanted else urlsplit("")
    is_ours = parts.path.startswith("/") and not wanted.startswith("//")
    return wanted if is_ours and not parts.scheme and not parts.netloc and len(wanted) <= 500 else "/"


def from_loopback(request: Request) -> bool:
    """True when the request came from this machine itself, through no proxy and by its own name."""
    if request.client is None or any(name in request.headers for name in FORWARDED):
        return False
    return _loops(request.client.host) and _loops(request.url.hostname or "")


def _loops(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False


Around = Annotated[Surroundings, Depends(surroundings_of)]
SignedIn = Annotated[Actor, Depends(reading_in_own_unit)]
#: for sheets, letters and criteria, which others read too: they stay in °C and K whoever asks
SignedInForOthers = Annotated[Actor, Depends(signed_in)]
