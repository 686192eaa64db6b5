"""Pictures in a browser: dropped on a round, drawn on by dragging, compared under one cross."""

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from service.domain.pictures import MarkShape, PictureKind
from service.domain.words import Role
from service.storage.unit import Store
from service.usecases.pictures.see import list_round_pictures, see_picture
from tests.browser.conftest import Visitor, seen
from tests.doors import session_of
from tests.pictures.builders import Walked, drawn, encoded, walked

FAULTS = "document.documentElement.scrollWidth > innerWidth"


def taken(walk: Walked, number: int) -> list[str]:
    """A thermal and a visible picture of the first row; their ids."""
    row, at = walk.issued.rows[0][0], walk.issued.walked_at
    return [
        walk.bring(
            encoded(picture=drawn(number + 10 * place, (320, 240))), row_uid=row, kind=kind, taken_at=at
        ).uid
        for place, kind in enumerate(PictureKind)
    ]


def cross_of(page: Page) -> list[tuple[str | None, str | None]]:
    """Where the cross stands in each picture."""
    crosses = page.locator(".cross").all()
    return [
        (
            cross.locator("line[data-along=x]").first.get_attribute("x1"),
            cross.locator("line[data-along=y]").first.get_attribute("y1"),
        )
        for cross in crosses
    ]


@pytest.mark.parametrize(("size", "dark"), seen("light desk", "dark phone"))
def test_pages_of_pictures_fit_are_accessible_and_work_by_pointer_and_keys(
    store: Store,
    address: str,
    visit: Callable[[str], Visitor],
    now: datetime,
    *,
    size: dict[str, int],
    dark: bool,
) -> None:
    walk = walked(store, boards=1, views=2)
    later = walked(store, plant=walk.issued.plant, day=date(2026, 11, 25))
    first, _ = taken(walk, 1), taken(later, 2)
    lost = walk.bring(encoded(number=50)).uid
    engineer = walk.issued.plant.people[Role.ENGINEER]
    page = visit(address).with_session(session_of(store, engineer, now), size=size, dark=dark)
    point = f"/points/{walk.issued.rows[0][2]}"
    look = f"/pictures/{first[0]}/look"
    faults = []
    for place in (
        point,
        f"{point}/pictures",
        f"/rounds/{walk.issued.round_id}/pictures",
        look,
        f"{point}/pictures/compare",
    ):
        answer = page.goto(place)
        assert answer is not None
        assert answer.status == 200, place
        faults += [f"{place}: wider than the screen"] if page.evaluate(FAULTS) else []
        found = Axe().run(page).response["violations"]
        faults += [f"{place}: {rule['id']} {rule['nodes'][0]['html'][:150]}" for rule in found]
    assert faults == []
    frames = page.locator("[data-cross]")
    expect(frames).to_have_count(4)
    frames.nth(1).focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowUp")
    assert cross_of(page) == [("51%", "40%")] * 4
    page.goto(look)
    page.get_by_label("Ring").check()
    page.evaluate("scrollTo(0, 0)")
    box = page.locator("[data-behaviour~=marks]").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * 0.2, box["y"] + box["height"] * 0.2)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.6, steps=4)
    page.mouse.up()
    page.get_by_role("button", name="Draw it").click()
    expect(page.locator(".drawn-mark ellipse")).to_have_count(2)
    (mark,) = see_picture(store, walk.engineer, first[0]).picture.marks
    assert mark.shape is MarkShape.RING
    ends = (mark.x_from, mark.y_from, mark.x_to, mark.y_to)
    assert ends == pytest.approx((20, 20, 50, 60), abs=1)
    assert not see_picture(store, walk.engineer, lost).picture.placed


def test_files_dropped_on_a_box_come_in_as_if_chosen(
    store: Store, address: str, visit: Callable[[str], Visitor], now: datetime, tmp_path: Path
) -> None:
    walk = walked(store, boards=1, views=1)
    technician = walk.issued.plant.people[Role.TECHNICIAN]
    page = visit(address).with_session(session_of(store, technician, now))
    page.goto(f"/rounds/{walk.issued.round_id}/pictures")
    expect(page.locator("[data-drop=visible] [data-drop-words]")).to_contain_text("drop them here")
    held = page.evaluate_handle(
        """content => {
          const held = new DataTransfer();
          held.items.add(new File([new Uint8Array(content)], "TH_0402.jpg", { type: "image/jpeg" }));
          return held;
        }""",
        list(encoded(number=4)),
    )
    page.dispatch_event("[data-drop=visible]", "drop", {"dataTransfer": held})
    expect(page.locator("[data-drop=visible] [data-drop-words]")).to_contain_text("1 chosen")
    (tmp_path / "VI_1.png").write_bytes(encoded("PNG", 5))
    page.locator("#field-thermal").set_input_files(tmp_path / "VI_1.png")
    page.get_by_role("button", name="Bring them in").click()
    expect(page.locator("h1")).to_have_text("Two pictures, one without a place")
    found = list_round_pictures(store, walk.technician, walk.issued.round_id).pictures
    assert {(one.file_name, one.kind, one.placed) for one in found} == {
        ("TH_0402.jpg", PictureKind.VISIBLE, True),
        ("VI_1.png", PictureKind.THERMAL, False),
    }
