"""The criteria page: every band by which a rise is judged, the quiet ones too."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from service.domain.presets import DEFAULT_CRITERIA
from service.domain.words import Level, Role
from service.pages.criteria_words import BandLine, columns
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from tests.builders import build_plant
from tests.doors import browser_as, open_app


def column(name: str, **change: float) -> list[BandLine]:
    found = columns(replace(DEFAULT_CRITERIA, **change))  # type: ignore[arg-type]
    return next(lines for told, _, lines in found if told == name)


def test_the_baseline_column_begins_with_its_quiet_band() -> None:
    """Symptom: the page said that anything over the baseline is Look again; under 2u nothing is found."""
    lines = column("Over its own baseline")
    assert [(words, level) for words, level, _ in lines] == [
        ("under 2u, or under 3.5 K where u is not known", Level.NOTHING_FOUND),
        ("from 2u to 10 K", Level.LOOK_AGAIN),
        ("over 10 to 20 K", Level.PLAN_REPAIR),
        ("over 20 to 40 K", Level.REPAIR_SOON),
        ("over 40 K", Level.ACT_NOW),
    ]
    assert "standard uncertainty" in lines[0][2]


def test_the_quiet_band_is_the_sets_own() -> None:
    assert "under 5 K where u is not known" in column("Over its own baseline", two_u_k=5.0)[0][0]


def test_only_the_baseline_has_a_quiet_band_beside_its_table() -> None:
    assert [words for words, _, _ in column("Over like parts")] == [
        "under 1 K",
        "from 1 to 3 K",
        "over 3 to 15 K",
        "over 15 K",
    ]


def test_the_page_prints_it(store: Store, now: datetime, clock: Callable[[], datetime]) -> None:
    plant = build_plant(store)
    ensure_presets(store, now=now)
    page = browser_as(open_app(store, clock), store, plant, Role.ENGINEER, now).get("/set-up/criteria/1").text
    assert "under 2u, or under 3.5 K where u is not known" in page
