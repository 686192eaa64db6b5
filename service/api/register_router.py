"""One router per noun of the register, all from the same pattern: list, make, read, change, retire."""

from typing import Annotated, Any

from fastapi import APIRouter, Path, Response
from fastapi import Query as FromQuery
from pydantic import BaseModel

from service.api.asking import Around, Asker, EditedVersion, tag
from service.api.problems import PROBLEMS
from service.api.register_schemas import Schemas, schemas_of, within
from service.domain.register import PARENT_FIELDS, Noun, Registered
from service.usecases.register import browse
from service.usecases.register.create import create_thing
from service.usecases.register.edit import edit_thing
from service.usecases.register.retire import restore_thing, retire_thing

ThingId = Annotated[int, Path(ge=1, le=2**53)]


class RetiredOut(BaseModel):
    """What was retired together: how many things of each noun, the one asked for included."""

    counts: dict[str, int]
    open_findings: int


def register_router(noun: Noun) -> APIRouter:
    """The routes of one noun with schemas of their own."""
    router = APIRouter(prefix=f"/{noun.plural}", tags=["register"], responses=PROBLEMS)
    schemas = schemas_of(noun)
    _add_reading(router, noun, schemas)
    _add_writing(router, noun, schemas)
    _add_retiring(router, noun, schemas)
    return router


def _add_reading(router: APIRouter, noun: Noun, schemas: Schemas) -> None:
    def list_things(around: Around, actor: Asker, query: BaseModel) -> dict[str, Any]:
        asked = query.model_dump()
        found = browse.list_things(
            around.store,
            actor,
            noun,
            after=asked["after"],
            limit=asked["limit"],
            within=within(noun, asked),
            retired=asked["retired"],
            search=asked["search"],
        )
        return {"items": found.items, "next_after": found.next_after}

    def see_thing(around: Around, actor: Asker, thing_id: ThingId, response: Response) -> Registered:
        thing = browse.see_thing(around.store, actor, noun, thing_id).thing
        tag(response, thing.version)
        return thing

    list_things.__annotations__["query"] = Annotated[schemas.query, FromQuery()]
    router.add_api_route(
        "",
        list_things,
        methods=["GET"],
        response_model=schemas.page,
        operation_id=f"list_{noun.plural}",
        summary=f"{noun.plural.capitalize()} in sight, in the order they were made",
    )
    router.add_api_route(
        "/{thing_id}",
        see_thing,
        methods=["GET"],
        response_model=schemas.shown,
        operation_id=f"see_{noun}",
        summary=f"One {noun}, retired or not",
    )


def _add_writing(router: APIRouter, noun: Noun, schemas: Schemas) -> None:
    def create(around: Around, actor: Asker, body: BaseModel, response: Response) -> Registered:
        fields = body.model_dump()
        parent_id = fields.pop(PARENT_FIELDS[noun], None) if noun in PARENT_FIELDS else None
        thing = create_thing(
            around.store, actor, noun, parent_id=parent_id, fields=fields, now=around.now(), where="body"
        )
        tag(response, thing.version)
        response.headers["Location"] = f"/api/v1/{noun.plural}/{thing.id}"
        return thing

    def edit(
        around: Around,
        actor: Asker,
        thing_id: ThingId,
        version: EditedVersion,
        body: BaseModel,
        response: Response,
    ) -> Registered:
        fields = body.model_dump(exclude_unset=True)
        thing = edit_thing(
            around.store,
            actor,
            noun,
            thing_id,
            version=version,
            move_to=fields.pop("area_id", None),
            reason=fields.pop("reason", ""),
            fields=fields,
            now=around.now(),
            where="body",
        )
        tag(response, thing.version)
        return thing

    create.__annotations__["body"] = schemas.new
    edit.__annotations__["body"] = schemas.change
    router.add_api_route(
        "",
        create,
        methods=["POST"],
        status_code=201,
        response_model=schemas.shown,
        operation_id=f"create_{noun}",
        summary=f"Add {'' if noun is Noun.EQUIPMENT else 'one '}{noun}",
    )
    router.add_api_route(
        "/{thing_id}",
        edit,
        methods=["PATCH"],
        response_model=schemas.shown,
        operation_id=f"edit_{noun}",
        summary="Set the fields that are sent, on the version that If-Match names",
    )


def _add_retiring(router: APIRouter, noun: Noun, schemas: Schemas) -> None:
    def retire(around: Around, actor: Asker, thing_id: ThingId, version: EditedVersion) -> RetiredOut:
        retired = retire_thing(around.store, actor, noun, thing_id, version=version, now=around.now())
        counts = {inner.plural: count for inner, count in retired.counts.items()}
        return RetiredOut(counts=counts, open_findings=retired.open_findings)

    def restore(
        around: Around, actor: Asker, thing_id: ThingId, version: EditedVersion, response: Response
    ) -> Registered:
        thing = restore_thing(around.store, actor, noun, thing_id, version=version, now=around.now())
        tag(response, thing.version)
        return thing

    router.add_api_route(
        "/{thing_id}/retire",
        retire,
        methods=["POST"],
        response_model=RetiredOut,
        operation_id=f"retire_{noun}",
        summary="Take it out of use with all that stands in it; nothing is deleted, its key stays taken",
    )
    router.add_api_route(
        "/{thing_id}/restore",
        restore,
        methods=["POST"],
        response_model=schemas.shown,
        operation_id=f"restore_{noun}",
        summary="Take it back into use, with what was retired together with it",
    )
