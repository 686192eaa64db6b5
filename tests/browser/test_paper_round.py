"""A whole paper round typed in by keyboard alone; what came back, signed sheets and labels as they are seen."""

import re
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from service.domain.readings import Reading
from service.domain.words import Reason, Role, RoundState
from service.storage import readings, rounds
from service.storage.files import FileShelf
from service.storage.tables.register import ViewRow
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from service.usecases.labels.make import Wanted, make_labels
from service.usecases.rounds.questions import ask
from service.usecases.rounds.sheet_scans import SentFile, bring_scans
from tests.browser.conftest import Visitor, seen
from tests.conftest import NOW
from tests.doors import files_of, session_of
from tests.readings.builders import Issued, issue
from tests.rounds.builders import change
from tests.rounds.test_sheet_scans import PDF

pytestmark = pytest.mark.browser
Visit = Callable[[str], Visitor]
WALKED = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)


def paper(store: Store) -> Issued:
    """An issued round of two boards of two views and a pump, walked yesterday."""
    ensure_presets(store, now=WALKED)
    return issue(store, boards=2, views=2, bearings=1, walked_at=WALKED)


def stored(round_: Issued) -> dict[str, Reading]:
    """By row id what is stored and valid."""
    with round_.store.look() as unit:
        found = readings.readings_of_round(unit, round_.round_id, after=0, limit=100)
        row_uid = {row.id: row.uid for row in rounds.points_of(unit, round_.round_id)}
    return {row_uid[one.row_id or 0]: one for one in found if one.current}


def here(page: Page) -> str:
    """The name of the box in which the next letter goes."""
    return str(page.evaluate("document.activeElement.name || document.activeElement.textContent.trim()"))


def ready(page: Page, heading: str) -> None:
    """A sheet is open and its keys are at work."""
    expect(page.locator("h1")).to_contain_text(heading, timeout=30_000)
    page.locator("form[data-typing=ready]").wait_for()


def open_sheet(page: Page, code: str) -> None:
    """Type the code printed on a sheet: Enter opens its page."""
    page.wait_for_load_state("networkidle")  # the keys are at work
    page.keyboard.press("/")
    expect(page.locator("#field-code")).to_be_focused()
    page.keyboard.type(code)
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/return/stops/"))


def type_boxes(page: Page, *texts: str, key: str = "Enter") -> list[str]:
    """Type into one box after the other; the names of the boxes, in the order in which they came."""
    names = []
    for text in texts:
        names.append(here(page))
        page.keyboard.type(text)
        page.keyboard.press(key)
    return names


def names_of(round_: Issued, places: list[int], *, amps: bool = True, neutral: bool = False) -> list[str]:
    """Boxes of one row as printed: temperatures, amps, the neutral, the letter."""
    uids, view = [round_.rows[place][0] for place in places], round_.rows[places[0]][3]
    found = [f"temperature_c-{uid}" for uid in uids]
    found += [f"current_a-{uid}" for uid in uids] if amps else []
    found += [f"neutral_a-v{view}"] if neutral else []
    return [*found, f"letter-v{view}"]


