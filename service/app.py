"""create_app(settings): wires doors, handlers and engine; the one place that sees every room."""

from collections.abc import Callable
from datetime import datetime

from fastapi import FastAPI

from service.api.problems import add_problem_handlers
from service.api.routers import ROUTERS as API_ROUTERS
from service.pages.routers import ROUTERS as PAGE_ROUTERS
from service.settings import Settings
from service.storage.engine import open_engine, refuse_unsafe_durability
from service.storage.unit import Store
from service.usecases.surroundings import Surroundings, system_clock


def create_app(
    settings: Settings, *, store: Store | None = None, clock: Callable[[], datetime] = system_clock
) -> FastAPI:
    """The service as an ASGI application; the schema must be there already.

    Raises
    ------
    service.errors.Unavailable
        The database would not keep what it acknowledges.
    """
    opened = store or Store(open_engine(settings.database_url))
    if store is None:
        refuse_unsafe_durability(opened.engine)
    app = FastAPI(
        title="Riseline", version="1", openapi_url="/api/v1/openapi.json", docs_url=None, redoc_url=None
    )
    app.state.surroundings = Surroundings(
        store=opened,
        web=settings.web,
        clock=clock,
        demo=settings.demo,
        secure_cookies=settings.secure_cookies,
        session_hours=settings.session_hours,
        body_limit=settings.body_limit,
    )
    add_problem_handlers(app)
    for router in API_ROUTERS:
        app.include_router(router, prefix="/api/v1")
    for router in PAGE_ROUTERS:
        app.include_router(router, include_in_schema=False)
    return app
