"""Secrets of sessions and tokens."""

from datetime import UTC, datetime, timedelta

from service.security.sessions import alive, session_end, worth_noting
from service.security.tokens import digest, new_secret, new_token, prefix

NOW = datetime(2026, 11, 25, 9, tzinfo=UTC)


def test_secrets_are_long_different_and_need_no_quoting() -> None:
    made = {new_secret() for _ in range(500)} | {new_token() for _ in range(500)}
    assert len(made) == 1000
    assert all(len(secret) >= 43 and secret.replace("-", "").replace("_", "").isalnum() for secret in made)


def test_a_token_shows_what_it_is_and_little_of_itself() -> None:
    token = new_token()
    assert token.startswith("rl_")
    assert len(prefix(token)) == 8
    assert prefix(token) in token


def test_a_digest_tells_nothing_of_the_secret_and_takes_any_text() -> None:
    # FIPS 180-4, SHA-256 of "abc"
    assert digest("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert len(digest("\ud800")) == 64


def test_a_session_lives_until_its_end_or_its_revocation() -> None:
    end = session_end(NOW, hours=12)
    assert alive(expires_at=end, revoked_at=None, now=end - timedelta(microseconds=1))
    assert not alive(expires_at=end, revoked_at=None, now=end)
    assert not alive(expires_at=end, revoked_at=NOW, now=NOW)


def test_use_is_noted_once_an_hour() -> None:
    assert worth_noting(None, now=NOW)
    assert not worth_noting(NOW - timedelta(minutes=59), now=NOW)
    assert worth_noting(NOW - timedelta(hours=1), now=NOW)
