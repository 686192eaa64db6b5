"""Rows of the criteria: whose sets are seen and kept by whom, and who chooses them for a site."""

from typing import Any

from service.domain.presets import TWO_COLUMN
from tests.access.rows import A, Bound, E, Row, roles
from tests.access.world import World

_ONE = "/api/v1/criteria/{criteria_id}"
_PRESET = {"criteria_id": "criteria_id_preset"}


_EDIT = "/set-up/criteria/{criteria_id}/edit/{part}"


def _about(world: World) -> dict[str, str]:
    return {"title": "Edited", "citation": "Own", "confidence": "own proposal"}


def _body(title: str) -> dict[str, Any]:
    return TWO_COLUMN.to_dict() | {"title": title, "exponent": 1.7}


def _copy(world: World) -> dict[str, Any]:
    return {"title": "Copy", "client_id": world["client_id"]}


CRITERIA = (
    Row("GET /api/v1/criteria"),
    Row(
        "POST /api/v1/criteria",
        roles(E),
        Bound.CLIENT,
        json=lambda w: {"client_id": w["client_id"], "body": _body("Taken in")},
    ),
    Row("POST /api/v1/criteria", roles(A), json=lambda w: {"body": _body("For all")}),
    Row(f"GET {_ONE}", bound=Bound.CLIENT),
    Row(f"GET {_ONE}", at=_PRESET),
    Row(f"PUT {_ONE}", roles(E), Bound.CLIENT, json=lambda w: {"body": _body("Edited")}),
    Row(f"PUT {_ONE}", roles(A), at=_PRESET, json=lambda w: {"body": _body("Edited")}),
    Row(f"DELETE {_ONE}", roles(E), Bound.CLIENT),
    Row(f"POST {_ONE}/copies", roles(E), Bound.CLIENT, json=_copy),
    Row(f"PUT {_ONE}/offer", roles(A), at=_PRESET, json=lambda w: {"offered": False}),
    Row(f"GET {_ONE}/differences/{{other_id}}", bound=Bound.CLIENT, at={"other_id": "criteria_id_preset"}),
    Row("PUT /api/v1/criteria/sites/{site_id}", roles(E), Bound.SITE, json=lambda w: {"criteria_id": 1}),
    Row(
        "PUT /api/v1/criteria/sites/{site_id}/classes",
        roles(E),
        Bound.SITE,
        json=lambda w: {"equipment_class": "switchboard", "criteria_id": 1},
    ),
    Row("GET /set-up/criteria"),
    Row("GET /set-up/criteria/{criteria_id}", bound=Bound.CLIENT),
    Row("GET /set-up/criteria/{criteria_id}/differences", bound=Bound.CLIENT),
    Row(
        "POST /set-up/criteria/copies",
        roles(E),
        Bound.CLIENT,
        form=lambda w: {"criteria_id": "1", "title": "Copy", "owner": str(w["client_id"])},
    ),
    Row("POST /set-up/criteria/copies", roles(A), form=lambda w: {"criteria_id": "1", "title": "Copy"}),
    *(
        Row(f"GET {_EDIT}", roles(E), Bound.CLIENT, at={"part": f"={part}"})
        for part in ("about", "columns", "numbers", "limits", "kinds")
    ),
    Row(f"POST {_EDIT}", roles(E), Bound.CLIENT, at={"part": "=about"}, form=_about),
    Row(f"POST {_EDIT}", roles(A), at=_PRESET | {"part": "=about"}, form=_about),
    Row("POST /set-up/criteria/{criteria_id}/discard", roles(E), Bound.CLIENT),
    Row("POST /set-up/criteria/{criteria_id}/offer", roles(A), at=_PRESET, form=lambda w: {"offered": "yes"}),
    Row("POST /set-up/criteria/sites/{site_id}", roles(E), Bound.SITE, form=lambda w: {"criteria_id": "1"}),
    Row(
        "POST /set-up/criteria/sites/{site_id}/classes",
        roles(E),
        Bound.SITE,
        form=lambda w: {"equipment_class": "switchboard", "criteria_id": "1"},
    ),
)
