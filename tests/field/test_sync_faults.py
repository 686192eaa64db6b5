"""What the device sends arrives once, whatever breaks in between.

The real store and engine of the field app run in Chromium and send through a line that drops,
cuts, repeats, reorders and delays, answers with a page of its own, and kills the server and the
page. Afterwards every reading stands as it was typed last, every visit, telling and spoken note once (with its file), and what
the device holds for acknowledged is there. The broken twin takes off its queue what it sends,
before the answer; the harness must see it lose.
"""

import pytest
from playwright.sync_api import Browser

from tests.browser.conftest import chromium as chromium
from tests.field.schedules import Tally, ground, run

SEED = 20_261_128
SAMPLE = 20


def clean(tally: Tally) -> None:
    assert (tally.lost, tally.doubled, tally.breaches) == (0, 0, []), tally
    assert tally.acknowledged >= 5 * tally.schedules, f"hardly anything was acknowledged: {tally}"


def test_what_was_typed_arrives_once_through_a_broken_line(sqlite_url: str, chromium: Browser) -> None:
    with ground(sqlite_url, chromium, seed=SEED) as made:
        clean(run(made, SAMPLE))
        met = made.line.met
        assert met.total() - met["none"] > 3 * SAMPLE, met


def test_the_harness_sees_a_twin_that_forgets_what_it_sends(sqlite_url: str, chromium: Browser) -> None:
    with ground(sqlite_url, chromium, seed=SEED) as made:
        for _ in range(10):
            if run(made, 1, twin=True).lost:
                break
        assert made.tally.lost > 0


@pytest.mark.torture
def test_a_thousand_schedules_lose_and_double_nothing(sqlite_url: str, chromium: Browser) -> None:
    with ground(sqlite_url, chromium, seed=SEED + 1) as made:
        clean(run(made, 1000))
