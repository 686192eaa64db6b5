"""The table of all routes: who may use each, and how a request to it is filled in.

A route that is not in here fails the build. To add one:

* ``Row("METHOD path", who, bound, …)``: ``who`` are the roles of design.md's table "Who may do
  what" (T, E, M, A, or ALL); ``bound`` says from whom the thing at the address is hidden.
* Path parameters are taken from the world (tests/access/world.py) by their name; ``at`` maps one
  that is called otherwise, or wants another state: ``at={"round_id": "round_id_draft"}``.
* ``json`` (API), ``form`` (pages) and ``files`` make a body with which somebody allowed really
  gets through: refusals by role are only proven by a request that is otherwise right.
* Several rows may stand for one route (one per kind of thing, or per move).
"""

from datetime import date
from typing import Any

from tests.access.rows import ALL, A, Bound, E, M, Row, T, World
from tests.access.world import PASSWORD

_DAY = str(date(2026, 12, 1))
_PHRASE = "violet harbour stone"


def _roles(*roles: Any) -> frozenset[Any]:
    return frozenset(roles)


_ACCOUNT = {"login": "newcomer", "name": "New Comer", "role": "technician", "email": ""}
_HELD = {"category": 2, "scope": "thermography", "number": "1", "expires_on": "2027-01-01"}

_OPEN = (
    Row("GET /api/v1/openapi.json", bound=Bound.OPEN),
    Row("GET /assets/plotly.min.js", bound=Bound.OPEN),
    Row("GET /assets/fonts/{name}", bound=Bound.OPEN, at={"name": "=AtkinsonHyperlegible-Regular.ttf"}),
    Row("GET /assets/{folder}/{path:path}", bound=Bound.OPEN, at={"folder": "=css", "path": "=base.css"}),
    Row("GET /sign-in", bound=Bound.OPEN),
    Row(
        "POST /sign-in",
        bound=Bound.OPEN,
        form=lambda w: {"login": "manager", "password": PASSWORD, "next": "/"},
    ),
    Row("POST /sign-out", bound=Bound.OPEN),
)

_PEOPLE = (
    Row("GET /api/v1/people/me"),
    Row(
        "POST /api/v1/people/me/password",
        session=True,
        json=lambda w: {"password": PASSWORD, "new_password": _PHRASE},
    ),
    Row("GET /api/v1/people/colleagues"),
    Row("GET /api/v1/people", _roles(A)),
    Row("POST /api/v1/people", _roles(A), json=lambda w: _ACCOUNT | {"password": _PHRASE}),
    Row("GET /api/v1/people/{person_id}", _roles(A)),
    Row("PUT /api/v1/people/{person_id}", _roles(A), json=lambda w: _ACCOUNT),
    Row("PUT /api/v1/people/{person_id}/active", _roles(A), json=lambda w: {"active": False}),
    Row("PUT /api/v1/people/{person_id}/password", _roles(A), json=lambda w: {"password": _PHRASE}),
    Row("POST /api/v1/people/{person_id}/grants", _roles(A), json=lambda w: {"client_id": w["client_id"]}),
    Row("DELETE /api/v1/people/{person_id}/grants/{grant_id}", _roles(A)),
    Row("POST /api/v1/people/{person_id}/certificates", _roles(A), json=lambda w: _HELD),
    Row("PUT /api/v1/people/{person_id}/certificates/{certificate_id}", _roles(A), json=lambda w: _HELD),
    Row("DELETE /api/v1/people/{person_id}/certificates/{certificate_id}", _roles(A)),
    Row("GET /api/v1/tokens"),
    Row("POST /api/v1/tokens", session=True, json=lambda w: {"name": "mine", "days": 7}),
    Row("POST /api/v1/tokens/{token_id}/revoke", bound=Bound.OWNER),
    Row("GET /api/v1/audit", _roles(E, M, A)),
    Row("GET /set-up"),
    Row("GET /set-up/password"),
    Row("POST /set-up/password", form=lambda w: {"password": PASSWORD, "new_password": _PHRASE}),
    Row("GET /set-up/people", _roles(A)),
    Row("GET /set-up/people/new", _roles(A)),
    Row("POST /set-up/people/new", _roles(A), form=lambda w: _ACCOUNT | {"password": _PHRASE}),
    Row("GET /set-up/people/{person_id}", _roles(A)),
    Row("POST /set-up/people/{person_id}/edit", _roles(A), form=lambda w: _ACCOUNT),
    Row("POST /set-up/people/{person_id}/close", _roles(A)),
    Row("POST /set-up/people/{person_id}/open", _roles(A)),
    Row("POST /set-up/people/{person_id}/password", _roles(A), form=lambda w: {"password": _PHRASE}),
    Row("POST /set-up/people/{person_id}/grants", _roles(A), form=lambda w: {"opens": str(w["client_id"])}),
    Row("POST /set-up/people/{person_id}/grants/{grant_id}/revoke", _roles(A)),
    Row("POST /set-up/people/{person_id}/certificates", _roles(A), form=lambda w: _HELD),
    Row("POST /set-up/people/{person_id}/certificates/{certificate_id}/remove", _roles(A)),
    Row("GET /set-up/tokens"),
    Row("POST /set-up/tokens", form=lambda w: {"name": "mine", "days": "7"}),
    Row("POST /set-up/tokens/{token_id}/revoke", bound=Bound.OWNER),
    Row("GET /set-up/audit", _roles(E, M, A)),
)


