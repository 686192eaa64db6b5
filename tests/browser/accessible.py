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

    The script goes straight into the page: on the way of ``page.evaluate`` half a megabyte is read
    three times, to learn whether it is a function. What is in order is not sent back.
    """
    session = page.context.new_cdp_session(page)
    session.send("Runtime.evaluate", {"expression": f"{_script()};0"})
    session.detach()
    found: list[dict[str, Any]] = page.evaluate(
        "axe.run({resultTypes: ['violations']}).then(found => found.violations)"
    )
    return found
