"""One point's page: its news, drawing, reasons and visits, and nobody else's point."""

import csv
import io
import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.domain.judgement_rules import RULE_COMMON_LOAD
from service.domain.point_history import PointHistory
from service.domain.words import Role
from service.pages.point_words import judged_as_measured
from service.storage.tables.people import GrantRow
from service.storage.tables.readings import PointStateRow, ReadingRow
from service.storage.tables.register import EquipmentRow, PointRow, SeriesCutRow
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Store
from service.usecases.condition.point_history import see_point_history
from tests.builders import STAMPS, Plant, add, build_plant
from tests.doors import browser_as, open_app
from tests.pages.standing_builders import criteria_id, months_before, open_finding, rename, set_state, visit
from tests.pages.test_standing import counted_queries, page, text_of


@pytest.fixture
def plant(store: Store) -> Plant:
    return build_plant(store, sites=1, views=2, bearings=1)


@pytest.fixture
def app(store: Store, clock: Callable[[], datetime]) -> FastAPI:
    return open_app(store, clock)


@pytest.fixture
def engineer(app: FastAPI, store: Store, plant: Plant, now: datetime) -> TestClient:
    return browser_as(app, store, plant, Role.ENGINEER, now)


def rising(store: Store, plant: Plant, *, visits: int = 6) -> int:
    """Line terminal L2 of the first feeder: 1, 2, 3 … K over its like parts, month by month."""
    point_id = plant.point_ids[1]
    for step in range(visits):
        at = months_before(visits - 1 - step)
        rise = 1.0 + step
        visit(
            store, point_id, at, value_k=rise * 0.54, common_k=rise, level=2 if rise > 3 else 1,
            reading_temperature_c=25.0 + rise, load_ratio=0.71,
        )  # fmt: skip
        visit(store, plant.point_ids[0], at, reading_temperature_c=25.0, reading_current_a=72.0)
        visit(store, plant.point_ids[2], at, reading_temperature_c=25.2, reading_current_a=70.0)
    with store.begin() as unit:
        criteria = criteria_id(unit)
    set_state(
        store, point_id, level=2, value_k=3.2, common_k=6.0, load_ratio=0.71, reference="over like parts", trend="rising",
        slope_k_month=1.0, slope_low=0.9, slope_high=1.1, trend_visits=visits, trend_fitted=visits, since=date(2026, 9, 17),
        act_line_k=15.0, trend_risen_k=5.0, trend_onset_on=date(2026, 6, 20), chance_6=0.31, chance_12=0.72,
        crossing_from=date(2027, 3, 2), crossing_likeliest=date(2027, 9, 1), crossing_to=date(2028, 11, 5),
        last_read_at=months_before(0), last_sentence="Over like parts: 3.2 K, over the line of 3 K.", criteria_id=criteria,
    )  # fmt: skip
    return point_id


def history(store: Store, plant: Plant, point_id: int, now: datetime) -> PointHistory:
    return see_point_history(store, plant.actor(), point_id=point_id, now=now)


# ---- the news and the reasons --------------------------------------------------------------


def test_the_title_and_the_verdict_say_the_news(engineer: TestClient, store: Store, plant: Plant) -> None:
    html = page(engineer, f"/points/{rising(store, plant)}")
    said = text_of(html)
    assert "<h1>Line terminal L2 is rising: Plan repair</h1>" in html
    assert "Plan repair 2 of 4 since 17 Sep 2026" in said
    assert "Rising 1.0 K a month (0.9 to 1.1), over 6 visits." in said
    assert "31 % within 6 months, 72 % within 12. Nine chances in ten: March 2027 to November 2028." in said
    assert "Up 5.0 K since June 2026." in said
    assert "6 visits at 71 % load since 20 Jun 2026." in said
    assert "Over like parts: 3.2 K, over the line of 3 K." in said
    assert "ANSI/NETA MTS Table 100.18" in said
    assert "Compared with L1 and L3 in the same view." in said


