"""Before anyone leaves: covers and dressing, stand-off against reach, sun, certificates, and what cannot wait."""

from collections.abc import Callable
from datetime import date, datetime

import pytest
from sqlalchemy import text

from service.domain.covers import DRESSING_MIN, count_covers
from service.domain.spots import Target, distance_doubts
from service.domain.stand_offs import stand_off_m
from service.domain.walking_parties import Walker, certificate_warnings
from service.domain.words import Access, Level, Role
from service.storage.tables.findings import FindingRow
from service.storage.tables.register import EquipmentRow, SiteRow
from service.storage.unit import Store
from service.usecases.findings.move_finding import tell
from service.usecases.rounds.exposure import read_exposure
from tests.builders import STAMPS, add
from tests.doors import browser_as, open_app
from tests.rounds.builders import NOW, Walk, change, cover, draft, issued, read_row, rows_of

Clock = Callable[[], datetime]
#: 25° over 160 pixels; 10 mm fill three pixels up to 10 / (3 · 2.7271) = 1.2223 m (by hand)
LENS = 2.7271


@pytest.mark.parametrize(
    ("typed", "metres"),
    [
        ("1.0 m from the open door", 1.0),
        ("1,2 m", 1.2),
        ("at least 120 cm", 1.2),
        ("4 ft", 1.2192),
        ("3.5 feet from the bars", 1.0668),
        ("900mm", 0.9),
        ("0.9 to 1.2 m", None),
        ("1 m, doors 4 to 9", None),
        ("1.0", None),
        ("1 m2 of floor", None),
        ("behind the yellow line", None),
        ("0 m", None),
        ("", None),
        ("not given: ask the permit issuer", None),
    ],
)
def test_a_stand_off_is_read_only_where_it_is_one_figure_with_a_unit(
    typed: str, metres: float | None
) -> None:
    assert stand_off_m(typed) == (None if metres is None else pytest.approx(metres))


def doubt(
    width: float | None, distance: float | None, stand_off: float | None, lens: float | None = LENS
) -> str:
    target = Target(1, "Board, F1", width, distance, 7)
    found = distance_doubts([target], ifov_mrad=lens, stand_offs_m={7: stand_off})
    return found[0].sentence if found else ""


@pytest.mark.parametrize(
    ("width", "distance", "stand_off", "told"),
    [
        (10.0, 1.1, 1.0, ""),
        (10.0, 3.0, 1.0, "Read it from 1 m to 1.2 m, where the permit allows it."),
        (10.0, 3.0, 1.5, "Not nearer than the stand-off of 1.5 m: longer lens, window, or do not read it."),
        (10.0, 3.0, None, "not given as a figure: longer lens, window, or do not read it."),
        (10.0, 0.8, 1.0, "read from 0.8 m, inside the stand-off of 1 m. Read it from 1 m to 1.2 m"),
        (
            10.0,
            0.8,
            1.5,
            "inside the stand-off of 1.5 m. Not nearer than the stand-off of 1.5 m: longer lens",
        ),
        (None, 0.8, 1.0, "inside the stand-off of 1 m. Read it from 1 m or farther"),
        (10.0, None, 1.0, ""),
        (None, 1.2, 1.0, ""),
    ],
)
def test_the_distance_lies_between_stand_off_and_reach(
    width: float | None, distance: float | None, stand_off: float | None, told: str
) -> None:
    found = doubt(width, distance, stand_off)
    assert told in found
    assert bool(told) is bool(found)


@pytest.mark.parametrize("stand_off", [0.3, 0.5, 1.0, 1.2, 1.3, 2.0, 5.0])
@pytest.mark.parametrize("distance", [0.2, 0.6, 1.1, 1.3, 4.0])
@pytest.mark.parametrize("width", [None, 2.0, 10.0, 60.0])
def test_no_place_inside_the_stand_off_is_ever_offered(
    width: float | None, distance: float, stand_off: float
) -> None:
    found = doubt(width, distance, stand_off)
    if "Read it from " in found:
        assert float(found.split("Read it from ")[1].split(" m")[0]) >= stand_off
    assert "go nearer" not in found


def test_covers_count_once_a_stop_and_dressing_follows_them() -> None:
    count = count_covers([Access.HINGED_COVER, Access.WINDOW, Access.BOLTED_COVER, Access.HINGED_COVER])
    assert (count.opened, dict(count.by_access)[Access.HINGED_COVER]) == (3, 2)
    assert count.dressing_min == 2 * DRESSING_MIN[Access.HINGED_COVER] + DRESSING_MIN[Access.BOLTED_COVER]
    assert set(DRESSING_MIN) == set(Access)


def test_the_year_counts_covers_at_which_something_was_read(any_store: Store) -> None:
    walk = issued(any_store, boards=3)
    for equipment in walk.plant.equipment_ids[:2]:
        cover(any_store, equipment)
    rows = rows_of(any_store, walk.round.id)
    read_row(any_store, rows[0])
    read_row(any_store, rows[1])
    read_row(any_store, rows[6], reason="K")
    later = datetime(2026, 12, 20, tzinfo=NOW.tzinfo)
    seen = read_exposure(any_store, walk.engineer, walk.round.id, now=later)
    assert seen.covers.opened == 2
    assert [(one.site_name, one.count.opened) for one in seen.year] == [("Site 1", 1)]
    assert read_exposure(any_store, walk.engineer, walk.round.id, now=NOW).year == (), "walked on 8 December"


