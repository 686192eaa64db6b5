"""The pack: what a device takes along of a round, for whom, how large, and told anew only when it changed."""

import gzip
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import event

from service.api.pack_replies import PackReply
from service.domain.packs import PointBefore, TrendSaid, VisitBefore
from service.domain.pictures import PictureKind
from service.domain.trending import FanStep
from service.domain.words import Access, Level, Role, Trend
from service.errors import Conflict, Forbidden, NotFound
from service.storage import rounds
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from service.usecases.field.pack import read_pack
from service.usecases.field.rounds import list_field_rounds
from service.usecases.pictures.see import see_file
from service.usecases.rounds.permits import PermitFields, ask_permit
from tests.builders import MADE, build_plant
from tests.doors import open_app, program_as
from tests.field.builders import second_technician
from tests.field.packs import pack_of, points_of, visited
from tests.pictures.builders import encoded, walked
from tests.readings.builders import issue
from tests.rounds.builders import change

NOW = datetime(2026, 4, 13, 6, 0, tzinfo=UTC)
#: what a pack of 300 points may weigh on the way to a phone [bytes, gzip 6]
MOST_BYTES = 300_000


def test_a_pack_holds_stops_views_and_points_in_walking_order_as_the_sheets_do(any_store: Store) -> None:
    walk = issue(any_store, boards=2, views=2, bearings=1)
    pack = pack_of(walk)
    assert (pack["format"], pack["round"]["code"], pack["round"]["points"]) == (1, walk.code, 13)
    assert [stop["position"] for stop in pack["stops"]] == [1, 2, 3]
    assert [len(stop["views"]) for stop in pack["stops"]] == [2, 2, 1]
    assert [point["row_uid"] for point in points_of(pack)] == [row[0] for row in walk.rows]
    first, pump = pack["stops"][0]["views"][0], pack["stops"][2]["views"][0]
    assert first["amps"] == ["L1", "L2", "L3"]
    assert [point["label"] for point in first["points"]] == ["L1", "L2", "L3"]
    assert first["triggers"][0].startswith("Tell control above 15 K over its like parts")
    assert (pump["amps"], pump["points"][0]["label"]) == ([], "Drive end")
    assert [box["key"] for box in pump["points"][0]["boxes"]][:2] == ["greased_hours_before", "second_method"]
    assert pack["person"] == {
        "id": walk.plant.people[Role.TECHNICIAN],
        "name": "Test technician",
        "role": "technician",
        "qualified": True,
    }
    assert [one["serial"] for one in pack["instruments"]] == ["IR-1"]


def test_what_the_site_says_and_the_permit_allows_goes_along(store: Store) -> None:
    plant = build_plant(store, boards=2)
    board = plant.equipment_ids[0]
    change(store, EquipmentRow, board, access=Access.BOLTED_COVER.value, ppe="Arc suit, level 2")
    site = {"contact_name": "Control room", "contact_phone": "ext. 4410", "safety_text": "Mind the step."}
    change(store, SiteRow, plant.site_ids[0], **site)

    ids: list[int] = []

    def permit(round_: Any, actor: Any, now: datetime) -> None:
        with store.look() as unit:
            stops = [stop.id for stop in rounds.stops_of(unit, round_.id)]
        typed = PermitFields(issuer="Desk", stand_off="2 m")
        site_id = plant.site_ids[0]
        asked = ask_permit(
            store, actor, round_.id, site_id=site_id, stop_ids=stops[:1], fields=typed, now=now
        )
        ids.append(asked.id)

    pack = pack_of(issue(store, plant=plant, before_issue=permit))
    closed, open_ = pack["stops"]
    assert closed["not_open"] == "NOT OPEN: NO PERMIT NUMBER"
    assert closed["permit"] == {"id": ids[0], "state": "asked", "number": "", "from": None, "to": None}
    assert (closed["stand_off"], closed["two_people"], closed["ppe"]) == ("2 m", True, "Arc suit, level 2")
    assert (open_["not_open"], open_["permit"]) == ("", None)
    assert open_["stand_off"] == "not given: ask the permit issuer"
    here = pack["sites"][0]
    assert (here["contact_name"], here["safety_text"]) == ("Control room", "Mind the step.")
    assert "Local codes and the site's own rules come first." in here["cautions"][0]
    assert "Only the qualified person opens covers" in here["before_doors"]
    assert closed["at_act_now"].endswith("tell Control room, ext. 4410.")


