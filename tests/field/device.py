"""The modules of the field in a real Chromium, served from this checkout without the rest of the service."""

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, Route

from service.settings import ROOT
from tests.browser.conftest import Visitor

ADDRESS = "http://field.test"
JUDGING = f"{ADDRESS}/assets/field/judging.js"
#: one call judges everything asked: pack, by view what was typed by row and what holds around it
JUDGE = """async ([module, cases]) => {
  const { judgeView } = await import(module);
  return cases.map(({ pack, stop, view, typed, around }) => {
    const at = pack.stops[stop];
    return judgeView(pack, at.views[view], at, typed, around);
  });
}"""
JUDGE_ROUND = """async ([module, pack, typed, around]) => {
  const { judgeView } = await import(module);
  return pack.stops.flatMap((stop) => stop.views.flatMap((view) => {
    const said = judgeView(pack, view, stop, typed, around);
    return said.points.map((one) => ({ ...one, settle: said.settle }));
  }));
}"""


def device(visit: Callable[[str], Visitor], **changed: tuple[str, str]) -> Page:
    """An empty page that can import the field's modules.

    Parameters
    ----------
    visit : callable
        The fixture.
    **changed : tuple of (str, str)
        By module a piece of its text and what stands there instead: a broken twin.
    """
    page = visit(ADDRESS).page()

    def answer(route: Route) -> None:
        path = route.request.url.removeprefix(ADDRESS)
        if not path.startswith("/assets/field/"):
            route.fulfill(body="<!doctype html><title>field</title>", content_type="text/html")
            return
        file = ROOT / "web" / path.removeprefix("/assets/")
        text = file.read_text("utf-8")
        if file.stem in changed:
            right, wrong = changed[file.stem]
            assert right in text, f"{file.name} no longer says {right!r}"
            text = text.replace(right, wrong)
        route.fulfill(body=text, content_type="text/javascript")

    page.route("**/*", answer)
    page.goto(f"{ADDRESS}/")
    return page


def judge(page: Page, cases: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What the device says of some views, in one call."""
    found: list[dict[str, Any]] = page.evaluate(JUDGE, [JUDGING, cases])
    return found


def judge_round(
    page: Page, pack: dict[str, Any], typed: dict[str, Any], around: dict[str, Any]
) -> dict[str, dict[str, Any]]:
    """By row id what the device says of every point of a pack, in one call."""
    found = page.evaluate(JUDGE_ROUND, [JUDGING, pack, typed, around])
    return {one["rowUid"]: one for one in found}
