"""Tokens of one's own."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Path
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import Around, Asker
from service.domain.people import Token
from service.usecases.people import own_tokens

router = APIRouter(prefix="/tokens", tags=["tokens"])


class TokenBody(BaseModel):
    model_config = ConfigDict(extra="forbid")

    name: str = Field(max_length=200)
    days: int = Field(ge=1, le=365, description="how long it lives; for one round at most 7")
    round_id: int | None = Field(default=None, ge=1, le=2**53, description="the one round it opens")


class TokenReply(BaseModel):
    id: int
    name: str
    prefix: str
    round_id: int | None
    created_at: datetime
    expires_at: datetime
    used_at: datetime | None
    revoked_at: datetime | None

    @classmethod
    def of(cls, token: Token) -> "TokenReply":
        return cls.model_validate(token, from_attributes=True)


class NewTokenReply(TokenReply):
    secret: str = Field(description="shown this once; only its digest is kept")


@router.get("")
def list_tokens(around: Around, asker: Asker) -> list[TokenReply]:
    """One's own tokens, the newest first, ended ones included."""
    return [TokenReply.of(token) for token in own_tokens.list_tokens(around.store, asker)]


@router.post("", status_code=201)
def make_token(around: Around, asker: Asker, body: TokenBody) -> NewTokenReply:
    """Make a token (signed in: a token makes no token)."""
    token, secret = own_tokens.make_token(
        around.store, asker, body.name, body.days, round_id=body.round_id, now=around.now()
    )
    return NewTokenReply(**TokenReply.of(token).model_dump(), secret=secret)


@router.post("/{token_id}/revoke")
def revoke_token(around: Around, asker: Asker, token_id: Annotated[int, Path(ge=1, le=2**53)]) -> TokenReply:
    """End a token at once; twice is once."""
    return TokenReply.of(own_tokens.revoke_token(around.store, asker, token_id, now=around.now()))
