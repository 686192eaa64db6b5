"""Set-up, Criteria: every part of a set is edited as typed, and every problem leads to its box."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from starlette.testclient import TestClient

from service.domain.criteria_kept import KeptCriteria
from service.domain.words import Level, PointKind, Role
from service.storage.unit import Store
from service.usecases.condition.criteria_sets import see_set
from service.usecases.condition.edit_criteria import copy_set, offer_set
from tests.condition.criteria_builders import Sets, lay_sets
from tests.doors import browser_as, open_app
from tests.pages.forms_read import FormReader, read_form

Clock = Callable[[], datetime]
PARTS = ("about", "columns", "numbers", "limits", "kinds")


@pytest.fixture
def sets(store: Store) -> Sets:
    return lay_sets(store, bearings=1)


@pytest.fixture
def engineer(sets: Sets, clock: Clock, now: datetime) -> TestClient:
    return browser_as(open_app(sets.store, clock), sets.store, sets.plant, Role.ENGINEER, now)


@pytest.fixture
def administrator(sets: Sets, clock: Clock, now: datetime) -> TestClient:
    return browser_as(open_app(sets.store, clock), sets.store, sets.plant, Role.ADMINISTRATOR, now)


def address(kept: KeptCriteria, part: str) -> str:
    return f"/set-up/criteria/{kept.id}/edit/{part}"


def form_of(client: TestClient, kept: KeptCriteria, part: str) -> FormReader:
    answer = client.get(address(kept, part))
    assert answer.status_code == 200, answer.text
    return read_form(answer.text, address(kept, part))


def post(client: TestClient, kept: KeptCriteria, part: str, **boxes: str) -> Any:
    filled = form_of(client, kept, part).boxes | {k.replace("__", "."): v for k, v in boxes.items()}
    return client.post(address(kept, part), data=filled)


def now_kept(sets: Sets, kept: KeptCriteria) -> KeptCriteria:
    newest = see_set(sets.store, sets.actor(), kept.id, now=datetime.now().astimezone()).versions[0]
    return newest


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def flash(answer: Any) -> str:
    assert answer.status_code == 303, answer.text
    return str(answer.headers["set-cookie"])


@pytest.mark.parametrize("part", PARTS)
def test_a_form_sent_back_untouched_changes_nothing(sets: Sets, engineer: TestClient, part: str) -> None:
    own = sets.own()
    assert "Nothing%20was%20changed" in flash(post(engineer, own, part))
    assert now_kept(sets, own) == own


def test_an_edge_with_its_closure_level_and_words_is_added_in_its_place(
    sets: Sets, engineer: TestClient
) -> None:
    own = sets.own()
    line = "similar__bands__4__"
    values = {"value": "7,5", "closes_up": "yes", "level": "3", "words": "ours: 7.5 K"}
    flash(post(engineer, own, "columns", **{line + name: value for name, value in values.items()}))
    rule = now_kept(sets, own).criteria.similar
    assert [(edge.value, edge.closes_up) for edge in rule.edges] == [
        (1.0, True),
        (3.0, False),
        (7.5, True),
        (15.0, False),
    ]
    assert rule.levels == (0, 1, 2, 3, 4)
    assert rule.bands[3] == "ours: 7.5 K"


def test_an_edge_without_its_number_is_taken_out(sets: Sets, engineer: TestClient) -> None:
    own = sets.own()
    flash(post(engineer, own, "columns", similar__bands__2__value=""))
    rule = now_kept(sets, own).criteria.similar
    assert [edge.value for edge in rule.edges] == [1.0, 15.0]
    assert rule.levels == (0, 1, 4)


def test_shares_are_typed_as_percent_and_lists_line_by_line(sets: Sets, engineer: TestClient) -> None:
    own = sets.own()
    boxes = {"min_load_share": "55", "exponent": "1,7", "unscaled_classes": "motor\r\n\r\n reactor "}
    flash(post(engineer, own, "numbers", **boxes, limit_level="4"))
    edited = now_kept(sets, own).criteria
    assert (edited.min_load_share, edited.exponent, edited.limit_level) == (0.55, 1.7, 4)
    assert edited.unscaled_classes == ("motor", "reactor")


def test_a_site_enters_the_edition_of_a_limit_and_one_of_its_own(sets: Sets, engineer: TestClient) -> None:
    own = sets.own()
    count = len(own.criteria.limits)
    line = f"limits__{count}__"
    added = {
        "part": "flag terminal", "words": "flag terminal, FT", "coating": "tin", "medium": "air",
        "voltage": "up to 1 kV", "total_c": "85", "edition": "Site rule 12:2026", "confidence": "own proposal",
    }  # fmt: skip
    boxes = {line + name: value for name, value in added.items()}
    flash(post(engineer, own, "limits", limits__0__edition="IEC 62271-1:2017", limits__1__part="", **boxes))
    limits = now_kept(sets, own).criteria.limits
    assert len(limits) == count
    assert limits[0].edition == "IEC 62271-1:2017"
    assert limits[-1].words == ("flag terminal", "ft")
    assert (limits[-1].total_c, limits[-1].rise_k, limits[-1].voltage) == (85.0, None, "up to 1 kV")


def test_a_kind_is_filled_in_with_what_it_judges(sets: Sets, engineer: TestClient) -> None:
    own = sets.own()
    place = next(n for n, one in enumerate(own.criteria.templates) if one.kind is PointKind.REFRACTORY)
    line = f"templates__{place}__"
    boxes = {
        "source": "Shell rule 3", "confidence": "own proposal", "wind_max_m_s": "0.5",
        "bands__1__value": "90", "bands__1__level": "2", "bands__1__words": "over 90 °C",
        "bands__0__words": "up to 90 °C", "bands__2__value": "120", "bands__2__level": "4",
        "bands__2__words": "over 120 °C",
    }  # fmt: skip
    flash(post(engineer, own, "kinds", **{line + name: value for name, value in boxes.items()}))
    template = now_kept(sets, own).criteria.templates[place]
    assert [edge.value for edge in template.rule.edges] == [90.0, 120.0]
    assert template.rule.levels == (Level.NOTHING_FOUND, Level.PLAN_REPAIR, Level.ACT_NOW)
    assert (template.rule.unit.value, template.wind_max_m_s) == ("°C", 0.5)


WRONG: list[tuple[str, dict[str, str], set[str]]] = [
    ("about", {"title": "", "citation": " "}, {"title", "citation"}),
    ("about", {"valid_from": "tomorrow"}, {"valid_from"}),
    ("columns", {"similar__bands__2__value": "warm"}, {"similar.bands.2.value"}),
    ("columns", {"air__bands__3__level": "0"}, {"air.bands.1.value"}),
    ("columns", {"baseline__source": ""}, {"baseline.source"}),
    ("columns", {"baseline__bands__1__value": "2"}, {"baseline.bands.1.value"}),
    ("columns", {"air_by_kind__0__source": ""}, {"air_by_kind.0.source"}),
    ("numbers", {"min_load_share": "30", "exponent": "", "proof_days": "1.5"}, {"min_load_share", "exponent", "proof_days"}),
    ("numbers", {"exponent_low": "1.9"}, {"exponent_low"}),
    ("limits", {"limits__2__total_c": "", "limits__2__rise_k": ""}, {"limits.2.total_c"}),
    ("limits", {"limits__0__part": "", "limits__3__words": ""}, {"limits.3.words"}),
    ("kinds", {"templates__0__kind": "motor"}, {"templates.0.measure"}),
    ("kinds", {"templates__2__wind_max_m_s": "3"}, {"templates.2.wind_max_m_s"}),
]  # fmt: skip


@pytest.mark.parametrize(
    ("part", "boxes", "fields"), WRONG, ids=[f"{one[0]} {', '.join(one[1])}" for one in WRONG]
)
def test_every_problem_stands_on_top_and_leads_to_its_box(
    sets: Sets, engineer: TestClient, part: str, boxes: dict[str, str], fields: set[str]
) -> None:
    own = sets.own()
    answer = post(engineer, own, part, **boxes)
    assert answer.status_code == 422
    again = read_form(answer.text, address(own, part))
    wanted = {"field-" + field.replace(".", "-").replace("_", "-") for field in fields}
    assert set(again.links) == wanted
    assert wanted <= again.ids
    typed = {name.replace("__", "."): value for name, value in boxes.items()}
    assert {name: again.boxes[name] for name in typed} == typed
    assert now_kept(sets, own) == own


def test_a_share_out_of_range_is_told_as_it_was_typed(sets: Sets, engineer: TestClient) -> None:
    answer = post(engineer, sets.own(), "numbers", min_load_share="30")
    assert "Found: 30." in answer.text
    assert "Give a number from 40 to 100 %." in answer.text


def test_of_a_set_in_use_the_next_version_is_kept(sets: Sets, engineer: TestClient) -> None:
    own = sets.own()
    sets.choose(own.id)
    answer = post(engineer, own, "numbers", exponent="1.7")
    assert "Version%202%20is%20kept" in flash(answer)
    newest = now_kept(sets, own)
    assert answer.headers["location"] == f"/set-up/criteria/{newest.id}"
    page = engineer.get(answer.headers["location"]).text
    assert "Differences to version 1" in page
    told = plain(engineer.get(f"/set-up/criteria/{newest.id}/differences").text)
    assert "One entry differs" in told
    assert "Exponent n of the rise with current" in told
    assert engineer.get(address(own, "numbers")).status_code == 409


def test_who_was_slower_sees_what_it_says_now_and_loses_nothing(sets: Sets, engineer: TestClient) -> None:
    own = sets.own()
    mine = form_of(engineer, own, "numbers").boxes | {"proof_days": "20"}
    sets.edited(own, exponent=1.7)
    answer = engineer.post(address(own, "numbers"), data=mine)
    assert answer.status_code == 422
    assert "Somebody kept this set meanwhile" in answer.text
    again = read_form(answer.text, address(own, "numbers")).boxes
    assert again["proof_days"] == "20"
    assert now_kept(sets, own).criteria.exponent == 1.7
    flash(engineer.post(address(own, "numbers"), data=again | {"exponent": "1.7"}))
    both = now_kept(sets, own).criteria
    assert (both.exponent, both.proof_days) == (1.7, 20)


def test_a_set_is_chosen_for_a_site_and_for_a_class_of_it(sets: Sets, engineer: TestClient) -> None:
    own, pumps = sets.own("Own rules"), sets.own("Pump rules")
    base = f"/set-up/criteria/sites/{sets.plant.site_ids[0]}"
    version = str(sets.site().version)
    flash(engineer.post(base, data={"version": version, "criteria_id": str(own.id)}))
    version = str(sets.site().version)
    boxes = {"version": version, "criteria_id": str(pumps.id), "equipment_class": "pump"}
    flash(engineer.post(f"{base}/classes", data=boxes))
    page = plain(engineer.get("/set-up/criteria").text)
    assert "Two sites are judged by two sets; one class of equipment by another" in page
    assert "in force at one site" in page
    assert "in force for one class of equipment" in page
    assert "at Site 1 for pump" in engineer.get(f"/set-up/criteria/{pumps.id}").text


def test_a_copy_wants_a_title(sets: Sets, engineer: TestClient) -> None:
    boxes = {"criteria_id": str(sets.preset().id), "title": " ", "owner": str(sets.plant.client_id)}
    answer = engineer.post("/set-up/criteria/copies", data=boxes)
    assert answer.status_code == 422
    assert "This text is missing." in answer.text
    flash(engineer.post("/set-up/criteria/copies", data=boxes | {"title": "Ours"}))


def test_an_administrator_switches_presets_and_keeps_their_own(
    sets: Sets, administrator: TestClient, engineer: TestClient
) -> None:
    navy = sets.preset("navy-bands")
    offered = f'<option value="{navy.id}">United States Navy bands over reference, version 1</option>'
    sites = "/set-up/criteria"
    assert engineer.get(sites).text.count(offered) == 1  # to copy from, and at no site
    boxes = {"version": str(navy.edits), "offered": "yes"}
    flash(administrator.post(f"/set-up/criteria/{navy.id}/offer", data=boxes))
    assert engineer.get(sites).text.count(offered) > 1
    flash(administrator.post("/set-up/criteria/copies", data={"criteria_id": str(navy.id), "title": "House"}))
    assert "preset of this installation" in administrator.get(sites).text


def test_a_shipped_set_has_no_editor(sets: Sets, administrator: TestClient, engineer: TestClient) -> None:
    shipped = sets.preset()
    assert administrator.get(address(shipped, "numbers")).status_code == 409
    assert "/edit/" not in engineer.get(f"/set-up/criteria/{shipped.id}").text


def test_a_version_nobody_chose_is_thrown_away(sets: Sets, engineer: TestClient) -> None:
    own = sets.own()
    flash(engineer.post(f"/set-up/criteria/{own.id}/discard", data={"version": "1"}))
    assert engineer.get(f"/set-up/criteria/{own.id}").status_code == 404


def test_a_set_that_is_off_says_so(sets: Sets, engineer: TestClient, now: datetime) -> None:
    navy = sets.preset("navy-bands")
    assert "It is switched off" in engineer.get(f"/set-up/criteria/{navy.id}").text
    admin = sets.actor(Role.ADMINISTRATOR)
    house = copy_set(sets.store, admin, navy.id, title="House", client_id=None, now=now)
    offer_set(sets.store, admin, house.id, edits=1, offered=False, now=now)
    assert "It is switched off" in engineer.get(f"/set-up/criteria/{house.id}").text
