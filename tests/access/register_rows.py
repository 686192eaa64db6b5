"""Rows of the register and its import."""

from typing import Any

from tests.access.rows import Bound, E, Row, roles
from tests.access.world import ENGINEER


def _register(
    plural: str, bound: Bound, new: Any, key: str, change: dict[str, Any], *, into: Bound, edits: Bound
) -> tuple[Row, ...]:
    """The routes that every noun of the register has; ``into`` binds what a new one stands in."""
    base, at = f"/api/v1/{plural}", {"thing_id": key}
    return (
        Row(f"GET {base}"),
        Row(f"POST {base}", roles(E), into, json=new),
        Row(f"GET {base}/{{thing_id}}", bound=bound, at=at),
        Row(f"PATCH {base}/{{thing_id}}", roles(E), edits, at=at, json=lambda w: change),
        Row(f"POST {base}/{{thing_id}}/retire", roles(E), edits, at=at, through=(409,)),
        Row(f"POST {base}/{{thing_id}}/restore", roles(E), edits, at=at, through=(409,)),
    )


NOUNS = (
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

#: a check of an instrument against a reference
CHECK = {"occasion": "start", "at": "2026-11-25T08:00:00Z", "reference_c": 35.0, "shown_c": 35.4}
_SHEET = ("register.csv", b"client_code\n", "text/csv")
AROUND = (
    Row("GET /api/v1/points/{thing_id}/common-loads", bound=Bound.ROUND, at={"thing_id": "point_id"}),
    Row("GET /api/v1/sites/{thing_id}/tree", bound=Bound.SITE, at={"thing_id": "site_id"}),
    Row("GET /api/v1/tags", query="text=MCC"),
    Row("POST /api/v1/imports/register", roles(E), files=lambda w: {"file": _SHEET}, through=(422,)),
    Row("POST /api/v1/imports/register/preview", roles(E), files=lambda w: {"file": _SHEET}, through=(422,)),
    Row("GET /api/v1/emissivities"),
    Row("GET /set-up/emissivities"),
    Row("GET /api/v1/points/{point_id}/load-suggestion", roles(E), Bound.ROUND),
    Row("GET /api/v1/sites/{site_id}/load-suggestions", roles(E), Bound.SITE),
    Row("GET /points/{point_id}/common-load", roles(E), Bound.ROUND),
    Row(
        "POST /points/{point_id}/common-load",
        roles(E),
        Bound.ROUND,
        form=lambda w: {"amps": "1", "version": "1"},
        through=(409,),
    ),
    Row("GET /common-loads", roles(E)),
    Row("GET /api/v1/equipment/{equipment_id}/as-visited", roles(E), Bound.ROUND),
    Row("GET /api/v1/sites/{site_id}/as-visited", roles(E), Bound.SITE),
    Row("GET /load-hours", roles(E)),
    Row("GET /load-hours", roles(E), Bound.SITE, query="site={site_id}"),
    Row(
        "POST /equipment/{equipment_id}/load-hours",
        roles(E),
        Bound.ROUND,
        form=lambda w: {"text": "mon 07:00-08:00", "version": "1"},
        through=(409,),
    ),
    Row(
        "POST /equipment/{equipment_id}/minutes",
        roles(E),
        Bound.ROUND,
        form=lambda w: {"minutes": "1", "version": "1"},
        through=(409,),
    ),
    Row("GET /common-loads", roles(E), Bound.SITE, query="site={site_id}"),
    Row("GET /api/v1/imports/register/register.xlsx", roles(E)),
    Row("GET /api/v1/imports/register/template.csv", roles(E)),
    Row("GET /api/v1/imports/register/template.xlsx", roles(E)),
)


def _pages(
    noun: str, bound: Bound, edits: Bound, key: str, into: str, new: dict[str, str]
) -> tuple[Row, ...]:
    """The pages that a noun of the register has; ``into`` is the query naming what it stands in."""
    base, at = "/register/{noun}", {"noun": f"={noun}", "thing_id": key}
    parent = {"client": Bound.NOTHING, "site": Bound.WHOLE_CLIENT, "instrument": Bound.CLIENT}
    inside = parent.get(noun, Bound.SITE if noun in ("area", "equipment") else Bound.ROUND)
    seen = Bound.CLIENT if inside is Bound.WHOLE_CLIENT else inside
    return (
        Row(f"GET {base}/new", roles(E), seen, at=at, query=into),
        Row(f"POST {base}/new", roles(E), inside, at=at, query=into, form=lambda w: new),
        Row(f"GET {base}/{{thing_id}}/edit", roles(E), bound, at=at),
        Row(f"POST {base}/{{thing_id}}/edit", roles(E), edits, at=at, form=lambda w: new, through=(422,)),
        Row(f"GET {base}/{{thing_id}}/retire", roles(E), edits, at=at),
        Row(f"POST {base}/{{thing_id}}/retire", roles(E), edits, at=at, through=(409,)),
        Row(f"POST {base}/{{thing_id}}/restore", roles(E), edits, at=at, through=(409,)),
    )


_NEW = {"code": "N", "name": "New", "tag": "N", "time_zone": "UTC", "serial": "N", "kind": "joint"}
REGISTER_PAGES = (
    *_pages("client", Bound.CLIENT, Bound.WHOLE_CLIENT, "client_id", "", _NEW),
    *_pages("site", Bound.SITE, Bound.SITE, "site_id", "in={client_id}", _NEW),
    *_pages("area", Bound.SITE, Bound.SITE, "area_id", "in={site_id}", _NEW),
    *_pages(
        "equipment",
        Bound.ROUND,
        Bound.ROUND,
        "equipment_id",
        "in={area_id}",
        _NEW | {"equipment_class": "switchboard"},
    ),
    *_pages("view", Bound.ROUND, Bound.ROUND, "view_id", "in={equipment_id}", _NEW),
    *_pages("point", Bound.ROUND, Bound.ROUND, "point_id", "in={view_id}", _NEW),
    *_pages(
        "instrument",
        Bound.CLIENT,
        Bound.CLIENT,
        "instrument_id",
        "in={client_id}",
        _NEW | {"kind": "camera"},
    ),
    Row("GET /register/retired", roles(E)),
    Row("GET /register/retired", roles(E), Bound.SITE, query="site={site_id}"),
    Row("GET /register/import", roles(E)),
    Row("POST /register/import", roles(E), files=lambda w: {"file": _SHEET}, through=(422,)),
    Row(
        "POST /register/import/commit",
        roles(E),
        Bound.OWNER_ALONE,
        owner=ENGINEER,
        form=lambda w: {"uid": w.texts["import_uid"]},
        through=(422,),
    ),
    Row("GET /equipment"),
    Row("GET /equipment", bound=Bound.SITE, query="site={site_id}"),
    Row("GET /equipment", query="q=MCC"),
    Row("GET /equipment/{equipment_id}", bound=Bound.ROUND),
    Row("GET /set-up/instruments", roles(E)),
    Row("GET /set-up/instruments/{instrument_id}", roles(E), Bound.CLIENT),
    Row(
        "POST /set-up/instruments/{instrument_id}/checks",
        roles(E),
        Bound.CLIENT,
        form=lambda w: {"occasion": "after a drop", "reference_c": "35", "shown_c": "35.4"},
    ),
    Row("GET /api/v1/instruments/{instrument_id}/checks", bound=Bound.CLIENT),
    Row("POST /api/v1/instruments/{instrument_id}/checks", roles(E), Bound.CLIENT, json=lambda w: CHECK),
)