def test_a_point_brings_its_last_visit_its_past_and_its_settings(any_store: Store) -> None:
    walk = visited(any_store, boards=1, views=1)
    change(any_store, PointRow, walk.plant.point_ids[0], emissivity=0.8, emissivity_standing="measured")
    change(any_store, PointRow, walk.plant.point_ids[1], component="bolted joint", coating="tinned")
    point, limited, _third = points_of(pack_of(walk))
    assert point["past"]["count"] == 2
    assert point["last"]["on"].startswith("2026-02-09")
    assert point["last"]["current_a"] == 90.0
    assert point["past"]["low_c"] <= point["last"]["temperature_c"] <= point["past"]["high_c"]
    assert point["last"]["level"] == 0
    assert point["standing"] == {"level": 0, "at_least": False}
    assert point["trend"]["word"] == "too few visits"
    assert point["judging"]["emissivity"] == {"value": 0.8, "half_width": 0.02, "standing": "measured"}
    assert point["judging"]["brought_to_a"] == 100.0
    assert limited["judging"]["limit"]["total_c"] == 105.0  # IEC 60694 Table 3: bolted, tin, in air


def test_what_was_brought_in_on_this_round_is_stored_and_is_not_the_last_visit(any_store: Store) -> None:
    walk = visited(any_store, boards=1, views=1)
    before = points_of(pack_of(walk))[0]["last"]
    walk.bring([walk.record(0, 48.5, note="hums"), walk.record(1, None, reason="O")])
    first, second, third = points_of(pack_of(walk))
    assert first["stored"]["temperature_c"] == 48.5
    assert (first["stored"]["note"], first["stored"]["current_a"]) == ("hums", 90.0)
    assert (second["stored"]["reason"], third["stored"]) == ("O", None)
    assert first["last"] == before
    engineers = read_pack(any_store, walk.engineer, walk.round_id, now=NOW)
    assert engineers.stops[0].views[0].points[0].stored is None


def test_every_set_of_criteria_goes_along_by_the_name_its_stops_call_it_by(store: Store) -> None:
    pack = pack_of(issue(store, boards=1, bearings=1))
    assert {stop["criteria"] for stop in pack["stops"]} <= set(pack["criteria"])
    told = pack["criteria"][pack["stops"][0]["criteria"]]
    assert told["similar"]["edges"] == [[1.0, True], [3.0, False], [15.0, False]]
    assert told["similar"]["levels"] == [0, 1, 2, 4]  # ANSI/NETA MTS Table 100.18, by design.md's levels
    assert (told["exponent"], told["min_load_share"]) == (1.8, 0.4)


def test_a_technician_gets_own_rounds_only_and_others_are_told_like_absent(store: Store) -> None:
    walk = issue(store)
    other = issue(store, plant=walk.plant)
    with store.begin() as unit:
        stranger = PersonRow(
            login="s", name="S", role="technician", password_hash="!", created_at=MADE, changed_at=MADE
        )
        unit.session.add(stranger)
        unit.session.flush()
        stranger_id = stranger.id
    change(store, RoundRow, other.round_id, person_id=stranger_id, second_person_id=None)
    with pytest.raises(NotFound):
        read_pack(store, walk.technician, other.round_id, now=NOW)
    assert [line.round.id for line in list_field_rounds(store, walk.technician)] == [walk.round_id]
    assert len(list_field_rounds(store, walk.engineer)) == 2
    with pytest.raises(Forbidden):
        list_field_rounds(store, walk.plant.actor(Role.ADMINISTRATOR))


@pytest.mark.parametrize("state", ["draft", "withdrawn", "signed off"])
def test_a_round_that_takes_no_readings_has_no_pack(store: Store, state: str) -> None:
    walk = issue(store)
    change(store, RoundRow, walk.round_id, state=state)
    with pytest.raises(Conflict, match=state):
        read_pack(store, walk.technician, walk.round_id, now=NOW)
    assert list_field_rounds(store, walk.technician) == []