def _register(
    plural: str, bound: Bound, new: Any, key: str, change: dict[str, Any], *, into: Bound, edits: Bound
) -> tuple[Row, ...]:
    """The routes that every noun of the register has; ``into`` binds what a new one stands in."""
    base, at = f"/api/v1/{plural}", {"thing_id": key}
    return (
        Row(f"GET {base}"),
        Row(f"POST {base}", _roles(E), into, json=new),
        Row(f"GET {base}/{{thing_id}}", bound=bound, at=at),
        Row(f"PATCH {base}/{{thing_id}}", _roles(E), edits, at=at, json=lambda w: change),
        Row(f"POST {base}/{{thing_id}}/retire", _roles(E), edits, at=at, through=(409,)),
        Row(f"POST {base}/{{thing_id}}/restore", _roles(E), edits, at=at, through=(409,)),
    )


_REGISTER = (
    *_register(
        "clients",
        Bound.CLIENT,
        lambda w: {"code": "N", "name": "New"},
        "client_id",
        {"name": "Other"},
        into=Bound.NOTHING,
        edits=Bound.WHOLE_CLIENT,
    ),
    *_register(
        "sites",
        Bound.SITE,
        lambda w: {"client_id": w["client_id"], "code": "N", "name": "New", "time_zone": "UTC"},
        "site_id",
        {"name": "Other"},
        into=Bound.WHOLE_CLIENT,
        edits=Bound.SITE,
    ),
    *_register(
        "areas",
        Bound.SITE,
        lambda w: {"site_id": w["site_id"], "code": "N", "name": "New"},
        "area_id",
        {"name": "Other"},
        into=Bound.SITE,
        edits=Bound.SITE,
    ),
    *_register(
        "equipment",
        Bound.ROUND,
        lambda w: {"area_id": w["area_id"], "tag": "N", "name": "New", "equipment_class": "switchboard"},
        "equipment_id",
        {"name": "Other"},
        into=Bound.SITE,
        edits=Bound.ROUND,
    ),
    *_register(
        "views",
        Bound.ROUND,
        lambda w: {"equipment_id": w["equipment_id"], "tag": "N", "name": "New"},
        "view_id",
        {"name": "Other"},
        into=Bound.ROUND,
        edits=Bound.ROUND,
    ),
    *_register(
        "points",
        Bound.ROUND,
        lambda w: {"view_id": w["view_id"], "tag": "N", "name": "New", "kind": "joint"},
        "point_id",
        {"name": "Other"},
        into=Bound.ROUND,
        edits=Bound.ROUND,
    ),
    *_register(
        "instruments",
        Bound.CLIENT,
        lambda w: {"client_id": w["client_id"], "serial": "N", "name": "New", "kind": "camera"},
        "instrument_id",
        {"name": "Other"},
        into=Bound.CLIENT,
        edits=Bound.CLIENT,
    ),
)

_DRAFT = {"round_id": "round_id_draft", "stop_id": "stop_id_draft"}
_RETURNED = {"round_id": "round_id_returned", "row_uid": "row_uid_returned"}
_R, _READERS = "/api/v1/rounds/{round_id}", _roles(T, E, M)
#: technicians see their own rounds, not the routes and the plan behind them
_PLANNERS = _roles(E, M, A)
_WISH = {"name": "More", "planned_on": _DAY}


