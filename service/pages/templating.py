"""The Jinja2 environment of the pages and the one way a page is rendered."""

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from service.charts.marks import level_mark
from service.domain.cells import shown
from service.domain.words import Role
from service.errors import Problem
from service.pages import view

#: stands beside the package in the checkout and in the container image
WEB = Path(__file__).resolve().parents[2] / "web"
FONT_PACKAGE = "fontpkg_atkinson_hyperlegible"
FONT_NAMES = ("AtkinsonHyperlegible-Regular.ttf", "AtkinsonHyperlegible-Bold.ttf")
FLASH_COOKIE = "say"

#: key, word, address; the order of the top bar
PLACES = (
    ("standing", "Standing", "/"),
    ("desk", "Desk", "/desk"),
    ("rounds", "Rounds", "/rounds"),
    ("equipment", "Equipment", "/equipment"),
    ("reports", "Reports", "/reports"),
    ("setup", "Set-up", "/set-up"),
)

FILTERS: tuple[Callable[..., Any], ...] = (
    view.number,
    view.signed_kelvin,
    view.bare_kelvin,
    view.bare_celsius,
    view.own_number,
    view.own_with_unit,
    view.own_unit,
    view.own_words,
    view.own_title,
    view.boxed_value,
    view.plain_with_unit,
    view.with_unit,
    view.kelvin,
    view.measured,
    view.figure,
    view.at_most_hidden,
    view.sureness,
    view.chance,
    view.line_value,
    view.celsius,
    view.amps,
    view.percent,
    view.thousands,
    view.local,
    view.day,
    view.short_day,
    view.long_day,
    view.month,
    view.clock,
    view.moment,
    view.minutes,
    view.minute_of_day,
    view.counted,
    view.number_word,
    view.sentence_case,
    view.listed,
    view.yes_no,
    view.load_hours_words,
    view.level_word,
    view.level_of,
    view.slope,
    view.trend_sentence,
    view.loss_words,
    view.field_id,
    view.of_field,
    view.place_of,
    level_mark,
)


def font_paths() -> dict[str, Path]:
    """Font files of the installed font package by file name; empty when it is not installed."""
    spec = find_spec(FONT_PACKAGE)
    if spec is None or spec.origin is None:
        return {}
    folder = Path(spec.origin).parent / "files"
    return {name: folder / name for name in FONT_NAMES if (folder / name).is_file()}


@cache
def asset(path: str) -> str:
    """Address of a file of ours under /assets, with its content's hash so that it may be kept for ever."""
    digest = hashlib.sha256((WEB / path).read_bytes()).hexdigest()[:12]
    return f"/assets/{path}?v={digest}"


@cache
def environment() -> Environment:
    """Templates of web/templates: escaped, and an unknown name is an error."""
    made = Environment(
        loader=FileSystemLoader(WEB / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update({function.__name__: function for function in FILTERS})
    made.globals.update(
        asset=asset,
        places=PLACES,
        day_range=view.day_range,
        kelvin_range=view.kelvin_range,
        celsius_range=view.celsius_range,
        # calls, since a filter on a constant is worked out once, when a template is compiled
        celsius_word=view.celsius_word,
        kelvin_word=view.kelvin_word,
        typed_in=view.typed_in,
    )
    return made


def _frame(request: Request) -> dict[str, Any]:
    """What layout.html needs of the request: who, for whom, light or dark."""
    state, cookies = request.state, request.cookies
    surroundings = getattr(request.app.state, "surroundings", None)
    theme = cookies.get("theme", "")
    actor = getattr(state, "actor", None)
    return {
        "person": actor,
        # who walks has Field in reach of the thumb; others reach it from a round
        "walks": actor is not None and actor.role is Role.TECHNICIAN,
        "client_name": getattr(state, "client_name", ""),
        "demo": getattr(surroundings, "demo", False),
        "theme": theme if theme in ("light", "dark") else "",
        "keys_on": cookies.get("keys") != "off",
        "flash": unquote(cookies.get(FLASH_COOKIE, ""))[:300],
        "place": "",
        "problems": (),
        "path": request.url.path,
    }


#: lists of Problems under which a page tells what is wrong or odd with what was typed
TOLD = ("problems", "warnings")


def in_own_words(problems: Iterable[Problem], typed: Any = None) -> tuple[Problem, ...]:
    """Problems told in the unit in which their reader types, with what was found as it was typed."""
    if not view.in_fahrenheit():
        return tuple(problems)
    boxes = typed if isinstance(typed, Mapping) else {}
    return tuple(
        replace(
            problem,
            found=shown(boxes.get(problem.field) or view.own_words(problem.found)) if problem.found else "",
            message=view.own_words(problem.message),
            remedy=view.own_words(problem.remedy),
        )
        for problem in problems
    )


def render(
    request: Request,
    template: str,
    *,
    status_code: int = 200,
    headers: dict[str, str] | None = None,
    **context: Any,
) -> HTMLResponse:
    """A page from a template; the frame's names may be overridden by the context."""
    frame = _frame(request)
    told = {**frame, **context, "request": request}
    told |= {name: in_own_words(told[name], told.get("typed")) for name in TOLD if told.get(name)}
    body = environment().get_template(template).render(told)
    response = HTMLResponse(body, status_code=status_code, headers=headers)
    if frame["flash"]:
        response.delete_cookie(FLASH_COOKIE, path="/")
    return response


def redirect(url: str, *, say: str = "") -> Response:
    """See-other after a form, with one sentence for the next page."""
    response = RedirectResponse(url, status_code=303)
    if say:
        response.set_cookie(FLASH_COOKIE, quote(say), max_age=60, path="/", httponly=True, samesite="lax")
    return response


def fragment(template: str, **context: Any) -> Markup:
    """Part of a page as markup, for parts that are cached between requests."""
    return Markup(environment().get_template(template).render(context))  # noqa: S704 – the template escapes
