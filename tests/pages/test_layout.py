"""The frame of every page: places, person, cautions, no inline style or script, parts that fit their problems."""

import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from jinja2 import UndefinedError
from starlette.applications import Starlette
from starlette.requests import Request

from service.domain.people import Actor
from service.domain.words import Role
from service.errors import Problem
from service.pages.templating import WEB, asset, environment, font_paths, redirect, render

TEMPLATES = sorted((WEB / "templates").rglob("*.html"))
GLYPHS = "0OIl1 Δ≥≤±×−°’–·"


def a_request(*, demo: bool = True, person: bool = True, cookies: str = "") -> Request:
    app = Starlette()
    app.state.surroundings = SimpleNamespace(demo=demo)
    scope: dict[str, Any] = {
        "type": "http",
        "method": "GET",
        "path": "/",
        "query_string": b"",
        "headers": [(b"cookie", cookies.encode())] if cookies else [],
        "app": app,
        "server": ("test", 80),
        "scheme": "http",
    }
    request = Request(scope)
    if person:
        request.state.actor = Actor(1, "R. Amsel", Role.ENGINEER)
        request.state.client_name = "Merrowdale Water"
    return request


def page(**given: Any) -> str:
    request = given.pop("request", None) or a_request()
    return bytes(render(request, "layout.html", **given).body).decode()


def test_a_signed_in_person_meets_six_places_and_the_way_out() -> None:
    html = page(place="standing")
    assert re.findall(r'<nav class="places".*?</nav>', html, re.DOTALL)
    top = html[html.index('<nav class="places"') : html.index("</nav>")]
    words = [word.strip() for word in re.findall(r'<a href="[^"]*"[^>]*>([^<]+)', top)]
    assert words == ["Standing", "Desk", "Rounds", "Equipment", "Reports", "Set-up"]
    assert top.count('aria-current="page"') == 1
    assert "R. Amsel, engineer" in html
    assert "Merrowdale Water" in html
    assert re.search(r'<form method="post" action="[^"]+"[^>]*><button[^>]*>Sign out', html)


def test_the_phone_bar_holds_five_and_set_up_stands_under_the_person() -> None:
    html = page()
    below = html[html.index('<nav class="phone-bar"') :]
    assert below[: below.index("</nav>")].count("<a ") == 5
    menu = html[html.index('class="person-menu"') : html.index("</details>")]
    assert ">Set-up</a>" in menu


def test_nobody_signed_in_meets_no_places() -> None:
    html = page(request=a_request(person=False))
    assert 'class="places"' not in html
    assert "Sign out" not in html


def test_every_page_carries_the_caution_and_the_demonstration_line_only_in_the_demo() -> None:
    assert "local codes come first" in page()
    assert "Invented demonstration data" in page()
    assert "Invented demonstration data" not in page(request=a_request(demo=False))


def test_the_skip_link_is_first_and_leads_to_the_page() -> None:
    html = page()
    assert re.search(r'<body[^>]*>\s*<a class="skip" href="#main">', html)
    assert '<main class="page" id="main"' in html


def test_theme_and_keys_come_from_cookies_so_that_nothing_flashes() -> None:
    dark = page(request=a_request(cookies="theme=dark; keys=off"))
    assert '<html lang="en" data-theme="dark">' in dark
    assert 'data-behaviour="keys"' not in dark
    assert "data-theme" not in page(request=a_request(cookies="theme=%22onload"))
    assert 'data-behaviour="keys"' in page()


def test_a_redirect_says_its_sentence_once_on_the_next_page_escaped() -> None:
    answer = redirect("/rounds/4", say="Round <b> issued.")
    cookie = answer.headers["set-cookie"].split(";")[0]
    response = render(a_request(cookies=cookie), "layout.html")
    assert "Round &lt;b&gt; issued." in bytes(response.body).decode()
    assert "Max-Age=0" in response.headers["set-cookie"]


def test_problems_stand_on_top_each_a_link_to_its_field() -> None:
    problem = Problem("row 14", "L2", "367 °C", "This is 330 K above last time.", "Did you mean 36.7?")
    html = page(problems=[problem])
    assert 'href="#field-L2"' in html
    assert "Row 14, L2:" in html
    assert "Found: 367 °C." in html
    assert "Did you mean 36.7?" in html
    assert "Nothing was stored." in html


def test_a_field_with_a_problem_tells_it_beside_the_box() -> None:
    problem = Problem("", "emissivity", "1.4", "Too large.", "Type 0.95.")
    source = '{% from "parts/fields.html" import number %}{{ number("emissivity", "Emissivity", value, problems=problems) }}'
    html = environment().from_string(source).render(problems=[problem], value='"><script>')
    assert 'id="field-emissivity"' in html
    assert 'aria-invalid="true"' in html
    assert 'aria-describedby="error-emissivity-1' in html
    assert 'id="error-emissivity-1"' in html
    assert "<script>" not in html


def test_an_unknown_name_in_a_template_is_an_error() -> None:
    with pytest.raises(UndefinedError):
        environment().from_string("{{ nobody }}").render()


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: str(path.relative_to(WEB / "templates")))
def test_templates_are_short_and_carry_no_inline_style_or_script(template: Path) -> None:
    source = template.read_text()
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=|javascript:", source)
    assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", source))
    assert len(source.splitlines()) <= 100


def test_assets_are_named_by_their_content() -> None:
    assert re.fullmatch(r"/assets/css/tokens\.css\?v=[0-9a-f]{12}", asset("css/tokens.css"))


def test_fonts_come_from_the_installed_package_and_hold_the_glyphs_we_print() -> None:
    from PIL import ImageFont

    fonts = font_paths()
    assert set(fonts) == {"AtkinsonHyperlegible-Regular.ttf", "AtkinsonHyperlegible-Bold.ttf"}
    for path in fonts.values():
        face = ImageFont.truetype(str(path), 20)
        missing = bytes(face.getmask("\uffff"))
        for glyph in GLYPHS.replace(" ", ""):
            assert bytes(face.getmask(glyph)) != missing, glyph


def test_scripts_are_small_and_style_sheets_layered() -> None:
    for script in (WEB / "js").glob("*.js"):
        assert len(script.read_text().splitlines()) <= 80, script.name
    for sheet in (WEB / "css").glob("*.css"):
        assert "@layer" in sheet.read_text(), sheet.name
