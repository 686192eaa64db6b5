"""create_app(settings): wires doors, handlers and engine; the one place that sees every room."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, nullcontext
from datetime import datetime
from functools import cache

from fastapi import APIRouter, Depends, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.routing import iter_route_contexts
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.routing import BaseRoute, Match
from starlette.types import Scope

from service.api.problems import PROBLEMS, answer_with_problem, describe_problems
from service.api.repeated_parameters import refuse_repeated
from service.api.routers import ROUTERS as API_ROUTERS
from service.errors import NO_ROOM, RiselineError, StorageFull
from service.intake.limits import (
    MOST_PICTURE_BYTES,
    MOST_PICTURES_BYTES,
    MOST_RASTER_BYTES,
    MOST_SCANS_BYTES,
)
from service.jobs.worker import Worker, WorkerThread
from service.pages.door import Door
from service.pages.problems import answer_with_page
from service.pages.routers import ROUTERS as PAGE_ROUTERS
from service.security.passwords import STANDARD, Hasher
from service.settings import Settings
from service.storage.engine import open_engine, refuse_unsafe_durability
from service.storage.files import FileShelf
from service.storage.object_shelf import open_shelf
from service.storage.unit import Store
from service.usecases.surroundings import Surroundings, system_clock

API = "/api/v1"
#: where rasters come in, by either door, and what a form adds to its file
RASTERS = r"(?:/api/v1)?/readings/[^/]+/rasters"
#: where one picture comes in, and where a form with many does
PICTURE = r"/api/v1/rounds/[^/]+/pictures/[^/]+"
PICTURES = r"/(?:rounds|findings)/[^/]+/pictures"
#: where signed sheets come in, several in one form
SCANS = r"(?:/api/v1)?/rounds/[^/]+/scans"
FORM_BYTES = 64 * 1024
#: what files may weigh where they come in [bytes]
WIDER = {
    RASTERS: MOST_RASTER_BYTES,
    PICTURE: MOST_PICTURE_BYTES,
    PICTURES: MOST_PICTURES_BYTES,
    SCANS: MOST_SCANS_BYTES,
}


def create_app(
    settings: Settings,
    *,
    store: Store | None = None,
    clock: Callable[[], datetime] = system_clock,
    hasher: Hasher = STANDARD,
) -> FastAPI:
    """The service as an ASGI application; the schema must be there already.

    Raises
    ------
    service.errors.Unavailable
        The database would not keep what it acknowledges.
    """
    opened = store or Store(open_engine(settings.database_url))
    if store is None:
        refuse_unsafe_durability(opened.engine, allowed=settings.unsafe_database)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        work = WorkerThread(Worker(opened, clock=clock)) if settings.worker_thread else nullcontext()
        with work:
            yield
        if store is None:
            opened.engine.dispose()

    app = FastAPI(
        title="Riseline",
        version="1",
        openapi_url="/api/v1/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
    )
    app.state.surroundings = _surroundings(settings, opened, clock=clock, hasher=hasher)
    for kind in (RiselineError, RequestValidationError, HTTPException):
        app.add_exception_handler(kind, answer_error)
    app.add_middleware(
        Door,
        answer=answer_error,
        body_limit=settings.body_limit,
        over_tls=settings.secure_cookies,
        wider={path: max(settings.body_limit, most + FORM_BYTES) for path, most in WIDER.items()},
    )
    describe_problems(app)
    app.router.routes.extend(_routes())
    return app


def _surroundings(
    settings: Settings, store: Store, *, clock: Callable[[], datetime], hasher: Hasher
) -> Surroundings:
    return Surroundings(
        store=store,
        web=settings.web,
        files=FileShelf(settings.files),
        pictures=open_shelf(settings.files, url=settings.pictures_url, endpoint=settings.pictures_endpoint),
        clock=clock,
        demo=settings.demo,
        secure_cookies=settings.secure_cookies,
        session_hours=settings.session_hours,
        body_limit=settings.body_limit,
        hasher=hasher,
    )


@cache
def _routes() -> tuple[BaseRoute, ...]:
    """The routes of both doors, the same objects for every app of a process.

    FastAPI works out each included route when it is first asked for, which takes half a second
    for all of ours: once a process, not once an app.
    """
    both = APIRouter()
    for router in API_ROUTERS:
        both.include_router(
            Gate(router, under=API), prefix=API, responses=PROBLEMS, dependencies=[Depends(refuse_repeated)]
        )
    for router in PAGE_ROUTERS:
        both.include_router(Gate(router), include_in_schema=False)
    return tuple(both.routes)


class Gate(APIRouter):
    """A router that is asked only for addresses that begin with a word of its routes.

    Without it each request is held against the patterns of four hundred routes, one after another.
    """

    def __init__(self, behind: APIRouter, *, under: str = "") -> None:
        super().__init__()
        self.include_router(behind)
        self._place = under.count("/") + 1
        self._words = {str(context.path).split("/")[1] for context in iter_route_contexts(behind.routes)}
        if any("{" in word for word in self._words):
            raise ValueError("The first word of a route's path must be fixed")

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        words = scope["path"].split("/", self._place + 1)
        known = len(words) > self._place and words[self._place] in self._words
        return super().matches(scope) if known else (Match.NONE, {})


def answer_error(request: Request, error: Exception) -> Response:
    """A problem document under /api/, a page everywhere else."""
    # a large file of a form waits in the folder for temporary files; the framework calls it a bad
    # request when that folder is full
    cause = error.__cause__ if isinstance(error, HTTPException) else error
    if isinstance(cause, OSError) and cause.errno in NO_ROOM:
        error = StorageFull("There is no room to take this in; nothing of it was kept")
    if request.url.path.startswith("/api/"):
        return answer_with_problem(request, error)
    return answer_with_page(request, error)
