"""Rows of people: signing in, accounts, grants, certificates, tokens, the audit trail."""

from tests.access.rows import PHRASE, A, Bound, E, M, Row, roles
from tests.access.world import PASSWORD

_ACCOUNT = {"login": "newcomer", "name": "New Comer", "role": "technician", "email": ""}
_HELD = {"category": 2, "scope": "thermography", "number": "1", "expires_on": "2027-01-01"}

OPEN = (
    Row("GET /api/v1/openapi.json", bound=Bound.OPEN),
    Row("GET /assets/plotly.min.js", bound=Bound.OPEN),
    Row("GET /assets/fonts/{name}", bound=Bound.OPEN, at={"name": "=AtkinsonHyperlegible-Regular.ttf"}),
    Row("GET /assets/{folder}/{path:path}", bound=Bound.OPEN, at={"folder": "=css", "path": "=base.css"}),
    Row("GET /field", bound=Bound.OPEN),
    Row("GET /field/", bound=Bound.OPEN),
    Row("GET /field/worker.js", bound=Bound.OPEN),
    Row("GET /field/app.js", bound=Bound.OPEN),
    Row("GET /field/manifest.webmanifest", bound=Bound.OPEN),
    Row("GET /sign-in", bound=Bound.OPEN),
    Row(
        "POST /sign-in",
        bound=Bound.OPEN,
        form=lambda w: {"login": "manager", "password": PASSWORD, "next": "/"},
    ),
    Row("POST /sign-out", bound=Bound.OPEN),
)

PEOPLE = (
    Row("GET /api/v1/people/me"),
    Row(
        "POST /api/v1/people/me/password",
        session=True,
        json=lambda w: {"password": PASSWORD, "new_password": PHRASE},
    ),
    Row("GET /api/v1/people/colleagues"),
    Row("GET /api/v1/people", roles(A)),
    Row("POST /api/v1/people", roles(A), json=lambda w: _ACCOUNT | {"password": PHRASE}),
    Row("GET /api/v1/people/{person_id}", roles(A)),
    Row("PUT /api/v1/people/{person_id}", roles(A), json=lambda w: _ACCOUNT),
    Row("PUT /api/v1/people/{person_id}/active", roles(A), json=lambda w: {"active": False}),
    Row("PUT /api/v1/people/{person_id}/password", roles(A), json=lambda w: {"password": PHRASE}),
    Row("POST /api/v1/people/{person_id}/grants", roles(A), json=lambda w: {"client_id": w["client_id"]}),
    Row("DELETE /api/v1/people/{person_id}/grants/{grant_id}", roles(A)),
    Row("POST /api/v1/people/{person_id}/certificates", roles(A), json=lambda w: _HELD),
    Row("PUT /api/v1/people/{person_id}/certificates/{certificate_id}", roles(A), json=lambda w: _HELD),
    Row("DELETE /api/v1/people/{person_id}/certificates/{certificate_id}", roles(A)),
    Row("GET /api/v1/tokens"),
    Row("POST /api/v1/tokens", session=True, json=lambda w: {"name": "mine", "days": 7}),
    Row("POST /api/v1/tokens/{token_id}/revoke", bound=Bound.OWNER),
    Row("GET /api/v1/audit", roles(E, M, A)),
    Row("GET /set-up"),
    Row("GET /set-up/units"),
    Row("POST /set-up/units", form=lambda w: {"temperature_unit": "f"}),
    Row("GET /set-up/password"),
    Row("POST /set-up/password", form=lambda w: {"password": PASSWORD, "new_password": PHRASE}),
    Row("GET /set-up/people", roles(A)),
    Row("GET /set-up/people/new", roles(A)),
    Row("POST /set-up/people/new", roles(A), form=lambda w: _ACCOUNT | {"password": PHRASE}),
    Row("GET /set-up/people/{person_id}", roles(A)),
    Row("POST /set-up/people/{person_id}/edit", roles(A), form=lambda w: _ACCOUNT),
    Row("POST /set-up/people/{person_id}/close", roles(A)),
    Row("POST /set-up/people/{person_id}/open", roles(A)),
    Row("POST /set-up/people/{person_id}/password", roles(A), form=lambda w: {"password": PHRASE}),
    Row("POST /set-up/people/{person_id}/grants", roles(A), form=lambda w: {"opens": str(w["client_id"])}),
    Row("POST /set-up/people/{person_id}/grants/{grant_id}/revoke", roles(A)),
    Row("POST /set-up/people/{person_id}/certificates", roles(A), form=lambda w: _HELD),
    Row("POST /set-up/people/{person_id}/certificates/{certificate_id}/remove", roles(A)),
    Row("GET /set-up/tokens"),
    Row("POST /set-up/tokens", form=lambda w: {"name": "mine", "days": "7"}),
    Row("POST /set-up/tokens/{token_id}/revoke", bound=Bound.OWNER),
    Row("GET /set-up/audit", roles(E, M, A)),
)
