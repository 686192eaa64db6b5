"""Rows of who walks when, absences and closures of sites, and calendars of rounds."""

from typing import Any

from tests.access.rows import DAY, A, Bound, E, M, Row, T, World, roles
from tests.access.world import FORECAST_DAY

#: technicians see their own rounds, not the plan behind them
_PLANNERS = roles(E, M, A)
_HOURS = {"part": "reads", "hours": "mon-fri 07:30-15:30"}
_SPAN = {"from_on": DAY, "to_on": DAY}


def _absence(w: World) -> dict[str, Any]:
    return _SPAN | {"person_id": w["person_id"], "note": "course"}


def _closure(w: World) -> dict[str, Any]:
    return _SPAN | {"site_id": w["site_id"], "reason": "shutdown"}


WALKING = (
    Row("GET /api/v1/walking-hours", _PLANNERS),
    Row("GET /api/v1/walking-hours/{person_id}", _PLANNERS, Bound.CLIENT),
    Row("PUT /api/v1/walking-hours/{person_id}", roles(E), Bound.CLIENT, json=lambda w: _HOURS),
    Row("GET /api/v1/absences", _PLANNERS),
    Row("POST /api/v1/absences", roles(E), Bound.CLIENT, json=_absence),
    Row("DELETE /api/v1/absences/{absence_id}", roles(E), Bound.CLIENT),
    Row("GET /api/v1/site-closures", _PLANNERS),
    Row("POST /api/v1/site-closures", roles(E), Bound.SITE, json=_closure),
    Row("DELETE /api/v1/site-closures/{closure_id}", roles(E), Bound.SITE),
    Row("GET /api/v1/site-forecasts", _PLANNERS),
    Row(
        "PUT /api/v1/site-forecasts/{site_id}/{day}",
        roles(E),
        Bound.SITE,
        at={"day": f"={DAY}"},
        json=lambda w: {"wind_m_s": 8},
    ),
    Row(
        "DELETE /api/v1/site-forecasts/{site_id}/{day}",
        roles(E),
        Bound.SITE,
        at={"day": f"={FORECAST_DAY}"},
    ),
    Row("GET /rounds/people", _PLANNERS),
    Row("GET /rounds/people/{person_id}", _PLANNERS, Bound.CLIENT),
    Row("POST /rounds/people/{person_id}/hours", roles(E), Bound.CLIENT, form=lambda w: _HOURS),
    Row("POST /rounds/people/{person_id}/absences", roles(E), Bound.CLIENT, form=lambda w: _SPAN),
    Row("POST /rounds/people/absences/{absence_id}/remove", roles(E), Bound.CLIENT),
    Row(
        "POST /rounds/people/closures",
        roles(E),
        Bound.SITE,
        form=lambda w: _SPAN | {"site_id": str(w["site_id"]), "reason": "shutdown"},
    ),
    Row("POST /rounds/people/closures/{closure_id}/remove", roles(E), Bound.SITE),
    Row("GET /calendar/{secret}.ics", bound=Bound.OPEN, at={"secret": "calendar_secret"}),
    Row("GET /rounds/{round_id}/round.ics", bound=Bound.ROUND),
    Row("GET /set-up/calendar", roles(T, E)),
    Row("POST /set-up/calendar", roles(T, E)),
    Row("POST /set-up/calendar/{feed_id}/revoke", bound=Bound.OWNER_ALONE),
)