def test_a_whole_paper_round_is_typed_by_keyboard_alone(
    store: Store, address: str, visit: Visit, now: datetime
) -> None:
    round_ = paper(store)
    change(store, ViewRow, round_.rows[3][3], asks_neutral=True)
    with store.look() as unit:
        codes = [stop.sheet_code for stop in rounds.stops_of(unit, round_.round_id)]
    visitor = visit(address)
    page = visitor.with_session(session_of(store, round_.plant.people[Role.TECHNICIAN], now))
    page.goto("/rounds")

    # the code of the first sheet opens its page, with the first box waiting
    open_sheet(page, str(codes[0]).lower())
    ready(page, "Stop 1")
    expect(page.locator("#field-taken-at")).to_be_focused()

    # sheet 1: the head, a row of figures, and a row that could not be read
    head = ["taken_at", "ambient_c-stop", "reflected_c-stop", "wind_m_s-stop"]
    assert type_boxes(page, "2026-11-24 08:30", "24,5", "23", "") == head
    figures = type_boxes(page, "40,1", "40,4", "40,2", "90", "91", "90", "")
    assert figures == names_of(round_, [0, 1, 2])
    letter = type_boxes(page, "", "", "", "", "", "", "", "k", key="Tab")
    assert letter == names_of(round_, [3, 4, 5], neutral=True)
    assert here(page) == "note-stop"
    page.keyboard.type("smells of varnish")
    page.keyboard.press("PageDown")

    # sheet 2: two mistakes are told, and the first of their boxes is waiting
    ready(page, "Stop 2")
    expect(page.locator("#field-taken-at")).to_be_focused()
    type_boxes(page, "2026-11-24 08:50", "24", "", "")
    type_boxes(page, "forty", "40", "40", "90", "90", "90", "")
    type_boxes(page, "", "", "", "", "", "", "z")
    page.keyboard.press("PageDown")
    expect(page.get_by_role("alert")).to_contain_text(re.compile("2.problems"), timeout=30_000)
    ready(page, "Stop 2")
    (refused,) = visitor.complaints  # the browser notes that the page was refused, and nothing else
    assert "422" in refused
    visitor.complaints.clear()
    wrong = page.locator(f"#field-temperature-c-{round_.rows[6][0]}")
    expect(wrong).to_be_focused()
    page.keyboard.type("40")
    for _ in range(13):
        page.keyboard.press("Enter")
    assert here(page) == f"letter-v{round_.rows[9][3]}"
    page.keyboard.type("o")
    # at the end of the sheet Enter stands on the button, and presses it
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    assert here(page) == "Keep, next sheet"
    page.keyboard.press("Enter")

    # sheet 3: an odd figure is asked about once; one look, one key
    ready(page, "Stop 3")
    expect(page.locator("#field-taken-at")).to_be_focused()
    type_boxes(page, "2026-11-24 09:10", "70")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    assert here(page) == f"temperature_c-{round_.rows[12][0]}"
    page.keyboard.type("52")
    page.keyboard.press("PageDown")
    expect(page.locator("#field-looked")).to_be_focused()
    ready(page, "Stop 3")
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/return$"))
    assert "13 of 13" in page.locator("h1").inner_text().replace("\u00a0", " ").replace("\u202f", " ")

    found = stored(round_)
    first = found[round_.rows[0][0]]
    assert (first.temperature_c, first.ambient_c, first.reflected_c, first.current_a) == (
        40.1,
        24.5,
        23.0,
        90.0,
    )
    assert first.note == "smells of varnish"
    assert first.taken_at == datetime(2026, 11, 24, 8, 30, tzinfo=UTC)
    reasons = [found[row[0]].not_assessable for row in round_.rows]
    assert reasons == [None] * 3 + [Reason.LOCKED] * 3 + [None] * 3 + [Reason.OFF] * 3 + [None]
    with store.look() as unit:
        made = rounds.round_by_id(unit, round_.round_id)
    assert made is not None
    assert made.state is RoundState.RETURNED

    # back one sheet by key, and nothing else was touched
    page.goto(f"/rounds/{round_.round_id}/return")
    open_sheet(page, str(codes[1]))
    ready(page, "Stop 2")
    expect(page.locator(f"#field-letter-v{round_.rows[9][3]}")).to_have_value("O")
    page.keyboard.press("PageUp")
    expect(page.locator("h1")).to_contain_text("Stop 1")
    expect(page.locator("#field-ambient-c-stop")).to_have_value("24.5")


def received(store: Store) -> Issued:
    """A returned round with something of each kind, a signed sheet and two questions."""
    round_ = paper(store)
    records = [round_.record(place, 40.0 + (9.0 if place == 1 else 0.0)) for place in range(9)]
    records.append(round_.record(9, None, reason="K", current_a=None, ambient_c=None))
    round_.bring(records, now=NOW)
    round_.bring([round_.record(0, 44.0)], actor=round_.engineer, now=NOW)
    sent = [SentFile("a sheet without a code in its name.pdf", PDF)]
    files = FileShelf(files_of(store))
    bring_scans(store, round_.engineer, round_.round_id, files=files, sent=sent, typed_code="", now=NOW)
    for place in (1, 9):
        text = "Was the fan running when you read it?"
        ask(store, round_.engineer, round_.round_id, row_uid=round_.rows[place][0], text=text, now=NOW)
    return round_


