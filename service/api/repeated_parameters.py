"""Query parameters that came several times: allowed only where a route declares a list."""

from collections import Counter
from collections.abc import Collection
from typing import Any, get_args, get_origin

from fastapi import Request
from fastapi.dependencies.utils import get_flat_params
from fastapi.params import Query
from fastapi.routing import APIRoute

from service.api.asking import Asker
from service.errors import Invalid, Problem


async def refuse_repeated(request: Request, _asker: Asker) -> None:
    """For every route of the JSON door; who asks is settled first, as for any other mistake.

    Of ``?noun_id=1&noun_id=2`` the framework would take one and say nothing, so that somebody is
    answered another question than was asked.

    Raises
    ------
    Invalid
        Names each parameter that came more than once and takes one value.
    """
    given = Counter(name for name, _value in request.query_params.multi_items())
    repeated = [name for name, times in given.items() if times > 1]
    if not repeated:
        return
    route = request.scope.get("route")
    lists = _lists_of(route) if isinstance(route, APIRoute) else ()
    wrong = [name for name in repeated if name not in lists]
    if wrong:
        raise Invalid(_told(name, request.query_params.getlist(name)) for name in wrong)


def _told(name: str, values: list[str]) -> Problem:
    return Problem(
        where="query",
        field=name,
        found=", ".join(map(repr, values))[:80],
        message=f"This parameter came {len(values)} times; it takes one value.",
        remedy="Send it once; ask once for each value.",
    )


def _lists_of(route: APIRoute) -> Collection[str]:
    """Names of the query parameters that a route declares as lists."""
    return {
        field.alias
        for field in get_flat_params(route.dependant)
        if isinstance(field.field_info, Query) and _takes_many(field.field_info.annotation)
    }


def _takes_many(annotation: Any) -> bool:
    """Whether a list is among what an annotation allows."""
    return get_origin(annotation) is list or any(map(_takes_many, get_args(annotation)))
