"""The list of permits to ask for: whom, by when, which covers, and what is noted already."""

import csv
import io
from collections.abc import Callable
from datetime import date, datetime

import pytest

from service.domain.words import Access, Role
from service.domain.working_days import working_days_before
from service.errors import Forbidden, Invalid
from service.storage import rounds
from service.storage.tables.register import EquipmentRow, SiteRow
from service.storage.unit import Store
from service.usecases.rounds.permit_requests import list_permit_requests
from service.usecases.rounds.permits import PermitFields, ask_permit
from tests.doors import browser_as, open_app
from tests.rounds.builders import DAY, NOW, Walk, change, cover, draft

Clock = Callable[[], datetime]


@pytest.mark.parametrize(
    ("day", "count", "found"),
    [
        (date(2026, 12, 8), 5, date(2026, 12, 1)),
        (date(2026, 12, 8), 1, date(2026, 12, 7)),
        (date(2026, 12, 7), 1, date(2026, 12, 4)),
        (date(2026, 12, 6), 0, date(2026, 12, 4)),
        (date(2026, 12, 6), 1, date(2026, 12, 3)),
        (date(2026, 12, 8), 0, date(2026, 12, 8)),
        (date(2026, 1, 5), 10, date(2025, 12, 22)),
    ],
)
def test_working_days_against_numpy_and_by_hand(day: date, count: int, found: date) -> None:
    """Kind: reference library (numpy.busday_offset, Monday to Friday) for each row."""
    import numpy as np

    assert working_days_before(day, count) == found
    assert np.busday_offset(day, -count, roll="backward").astype(date) == found


def two_sites(store: Store) -> Walk:
    walk = draft(store, sites=2, boards=2)
    for equipment in walk.plant.equipment_ids[:3]:
        cover(store, equipment)
    change(store, EquipmentRow, walk.plant.equipment_ids[2], access=Access.BOLTED_COVER.value)
    change(store, EquipmentRow, walk.plant.equipment_ids[2], voltage_class="11 kV")
    change(store, SiteRow, walk.plant.site_ids[0], contact_name="Duty desk", contact_phone="555 0100")
    return walk


def asked(walk: Walk, **change: object):  # type: ignore[no-untyped-def]
    at = {"first": date(2026, 12, 1), "last": date(2026, 12, 31), "lead_days": 5, "now": NOW} | change
    return list_permit_requests(walk.store, walk.engineer, **at)  # type: ignore[arg-type]


def test_each_site_is_asked_for_its_own_covers_in_time(any_store: Store) -> None:
    walk = two_sites(any_store)
    first, second = asked(walk).sites
    assert (first.name, first.contact_name, first.covers, first.waiting) == ("Site 1", "Duty desk", 2, 2)
    assert (second.name, second.covers) == ("Site 2", 1)
    (one,) = second.requests
    assert one.stops[0].stop.facts.voltage_class == "11 kV"
    assert (one.round.planned_on, one.ask_by) == (DAY, date(2026, 12, 1))
    assert one.person is not None
    assert one.from_min < one.to_min
    assert not one.late(date(2026, 12, 1))
    assert one.late(date(2026, 12, 2))


def test_what_is_asked_for_waits_no_longer(any_store: Store) -> None:
    walk = two_sites(any_store)
    with any_store.look() as unit:
        stops = [
            stop.id for stop in rounds.stops_of(unit, walk.round.id) if stop.site_id == walk.plant.site_ids[0]
        ]
    ask_permit(
        any_store, walk.engineer, walk.round.id, site_id=walk.plant.site_ids[0], stop_ids=stops,
        fields=PermitFields(), now=NOW,
    )  # fmt: skip
    first, second = asked(walk).sites
    assert (first.waiting, second.waiting) == (0, 1)
    assert not first.requests[0].late(date(2027, 1, 1))


def test_other_spans_are_empty_and_wrong_ones_refused(store: Store) -> None:
    walk = two_sites(store)
    assert asked(walk, first=date(2027, 2, 1), last=date(2027, 2, 28)).sites == ()
    for wrong in (
        {"last": date(2026, 11, 1)},
        {"last": date(2028, 1, 1)},
        {"lead_days": -1},
        {"lead_days": 61},
    ):
        with pytest.raises(Invalid):
            asked(walk, **wrong)
    with pytest.raises(Forbidden):
        list_permit_requests(store, walk.technician(), first=DAY, last=DAY, lead_days=5, now=NOW)


def test_the_page_and_the_file_say_the_same(store: Store, clock: Clock) -> None:
    walk = two_sites(store)
    change(store, EquipmentRow, walk.plant.equipment_ids[0], name="=1+1")
    browser = browser_as(open_app(store, clock), store, walk.plant, Role.ENGINEER, NOW)
    page = browser.get("/rounds/permits?first=2026-12-01&last=2026-12-31").text
    assert "Three covers wait for a permit to be asked for at two sites" in page
    assert "Ask <b>Duty desk</b>, 555 0100" in page
    assert "own rule, no source" in page
    assert "it permits nothing" in page
    file = browser.get("/rounds/permits.csv?first=2026-12-01&last=2026-12-31")
    assert file.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(file.content.decode("utf-8-sig"))))
    assert [row["equipment_tag"] for row in rows] == ["S1-MCC1", "S1-MCC2", "S2-MCC1"]
    assert rows[0]["equipment"] == "'=1+1"
    assert {row["permit"] for row in rows} == {"to be asked for"}
    assert [row["ask_by"] for row in rows] == ["2026-12-01"] * 3
    wrong = browser.get("/rounds/permits?first=soon&lead=x")
    assert wrong.status_code == 422
    assert 'href="#field-first"' in wrong.text
    assert 'href="/rounds/permits"' in browser.get("/rounds").text
