"""Who asks and with what: dependencies shared by every router of the JSON door."""

from typing import Annotated

from fastapi import Depends, HTTPException, Query, Request, Response, Security
from fastapi.security import HTTPBearer
from starlette.requests import ClientDisconnect

from service.domain.people import Actor
from service.errors import NotFound, NotSignedIn, VersionMissing
from service.usecases.people.sign_in import actor_by_session, actor_by_token
from service.usecases.surroundings import Surroundings

SESSION_COOKIE = "__Host-riseline"
PLAIN_SESSION_COOKIE = "riseline"


def surroundings_of(request: Request) -> Surroundings:
    surroundings: Surroundings = request.app.state.surroundings
    return surroundings


#: told to the OpenAPI document; the header is read in actor_of
BEARER = HTTPBearer(auto_error=False, description="A token made under Set-up.")


def actor_of(request: Request, _bearer: Annotated[object, Security(BEARER)] = None) -> Actor:
    """The person behind a bearer token or a session cookie.

    Raises
    ------
    NotSignedIn
        Neither is there, or it is revoked, expired or unknown.
    NotFound
        The token opens one round and this is not an address of it.
    """
    around = surroundings_of(request)
    scheme, _, secret = request.headers.get("authorization", "").partition(" ")
    if scheme.lower() == "bearer" and secret:
        actor = actor_by_token(around.store, secret.strip(), now=around.now())
        if actor.only_round is not None and not _of_round(request.url.path, actor.only_round):
            raise NotFound()
        return actor
    name = SESSION_COOKIE if around.secure_cookies else PLAIN_SESSION_COOKIE
    cookie = request.cookies.get(name)
    if cookie:
        return actor_by_session(around.store, cookie, now=around.now())
    raise NotSignedIn(remedy="Send 'Authorization: Bearer <token>' or sign in.")


def _of_round(path: str, round_id: int) -> bool:
    own = f"/api/v1/rounds/{round_id}"
    return path == own or path.startswith(f"{own}/")


def edited_version(request: Request) -> int:
    """The version that If-Match names.

    Raises
    ------
    VersionMissing
        The header is absent or is not one strong entity tag of ours.
    """
    tag = request.headers.get("if-match", "").strip()
    if len(tag) > 2 and tag[0] == tag[-1] == '"' and tag[1:-1].isascii() and tag[1:-1].isdigit():
        return int(tag[1:-1])
    raise VersionMissing(remedy='Read the thing first and send its ETag back as If-Match: "<version>".')


def tag(response: Response, version: int) -> None:
    response.headers["ETag"] = f'"{version}"'


Around = Annotated[Surroundings, Depends(surroundings_of)]
Asker = Annotated[Actor, Depends(actor_of)]
EditedVersion = Annotated[int, Depends(edited_version)]
#: Cursor paging: the id after which the page begins, and its size.
After = Annotated[int, Query(ge=0, le=2**53, description="id after which the page begins")]
Limit = Annotated[int, Query(ge=1, le=500, description="rows a page")]


async def raw_body(request: Request) -> bytes:
    """The body as it came; who goes away in the middle of it has sent nothing."""
    try:
        return await request.body()
    except ClientDisconnect as error:
        raise HTTPException(400, "The sender went away before the body was whole") from error


RawBody = Annotated[bytes, Depends(raw_body)]
