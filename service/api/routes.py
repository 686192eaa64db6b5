"""Routes: lasting, ordered lists of stops."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Path, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.asking import After, Around, Asker, EditedVersion, Limit, tag
from service.domain.rounds import Route
from service.usecases.rounds import routes

router = APIRouter(prefix="/routes", tags=["routes"])
Id = Annotated[int, Path(ge=1, le=2**53)]
BodyId = Annotated[int, Field(ge=1, le=2**53)]


class RouteBody(BaseModel):
    model_config = ConfigDict(extra="forbid")

    name: str = Field(max_length=200)
    equipment_ids: list[BodyId] = Field(max_length=500, description="the stops in walking order")


class NewRouteBody(RouteBody):
    client_id: BodyId


class RouteReply(BaseModel):
    id: int
    client_id: int
    name: str
    equipment_ids: list[int]
    version: int
    retired_at: datetime | None

    @classmethod
    def of(cls, route: Route) -> "RouteReply":
        return cls(
            id=route.id,
            client_id=route.client_id,
            name=route.name,
            equipment_ids=list(route.equipment_ids),
            version=route.version,
            retired_at=route.retired_at,
        )


def _reply(response: Response, route: Route) -> RouteReply:
    tag(response, route.version)
    return RouteReply.of(route)


@router.get("")
def list_routes(around: Around, asker: Asker, after: After = 0, limit: Limit = 100) -> list[RouteReply]:
    """Routes in use whose stops are all in sight; pass the last id as ``after`` for the next page."""
    found = routes.list_routes(around.store, asker, after=after, limit=limit)
    return [RouteReply.of(route) for route in found]


@router.post("", status_code=201)
def create_route(around: Around, asker: Asker, response: Response, body: NewRouteBody) -> RouteReply:
    """Keep a new route."""
    route = routes.create_route(
        around.store,
        asker,
        client_id=body.client_id,
        name=body.name,
        equipment_ids=body.equipment_ids,
        now=around.now(),
    )
    return _reply(response, route)


@router.get("/{route_id}")
def read_route(around: Around, asker: Asker, response: Response, route_id: Id) -> RouteReply:
    """One route in use."""
    return _reply(response, routes.read_route(around.store, asker, route_id).route)


@router.put("/{route_id}")
def edit_route(
    around: Around, asker: Asker, response: Response, route_id: Id, version: EditedVersion, body: RouteBody
) -> RouteReply:
    """Another name or other stops; rounds built from it before stay as they are."""
    route = routes.edit_route(
        around.store,
        asker,
        route_id,
        name=body.name,
        equipment_ids=body.equipment_ids,
        version=version,
        now=around.now(),
    )
    return _reply(response, route)


@router.post("/{route_id}/retire")
def retire_route(
    around: Around, asker: Asker, response: Response, route_id: Id, version: EditedVersion
) -> RouteReply:
    """Take it out of use; nothing is deleted."""
    route = routes.retire_route(around.store, asker, route_id, version=version, now=around.now())
    return _reply(response, route)
