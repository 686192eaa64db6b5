"""The page of the field app, the worker that keeps it on a device, and how it is installed."""

import json
import re
from functools import cache
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from service.intake.content_hash import content_hash_of
from service.pages.templating import FONT_NAMES, WEB, redirect, render

router = APIRouter()

SHELL = "/field/"
_SHEETS = ("css/tokens.css", "css/base.css", "css/field.css")
_MARK = "css/mark.svg"
_IMPORT = re.compile(r'^import .*?from "(\.[^"]+)";', re.MULTILINE)
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
    page = render(request, "field/index.html", sheets=_SHEETS, modules=_at_once())
    page.headers.update(NEVER_KEPT | LISTENS)
    return page


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
def _at_once() -> tuple[str, ...]:
    """Modules that typing into a view needs: named at once, since one after the other they wait in line."""
    wanted, found = ["field/app.js", "field/screens/view.js"], dict[str, None]()
    while wanted:
        name = wanted.pop()
        if name in found:
            continue
        found[name] = None
        folder = (WEB / name).parent
        named = _IMPORT.findall((WEB / name).read_text(encoding="utf-8"))
        wanted += [(folder / one).resolve().relative_to(WEB).as_posix() for one in named]
    return tuple(found)


@cache
def _modules() -> tuple[str, ...]:
    """The modules of the app by their paths under web/."""
    found = (path for path in (WEB / "field").rglob("*.js") if path.name != "worker.js")
    return tuple(sorted(path.relative_to(WEB).as_posix() for path in found))


@cache
def _files() -> tuple[list[str], str]:
    """Addresses of everything the app needs with no signal, and a name of their contents."""
    ours = (*_modules(), *_SHEETS, _MARK)
    version = content_hash_of(*((WEB / name).read_bytes() for name in (*ours, "templates/field/index.html")))
    files = [f"/assets/{name}" for name in ours]
    fonts = [f"/assets/fonts/{name}" for name in FONT_NAMES]
    return [SHELL, *files, *fonts, "/field/manifest.webmanifest"], version[:16]
