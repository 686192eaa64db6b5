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

TABLE: tuple[Row, ...] = (*_OPEN, *_PEOPLE)
__all__ = ["ALL", "TABLE", "T", "World"]
