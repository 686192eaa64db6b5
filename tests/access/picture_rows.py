"""Rows of pictures: those of the returned round, of its point and of a finding; and phrases for their notes."""

from tests.access.rows import Bound, E, Row, T, World, roles
from tests.pictures.builders import encoded

_R, _P = "/api/v1/rounds/{round_id}/pictures", "/api/v1/pictures/{uid}"
_RETURNED = {"round_id": "round_id_returned"}
_NEW = _RETURNED | {"uid": "=picture-new-1"}
_AT = {"uid": "picture_uid"}
_OF_ROUND = _RETURNED | _AT
_WORKERS = roles(T, E)


def _files(name: str) -> dict[str, tuple[str, bytes, str]]:
    return {name: ("VI_0001.jpg", encoded(number=77), "image/jpeg")}


def _place(world: World) -> dict[str, str]:
    uid = world.texts["picture_uid"]
    return {f"place-{uid}": f"row {world.texts['row_uid_returned']}", f"version-{uid}": "1"}


def _mark(_world: World) -> dict[str, str]:
    return {"shape": "ring", "x_from": "10", "y_from": "10", "x_to": "30", "y_to": "30", "words": "here"}


PICTURES = (
    # without a body that is a picture, somebody allowed is told so (422)
    Row(f"PUT {_R}/{{uid}}", _WORKERS, Bound.ROUND, at=_NEW, through=(422,)),
    Row(f"PUT {_R}/{{uid}}/voice", _WORKERS, Bound.ROUND, at=_OF_ROUND, through=(422,)),
    Row(f"GET {_R}", bound=Bound.ROUND, at=_RETURNED),
    Row("GET /api/v1/points/{point_id}/pictures", bound=Bound.ROUND),
    Row(f"GET {_P}", bound=Bound.ROUND, at=_AT),
    Row(f"GET {_P}/file", bound=Bound.ROUND, at=_AT),
    Row(f"GET {_P}/preview", bound=Bound.ROUND, at=_AT),
    Row(f"GET {_P}/voice", bound=Bound.ROUND, at={"uid": "picture_uid_spoken"}),
    Row(f"PATCH {_P}", _WORKERS, Bound.ROUND, at=_AT, json=lambda w: {"note": "seen from the left"}),
    Row(f"POST {_P}/retirement", _WORKERS, Bound.ROUND, at=_AT, json=lambda w: {"reason": "blurred"}),
    Row("GET /api/v1/clients/{client_id}/phrases", bound=Bound.CLIENT),
    Row(
        "PUT /api/v1/clients/{client_id}/phrases",
        roles(E),
        Bound.CLIENT,
        json=lambda w: {"lines": ["All like parts alike."]},
    ),
    Row("GET /pictures/{uid}", bound=Bound.ROUND, at=_AT),
    Row("GET /pictures/{uid}/preview", bound=Bound.ROUND, at=_AT),
    Row("GET /pictures/{uid}/voice", bound=Bound.ROUND, at={"uid": "picture_uid_spoken"}),
    Row("GET /pictures/{uid}/look", bound=Bound.ROUND, at=_AT),
    Row("POST /pictures/{uid}/details", _WORKERS, Bound.ROUND, at=_AT, form=lambda w: {"note": "seen"}),
    Row("POST /pictures/{uid}/retire", _WORKERS, Bound.ROUND, at=_AT, form=lambda w: {"reason": "blurred"}),
    Row("POST /pictures/{uid}/marks", _WORKERS, Bound.ROUND, at=_AT, form=_mark),
    Row(
        "POST /pictures/{uid}/marks/{place}/take-back",
        _WORKERS,
        Bound.ROUND,
        at={"uid": "picture_uid_spoken", "place": "=0"},
        form=lambda w: {"version": str(w["picture_version_spoken"])},
    ),
    Row(
        "POST /pictures/{uid}/voice",
        _WORKERS,
        Bound.ROUND,
        at=_AT,
        files=lambda w: {"file": ("note.ogg", b"OggS" + b"\0" * 40, "audio/ogg")},
    ),
    Row("GET /points/{point_id}/pictures", bound=Bound.ROUND),
    Row("GET /points/{point_id}/pictures/compare", bound=Bound.ROUND),
    Row("GET /rounds/{round_id}/pictures", bound=Bound.ROUND, at=_RETURNED),
    Row(
        "POST /rounds/{round_id}/pictures",
        _WORKERS,
        Bound.ROUND,
        at=_RETURNED,
        files=lambda w: _files("thermal"),
    ),
    Row("POST /rounds/{round_id}/pictures/places", _WORKERS, Bound.ROUND, at=_RETURNED, form=_place),
    Row("GET /findings/{finding_id}/pictures", bound=Bound.ROUND),
    Row(
        "POST /findings/{finding_id}/pictures",
        _WORKERS,
        Bound.ROUND,
        files=lambda w: _files("visible"),
    ),
    Row("GET /set-up/phrases"),
    Row(
        "POST /set-up/phrases/{client_id}",
        roles(E),
        Bound.CLIENT,
        form=lambda w: {"lines": "All like parts alike."},
    ),
)
