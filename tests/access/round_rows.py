"""Rows of rounds, routes, permits and the readings they bring back."""

from typing import Any

from tests.access.register_rows import CHECK
from tests.access.rows import DAY, A, Bound, E, M, Row, T, World, roles

_DRAFT = {"round_id": "round_id_draft", "stop_id": "stop_id_draft"}
_RETURNED = {"round_id": "round_id_returned", "row_uid": "row_uid_returned"}
_R, _READERS = "/api/v1/rounds/{round_id}", roles(T, E, M)
#: technicians see their own rounds, not the routes and the plan behind them
_PLANNERS = roles(E, M, A)
_WISH = {"name": "More", "planned_on": DAY}


def _reading(w: World, key: str) -> dict[str, Any]:
    row = {"row_uid": w.texts[key], "taken_at": "2026-11-25T08:30:00Z"}
    return row | {"temperature_c": 41.0, "ambient_c": 25.0, "current_a": 90.0}


def _permit(w: World) -> dict[str, Any]:
    window = {"valid_from": "2026-11-25T07:00:00Z", "valid_to": "2026-11-25T17:00:00Z"}
    return window | {"number": "P-1", "issuer": "Desk", "stop_ids": [w["stop_id"]]}


ROUNDS = (
    Row("GET /api/v1/rounds"),
    Row(
        "POST /api/v1/rounds",
        roles(E),
        Bound.ROUND,
        json=lambda w: _WISH | {"equipment_ids": [w["equipment_id"]]},
    ),
    Row("GET /api/v1/rounds/due", _PLANNERS, query="until=2026-12-31"),
    Row("GET /api/v1/rounds/due", _PLANNERS, Bound.SITE, query="until=2026-12-31&site_id={site_id}"),
    Row("GET /api/v1/rounds/sheets/{code}", bound=Bound.ROUND),
    Row(f"GET {_R}", bound=Bound.ROUND),
    Row(f"PUT {_R}", roles(E), Bound.ROUND, at=_DRAFT, json=lambda w: _WISH | {"start_min": 480}),
    Row(f"GET {_R}/rows", bound=Bound.ROUND),
    Row("GET /api/v1/field/rounds", _READERS),
    Row(f"GET {_R}/pack", _READERS, Bound.ROUND),
    Row(f"GET {_R}/settings", bound=Bound.ROUND),
    Row(f"PATCH {_R}/settings", roles(E), Bound.ROUND, json=lambda w: {"ambient_c": {"value": 31.0}}),
    Row(
        f"PUT {_R}/stops",
        roles(E),
        Bound.ROUND,
        at=_DRAFT,
        json=lambda w: {"stop_ids": [w["stop_id_draft"]]},
    ),
    Row(
        f"POST {_R}/stops",
        roles(E),
        Bound.ROUND,
        at=_DRAFT,
        json=lambda w: {"equipment_ids": [w["equipment_id_apart"]]},
    ),
    Row(f"PUT {_R}/stops/{{stop_id}}", roles(E), Bound.ROUND, at=_DRAFT, json=lambda w: {"minutes": 7}),
    Row(f"DELETE {_R}/stops/{{stop_id}}", roles(E), Bound.ROUND, at=_DRAFT),
    Row(f"POST {_R}/reorder-for-load", roles(E), Bound.ROUND, at=_DRAFT),
    Row(f"POST {_R}/issue", roles(E), Bound.ROUND, at=_DRAFT),
    Row(f"POST {_R}/withdraw", roles(E), Bound.ROUND, json=lambda w: {"reason": "rain"}),
    Row(
        f"POST {_R}/sign-off",
        roles(E),
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
        roles(E),
        Bound.ROUND,
        json=lambda w: _permit(w) | {"site_id": w["site_id"]},
    ),
    Row("PUT /api/v1/permits/{permit_id}", roles(E), Bound.ROUND, json=_permit),
    Row("POST /api/v1/permits/{permit_id}/grant", roles(E), Bound.ROUND, through=(422,)),
    Row("POST /api/v1/permits/{permit_id}/close", roles(E), Bound.ROUND, through=(409,)),
    Row(f"GET {_R}/run-requests", bound=Bound.ROUND),
    Row(
        f"POST {_R}/run-requests",
        roles(E),
        Bound.ROUND,
        json=lambda w: {"equipment_ids": [w["equipment_id"]]},
        through=(422,),
    ),
    Row(
        "POST /api/v1/run-requests/{request_id}/answer",
        roles(E),
        Bound.ROUND,
        json=lambda w: {"agreed": True},
    ),
    Row("GET /api/v1/routes", _PLANNERS),
    Row(
        "POST /api/v1/routes",
        roles(E),
        Bound.ROUND,
        json=lambda w: {"client_id": w["client_id"], "name": "New", "equipment_ids": [w["equipment_id"]]},
    ),
    Row("GET /api/v1/routes/{route_id}", _PLANNERS, Bound.SITE),
    Row(
        "PUT /api/v1/routes/{route_id}",
        roles(E),
        Bound.SITE,
        json=lambda w: {"name": "Other", "equipment_ids": [w["equipment_id"]]},
    ),
    Row("POST /api/v1/routes/{route_id}/retire", roles(E), Bound.SITE),
    Row(f"GET {_R}/readings", bound=Bound.ROUND, at=_RETURNED),
    Row(f"POST {_R}/uploads", roles(T, E), Bound.ROUND, json=lambda w: {"rows": [_reading(w, "row_uid")]}),
    Row(
        f"POST {_R}/uploads/preview",
        roles(T, E),
        Bound.ROUND,
        json=lambda w: {"rows": [_reading(w, "row_uid")]},
    ),
    Row(f"GET {_R}/uploads/{{upload_id}}", bound=Bound.ROUND, at=_RETURNED),
    Row(
        f"PUT {_R}/readings/{{uid}}",
        roles(T, E),
        Bound.ROUND,
        at={"uid": "=reading-uid-new"},
        json=lambda w: _reading(w, "row_uid"),
        headers={"If-None-Match": "*"},
    ),
    Row(f"GET {_R}/checks", bound=Bound.ROUND),
    Row(
        f"POST {_R}/checks",
        roles(T, E),
        Bound.ROUND,
        json=lambda w: CHECK | {"instrument_id": w["instrument_id"]},
    ),
    Row(f"GET {_R}/doubles", bound=Bound.ROUND, at=_RETURNED),
    Row(
        f"POST {_R}/doubles/{{row_uid}}",
        roles(E),
        Bound.ROUND,
        at=_RETURNED,
        json=lambda w: {"source": f"person {w.people['technician']}"},
    ),
    Row("GET /api/v1/points/{point_id}/readings", bound=Bound.ROUND),
    Row("GET /api/v1/readings/{uid}", bound=Bound.ROUND, at={"uid": "reading_uid"}),
    Row(
        "POST /api/v1/readings/{uid}/corrections",
        roles(T, E),
        Bound.ROUND,
        at={"uid": "reading_uid"},
        json=lambda w: {"reason": "digit slip", "changes": {"temperature_c": 40.5}},
    ),
)

