"""Secrets of sessions and tokens: made here, kept only as digests."""

import hashlib
import secrets

TOKEN_MARK = "rl_"  # noqa: S105
SECRET_BYTES = 32
PREFIX_LENGTH = 8


def new_secret() -> str:
    """256 random bits in letters that need no quoting anywhere."""
    return secrets.token_urlsafe(SECRET_BYTES)


def new_token() -> str:
    """As a secret, with a mark by which scanners and people know what it is."""
    return TOKEN_MARK + new_secret()


def digest(secret: str) -> str:
    """What is stored of a secret; a fast hash is enough, since 256 random bits cannot be guessed."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def prefix(token: str) -> str:
    """The first letters, by which its owner tells one token from another."""
    return token[:PREFIX_LENGTH]
