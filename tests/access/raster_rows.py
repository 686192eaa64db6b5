"""Rows of temperature rasters: those of a reading of the returned round."""

from tests.access.rows import Bound, E, Row, T, World, roles
from tests.access.world import RASTER

_R, _P = "/api/v1/rasters/{uid}", "/rasters/{uid}"
_AT = {"uid": "raster_uid"}
_READING = {"uid": "reading_uid"}
_WORKERS = roles(T, E)


def _box(_world: World) -> dict[str, object]:
    return {"row_from": 0, "column_from": 0, "row_to": 4, "column_to": 4}


def _form(_world: World) -> dict[str, str]:
    return {"shape": "box", "row": "0", "column": "0", "rows": "4", "columns": "4"}


def _taken(world: World) -> dict[str, str]:
    return {"region": str(world["region_id"]), "reason": "shows it better"}


RASTERS = (
    Row("GET /api/v1/readings/{uid}/rasters", bound=Bound.ROUND, at=_READING),
    Row("POST /api/v1/readings/{uid}/rasters", _WORKERS, Bound.ROUND, at=_READING, through=(422,)),
    Row(f"GET {_R}", bound=Bound.ROUND, at=_AT),
    Row(f"GET {_R}/file", bound=Bound.ROUND, at=_AT),
    Row(f"GET {_R}/picture.png", bound=Bound.ROUND, at=_AT, query="above_c=25"),
    Row(f"POST {_R}/figures", bound=Bound.ROUND, at=_AT, json=_box),
    Row(f"POST {_R}/regions", _WORKERS, Bound.ROUND, at=_AT, json=_box),
    Row(f"PUT {_R}/regions/{{region_id}}", _WORKERS, Bound.ROUND, at=_AT, json=_box),
    Row(f"DELETE {_R}/regions/{{region_id}}", _WORKERS, Bound.ROUND, at=_AT),
    Row(
        f"GET {_R}/regions/{{region_id}}/difference",
        bound=Bound.ROUND,
        at=_AT,
        query="over={region_id_other}",
    ),
    Row("GET /readings/{uid}/rasters", bound=Bound.ROUND, at=_READING),
    Row(
        "POST /readings/{uid}/rasters",
        _WORKERS,
        Bound.ROUND,
        at=_READING,
        files=lambda w: {"file": ("other.csv", RASTER.replace(b"25", b"26"), "text/csv")},
    ),
    Row(f"GET {_P}", bound=Bound.ROUND, at=_AT),
    Row(f"GET {_P}/file", bound=Bound.ROUND, at=_AT),
    Row(f"GET {_P}/picture.png", bound=Bound.ROUND, at=_AT, query="scale=petrol"),
    Row(f"GET {_P}/figures", bound=Bound.ROUND, at=_AT, query="row=0&column=0&rows=4&columns=4"),
    Row(f"POST {_P}/regions", _WORKERS, Bound.ROUND, at=_AT, form=_form),
    Row(f"POST {_P}/regions/{{region_id}}/take-back", _WORKERS, Bound.ROUND, at=_AT),
    Row(f"POST {_P}/take", _WORKERS, Bound.ROUND, at=_AT, form=_taken),
)