def pages(walk: Walk, clock: Clock, *paths: str, role: Role = Role.ENGINEER) -> list[str]:
    browser = browser_as(open_app(walk.store, clock), walk.store, walk.plant, role, NOW)
    told = [browser.get(path) for path in paths]
    assert [answer.status_code for answer in told] == [200] * len(paths)
    return [answer.text.replace("\u00a0", " ").replace("\u202f", " ") for answer in told]


def test_builder_and_sheet_say_what_is_wrong_with_a_distance(store: Store, clock: Clock) -> None:
    walk = draft(store)
    change(store, EquipmentRow, walk.plant.equipment_ids[0], stand_off="1.5 m from the bars")
    with store.begin() as unit:
        unit.session.execute(text("UPDATE instruments SET field_of_view_deg = 25, pixels = 160"))
        unit.session.execute(text("UPDATE points SET target_mm = 10, distance_m = 3 WHERE id = 1"))
    at = f"/rounds/{walk.round.id}"
    wanted = "Not nearer than the stand-off of 1.5 m: longer lens, window, or do not read it."
    for page in pages(walk, clock, f"{at}/build", f"{at}/sheets", at, f"{at}/go"):
        assert page.count(wanted) == 1
        assert "go nearer" not in page


def test_an_outdoor_stop_in_the_sun_is_flagged_on_the_clock_of_its_site(store: Store, clock: Clock) -> None:
    walk = draft(store)
    change(store, SiteRow, walk.plant.site_ids[0], latitude=54.6, longitude=-2.7)
    change(store, EquipmentRow, walk.plant.equipment_ids[0], outdoor=True)
    (early,) = pages(walk, clock, f"/rounds/{walk.round.id}/build")
    assert "Site 1: sun up 08:" in early
    assert "may load it" not in early, "07:10 in December is before sunrise"
    with store.begin() as unit:
        unit.session.execute(text("UPDATE rounds SET start_min = 700"))
    (noon,) = pages(walk, clock, f"/rounds/{walk.round.id}/build")
    assert "may load it: read before 08:" in noon
    change(store, SiteRow, walk.plant.site_ids[0], latitude=None)
    (unknown,) = pages(walk, clock, f"/rounds/{walk.round.id}/build")
    assert "coordinates are not on record" in unknown


DAY = date(2026, 12, 8)


def walker(name: str, *certificates: tuple[int, date]) -> Walker:
    return Walker(1, name, Role.TECHNICIAN, True, True, certificates)


def test_certificates_are_held_against_the_day_of_the_round() -> None:
    first = walker("A. Reader", (1, date(2027, 1, 1)))
    late = walker("B. Late", (2, date(2026, 12, 7)))
    signs = walker("C. Signs", (2, DAY))
    assert certificate_warnings(first, signs, day=DAY) == []
    assert certificate_warnings(signs, None, day=DAY) == []
    (told,) = certificate_warnings(first, None, day=DAY)
    assert told.startswith("Signing needs the second category, which A. Reader does not hold")
    ran_out, nobody = certificate_warnings(late, None, day=DAY)
    assert ran_out == "B. Late has no certificate valid on 8 Dec 2026: the last ran out on 7 Dec 2026."
    assert "B. Late does not hold" in nobody
    assert "none is on record" in certificate_warnings(walker("D. None"), signs, day=DAY)[0]
    assert certificate_warnings(None, None, day=DAY) == []


def test_build_and_issue_name_a_certificate_that_runs_out_first(store: Store, clock: Clock) -> None:
    walk = draft(store)
    with store.begin() as unit:
        unit.session.execute(text("UPDATE certificates SET expires_on = '2026-12-07'"))
    for page in pages(walk, clock, f"/rounds/{walk.round.id}/build", f"/rounds/{walk.round.id}"):
        assert "the last ran out on 7 Dec 2026" in page
        assert "Signing needs the second category" in page
    assert "no certificate valid on that day" in pages(walk, clock, f"/rounds/{walk.round.id}/build")[0]


def hot(store: Store, walk: Walk) -> int:
    with store.begin() as unit:
        row = add(
            unit,
            FindingRow(
                client_id=walk.plant.client_id, site_id=walk.plant.site_ids[0],
                point_id=walk.plant.point_ids[0], title="Joint glows", state="open",
                level=Level.ACT_NOW.value, opened_at=NOW, **STAMPS,
            ),
        )  # fmt: skip
        return int(row.id)


def test_an_act_now_that_nobody_was_told_of_waits_for_no_round(any_store: Store, clock: Clock) -> None:
    walk = draft(any_store)
    finding = hot(any_store, walk)
    places = ("/rounds", f"/rounds/{walk.round.id}/build", f"/rounds/{walk.round.id}")
    for page in pages(walk, clock, *places):
        assert "Act now does not wait for " in page
        assert f'href="/findings/{finding}"' in page
    tell(
        any_store, walk.engineer, finding_id=finding, told_whom="Control room", told_at=NOW, answer="",
        now=NOW,
    )  # fmt: skip
    assert not [page for page in pages(walk, clock, *places) if "does not wait" in page]
