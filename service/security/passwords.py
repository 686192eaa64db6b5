"""Passwords: the rules of a new one, and hashing that costs an attacker memory."""

import threading
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cached_property

from pwdlib import PasswordHash
from pwdlib.exceptions import UnknownHashError
from pwdlib.hashers.argon2 import Argon2Hasher

from service.errors import Problem, Unavailable
from service.security.guessable import guessable

SHORTEST = 15
LONGEST = 128
#: each hash takes 64 MiB, so only so many at a time
AT_ONCE = 2
WAIT_SECONDS = 20.0


def normal(password: str) -> str:
    """NFKC, so that the same keys give the same password on every device; nothing else changes."""
    return unicodedata.normalize("NFKC", password)


def password_problems(
    password: str, *, words: Iterable[str] = (), field: str = "password"
) -> tuple[Problem, ...]:
    """All that is wrong with a new password (NIST SP 800-63B-4 §3.1.1, from memory).

    Parameters
    ----------
    password : str
        As typed; any Unicode, spaces included.
    words : iterable of str
        Words of the person and the place, which an attacker tries first.
    field : str
        Name of the field on the form.

    Returns
    -------
    tuple of Problem
        Empty when it may be taken. The password itself is never repeated in it.
    """
    text = normal(password)
    if len(text) < SHORTEST:
        return (
            _problem(field, f"{len(text)} characters", f"A password has at least {SHORTEST} characters."),
        )
    if len(text) > LONGEST:
        return (_problem(field, f"{len(text)} characters", f"A password has at most {LONGEST} characters."),)
    if "\x00" in text or any(unicodedata.category(letter) == "Cs" for letter in text):
        return (_problem(field, "a sign that is no character", "This cannot be typed again."),)
    why = guessable(text, words=words)
    return (_problem(field, why, "This password is guessed early."),) if why else ()


def _problem(field: str, found: str, message: str) -> Problem:
    return Problem(
        where="form",
        field=field,
        found=found,
        message=message,
        remedy="Take a few unrelated words, or let a password manager make one.",
    )


class Hasher:
    """Argon2id at one cost; at most ``at_once`` hashes run in this process."""

    def __init__(
        self, *, time_cost: int = 3, memory_kib: int = 65536, parallelism: int = 4, at_once: int = AT_ONCE
    ) -> None:
        self._hash = PasswordHash(
            (Argon2Hasher(time_cost=time_cost, memory_cost=memory_kib, parallelism=parallelism),)
        )
        self._door = threading.BoundedSemaphore(at_once)

    @contextmanager
    def _turn(self) -> Iterator[None]:
        if not self._door.acquire(timeout=WAIT_SECONDS):
            raise Unavailable("Too many people sign in at once", remedy="Try again in a moment.")
        try:
            yield
        finally:
            self._door.release()

    def hash(self, password: str) -> str:
        with self._turn():
            return self._hash.hash(_bytes(password))

    def verify(self, password: str, encoded: str) -> tuple[bool, str | None]:
        """Whether it is the password, and a new hash when the stored one is of another cost."""
        with self._turn():
            try:
                return self._hash.verify_and_update(_bytes(password), encoded)
            except UnknownHashError:
                return False, None

    def spend(self, password: str) -> None:
        """Take the time of one check without any account behind it."""
        self.verify(password, self._nobody)

    @cached_property
    def _nobody(self) -> str:
        return self._hash.hash(b"no account has this one")


def _bytes(password: str) -> bytes:
    return normal(password).encode("utf-8", "surrogatepass")


STANDARD = Hasher()
