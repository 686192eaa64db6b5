"""Style sheets, scripts, fonts and the chart library, served from this checkout and installed packages."""

import re
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, Response

from service.errors import NotFound
from service.pages.packed import Packed
from service.pages.templating import WEB, font_paths

router = APIRouter(prefix="/assets")
KINDS = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml", ".png": "image/png"}
FOR_EVER = {"Cache-Control": "public, max-age=31536000, immutable"}
_MAP_STYLE = re.compile(rb'if\(!document\.getElementById\("([0-9a-f]{64})"\)\)')
A_DAY = {"Cache-Control": "public, max-age=86400"}
#: modules of the field app name each other without a version: kept copies of two versions must not mix
AT_ONCE = {"Cache-Control": "no-cache"}


@router.get("/plotly.min.js")
def plotly(request: Request) -> Response:
    """The chart library as its package ships it, compressed once."""
    return _plotly().answer(request, media_type="text/javascript", headers=A_DAY)


@cache
def _plotly() -> Packed:
    return Packed.of(_chart_library())


def _chart_library() -> bytes:
    spec = find_spec("plotly")
    if spec is None or spec.origin is None:
        raise NotFound()
    return (Path(spec.origin).parent / "package_data" / "plotly.min.js").read_bytes()


@cache
def map_styles() -> tuple[str, ...]:
    """Ids of the style sheets that the chart library adds for maps, unless something has their id already.

    We draw no maps, and the policy of our pages refuses such sheets with a message: a page that
    holds an empty element of that id is left alone.
    """
    return tuple(sorted({found.decode() for found in _MAP_STYLE.findall(_chart_library())}))


@router.get("/fonts/{name}")
def font(name: str) -> FileResponse:
    path = font_paths().get(name)
    if path is None:
        raise NotFound()
    return FileResponse(path, media_type="font/ttf", headers=FOR_EVER)


@router.get("/{folder}/{path:path}")
def ours(folder: str, path: str, request: Request) -> FileResponse:
    """A file of web/css, web/js or web/field; nothing else is reachable."""
    if folder not in ("css", "js", "field"):
        raise NotFound()
    root = (WEB / folder).resolve()
    try:
        wanted = (root / path).resolve()
        reachable = wanted.is_relative_to(root) and wanted.is_file()
    except (OSError, ValueError):
        reachable = False
    if not reachable or wanted.suffix not in KINDS:
        raise NotFound()
    headers = FOR_EVER if "v" in request.query_params else AT_ONCE if folder == "field" else A_DAY
    return FileResponse(wanted, media_type=KINDS[wanted.suffix], headers=headers)
