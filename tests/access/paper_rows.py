"""Rows of signed sheets, spoken notes, questions sent back, labels, and what came back of a round."""

from tests.access.rows import Bound, E, Row, T, World, roles
from tests.access.world import SCAN

_R, _P = "/api/v1/rounds/{round_id}", "/rounds/{round_id}"
_RETURNED = {"round_id": "round_id_returned", "stop_id": "stop_id_returned"}
_SCAN = _RETURNED | {"uid": "scan_uid"}
_NOTE = _RETURNED | {"uid": "spoken_uid"}
_WORKERS = roles(T, E)


def _other(_world: World) -> dict[str, tuple[str, bytes, str]]:
    return {"files": ("other.pdf", SCAN.replace(b"signed", b"other!"), "application/pdf")}


def _asked(world: World) -> dict[str, str]:
    return {"row_uid": world.texts["row_uid_returned"], "question": "Was the fan on?"}


PAPER = (
    Row(f"GET {_P}/reception", bound=Bound.ROUND, at=_RETURNED),
    Row(f"GET {_R}/reception", bound=Bound.ROUND, at=_RETURNED),
    Row(f"GET {_R}/scans", bound=Bound.ROUND, at=_RETURNED),
    Row(f"POST {_R}/scans", _WORKERS, Bound.ROUND, at=_RETURNED, through=(422,)),
    Row(f"GET {_R}/scans/{{uid}}", bound=Bound.ROUND, at=_SCAN),
    Row(f"PUT {_R}/scans/{{uid}}/stop", _WORKERS, Bound.ROUND, at=_SCAN, json=lambda w: {"stop_id": None}),
    Row(
        f"POST {_R}/scans/{{uid}}/take-back",
        _WORKERS,
        Bound.ROUND,
        at=_SCAN,
        json=lambda w: {"reason": "of another round"},
    ),
    Row(f"GET {_P}/scans", bound=Bound.ROUND, at=_RETURNED),
    Row(f"POST {_P}/scans", _WORKERS, Bound.ROUND, at=_RETURNED, files=_other),
    Row(f"GET {_P}/scans/{{uid}}", bound=Bound.ROUND, at=_SCAN),
    Row(f"POST {_P}/scans/{{uid}}/stop", _WORKERS, Bound.ROUND, at=_SCAN, form=lambda w: {"stop_id": ""}),
    Row(
        f"POST {_P}/scans/{{uid}}/take-back",
        _WORKERS,
        Bound.ROUND,
        at=_SCAN,
        form=lambda w: {"reason": "of another round"},
    ),
    # without a recording somebody allowed is told so (422)
    Row(
        f"PUT {_R}/spoken-notes/{{uid}}",
        _WORKERS,
        Bound.ROUND,
        at=_RETURNED | {"uid": "=spoken-new-1"},
        query="row_uid={row_uid_returned}",
        through=(422,),
    ),
    Row(f"GET {_R}/spoken-notes", bound=Bound.ROUND, at=_RETURNED),
    Row("GET /api/v1/points/{point_id}/spoken-notes", bound=Bound.ROUND),
    Row(f"GET {_R}/spoken-notes/{{uid}}", bound=Bound.ROUND, at=_NOTE),
    Row(
        f"POST {_R}/spoken-notes/{{uid}}/take-back",
        roles(E),
        Bound.ROUND,
        at=_NOTE,
        json=lambda w: {"reason": "of another board"},
    ),
    Row(f"GET {_P}/spoken-notes/{{uid}}", bound=Bound.ROUND, at=_NOTE),
    Row(
        f"POST {_P}/spoken-notes/{{uid}}/take-back",
        roles(E),
        Bound.ROUND,
        at=_NOTE,
        form=lambda w: {"reason": "of another board"},
    ),
    Row(f"GET {_R}/questions", bound=Bound.ROUND, at=_RETURNED),
    Row(f"POST {_R}/questions", roles(E), Bound.ROUND, at=_RETURNED, json=_asked),
    Row(
        f"PUT {_R}/questions/{{question_id}}",
        _WORKERS,
        Bound.ROUND,
        at=_RETURNED,
        json=lambda w: {"answer": "It was off"},
    ),
    Row(f"GET {_P}/questions", bound=Bound.ROUND, at=_RETURNED),
    Row(f"POST {_P}/questions", roles(E), Bound.ROUND, at=_RETURNED, form=_asked),
    Row(
        f"POST {_P}/questions/{{question_id}}",
        _WORKERS,
        Bound.ROUND,
        at=_RETURNED,
        form=lambda w: {"answer": "It was off"},
    ),
    Row(
        "POST /api/v1/labels",
        roles(E),
        Bound.SITE,
        json=lambda w: {"equipment_ids": [w["equipment_id"]]},
    ),
    Row("GET /api/v1/labels/{code}", bound=Bound.ROUND, at={"code": "code_label"}),
    Row("GET /at/{code}", bound=Bound.ROUND, at={"code": "code_label"}),
    Row("GET /labels", roles(E)),
    Row("GET /labels", roles(E), Bound.SITE, query="site={site_id}"),
    Row("POST /labels", roles(E), Bound.SITE, form=lambda w: {"site": str(w["site_id"])}),
    Row("GET /labels/sheets", roles(E), Bound.SITE, query="site={site_id}"),
)
