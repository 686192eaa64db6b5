"""Units of work: look() reads, begin() writes and commits on clean exit."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DataError, DBAPIError, IntegrityError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout
from sqlalchemy.orm import Session

from service.errors import Conflict, Invalid, Problem, RiselineError, StorageFull, Unavailable
from service.storage.engine import READ_ONLY


@dataclass(frozen=True, slots=True)
class Unit:
    """One transaction, handed to the functions of this room; use cases only pass it on."""

    session: Session
    dialect: str

    @property
    def connection(self) -> Connection:
        return self.session.connection()


class Store:
    """The way to open a unit of work."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self._reader = engine.execution_options(**{READ_ONLY: True})

    @contextmanager
    def look(self) -> Iterator[Unit]:
        """A read-only unit: the database refuses writes in it."""
        with _translated(), Session(self._reader, autoflush=False) as session:
            yield Unit(session, self.engine.dialect.name)

    @contextmanager
    def begin(self) -> Iterator[Unit]:
        """A writing unit: committed when the block ends cleanly, rolled back otherwise."""
        with _translated(), Session(self.engine, autoflush=False) as session, session.begin():
            session.connection()
            yield Unit(session, self.engine.dialect.name)


@contextmanager
def _translated() -> Iterator[None]:
    try:
        yield
    except IntegrityError as error:
        raise Conflict(
            "Something with this key is there already, or is still in use",
            remedy="Read it again; nothing was stored.",
        ) from error
    except (DataError, OverflowError, UnicodeEncodeError) as error:
        # what slipped past a door's own bounds: a number beyond 64 bits, a NUL or half a character
        raise Invalid(
            [
                Problem(
                    where="request",
                    field="",
                    found=type(error).__name__,
                    message="A number is too large or a text holds a sign that cannot be stored.",
                    remedy="Correct it and send the request again.",
                )
            ]
        ) from error
    except PoolTimeout as error:
        raise Unavailable("Too many requests at once", remedy="Try again in a moment.") from error
    except (OperationalError, InterfaceError, DBAPIError) as error:
        raise _told(error) from error


def _told(error: DBAPIError) -> RiselineError:
    words = str(error.orig).lower()
    if "full" in words or "no space" in words or "disk i/o" in words:
        return StorageFull("There is no room to store this; nothing of it was kept")
    transient = ("locked", "busy", "connection", "timeout", "timed out", "shut", "starting up", "deadlock")
    if any(word in words for word in transient):
        return Unavailable("The database does not answer just now", remedy="Try again in a moment.")
    return Unavailable(f"The database refused: {type(error.orig).__name__}")
