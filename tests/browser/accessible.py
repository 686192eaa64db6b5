"""What axe finds wrong with a page that stands open."""

from functools import cache
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page


@cache
def _script() -> str:
    return str(Axe().axe_script)


def violations(page: Page) -> list[dict[str, Any]]:
    """Every rule that is broken there, and at which elements; all rules are asked.

    The script goes into the page once, for all that will stand there after it: half a megabyte on
    its way through two pipes costs as much as loading a page. What is in order is not sent back.
    """
    if page.evaluate("typeof axe === 'undefined'"):
        session = page.context.new_cdp_session(page)
        session.send("Page.addScriptToEvaluateOnNewDocument", {"source": _script(), "runImmediately": True})
    found: list[dict[str, Any]] = page.evaluate(
        "axe.run({resultTypes: ['violations']}).then(found => found.violations)"
    )
    return found
