"""Rows of what devices send from the walk, and of what is held aside."""

from typing import Any

from tests.access.rows import Bound, E, Row, T, World, roles

_R = "/api/v1/rounds/{round_id}"
_NEW = {"If-None-Match": "*"}
_SENT = {"device_time": "2026-11-25T08:30:00Z", "skew_s": 0.4}


def _put(noun: str, uid: str, fill: Any) -> Row:
    return Row(
        f"PUT {_R}/{noun}/{{uid}}",
        roles(T, E),
        Bound.ROUND,
        at={"uid": f"={uid}"},
        json=lambda w: _SENT | fill(w),
        headers=_NEW,
    )


def _clock(w: World) -> dict[str, Any]:
    return {"instrument_id": w["instrument_id"], "camera_time": "08:30:07", "offset_s": 7.0}


def _check(w: World) -> dict[str, Any]:
    return {"instrument_id": w["instrument_id"], "occasion": "start", "reference_c": 35.0, "shown_c": 35.4}


def _paper(w: World) -> dict[str, Any]:
    times = {"valid_from": "2026-11-25T08:00:00Z", "valid_to": "2026-11-25T16:00:00Z"}
    return {"stop_id": w["stop_id"], "number": "P-100", **times}


FIELD = (
    Row("GET /api/v1/field/signed-in"),
    _put("stop-visits", "stop-visit-new", lambda w: {"stop_id": w["stop_id"], "smelt": "ozone"}),
    Row(f"GET {_R}/stop-visits", bound=Bound.ROUND),
    _put("field-tellings", "telling-new", lambda w: {"row_uid": w.texts["row_uid"], "told_whom": "control"}),
    _put("field-checks", "field-check-new", _check),
    _put("camera-clocks", "camera-clock-new", _clock),
    Row(f"GET {_R}/camera-clocks", bound=Bound.ROUND),
    _put("typed-permits", "typed-permit-new", _paper),
    Row(f"GET {_R}/typed-permits", bound=Bound.ROUND),
    Row("GET /api/v1/held-sends"),
    Row("GET /api/v1/held-sends/{held_id}", bound=Bound.ROUND),
    Row(
        "POST /api/v1/held-sends/{held_id}/take-in",
        roles(E),
        Bound.ROUND,
        json=lambda w: {"reason": "was out of reach", "round_id": w["round_id_signed_off"]},
    ),
    Row(
        "POST /api/v1/held-sends/{held_id}/set-aside",
        roles(E),
        Bound.ROUND,
        json=lambda w: {"reason": "read again since"},
    ),
    Row("GET /held/{held_id}", bound=Bound.ROUND),
    *(
        Row(
            "POST /held/{held_id}/{step}",
            roles(E),
            Bound.ROUND,
            at={"step": f"={step}"},
            form=lambda w: {
                "reason": "was out of reach",
                "why_aside": "read again since",
                "round_id": str(w["round_id_signed_off"]),
            },
        )
        for step in ("take-in", "set-aside")
    ),
    Row("GET /rounds/{round_id}/walked", bound=Bound.ROUND),
)
