"""The page of the field app, the worker that keeps it on a device, and how it is installed."""

import json
from functools import cache
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from service.intake.content_hash import content_hash_of
from service.pages.field_script import app_script
from service.pages.packed import Packed
from service.pages.templating import FONT_NAMES, WEB, redirect, render

router = APIRouter()

SHELL = "/field/"
APP = "/field/app.js"
_SHEETS = ("css/tokens.css", "css/base.css", "css/field.css")
_MARK = "css/mark.svg"
#: its address must never be kept, or a device would hold an old app for as long
NEVER_KEPT = {"Cache-Control": "no-cache"}
#: the one page that may listen, for a note that is spoken on the walk
LISTENS = {"Permissions-Policy": "camera=(), microphone=(self), geolocation=()"}


@router.get("/field")
def enter_field() -> Response:
    return redirect(SHELL)


@router.get(SHELL)
def show_field(request: Request) -> Response:
    """The empty page of the app: nothing on it belongs to anybody, so that a device may keep it."""
    page = render(request, "field/index.html", sheets=_SHEETS, app=APP)
    page.headers.update(NEVER_KEPT | LISTENS)
    return page


@router.get(APP)
def app(request: Request) -> Response:
    """The app itself, compressed: it is taken along at the gate, over whatever signal there is."""
    return _packed().answer(request, media_type="text/javascript", headers=NEVER_KEPT)


@router.get("/field/worker.js")
def worker() -> Response:
    """The worker, told which files make the app and under which name this version of them is kept."""
    files, version = _files()
    head = f"globalThis.FILES = {json.dumps(files)};\nglobalThis.VERSION = {json.dumps(version)};\n"
    script = head + (WEB / "field" / "worker.js").read_text(encoding="utf-8")
    return Response(script, media_type="text/javascript", headers=NEVER_KEPT)


@router.get("/field/manifest.webmanifest")
def manifest() -> JSONResponse:
    """How the app looks on a home screen (W3C Web Application Manifest)."""
    told: dict[str, Any] = {
        "name": "Riseline Field",
        "short_name": "Riseline",
        "description": "Walk a round with no signal, lose nothing.",
        "id": SHELL,
        "start_url": SHELL,
        "scope": SHELL,
        "display": "standalone",
        "background_color": "#f5f3ec",
        "theme_color": "#182225",
        "icons": [{"src": f"/assets/{_MARK}", "sizes": "any", "type": "image/svg+xml", "purpose": "any"}],
    }
    return JSONResponse(told, media_type="application/manifest+json", headers=NEVER_KEPT)


@cache
def _packed() -> Packed:
    return Packed.of(app_script().encode())


@cache
def _files() -> tuple[list[str], str]:
    """Addresses of everything the app needs with no signal, and a name of their contents."""
    ours = (*_SHEETS, _MARK)
    page = [(WEB / name).read_bytes() for name in (*ours, "templates/field/index.html")]
    version = content_hash_of(app_script().encode(), *page)
    files = [APP, *(f"/assets/{name}" for name in ours)]
    fonts = [f"/assets/fonts/{name}" for name in FONT_NAMES]
    return [SHELL, *files, *fonts, "/field/manifest.webmanifest"], version[:16]