def test_a_figure_at_common_load_never_stands_beside_a_level_without_a_word(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    """Symptom: "6.4 K" at common load in large beside Nothing found, which was told of 0.9 K at 48 % load."""
    point_id = plant.point_ids[0]
    visit(store, point_id, months_before(0), value_k=0.9, common_k=6.4, load_ratio=0.48, level=0)
    set_state(
        store, point_id, level=0, value_k=0.9, common_k=6.4, load_ratio=0.48, reference="over like parts"
    )
    said = text_of(page(engineer, f"/points/{point_id}"))
    assert "Level judged on 0.9 K, measured at 48 % load. The 6.4 K at common load drives the trend." in said
    assert "Levels are judged on the rise as measured. The figure at common load drives the trend" in said


@pytest.mark.parametrize(
    "state",
    [
        {"value_k": 6.4, "common_k": None, "reference": "over like parts"},
        {"value_k": 6.4, "common_k": 6.4, "reference": "over like parts"},
        {"value_k": 3.4, "common_k": 6.4, "reference": "over its own baseline"},
        {"value_k": 3.4, "common_k": 6.4, "reference": "over like parts", "last_rule": RULE_COMMON_LOAD},
    ],
    ids=["not scaled", "at full load", "on one scale with its baseline", "raised at common load"],
)
def test_where_one_figure_serves_both_nothing_is_said(
    store: Store, plant: Plant, now: datetime, state: dict[str, Any]
) -> None:
    set_state(store, plant.point_ids[0], level=1, load_ratio=0.7, **state)
    assert judged_as_measured(history(store, plant, plant.point_ids[0], now)) == ""


def test_every_list_of_levels_beside_figures_at_common_load_says_what_is_judged(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    set_state(store, plant.point_ids[0], level=2, value_k=4.0, common_k=6.4, reference="over like parts")
    site, board = plant.site_ids[0], plant.equipment_ids[0]
    for path in ("/", f"/standing/sites/{site}", f"/equipment/{board}"):
        assert "Levels are judged on the rise as measured." in text_of(page(engineer, path)), path


def test_a_point_never_read_says_so(engineer: TestClient, plant: Plant) -> None:
    html = page(engineer, f"/points/{plant.point_ids[0]}")
    said = text_of(html)
    assert "<h1>Line terminal L1 has not been read yet</h1>" in html
    assert "No readings yet." in said
    assert "No visits yet." in said
    assert "No verdict" in said


def test_a_point_that_could_not_be_read_says_why(engineer: TestClient, store: Store, plant: Plant) -> None:
    point_id = plant.point_ids[0]
    visit(
        store, point_id, months_before(0), level=None, band=None, reading_not_assessable="K", reading_temperature_c=None,
        value_k=None, common_k=None, load_ratio=None, trended=False, reference=None,
    )  # fmt: skip
    html = page(engineer, f"/points/{point_id}")
    assert "Line terminal L1: no verdict, locked or no permit" in html
    assert 'class="cross"' in html


def test_a_pending_trend_is_told_as_pending_and_draws_no_line(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    point_id = rising(store, plant)
    set_state(store, point_id, pending=True)
    html = page(engineer, f"/points/{point_id}")
    assert "The trend is being worked out again." in text_of(html)
    assert 'class="fit' not in html


def test_what_the_last_visit_could_have_missed_is_told_rounded_up(
    engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    point_id = plant.point_ids[0]
    visit(store, point_id, months_before(0), load_ratio=0.52, smallest_fault_k=8.3)
    set_state(store, point_id, reference="over like parts", last_read_at=months_before(0))
    assert history(store, plant, point_id, now).could_have_missed_k == 8.3
    said = text_of(page(engineer, f"/points/{point_id}"))
    assert "A clean reading at 52 % of common load would hide a fault of up to 9 K" in said


def test_where_it_cannot_be_said_nothing_is_said_to_be_missed(
    store: Store, plant: Plant, now: datetime
) -> None:
    bearing = plant.point_ids[-1]
    visit(store, bearing, months_before(0), reference="over its own baseline", common_k=None, load_ratio=0.5)
    assert history(store, plant, bearing, now).could_have_missed_k is None


def test_another_camera_is_an_honest_alternative(engineer: TestClient, store: Store, plant: Plant) -> None:
    point_id = rising(store, plant)
    assert "A load or a surface that changed on one part only" in text_of(
        page(engineer, f"/points/{point_id}")
    )
    with store.begin() as unit:
        readings = (
            unit.session.query(ReadingRow).filter_by(point_id=point_id).order_by(ReadingRow.taken_at).all()
        )
        readings[-1].emissivity_set, readings[-2].emissivity_set = 0.9, 0.95
    assert "Another emissivity setting: 0.90, before 0.95." in text_of(page(engineer, f"/points/{point_id}"))


# ---- the drawing ---------------------------------------------------------------------------


def test_the_line_is_that_of_the_fit_whose_slope_is_stored(store: Store, plant: Plant, now: datetime) -> None:
    found = history(store, plant, rising(store, plant), now).trend_line
    assert found is not None
    assert (found.first_on, found.last_on, found.visits) == (date(2026, 6, 20), date(2026, 11, 17), 6)
    # six visits, 1 K apart: Theil-Sen goes through all of them
    assert found.first_k == pytest.approx(1.0, abs=0.01)
    assert found.last_k == pytest.approx(6.0, abs=0.01)


def test_a_rise_after_years_of_calm_is_drawn_over_the_recent_visits_only(
    engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    """Symptom: the line crossed the paper from corner to corner, far from every reading."""
    point_id = plant.point_ids[0]
    for month in range(40):
        late = max(0, 12 - month)
        visit(store, point_id, months_before(month), value_k=0.5 * late, common_k=1.0 * late)
    set_state(
        store, point_id, level=2, trend="rising", reference="over like parts", slope_k_month=30.4375 / 30, slope_low=0.9,
        slope_high=1.1, trend_visits=40, trend_fitted=12, last_read_at=months_before(0),
    )  # fmt: skip
    line = history(store, plant, point_id, now).trend_line
    assert line is not None
    assert line.visits == 12
    assert line.first_on == months_before(11).date()
    assert line.last_k == pytest.approx(12.0, abs=0.1)
    said = text_of(page(engineer, f"/points/{point_id}"))
    assert "over 12 visits." in said
    assert "Trend judged on 12 visits at" in said


def test_a_steady_point_has_no_line_drawn(engineer: TestClient, store: Store, plant: Plant) -> None:
    point_id = rising(store, plant)
    set_state(store, point_id, trend="steady")
    assert 'class="fit' not in page(engineer, f"/points/{point_id}")


def test_values_as_measured_never_mix_with_those_at_common_load(
    store: Store, plant: Plant, now: datetime
) -> None:
    point_id = rising(store, plant)
    visit(store, point_id, months_before(9), value_k=8.0, common_k=None, load_ratio=None)
    assert len(history(store, plant, point_id, now).series) == 6


def test_a_last_reading_that_cannot_clear_is_printed_as_at_least(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    point_id = rising(store, plant)
    visit(
        store, point_id, datetime(2026, 11, 20, tzinfo=UTC), value_k=10.7, common_k=None, load_ratio=0.3, at_least=True,
        clears=False, trended=False, level=2,
    )  # fmt: skip
    set_state(store, point_id, at_least=True, trend="cannot tell")
    html = page(engineer, f"/points/{point_id}")
    assert ">at least 10.7\u00a0K</text>" in html
    assert "<h1>Line terminal L2 stands at Plan repair at least</h1>" in html


def test_visits_before_a_repair_are_no_part_of_the_series(store: Store, plant: Plant, now: datetime) -> None:
    point_id = rising(store, plant)
    with store.begin() as unit:
        add(unit, SeriesCutRow(point_id=point_id, at=datetime(2026, 9, 1, tzinfo=UTC), reason="repaired"))
    set_state(store, point_id, episode=1)
    assert history(store, plant, point_id, now).series == ()


def test_a_repair_is_a_seam_with_what_it_did(engineer: TestClient, store: Store, plant: Plant) -> None:
    point_id = rising(store, plant)
    with store.begin() as unit:
        add(unit, SeriesCutRow(point_id=point_id, at=datetime(2026, 9, 1, tzinfo=UTC), reason="repaired"))
    html = page(engineer, f"/points/{point_id}")
    assert ">Repaired 1 Sep 2026</text>" in html
    assert ">3.0 to 4.0\u00a0K</text>" in html


def test_kinds_of_reference_never_mix_in_the_drawing(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    point_id = rising(store, plant)
    visit(store, point_id, months_before(8), reference="over air", value_k=31.0, common_k=40.0)
    html = page(engineer, f"/points/{point_id}")
    assert "1 visit not over like parts is in the table only." in text_of(html)
    assert "Rise over air." in text_of(html)
    assert html.split('id="drawing"')[1].split("chart-foot")[0].count('<circle class="dot"') == 2 * 6 + 1


def test_action_lines_carry_their_words(engineer: TestClient, store: Store, plant: Plant) -> None:
    html = page(engineer, f"/points/{rising(store, plant)}")
    for words in ("Look again, 1\u00a0K", "Plan repair, 3\u00a0K", "Act now, 15\u00a0K"):
        assert f">{words}</text>" in html


def test_a_planned_round_is_a_tick(engineer: TestClient, store: Store, plant: Plant) -> None:
    point_id = rising(store, plant)
    with store.begin() as unit:
        for day, state in (
            (date(2026, 12, 8), "issued"),
            (date(2026, 12, 9), "withdrawn"),
            (date(2026, 11, 1), "issued"),
        ):
            round_ = add(
                unit,
                RoundRow(
                    client_id=plant.client_id, code=f"R{day}", name="r", planned_on=day, state=state, **STAMPS
                ),
            )
            stop = add(
                unit,
                StopRow(
                    round_id=round_.id,
                    equipment_id=plant.equipment_ids[0],
                    site_id=plant.site_ids[0],
                    position=1,
                    minutes=5,
                ),
            )
            add(
                unit,
                RoundPointRow(
                    uid=f"u{day}", round_id=round_.id, stop_id=stop.id, view_id=plant.view_ids[0], point_id=point_id,
                    position=1,
                ),
            )  # fmt: skip
    html = page(engineer, f"/points/{point_id}")
    assert html.count('class="planned" d="M') == 2 + 1  # both sheets and the legend


def test_the_figure_to_explore_is_the_same_history(engineer: TestClient, store: Store, plant: Plant) -> None:
    point_id = rising(store, plant)
    answer = engineer.get(f"/points/{point_id}/figure.json")
    assert answer.status_code == 200
    shown = {trace["name"]: trace["y"] for trace in answer.json()["data"]}
    assert shown["Rise"] == [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
    html = page(engineer, f"/points/{point_id}")
    assert f'data-figure="/points/{point_id}/figure.json"' in html
    assert 'data-plotly="/assets/plotly.min.js"' in html


def test_what_is_foretold_goes_to_programs_and_into_the_figure(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    point_id = rising(store, plant)
    month = ["2026-12-25", 5.0, 6.0, 6.5, 7.0, 8.5]
    set_state(store, point_id, trend_fan=[month, ["2027-01-25", 5.0, 7.0, 8.0, 9.0, 11.0]])
    told = engineer.get(f"/api/v1/points/{point_id}/standing").json()["forecast"]
    assert list(told[0].values()) == month
    names = [one["name"] for one in engineer.get(f"/points/{point_id}/figure.json").json()["data"]]
    assert names[:3] == ["Nine in ten", "One in two", "Reaches its line, nine in ten"]
    set_state(store, point_id, pending=True)
    assert engineer.get(f"/api/v1/points/{point_id}/standing").json()["forecast"] == []


def test_like_parts_stand_side_by_side_on_one_scale(engineer: TestClient, store: Store, plant: Plant) -> None:
    html = page(engineer, f"/points/{rising(store, plant)}")
    assert html.count('<svg class="multiple"') == 3
    assert html.count('class="gap"') == 1
    assert "31.0\u00a0°C" in html


# ---- the visits ----------------------------------------------------------------------------


def test_a_correction_shows_both_what_was_typed_and_what_stands(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    point_id = plant.point_ids[0]
    at = months_before(0)
    first = visit(
        store, point_id, at, current=False, value_k=330.0, common_k=None, reading_temperature_c=367.0
    )
    visit(
        store, point_id, at, value_k=0.3, reading_temperature_c=36.7, reading_revision=2, reading_supersedes_id=first,
        reading_correction_reason="digit slip",
    )  # fmt: skip
    html = page(engineer, f"/points/{point_id}")
    said = text_of(html)
    assert "367.0" in said
    assert "36.7" in said
    assert "Kept as typed; a correction stands in its place." in said
    assert "Correction 1: digit slip" in said
    assert html.count('class="revised"') == 1
    assert html.split('id="drawing"')[1].split("chart-foot")[0].count('class="dot"') == 2 + 1


def test_twelve_visits_are_shown_and_all_when_asked(engineer: TestClient, store: Store, plant: Plant) -> None:
    point_id = plant.point_ids[0]
    for month in range(15):
        visit(store, point_id, months_before(month))
    rows = re.compile(r'<th scope="row" class="nowrap">')
    html = page(engineer, f"/points/{point_id}")
    assert len(rows.findall(html)) == 12
    assert "12 of 15 visits." in text_of(html)
    assert len(rows.findall(page(engineer, f"/points/{point_id}?visits=all"))) == 15


def test_amps_of_every_phase_at_the_last_visit_are_told(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    said = text_of(page(engineer, f"/points/{rising(store, plant)}"))
    assert "Amps L1 72 A, L2 71 A, L3 70 A" in said


def test_visits_download_as_csv_with_numbers_as_numbers(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    point_id = plant.point_ids[0]
    visit(store, point_id, months_before(0), value_k=-3.2, reading_note="=HYPERLINK(1)")
    answer = engineer.get(f"/points/{point_id}/visits.csv")
    assert answer.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert rows[0]["rise as measured K"] == "-3.2"
    assert rows[0]["note"] == "'=HYPERLINK(1)"


# ---- who sees it, and where to go on -------------------------------------------------------


def test_one_walks_on_along_the_site(engineer: TestClient, store: Store, plant: Plant) -> None:
    html = page(engineer, f"/points/{plant.point_ids[1]}")
    ways = re.findall(r'href="/points/(\d+)" rel="(prev|next)"', html)
    assert ways == [(str(plant.point_ids[0]), "prev"), (str(plant.point_ids[2]), "next")]
    first = page(engineer, f"/points/{plant.point_ids[0]}")
    assert 'rel="prev"' not in first
    rename(store, PointRow, plant.point_ids[2], retired_at=months_before(1))
    assert f'href="/points/{plant.point_ids[3]}" rel="next"' in page(
        engineer, f"/points/{plant.point_ids[1]}"
    )


def test_a_finding_can_be_opened_and_a_live_one_is_named(
    app: FastAPI, engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    point_id = rising(store, plant)
    assert f'href="/findings/new?point={point_id}"' in page(engineer, f"/points/{point_id}")
    manager = browser_as(app, store, plant, Role.MANAGER, now)
    assert "/findings/new" not in page(manager, f"/points/{point_id}")
    finding = open_finding(
        store, plant, point_id, state="planned", owner_id=plant.people[Role.ENGINEER], work_order="10432"
    )
    said = page(engineer, f"/points/{point_id}")
    assert f'href="/findings/{finding}"' in said
    assert "Work order 10432" in text_of(said)


@pytest.mark.parametrize("path", ["", "/figure.json", "/visits.csv"])
def test_a_point_outside_the_grants_or_rounds_is_not_found(
    app: FastAPI, store: Store, plant: Plant, now: datetime, path: str
) -> None:
    point_id = rising(store, plant)
    with store.begin() as unit:
        unit.session.query(GrantRow).filter_by(person_id=plant.people[Role.MANAGER]).delete()
    assert (
        browser_as(app, store, plant, Role.MANAGER, now).get(f"/points/{point_id}{path}").status_code == 404
    )
    assert (
        browser_as(app, store, plant, Role.TECHNICIAN, now).get(f"/points/{point_id}{path}").status_code
        == 404
    )
    assert browser_as(app, store, plant, Role.ENGINEER, now).get(f"/points/999999{path}").status_code == 404


def test_hostile_words_are_text(engineer: TestClient, store: Store, plant: Plant) -> None:
    point_id = rising(store, plant)
    rename(store, PointRow, point_id, name="<script>alert(1)</script>", component='"><img src=x>')
    rename(store, EquipmentRow, plant.equipment_ids[0], name="<b>x</b>")
    html = page(engineer, f"/points/{point_id}")
    assert "<script>alert" not in html
    assert "<img src=x" not in html
    assert "<b>x</b>" not in html


def test_the_number_of_queries_does_not_grow_with_the_visits(
    store: Store, plant: Plant, now: datetime
) -> None:
    point_id = rising(store, plant, visits=2)
    with counted_queries(store) as few:
        history(store, plant, point_id, now)
    for month in range(20, 60):
        visit(store, point_id, months_before(month))
    with counted_queries(store) as many:
        history(store, plant, point_id, now)
    assert len(many) == len(few)
    assert not any("OVER (" in statement and "readings" in statement for statement in many)


def test_it_reads_the_same_on_both_databases(
    any_store: Store, clock: Callable[[], datetime], now: datetime
) -> None:
    plant = build_plant(any_store, sites=1)
    point_id = rising(any_store, plant)
    client = browser_as(open_app(any_store, clock), any_store, plant, Role.ENGINEER, now)
    assert "Line terminal L2 is rising: Plan repair" in page(client, f"/points/{point_id}")
    with any_store.look() as unit:
        assert unit.session.get(PointStateRow, point_id) is not None