def test_a_pack_is_sent_again_only_when_something_changed(store: Store) -> None:
    walk = issue(store)
    now = [walk.walked_at]
    client = program_as(open_app(store, lambda: now[0]), store, walk.plant, Role.TECHNICIAN, walk.walked_at)
    address = f"/api/v1/rounds/{walk.round_id}/pack"
    first = client.get(address)
    assert first.status_code == 200
    assert first.headers["ETag"] == f'W/"{first.json()["etag"]}"'
    assert first.headers["Content-Encoding"] == "gzip"
    plain = client.get(address, headers={"Accept-Encoding": "identity"})
    assert ("Content-Encoding" in plain.headers, plain.json()) == (False, first.json())
    now[0] += timedelta(minutes=5)
    kept = {"If-None-Match": first.headers["ETag"]}
    assert client.get(address, headers=kept).status_code == 304
    walk.bring([walk.record(0, 41.0)])
    again = client.get(address, headers=kept)
    assert (again.status_code, again.json()["etag"] != first.json()["etag"]) == (200, True)
    listed = client.get("/api/v1/field/rounds").json()
    assert [(one["id"], one["points"], one["answered"]) for one in listed] == [(walk.round_id, 6, 1)]
    assert listed[0]["sites"] == ["Site 1"]


def test_a_pack_of_300_points_weighs_at_most_300_kb_on_the_way(store: Store) -> None:
    walk = visited(store, boards=20, views=5)
    assert len(walk.rows) == 300
    read = read_pack(store, walk.technician, walk.round_id, now=NOW)
    content = PackReply.of(read).model_dump_json(by_alias=True).encode()
    assert len(gzip.compress(content, 6)) <= MOST_BYTES


def test_a_pack_asks_the_database_as_often_for_many_stops_as_for_few(store: Store) -> None:
    counts = []
    plant = build_plant(store, boards=12, views=2)
    small = issue(store, plant=replace(plant, equipment_ids=plant.equipment_ids[:1]))
    large = issue(store, plant=plant)
    for walk in (small, large):
        read_pack(store, walk.technician, walk.round_id, now=NOW)
        counts.append(statements(store, lambda w=walk: read_pack(store, w.technician, w.round_id, now=NOW)))
    assert counts[0] == counts[1] <= 31


def statements(store: Store, ask: Callable[[], object]) -> int:
    asked: list[str] = []

    def note(_conn: object, _cursor: object, statement: str, *_: object) -> None:
        asked.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        ask()
    finally:
        event.remove(store.engine, "before_cursor_execute", note)
    return len(asked)


# ---- what a trend foretells, and what counts as before -------------------------------------------


def fan(*steps: tuple[int, float, float]) -> tuple[FanStep, ...]:
    return tuple(FanStep(date(2026, month, 1), low, low, low, high, high) for month, low, high in steps)


def test_between_two_months_the_range_foretold_is_read_off_the_line_between_them() -> None:
    said = TrendSaid(Trend.RISING, 0.5, fan((1, 4.0, 6.0), (3, 4.59, 7.18)))
    # 59 days from 1 January to 1 March, 1 February is the 31st: 4 + 0.59 x 31/59 by hand
    low, high = said.foretold_k(date(2026, 2, 1)) or (0.0, 0.0)
    assert (round(low, 2), round(high, 2)) == (4.31, 6.62)


@pytest.mark.parametrize("on", [date(2025, 12, 31), date(2026, 3, 2)])
def test_outside_the_days_it_was_made_for_a_trend_foretells_nothing(on: date) -> None:
    assert TrendSaid(Trend.RISING, 0.5, fan((1, 4.0, 6.0), (3, 4.6, 7.2))).foretold_k(on) is None


def before(level: Level | None, *, over: bool, episode: int = 0, counts: bool = True) -> VisitBefore:
    return VisitBefore(NOW, 36.0, 90.0, None, level, False, 1.0, None, None, over, episode, counts)