@pytest.mark.parametrize(("size", "dark"), seen("light desk", "dark phone"))
def test_the_pages_about_paper_fit_and_are_accessible(
    store: Store, address: str, visit: Visit, now: datetime, *, dark: bool, size: dict[str, int]
) -> None:
    round_ = received(store)
    wanted = Wanted(site_id=round_.plant.site_ids[0])
    make_labels(store, round_.engineer, wanted, now=now)
    with store.look() as unit:
        stop = rounds.stops_of(unit, round_.round_id)[0]
    base, site = f"/rounds/{round_.round_id}", round_.plant.site_ids[0]
    page = visit(address).with_session(
        session_of(store, round_.plant.people[Role.ENGINEER], now), size=size, dark=dark
    )
    faults = []
    for place in (
        f"{base}/reception",
        f"{base}/questions",
        f"{base}/scans",
        f"{base}/sign-off",
        f"{base}/return/stops/{stop.id}",
        "/labels",
        f"/labels?site={site}",
        f"/labels/sheets?site={site}",
        "/desk",
    ):
        answer = page.goto(place)
        assert answer is not None
        if answer.status != 200:
            faults.append(f"{place}: {answer.status}")
            continue
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            faults.append(f"{place}: wider than the screen")
        violations = Axe().run(page).response["violations"]
        faults += [f"{place}: {rule['id']} {rule['nodes'][0]['html'][:150]}" for rule in violations]
    assert faults == []


def test_a_question_is_sent_back_and_answered_without_script(
    store: Store, address: str, visit: Visit, now: datetime
) -> None:
    round_ = received(store)
    engineer, technician = (
        visit(address).with_session(
            session_of(store, round_.plant.people[role], now), java_script_enabled=False
        )
        for role in (Role.ENGINEER, Role.TECHNICIAN)
    )
    engineer.goto(f"/rounds/{round_.round_id}/reception")
    engineer.get_by_role("link", name=re.compile("^Ask about")).nth(2).click()
    engineer.get_by_label("Ask those who walked it").fill("Which side did you stand?")
    engineer.get_by_role("button", name="Send it back").click()
    technician.goto("/desk")
    technician.get_by_role("link", name=re.compile("3 questions wait")).click()
    last = technician.locator("li[id^=question-]").last
    last.locator("textarea").fill("At the door side")
    last.get_by_role("button", name="Answer").click()
    expect(technician.locator("h1")).to_contain_text("2")
    engineer.goto(f"/rounds/{round_.round_id}/reception")
    expect(engineer.locator("#questions ~ ul")).to_contain_text("At the door side")


def test_labels_fill_a4_to_its_edges_and_break_between_sheets(
    store: Store, address: str, visit: Visit, now: datetime
) -> None:
    round_ = issue(store, boards=9, views=1, bearings=4)
    page = visit(address).with_session(session_of(store, round_.plant.people[Role.ENGINEER], now))
    page.goto(f"/labels?site={round_.plant.site_ids[0]}")
    page.get_by_label("Labels a sheet, across by down").select_option("2x5")
    page.get_by_label("Begin at place").fill("4")
    page.get_by_label("Margin top and bottom").fill("6")
    page.get_by_label("Draw where to cut").check()
    page.get_by_role("button", name="Make the labels").click()
    expect(page.locator("h1")).to_contain_text(re.compile("13.labels on 2.sheets"))
    printed = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type /Page\b", printed)) == 2
    assert re.search(rb"/MediaBox \[0 0 59[45](\.\d+)? 84[12](\.\d+)?\]", printed), "not A4"
    page.emulate_media(media="print")
    box = page.locator(".label-sheet").first.bounding_box()
    assert box is not None
    # 96 pixels an inch (CSS Values 4, absolute lengths): 210 by 297 mm
    assert box["width"] == pytest.approx(210 / 25.4 * 96, abs=1)
    assert box["height"] == pytest.approx(297 / 25.4 * 96, abs=1)
    assert box["x"] == pytest.approx(0, abs=0.6)
    assert page.locator(".label-sheet").first.locator("g[data-code]").count() == 7
    texts = page.locator(".label-sheet g").first.locator("text").all_text_contents()
    assert "permits nothing" in " ".join(texts)
    wide = page.evaluate(
        """() => [...document.querySelectorAll('.label-sheet g')].flatMap((label) => {
            const edge = label.querySelector('.cut').getBoundingClientRect();
            return [...label.querySelectorAll('text')].filter((line) => {
                const box = line.getBoundingClientRect();
                return box.right > edge.right || box.top < edge.top || box.bottom > edge.bottom;
            }).map((line) => line.textContent);
        })"""
    )
    assert wide == [], "words beyond the edge of their label"
