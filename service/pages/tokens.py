"""One's own tokens under Set-up."""

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from service.domain.people import Actor, Token
from service.errors import Invalid
from service.pages.asking import Around, SignedIn
from service.pages.forms import Posted
from service.pages.templating import redirect, render
from service.usecases.people import own_tokens
from service.usecases.surroundings import Surroundings

router = APIRouter(prefix="/set-up/tokens")


@router.get("")
def list_tokens(request: Request, around: Around, actor: SignedIn) -> Response:
    return _page(request, around, actor)


@router.post("")
def make_token(request: Request, around: Around, actor: SignedIn, form: Posted) -> Response:
    """The secret is shown in the answer itself and never again, so no redirect follows."""
    try:
        days, round_id = form.whole("days"), form.whole("round_id")
        form.done()
        token, secret = own_tokens.make_token(
            around.store, actor, form.text("name"), days or 0, round_id=round_id, now=around.now()
        )
    except Invalid as error:
        return _page(request, around, actor, typed=form.typed, problems=error.problems)
    return _page(request, around, actor, made=token, secret=secret)


@router.post("/{token_id}/revoke")
def revoke_token(around: Around, actor: SignedIn, token_id: Annotated[int, Path(ge=1, le=2**53)]) -> Response:
    own_tokens.revoke_token(around.store, actor, token_id, now=around.now())
    return redirect("/set-up/tokens", say="The token is revoked.")


def _page(
    request: Request,
    around: Surroundings,
    actor: Actor,
    *,
    typed: Mapping[str, str] | None = None,
    problems: Any = (),
    made: Token | None = None,
    secret: str = "",
) -> Response:
    now = around.now()
    tokens = own_tokens.list_tokens(around.store, actor)
    living = [token for token in tokens if token.revoked_at is None and token.expires_at > now]
    walks = own_tokens.rounds_to_walk(around.store, actor)
    return render(
        request,
        "set_up/tokens.html",
        status_code=422 if problems else 200,
        place="setup",
        living=living,
        ended=[token for token in tokens if token not in living],
        rounds=[(walk.id, f"{walk.code} {walk.name}") for walk in walks],
        typed=typed or {},
        problems=problems,
        made=made,
        secret=secret,
    )