_P = "/rounds/{round_id}"
_WHEN = {"valid_from": "2026-11-25T07:00", "valid_to": "2026-11-25T17:00"}
_GIVEN = _WHEN | {"number": "P-1", "issuer": "Desk"}
_DAY_FORM = {"name": "More", "planned_on": DAY, "start": "07:00"}

ROUND_PAGES = (
    Row("GET /rounds"),
    Row("GET /rounds/sheet", bound=Bound.ROUND, query="code={code}"),
    Row("GET /rounds/permits", roles(E)),
    Row("GET /rounds/permits.csv", roles(E)),
    Row("GET /rounds/new", roles(E)),
    Row("GET /rounds/new", roles(E), Bound.SITE, query="site={site_id}"),
    Row(
        "POST /rounds/new",
        roles(E),
        Bound.SITE,
        form=lambda w: _DAY_FORM | {"equipment": str(w["equipment_id"]), "site": str(w["site_id"])},
    ),
    Row(f"GET {_P}", bound=Bound.ROUND),
    Row(f"GET {_P}/build", bound=Bound.ROUND, at=_DRAFT),
    Row(f"GET {_P}/go", bound=Bound.ROUND),
    Row(f"GET {_P}/sheets", _READERS, Bound.ROUND),
    Row(f"GET {_P}/file.csv", _READERS, Bound.ROUND),
    Row(f"GET {_P}/file.xlsx", _READERS, Bound.ROUND),
    Row(f"POST {_P}/settings", roles(E), Bound.ROUND, form=lambda w: {"ambient_c": "31"}),
    Row(f"POST {_P}/details", roles(E), Bound.ROUND, at=_DRAFT, form=lambda w: _DAY_FORM),
    Row(
        f"POST {_P}/order", roles(E), Bound.ROUND, at=_DRAFT, form=lambda w: {"stop": str(w["stop_id_draft"])}
    ),
    Row(f"POST {_P}/reorder-for-load", roles(E), Bound.ROUND, at=_DRAFT),
    Row(
        f"POST {_P}/stops",
        roles(E),
        Bound.ROUND,
        at=_DRAFT,
        form=lambda w: {"equipment": str(w["equipment_id_apart"])},
    ),
    Row(f"POST {_P}/stops/{{stop_id}}/{{step}}", roles(E), Bound.ROUND, at=_DRAFT | {"step": "=up"}),
    Row(f"POST {_P}/stops/{{stop_id}}/{{step}}", roles(E), Bound.ROUND, at=_DRAFT | {"step": "=remove"}),
    Row(f"POST {_P}/issue", roles(E), Bound.ROUND, at=_DRAFT),
    Row(f"POST {_P}/withdraw", roles(E), Bound.ROUND, form=lambda w: {"reason": "rain"}),
    Row(f"GET {_P}/sign-off", roles(E), Bound.ROUND, at=_RETURNED),
    Row(
        f"POST {_P}/sign-off",
        roles(E),
        Bound.ROUND,
        at=_RETURNED,
        form=lambda w: {},
        through=(422,),
        certified=True,
    ),
    Row(f"GET {_P}/permits/new", bound=Bound.ROUND),
    Row(f"POST {_P}/permits/new", roles(E), Bound.ROUND, form=lambda w: {"stop": str(w["stop_id"])}),
    Row("GET /permits/{permit_id}", bound=Bound.ROUND),
    *(
        Row(
            "POST /permits/{permit_id}/{move}",
            roles(E),
            Bound.ROUND,
            at={"move": f"={move}"},
            form=lambda w: _GIVEN | {"stop": str(w["stop_id"])},
            through=(409,),
        )
        for move in ("edit", "grant", "close")
    ),
    Row(f"GET {_P}/running", bound=Bound.ROUND),
    Row(
        f"POST {_P}/running",
        roles(E),
        Bound.ROUND,
        form=lambda w: {"equipment": str(w["equipment_id"])},
        through=(422,),
    ),
    Row(
        "POST /run-requests/{request_id}/answer",
        roles(E),
        Bound.ROUND,
        form=lambda w: {"agreed": "agreed"},
    ),
    Row("GET /routes", _PLANNERS),
    Row("GET /routes/new", roles(E)),
    Row("GET /routes/new", roles(E), Bound.SITE, query="site={site_id}"),
    Row(
        "POST /routes/new",
        roles(E),
        Bound.SITE,
        form=lambda w: {"name": "New", "site": str(w["site_id"]), "equipment": str(w["equipment_id"])},
    ),
    Row("GET /routes/{route_id}", _PLANNERS, Bound.SITE),
    Row(
        "POST /routes/{route_id}/edit",
        roles(E),
        Bound.SITE,
        form=lambda w: {"name": "Other", "stop": str(w["equipment_id"])},
    ),
    Row("POST /routes/{route_id}/retire", roles(E), Bound.SITE),
)

