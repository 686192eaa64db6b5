"""Rows of findings, the Desk, Standing, points and reports: what is judged and decided."""

from service.domain.words import Role
from tests.access.rows import DAY, Bound, E, M, Row, T, roles

_F = "/api/v1/findings/{finding_id}"
_REPAIR = {"repaired_at": "2026-11-25T08:00:00Z", "as_left": "cleaned and remade"}

FINDINGS = (
    Row("GET /api/v1/desk"),
    Row("GET /api/v1/findings"),
    Row("POST /api/v1/findings", roles(T, E), Bound.ROUND, json=lambda w: {"point_id": w["point_id_other"]}),
    Row(
        "POST /api/v1/findings",
        roles(T, E),
        Bound.SITE,
        json=lambda w: {"site_id": w["site_id"], "place": "by the door", "title": "hot lug"},
    ),
    Row(f"GET {_F}", bound=Bound.ROUND),
    Row(f"PUT {_F}", roles(E), Bound.ROUND, json=lambda w: {"title": "Other"}),
    Row(f"POST {_F}/plan", roles(E), Bound.ROUND, json=lambda w: {"planned_for": DAY}),
    Row(f"POST {_F}/repair", roles(E), Bound.ROUND, json=lambda w: _REPAIR),
    Row(
        f"POST {_F}/set-aside",
        roles(E),
        Bound.ROUND,
        json=lambda w: {"reason": "spare", "review_on": DAY},
        through=(409,),
    ),
    Row(f"POST {_F}/close-corrected", roles(E), Bound.ROUND, json=lambda w: {"note": "slip"}, through=(409,)),
    Row(f"POST {_F}/take-up", roles(E), Bound.ROUND, through=(409,)),
    Row(
        f"POST {_F}/tellings",
        roles(T, E),
        Bound.ROUND,
        json=lambda w: {"told_whom": "shift lead", "told_at": "2026-11-25T08:00:00Z"},
    ),
    Row(f"POST {_F}/accept-risk", roles(M), Bound.ROUND, json=lambda w: {"note": "until the stop"}),
)

_MOVES: dict[str, tuple[frozenset[Role], dict[str, str]]] = {
    "edit": (roles(E), {"title": "Other"}),
    "plan": (roles(E), {"planned_for": DAY}),
    "repair": (roles(E), {"repaired_at": "2026-11-25T08:00", "as_left": "cleaned and remade"}),
    "set-aside": (roles(E), {"reason": "spare", "review_on": DAY}),
    "close-corrected": (roles(E), {"note": "slip"}),
    "take-up": (roles(E), {}),
    "told": (roles(T, E), {"told_whom": "shift lead", "told_at": "2026-11-25T08:00"}),
    "accept-risk": (roles(M), {"note": "until the stop"}),
}


def _move(move: str, who: frozenset[Role], typed: dict[str, str]) -> Row:
    return Row(
        "POST /findings/{finding_id}/{move}",
        who,
        Bound.ROUND,
        at={"move": f"={move}"},
        form=lambda w: typed,
        through=(409,),
    )


_YEAR = ("/reports/year", "/reports/year/equipment.csv", "/reports/year/equipment.xlsx")
_YEAR_API = ("/api/v1/reports/year", "/api/v1/reports/year/equipment")
PLACES = (
    Row("GET /"),
    Row("GET /standing/sites/{site_id}", bound=Bound.SITE),
    Row("GET /desk"),
    Row("GET /points/{point_id}", bound=Bound.ROUND),
    Row("GET /points/{point_id}/figure.json", bound=Bound.ROUND),
    Row("GET /points/{point_id}/visits.csv", roles(E, M), Bound.ROUND),
    Row("GET /findings/new", roles(T, E)),
    Row("GET /findings/new", roles(T, E), Bound.ROUND, query="point={point_id_other}"),
    Row(
        "POST /findings/new",
        roles(T, E),
        Bound.ROUND,
        form=lambda w: {"point": str(w["point_id_other"]), "title": "hot lug"},
    ),
    Row("GET /findings/{finding_id}", bound=Bound.ROUND),
    *(_move(move, who, typed) for move, (who, typed) in _MOVES.items()),
    Row("GET /reports", roles(E, M)),
    Row("GET /reports/trends", roles(E, M)),
    Row("POST /reports/trends/anew", roles(E), form=lambda w: {}),
    Row("POST /reports/trends/stop", roles(E), form=lambda w: {}),
    *(Row(f"GET {path}", roles(E, M)) for path in _YEAR),
    *(Row(f"GET {path}", roles(E, M), Bound.SITE, query="site_id={site_id}") for path in _YEAR),
    *(Row(f"GET {path}", roles(E, M), query="year=2026") for path in _YEAR_API),
    *(Row(f"GET {path}", roles(E, M), Bound.SITE, query="year=2026&site_id={site_id}") for path in _YEAR_API),
    Row("GET /reports/rounds/{round_id}", roles(E, M), Bound.ROUND, at={"round_id": "round_id_returned"}),
    Row(
        "GET /reports/rounds/{round_id}/readings.csv",
        roles(E, M),
        Bound.ROUND,
        at={"round_id": "round_id_returned"},
    ),
)