def _reading(w: World, key: str) -> dict[str, Any]:
    row = {"row_uid": w.texts[key], "taken_at": "2026-11-25T08:30:00Z"}
    return row | {"temperature_c": 41.0, "ambient_c": 25.0, "current_a": 90.0}


def _permit(w: World) -> dict[str, Any]:
    window = {"valid_from": "2026-11-25T07:00:00Z", "valid_to": "2026-11-25T17:00:00Z"}
    return window | {"number": "P-1", "issuer": "Desk", "stop_ids": [w["stop_id"]]}


_ROUNDS = (
    Row("GET /api/v1/rounds"),
    Row(
        "POST /api/v1/rounds",
        _roles(E),
        Bound.ROUND,
        json=lambda w: _WISH | {"equipment_ids": [w["equipment_id"]]},
    ),
    Row("GET /api/v1/rounds/due", _PLANNERS, query="until=2026-12-31"),
    Row("GET /api/v1/rounds/due", _PLANNERS, Bound.SITE, query="until=2026-12-31&site_id={site_id}"),
    Row("GET /api/v1/rounds/sheets/{code}", bound=Bound.ROUND),
    Row(f"GET {_R}", bound=Bound.ROUND),
    Row(f"PUT {_R}", _roles(E), Bound.ROUND, at=_DRAFT, json=lambda w: _WISH | {"start_min": 480}),
    Row(f"GET {_R}/rows", bound=Bound.ROUND),
    Row(
        f"PUT {_R}/stops",
        _roles(E),
        Bound.ROUND,
        at=_DRAFT,
        json=lambda w: {"stop_ids": [w["stop_id_draft"]]},
    ),
    Row(
        f"POST {_R}/stops",
        _roles(E),
        Bound.ROUND,
        at=_DRAFT,
        json=lambda w: {"equipment_ids": [w["equipment_id_apart"]]},
    ),
    Row(f"PUT {_R}/stops/{{stop_id}}", _roles(E), Bound.ROUND, at=_DRAFT, json=lambda w: {"minutes": 7}),
    Row(f"DELETE {_R}/stops/{{stop_id}}", _roles(E), Bound.ROUND, at=_DRAFT),
    Row(f"POST {_R}/reorder-for-load", _roles(E), Bound.ROUND, at=_DRAFT),
    Row(f"POST {_R}/issue", _roles(E), Bound.ROUND, at=_DRAFT),
    Row(f"POST {_R}/withdraw", _roles(E), Bound.ROUND, json=lambda w: {"reason": "rain"}),
    Row(
        f"POST {_R}/sign-off",
        _roles(E),
        Bound.ROUND,
        at=_RETURNED,
        json=lambda w: {"reasons": {}},
        through=(422,),
        certified=True,
    ),
    Row(f"GET {_R}/file.csv", _READERS, Bound.ROUND),
    Row(f"GET {_R}/file.xlsx", _READERS, Bound.ROUND),
    Row(f"GET {_R}/permits", bound=Bound.ROUND),
    Row(
        f"POST {_R}/permits",
        _roles(E),
        Bound.ROUND,
        json=lambda w: _permit(w) | {"site_id": w["site_id"]},
    ),
    Row("PUT /api/v1/permits/{permit_id}", _roles(E), Bound.ROUND, json=_permit),
    Row("POST /api/v1/permits/{permit_id}/grant", _roles(E), Bound.ROUND, through=(422,)),
    Row("POST /api/v1/permits/{permit_id}/close", _roles(E), Bound.ROUND, through=(409,)),
    Row("GET /api/v1/routes", _PLANNERS),
    Row(
        "POST /api/v1/routes",
        _roles(E),
        Bound.ROUND,
        json=lambda w: {"client_id": w["client_id"], "name": "New", "equipment_ids": [w["equipment_id"]]},
    ),
    Row("GET /api/v1/routes/{route_id}", _PLANNERS, Bound.SITE),
    Row(
        "PUT /api/v1/routes/{route_id}",
        _roles(E),
        Bound.SITE,
        json=lambda w: {"name": "Other", "equipment_ids": [w["equipment_id"]]},
    ),
    Row("POST /api/v1/routes/{route_id}/retire", _roles(E), Bound.SITE),
    Row(f"GET {_R}/readings", bound=Bound.ROUND, at=_RETURNED),
    Row(f"POST {_R}/uploads", _roles(T, E), Bound.ROUND, json=lambda w: {"rows": [_reading(w, "row_uid")]}),
    Row(
        f"POST {_R}/uploads/preview",
        _roles(T, E),
        Bound.ROUND,
        json=lambda w: {"rows": [_reading(w, "row_uid")]},
    ),
    Row(f"GET {_R}/uploads/{{upload_id}}", bound=Bound.ROUND, at=_RETURNED),
    Row(
        f"PUT {_R}/readings/{{uid}}",
        _roles(T, E),
        Bound.ROUND,
        at={"uid": "=reading-uid-new"},
        json=lambda w: _reading(w, "row_uid"),
        headers={"If-None-Match": "*"},
    ),
    Row(f"GET {_R}/doubles", bound=Bound.ROUND, at=_RETURNED),
    Row(
        f"POST {_R}/doubles/{{row_uid}}",
        _roles(E),
        Bound.ROUND,
        at=_RETURNED,
        json=lambda w: {"source": f"person {w.people['technician']}"},
    ),
    Row("GET /api/v1/points/{point_id}/readings", bound=Bound.ROUND),
    Row("GET /api/v1/readings/{uid}", bound=Bound.ROUND, at={"uid": "reading_uid"}),
    Row(
        "POST /api/v1/readings/{uid}/corrections",
        _roles(T, E),
        Bound.ROUND,
        at={"uid": "reading_uid"},
        json=lambda w: {"reason": "digit slip", "changes": {"temperature_c": 40.5}},
    ),
)

