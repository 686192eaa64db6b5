"""The error tree and the one shape in which a problem is told; standard library only."""

import errno
from collections.abc import Iterable
from dataclasses import asdict, dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with an input: where it is, what was found and what to do.

    Attributes
    ----------
    where : str
        Place in the input as its user sees it: "row 14", "sheet Points, row 3", "body".
    field : str
        Column or field name; empty when the problem is with the whole.
    found : str
        What was found there, shortened for people.
    message : str
        What is wrong, one plain sentence.
    remedy : str
        What to do about it, one plain sentence.
    """

    where: str
    field: str
    found: str
    message: str
    remedy: str

    def as_dict(self) -> dict[str, str]:
        return asdict(self)


class RiselineError(Exception):
    """Root of every error this service raises on purpose."""

    title = "Something went wrong"

    def __init__(self, message: str = "", *, remedy: str = "") -> None:
        super().__init__(message or self.title)
        self.message = message or self.title
        self.remedy = remedy


class Invalid(RiselineError):
    """An input with problems; nothing of it was stored.

    ``total`` counts also the problems that are too many to be told one by one.
    """

    title = "The input has problems"

    def __init__(self, problems: Iterable[Problem], message: str = "", *, total: int | None = None) -> None:
        self.problems = tuple(problems)
        self.total = len(self.problems) if total is None else total
        noun = "problem" if self.total == 1 else "problems"
        super().__init__(message or f"{self.total} {noun}; nothing was stored")


class NotSignedIn(RiselineError):
    title = "Sign in first"


class Forbidden(RiselineError):
    """The person is known and the thing is in their sight, but the verb is not theirs."""

    title = "Your role does not allow this"


class SentFromElsewhere(Forbidden):
    """A browser sent this on behalf of a page that is not ours."""

    title = "This was sent by a page of another site"


class NotFound(RiselineError):
    """Absent, or outside what the person may see: the two are told alike."""

    title = "Not found"


class Conflict(RiselineError):
    """The thing is not in a state in which this can be done."""

    title = "Not possible in this state"


class Stale(RiselineError):
    """The thing was changed since it was read."""

    title = "Changed meanwhile"

    def __init__(self, current_version: int, message: str = "") -> None:
        super().__init__(message or "Somebody changed this meanwhile", remedy="Read it again, then edit.")
        self.current_version = current_version


class VersionMissing(RiselineError):
    title = "Say which version you edit (If-Match)"


class KeyMissing(RiselineError):
    title = "Send an Idempotency-Key"


class KeyReused(RiselineError):
    title = "This Idempotency-Key was used with another body"


class KeyBusy(RiselineError):
    title = "The first request with this Idempotency-Key is still running"


class TooLarge(RiselineError):
    title = "Larger than accepted"


class Unsupported(RiselineError):
    title = "This kind of content is not accepted"


class TooManyTries(RiselineError):
    title = "Too many tries; wait a while"


class Unavailable(RiselineError):
    title = "The database does not answer just now"


class StorageFull(RiselineError):
    title = "There is no room to store this"

    def __init__(
        self, message: str = "", *, remedy: str = "Make room on its disk, then send it again."
    ) -> None:
        super().__init__(message, remedy=remedy)


#: what a disk says that is full, or that this service may not fill further
NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})


def told_of_disk(error: OSError, message: str) -> RiselineError:
    """What a disk that refused means for who asked: no room, or not just now."""
    if error.errno in NO_ROOM:
        return StorageFull(message)
    return Unavailable(f"{message} ({error.strerror})", remedy="Check its disk, then send it again.")
