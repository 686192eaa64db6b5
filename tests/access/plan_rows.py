"""Rows of plans of months: the list, a plan, its walks, everything that a hand changes."""

from typing import Any

from tests.access.rows import DAY, A, Bound, E, M, Row, World, roles

#: technicians see their own rounds, not the plan behind them
_PLANNERS = roles(E, M, A)
_P = "/rounds/plans/{plan_id}"
_W = f"{_P}/walks/{{key}}"
_STOP = {"equipment_id": "equipment_id_plan"}
_KEY = {"key": "walk_key"} | _STOP


def _wish(w: World) -> dict[str, Any]:
    return {"month": "2026-12", "name": "December", "site": str(w["site_id"])}


def _details(w: World) -> dict[str, Any]:
    return {"start": "07:30", "end": "15:30"}


def _forecast(w: World) -> dict[str, Any]:
    return {"forecast_site": str(w["site_id"]), "forecast_day": DAY, "words": "showers", "rain_mm": "2"}


_A = "/api/v1/plans/{plan_id}"
_AW = f"{_A}/walks/{{key}}"

PLANS = (
    Row("GET /api/v1/plans", _PLANNERS),
    Row(
        "POST /api/v1/plans",
        roles(E),
        Bound.SITE,
        json=lambda w: {"name": "December", "month_on": "2026-12-01", "site_ids": [w["site_id"]]},
    ),
    Row(f"GET {_A}", _PLANNERS, Bound.SITE),
    Row(f"POST {_A}/draw", roles(E), Bound.SITE, json=lambda w: {"how": "fill"}),
    Row(f"POST {_A}/stop", roles(E), Bound.SITE, through=(409,)),
    Row(f"POST {_A}/what-if", roles(E), Bound.SITE, json=lambda w: {"kind": "hours", "hours": -2}),
    Row(f"POST {_A}/level", roles(E), Bound.SITE),
    Row(f"POST {_A}/undo", roles(E), Bound.SITE),
    Row(f"POST {_A}/redo", roles(E), Bound.SITE, through=(409,)),
    Row(
        f"PUT {_A}/places/{{equipment_id}}",
        roles(E),
        Bound.SITE,
        at=_STOP,
        json=lambda w: {"walk": w.texts["walk_key"]},
    ),
    Row(
        f"PUT {_A}/excluded/{{equipment_id}}",
        roles(E),
        Bound.SITE,
        at=_STOP,
        json=lambda w: {"reason": "spare"},
    ),
    Row(
        f"PUT {_AW}/order",
        roles(E),
        Bound.SITE,
        at=_KEY,
        json=lambda w: {"equipment_ids": [w["equipment_id_plan"]]},
    ),
    Row(f"PUT {_AW}/frozen", roles(E), Bound.SITE, at=_KEY, json=lambda w: {"frozen": True}),
    Row(f"POST {_AW}/lose", roles(E), Bound.SITE, at=_KEY, json=lambda w: {"reason": "ill"}),
    Row(f"PUT {_AW}/reserve", roles(E), Bound.SITE, at=_KEY, json=lambda w: {"kept": False}),
    Row(f"POST {_AW}/to-reserve", roles(E), Bound.SITE, at=_KEY, through=(422,)),
    Row(f"POST {_A}/rounds", roles(E), Bound.SITE),
    Row("GET /rounds/plans", _PLANNERS),
    Row("GET /rounds/plans/new", roles(E)),
    Row("POST /rounds/plans/new", roles(E), Bound.SITE, form=_wish),
    Row(f"GET {_P}", _PLANNERS, Bound.SITE),
    Row(f"GET {_P}/compare", _PLANNERS, Bound.SITE, query="before=1&after=2"),
    Row(f"GET {_P}/risk", _PLANNERS, Bound.SITE),
    Row(f"GET {_W}", _PLANNERS, Bound.SITE, at=_KEY),
    Row(f"GET {_P}/place/{{equipment_id}}", _PLANNERS, Bound.SITE, at=_STOP),
    Row(f"POST {_P}/draw", roles(E), Bound.SITE, form=lambda w: {"how": "fill"}),
    Row(f"POST {_P}/stop", roles(E), Bound.SITE, form=lambda w: {}, through=(409,)),
    Row(f"POST {_P}/level", roles(E), Bound.SITE, form=lambda w: {}),
    Row(f"POST {_P}/undo", roles(E), Bound.SITE, form=lambda w: {}),
    Row(f"POST {_P}/redo", roles(E), Bound.SITE, form=lambda w: {}, through=(409,)),
    Row(f"POST {_P}/what-if", roles(E), Bound.SITE, form=lambda w: {"kind": "hours", "hours": "-2"}),
    Row(f"POST {_P}/rounds", roles(E), Bound.SITE, form=lambda w: {}),
    Row(
        f"POST {_P}/place/{{equipment_id}}",
        roles(E),
        Bound.SITE,
        form=lambda w: {"walk": w.texts["walk_key"]},
        at=_STOP,
    ),
    Row(
        f"POST {_P}/exclude/{{equipment_id}}",
        roles(E),
        Bound.SITE,
        form=lambda w: {"reason": "spare"},
        at=_STOP,
    ),
    Row(
        f"POST {_W}/order",
        roles(E),
        Bound.SITE,
        at=_KEY,
        form=lambda w: {"stop": str(w["equipment_id_plan"])},
    ),
    Row(
        f"POST {_W}/{{step}}/{{equipment_id}}",
        roles(E),
        Bound.SITE,
        at=_KEY | {"step": "=down"},
        form=lambda w: {},
    ),
    Row(f"POST {_W}/freeze", roles(E), Bound.SITE, at=_KEY, form=lambda w: {"frozen": "yes"}),
    Row(f"POST {_W}/reserve", roles(E), Bound.SITE, at=_KEY, form=lambda w: {}),
    Row(f"POST {_W}/to-reserve", roles(E), Bound.SITE, at=_KEY, form=lambda w: {}, through=(422,)),
    Row(f"POST {_P}/forecast", roles(E), Bound.SITE, form=_forecast),
    Row(f"GET {_W}/lose", roles(E), Bound.SITE, at=_KEY),
    Row(f"POST {_W}/lose", roles(E), Bound.SITE, at=_KEY, form=lambda w: {"reason": "ill"}),
    Row(f"POST {_W}/details", roles(E), Bound.SITE, at=_KEY, form=_details),
)