_F = "/api/v1/findings/{finding_id}"
_REPAIR = {"repaired_at": "2026-11-25T08:00:00Z", "as_left": "cleaned and remade"}

_FINDINGS = (
    Row("GET /api/v1/desk"),
    Row("GET /api/v1/findings"),
    Row("POST /api/v1/findings", _roles(T, E), Bound.ROUND, json=lambda w: {"point_id": w["point_id_other"]}),
    Row(
        "POST /api/v1/findings",
        _roles(T, E),
        Bound.SITE,
        json=lambda w: {"site_id": w["site_id"], "place": "by the door", "title": "hot lug"},
    ),
    Row(f"GET {_F}", bound=Bound.ROUND),
    Row(f"PUT {_F}", _roles(E), Bound.ROUND, json=lambda w: {"title": "Other"}),
    Row(f"POST {_F}/plan", _roles(E), Bound.ROUND, json=lambda w: {"planned_for": _DAY}),
    Row(f"POST {_F}/repair", _roles(E), Bound.ROUND, json=lambda w: _REPAIR),
    Row(
        f"POST {_F}/set-aside",
        _roles(E),
        Bound.ROUND,
        json=lambda w: {"reason": "spare", "review_on": _DAY},
        through=(409,),
    ),
    Row(f"POST {_F}/take-up", _roles(E), Bound.ROUND, through=(409,)),
    Row(
        f"POST {_F}/tellings",
        _roles(T, E),
        Bound.ROUND,
        json=lambda w: {"told_whom": "shift lead", "told_at": "2026-11-25T08:00:00Z"},
    ),
    Row(f"POST {_F}/accept-risk", _roles(M), Bound.ROUND, json=lambda w: {"note": "until the stop"}),
)

_SHEET = ("register.csv", b"client_code\n", "text/csv")
_MORE_REGISTER = (
    Row("GET /api/v1/points/{thing_id}/common-loads", bound=Bound.ROUND, at={"thing_id": "point_id"}),
    Row("GET /api/v1/sites/{thing_id}/tree", bound=Bound.SITE, at={"thing_id": "site_id"}),
    Row("GET /api/v1/tags", query="text=MCC"),
    Row("GET /api/v1/criteria"),
    Row("PUT /api/v1/criteria/sites/{site_id}", _roles(E), Bound.SITE, json=lambda w: {"criteria_id": 1}),
    Row("POST /api/v1/imports/register", _roles(E), files=lambda w: {"file": _SHEET}, through=(422,)),
    Row("POST /api/v1/imports/register/preview", _roles(E), files=lambda w: {"file": _SHEET}, through=(422,)),
    Row("GET /api/v1/imports/register/register.xlsx", _roles(E)),
    Row("GET /api/v1/imports/register/template.csv", _roles(E)),
    Row("GET /api/v1/imports/register/template.xlsx", _roles(E)),
)

TABLE: tuple[Row, ...] = (*_OPEN, *_PEOPLE, *_REGISTER, *_MORE_REGISTER, *_ROUNDS, *_FINDINGS)
__all__ = ["ALL", "TABLE", "T", "World"]