def test_a_repair_or_an_undecided_second_reading_leaves_no_line_passed_before() -> None:
    visits = [before(Level.LOOK_AGAIN, over=True)]
    assert PointBefore.of(visits, episode=0).previous_over_first_line
    assert not PointBefore.of(visits, episode=1).previous_over_first_line
    doubled = [before(Level.NOTHING_FOUND, over=False), before(Level.LOOK_AGAIN, over=True, counts=False)]
    assert not PointBefore.of(doubled, episode=0).previous_over_first_line


def test_the_neutral_and_the_trend_of_the_state_go_along(store: Store) -> None:
    walk = visited(store, visits=1, boards=1, views=1)
    change(store, ViewRow, walk.plant.view_ids[0], asks_neutral=True)
    walk.bring([walk.record(0, 36.0, neutral_a=12.5)])
    walk = issue(store, plant=walk.plant, day=date(2026, 3, 9))
    ahead = [["2026-03-01", 2.0, 2.5, 3.0, 3.5, 4.0], ["2026-04-01", 3.0, 3.5, 4.0, 4.5, 5.0]]
    change(store, PointStateRow, walk.plant.point_ids[0], trend="rising", slope_k_month=1.0, trend_fan=ahead)
    pack = pack_of(walk)
    assert pack["stops"][0]["views"][0]["neutral_last_a"] == 12.5
    assert pack["stops"][0]["views"][0]["amps"] == ["L1", "L2", "L3", "N"]
    told = points_of(pack)[0]["trend"]
    assert (told["word"], told["foretold_on"]) == ("rising", "2026-03-09")
    assert told["foretold_k"] == [2.26, 4.26]  # eight of 31 days on, by hand


def test_a_view_brings_its_latest_picture(any_store: Store) -> None:
    walked_round = walked(any_store, boards=1, views=2)
    row_uid = walked_round.issued.rows[0][0]
    walked_round.bring(encoded(number=1), file_name="a.jpg", uid="picture-1", row_uid=row_uid)
    latest = walked_round.bring(encoded(number=2), file_name="b.jpg", uid="picture-2", row_uid=row_uid)
    views = [view for stop in pack_of(walked_round.issued)["stops"] for view in stop["views"]]
    assert [view["picture"] for view in views] == [latest.uid, None]


def test_a_drawing_goes_along_and_is_seen_by_whoever_walks_there_later(any_store: Store) -> None:
    before = walked(any_store, boards=1, views=2)
    row_uid = before.issued.rows[0][0]
    with any_store.look() as unit:
        stop_id = rounds.stops_of(unit, before.issued.round_id)[0].id
    kind = PictureKind.DRAWING
    before.bring(encoded(number=1), file_name="old.png", uid="drawing-0", stop_id=stop_id, kind=kind)
    before.bring(encoded(number=2), file_name="a.png", uid="drawing-1", stop_id=stop_id, kind=kind)
    before.bring(encoded(number=3), file_name="b.png", uid="drawing-2", row_uid=row_uid, kind=kind)
    second = second_technician(any_store, before.issued.plant)
    before.issued.plant.people[Role.TECHNICIAN] = second
    later = issue(any_store, plant=before.issued.plant, day=date(2026, 12, 1))
    (stop,) = pack_of(later)["stops"]
    assert stop["drawing"] == "drawing-1"
    assert [(view["drawing"], view["picture"]) for view in stop["views"]] == [
        ("drawing-2", None),
        (None, None),
    ]
    for uid in ("drawing-1", "drawing-2"):
        picture, content, _ = see_file(
            any_store, later.technician, uid, shelf=before.shelf, what="preview_as"
        )
        assert (picture.uid, bool(content)) == (uid, True)
    with pytest.raises(NotFound):
        see_file(any_store, before.other_technician, "drawing-1", shelf=before.shelf, what="preview_as")


def test_what_a_site_was_asked_to_run_goes_along(store: Store) -> None:
    walk = visited(store, visits=1, boards=2, views=1)
    change(store, EquipmentRow, walk.plant.equipment_ids[0], duty_group="High-lift pumps")
    told = [stop["running"] for stop in pack_of(walk)["stops"]]
    assert told == ["Runs in turn (High-lift pumps). Nobody has been asked yet.", ""]