_FILE = ("round.csv", b"Round,Row id,Point tag,Temperature\n", "text/csv")
_FILE_UID = {"uid": "file_uid"}

RETURNS = (
    Row(f"GET {_P}/return", roles(T, E), Bound.ROUND),
    Row(f"POST {_P}/return", roles(T, E), Bound.ROUND, files=lambda w: {"file": _FILE}, through=(422,)),
    Row(
        f"POST {_P}/return/checks",
        roles(T, E),
        Bound.ROUND,
        form=lambda w: {
            "instrument_id": str(w["instrument_id"]),
            "occasion": "end",
            "reference_c": "35",
            "shown_c": "35.4",
        },
    ),
    Row(f"GET {_P}/return/files/{{uid}}", roles(T, E), Bound.OWNER_ALONE, at=_FILE_UID),
    Row(f"POST {_P}/return/files/{{uid}}", roles(T, E), Bound.OWNER_ALONE, at=_FILE_UID),
    Row(f"GET {_P}/return/uploads/{{upload_id}}", bound=Bound.ROUND, at=_RETURNED),
    Row(f"GET {_P}/return/stops/{{stop_id}}", roles(T, E), Bound.ROUND),
    Row(
        f"POST {_P}/return/stops/{{stop_id}}",
        roles(T, E),
        Bound.ROUND,
        form=lambda w: {
            f"temperature_c-{w.texts['row_uid']}": "41",
            f"current_a-{w.texts['row_uid']}": "90",
            "taken_at": "2026-11-25T08:30",
            "looked": "yes",
        },
    ),
    Row(f"GET {_P}/return/doubles", bound=Bound.ROUND, at=_RETURNED),
    Row(
        f"POST {_P}/return/doubles",
        roles(E),
        Bound.ROUND,
        at=_RETURNED,
        form=lambda w: {
            "row_uid": w.texts["row_uid_returned"],
            "source": f"person {w.people['technician']}",
        },
    ),
)
