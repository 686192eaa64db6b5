"""The page of one reading: every step from what was shown to the level, its budget and its history."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from fastapi import FastAPI
from sqlalchemy import select
from starlette.testclient import TestClient

from service.domain.figures_told import sureness_of
from service.domain.measuring import measure
from service.domain.reading_budget import budget_of_reading, trials_of
from service.domain.reevaluation import Asked, NewValue
from service.domain.settings import inputs_of_text
from service.domain.words import Level, ReevaluationTarget, ReferenceKind, Role, SettingSource
from service.pages import view
from service.storage.tables.readings import AssessmentRow, ReadingRow
from service.storage.unit import Store
from service.usecases.readings.see_sheet import see_reading_sheet
from service.usecases.reevaluations.reevaluate import reevaluate
from service.usecases.rounds.correct import correct_reading
from tests.doors import browser_as, open_app
from tests.pages.test_standing import page, text_of
from tests.readings.builders import Issued, issue

SETTINGS = {"emissivity_set": 0.95, "reflected_set_c": 25.0, "reflected_c": 25.0}


@pytest.fixture
def issued(store: Store) -> Issued:
    return issue(store)


@pytest.fixture
def engineer(store: Store, clock: Callable[[], datetime], issued: Issued, now: datetime) -> TestClient:
    return browser_as(open_app(store, clock), store, issued.plant, Role.ENGINEER, now)


def walked(issued: Issued, *, hot: float = 46.0, **more: Any) -> str:
    """One visit of two views, the first part hot; the uid of its reading."""
    records = [
        issued.record(place, hot if place == 0 else 44.0 + 0.1 * place, **(SETTINGS | more))
        for place in range(6)
    ]
    issued.bring(records)
    return uid_of(issued, issued.rows[0][2])


def uid_of(issued: Issued, point_id: int) -> str:
    with issued.store.look() as unit:
        query = select(ReadingRow.uid).where(ReadingRow.point_id == point_id)
        return unit.session.scalars(query.order_by(ReadingRow.id.desc())).first() or ""


def test_every_step_stands_with_its_value_and_source(engineer: TestClient, issued: Issued) -> None:
    said = text_of(page(engineer, f"/readings/{walked(issued, hot=52.0)}"))
    for step in ("Shown", "Instrument’s settings undone", "Surface temperature", "Rise over like parts"):
        assert step in said
    for step in ("Load", "At common load", "Band", "Level"):
        assert step in said
    assert "set in it: ε 0.95, reflected 25.0 °C" in said
    assert "T − median of the like parts, itself included" in said
    assert re.search(r"7\.\d+ ± \d\.\d+ K over like parts: Plan repair", said)
    assert "Improve first: " in said
    assert "A clean reading at" in said


def test_the_lines_of_a_budget_sum_to_the_stored_uncertainty(issued: Issued) -> None:
    walked(issued, hot=52.0, minutes_at_load=90.0, distance_m=2.0)
    checked = 0
    for _uid, _tag, point_id, _view in issued.rows:
        sheet = see_reading_sheet(issued.store, issued.engineer, uid_of(issued, point_id))
        assert sheet.shown is not None
        verdict = sheet.shown.verdict
        if verdict.u_k is None:
            continue
        assert sheet.budget is not None
        assert sheet.budget.agrees
        assert sheet.budget.u_k == pytest.approx(verdict.u_k, abs=1e-9)
        assert sum(line.share or 0.0 for line in sheet.budget.lines) == pytest.approx(1.0)
        if verdict.u_common_k is not None:
            assert sheet.budget.u_common_k == pytest.approx(verdict.u_common_k, abs=1e-9)
            assert sum(line.share_common or 0.0 for line in sheet.budget.lines) == pytest.approx(1.0)
        checked += 1
    assert checked >= 6


def test_a_part_alone_is_laid_out_over_air(store: Store) -> None:
    """A bearing has no like part: its lines are those over air or over its own baseline."""
    issued = issue(store, boards=0, bearings=2)
    issued.bring([issued.record(place, 78.0, **SETTINGS) for place in range(len(issued.rows))])
    sheet = see_reading_sheet(store, issued.engineer, uid_of(issued, issued.rows[0][2]))
    assert sheet.shown is not None
    assert sheet.shown.verdict.reference is ReferenceKind.AIR
    assert sheet.budget is not None
    assert sheet.budget.agrees
    assert sheet.budget.u_k == pytest.approx(sheet.shown.verdict.u_k)


def test_monte_carlo_stands_beside_a_closed_form_that_is_too_rough(
    engineer: TestClient, issued: Issued
) -> None:
    uid = walked(issued, hot=48.0, emissivity=0.4, emissivity_standing="measured")
    said = text_of(page(engineer, f"/readings/{uid}"))
    assert "Monte Carlo, 200 000 trials of the whole model" in said
    assert said == text_of(page(engineer, f"/readings/{uid}")), "the trials are seeded"
    sheet = see_reading_sheet(issued.store, issued.engineer, uid)
    assert sheet.trials is not None
    assert sheet.shown is not None
    # a spread apart by more than a tenth would be another model, not another method
    u = sheet.shown.verdict.u_common_k if sheet.trials.at_common_load else sheet.shown.verdict.u_k
    assert sheet.trials.found.sd == pytest.approx(u, rel=0.1)


def test_where_the_closed_form_is_fine_nothing_is_drawn(engineer: TestClient, issued: Issued) -> None:
    assert "Monte Carlo" not in page(engineer, f"/readings/{walked(issued, hot=60.0)}")


def test_an_evaluation_and_a_correction_stay_to_be_seen(engineer: TestClient, issued: Issued) -> None:
    uid = walked(issued, hot=52.0)
    later = issued.received_at + timedelta(days=2)
    asked = Asked(
        ReevaluationTarget.POINT,
        issued.rows[0][2],
        {"emissivity": NewValue(0.8, 0.02, SettingSource.MEASURED, "contact comparison")},
    )
    done = reevaluate(issued.store, issued.engineer, asked=asked, reason="Emissivity found", now=later)
    said = text_of(page(engineer, f"/readings/{uid}"))
    assert f"re-evaluation {done.reevaluation_id}" in said
    assert f"Re-evaluation {done.reevaluation_id}" in said
    assert "first judged" in said
    with issued.store.look() as unit:
        query = select(AssessmentRow).join(ReadingRow, ReadingRow.id == AssessmentRow.reading_id)
        kept = list(unit.session.scalars(query.where(ReadingRow.uid == uid).order_by(AssessmentRow.id)))
        figures = [str(view.figure(row.value_k, row.u_k)) for row in kept]
    assert len(figures) == 2
    assert all(figure in said for figure in figures), "old and new figure both stand"
    new = correct_reading(
        issued.store, issued.engineer, uid, revision=1, changes={"temperature_c": 50.0},
        reason="misread by two", key="k1", now=later,
    )  # fmt: skip
    old_page = page(engineer, f"/readings/{uid}")
    assert "A correction stands in the place of this reading" in old_page
    assert f"/readings/{new.uid}" in old_page
    assert "misread by two" in text_of(page(engineer, f"/readings/{new.uid}"))


def test_a_reason_stands_with_its_remedy(engineer: TestClient, issued: Issued) -> None:
    said = text_of(page(engineer, f"/readings/{walked(issued, hot=45.0, current_a=20.0)}"))
    assert "Under 40 % of common load. Read it again at 40 % of common load or more." in said
    dull = uid_of(issued, issued.rows[0][2])
    assert dull


def test_another_site_is_told_that_there_is_no_such_reading(
    store: Store, clock: Callable[[], datetime], issued: Issued, now: datetime
) -> None:
    uid = walked(issued)
    app: FastAPI = open_app(store, clock)
    own = browser_as(app, store, issued.plant, Role.TECHNICIAN, now)
    assert own.get(f"/readings/{uid}").status_code == 200
    assert own.get("/readings/nothing-here-at-all").status_code == 404


# ---- how sure -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("band", "chances", "told"),
    [
        # physics of the guard band: y 14, u 0.87 and y 2.5, u 0.82 against 1, 3, 15 K, worked by hand
        (
            Level.PLAN_REPAIR,
            (0.0, 0.0, 0.8748, 0.0, 0.1252),
            "between Plan repair 87 % and Act now 13 %; may be higher: Act now 13 %",
        ),
        (
            Level.LOOK_AGAIN,
            (0.0337, 0.6953, 0.2710, 0.0, 0.0),
            "between Look again 70 % and Plan repair 27 %; may be higher: Plan repair 27 %",
        ),
        (Level.REPAIR_SOON, (0.0, 0.0, 0.0221, 0.9779, 0.0), "firm: Repair soon 98 %"),
        (
            Level.PLAN_REPAIR,
            (0.0, 0.08, 0.92, 0.0, 0.0),
            "between Look again 8 % and Plan repair 92 %",
        ),
    ],
)
def test_chances_are_told_in_words(band: Level, chances: tuple[float, ...], told: str) -> None:
    assert view.sureness(band, chances).replace(view.THIN, " ") == told


def test_without_an_uncertainty_nothing_is_said_of_chances() -> None:
    assert sureness_of(Level.PLAN_REPAIR, None) is None
    assert view.sureness(None, (1.0, 0.0, 0.0, 0.0, 0.0)) == ""


def test_a_part_judged_anew_since_shows_no_lines_of_today(issued: Issued) -> None:
    """Lines that do not sum to the stored figure are not shown as if they did."""
    uid = walked(issued, hot=52.0)
    with issued.store.begin() as unit:
        row = unit.session.scalars(
            select(AssessmentRow).where(AssessmentRow.point_id == issued.rows[1][2])
        ).one()
        held = inputs_of_text(row.inputs or "")
        row.inputs = held._replace(emissivity=held.emissivity._replace(value=0.5)).to_text()
    sheet = see_reading_sheet(issued.store, issued.engineer, uid)
    assert sheet.budget is not None
    assert not sheet.budget.agrees


def test_trials_need_a_reference_that_can_be_drawn(issued: Issued) -> None:
    uid = walked(issued, hot=52.0)
    sheet = see_reading_sheet(issued.store, issued.engineer, uid)
    shown = sheet.shown
    assert shown is not None
    assert shown.inputs is not None
    used = next(iter(sheet.criteria.values()))
    over_baseline = replace(shown.verdict, reference=ReferenceKind.BASELINE)
    assert trials_of(over_baseline, [shown.inputs], criteria=used) is None
    one = measure([shown.inputs])[0]
    alone = budget_of_reading(over_baseline, [(one, 1.0)], criteria=used)
    assert alone is not None
    assert not alone.agrees
