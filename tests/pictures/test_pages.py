"""The pages of pictures without any script: many brought at once, placed, drawn on, compared."""

import re
from collections.abc import Iterator
from datetime import date

import pytest
from sqlalchemy import event
from starlette.testclient import TestClient

from service.domain.pictures import PictureKind
from service.domain.words import Role
from service.storage.unit import Store
from service.usecases.pictures.see import list_round_pictures, see_picture
from tests.conftest import NOW
from tests.doors import browser_as, open_app
from tests.pictures.builders import Walked, encoded, exif_of, walked

OGG = b"OggS" + b"\0" * 40


@pytest.fixture
def walk(store: Store) -> Walked:
    return walked(store)


def signed_in(walk: Walked, role: Role) -> TestClient:
    return browser_as(open_app(walk.store, lambda: NOW), walk.store, walk.issued.plant, role, NOW)


@pytest.fixture
def technician(walk: Walked) -> Iterator[TestClient]:
    with signed_in(walk, Role.TECHNICIAN) as made:
        yield made


def of_round(walk: Walked) -> str:
    return f"/rounds/{walk.issued.round_id}/pictures"


def jpeg(name: str, number: int, at: str = "") -> tuple[str, bytes, str]:
    return name, encoded(number=number, exif=exif_of(at) if at else None), "image/jpeg"


def test_many_files_come_in_at_once_and_find_their_places(technician: TestClient, walk: Walked) -> None:
    files = [
        ("thermal", jpeg("TH_0401.jpg", 1)),
        ("thermal", jpeg("VI_7.jpg", 2, "2026:11:24 08:03:10")),
        ("visible", jpeg("IMG_1.jpg", 3)),
    ]
    answer = technician.post(of_round(walk), files=files)
    assert answer.status_code == 303
    page = technician.get(of_round(walk)).text
    assert "Three pictures, one without a place" in page
    assert "placed by the code in its name (401)" in page
    assert "placed by its time" in page
    seen = list_round_pictures(walk.store, walk.technician, walk.issued.round_id)
    assert [one.kind for one in seen.pictures].count(PictureKind.VISIBLE) == 1
    assert "What do these show?" in page
    again = technician.post(of_round(walk), files=files)
    assert again.status_code == 303
    assert len(list_round_pictures(walk.store, walk.technician, walk.issued.round_id).pictures) == 3


def test_what_is_wrong_is_told_file_by_file_and_the_good_ones_stay(
    technician: TestClient, walk: Walked
) -> None:
    files = [
        ("thermal", jpeg("TH_0401.jpg", 1)),
        ("thermal", ("report.jpg", b"%PDF-1.7 ", "image/jpeg")),
        ("visible", ("<b>page</b>.jpg", b"<html><script>alert(1)</script>", "image/jpeg")),
    ]
    answer = technician.post(of_round(walk), files=files)
    assert answer.status_code == 200
    (told,) = re.findall(r'<h2 id="refused-title">(.*?)</h2>', answer.text)
    assert told == "2\u00a0files could not be kept. One picture kept, in its place."
    assert "<b>report.jpg</b>: This is no JPEG, PNG or WebP picture." in answer.text
    assert "Found: a PDF." in answer.text
    assert "<b>b&gt;.jpg</b>: " in answer.text, "the last part of its name, escaped"
    assert "<script>alert" not in answer.text
    assert len(list_round_pictures(walk.store, walk.technician, walk.issued.round_id).pictures) == 1
    bad = technician.post(of_round(walk), files=[files[1]])
    assert bad.status_code == 422
    assert "1\u00a0file could not be kept." in bad.text
    empty = (  # as a browser sends a form in which no file was chosen
        b'--x\r\nContent-Disposition: form-data; name="thermal"; filename=""\r\n'
        b"Content-Type: application/octet-stream\r\n\r\n\r\n--x--\r\n"
    )
    none = technician.post(
        of_round(walk), content=empty, headers={"Content-Type": "multipart/form-data; boundary=x"}
    )
    assert none.status_code == 422
    assert 'href="#field-thermal"' in none.text


def test_too_many_files_at_once_are_refused_before_any_is_read(technician: TestClient, walk: Walked) -> None:
    files = [("thermal", (f"{number}.jpg", b"x", "image/jpeg")) for number in range(61)]
    assert technician.post(of_round(walk), files=files).status_code == 413


def test_those_without_a_place_are_placed_by_a_choice_each(technician: TestClient, walk: Walked) -> None:
    first, second = walk.bring(encoded(number=1)), walk.bring(encoded(number=2))
    page = technician.get(of_round(walk)).text
    row, tag, _, _ = walk.issued.rows[3]
    assert f'<option value="row {row}">{tag}' in page
    data = {
        f"place-{first.uid}": f"row {row}",
        f"version-{first.uid}": "1",
        f"place-{second.uid}": "",
        f"version-{second.uid}": "1",
    }
    assert technician.post(f"{of_round(walk)}/places", data=data).status_code == 303
    page = technician.get(of_round(walk)).text
    assert "Two pictures, one without a place" in page
    assert "placed by hand" in page
    wrong = technician.post(
        f"{of_round(walk)}/places", data={f"place-{second.uid}": "row nowhere", f"version-{second.uid}": "1"}
    )
    assert wrong.status_code == 422
    stale = technician.post(
        f"{of_round(walk)}/places", data={f"place-{second.uid}": f"row {row}", f"version-{second.uid}": "7"}
    )
    assert stale.status_code in (409, 412)


def test_a_picture_is_described_drawn_on_spoken_to_and_taken_out(
    technician: TestClient, walk: Walked
) -> None:
    uid = walk.bring(file_name="TH_0401.jpg").uid
    look = f"/pictures/{uid}/look"
    phrase = re.search(r"<option>([^<]+)</option>", technician.get(look).text)
    assert phrase is not None
    said = {"note": "From the left.", "phrase": phrase[1], "kind": "visible", "version": "1"}
    assert technician.post(f"/pictures/{uid}/details", data=said).headers["location"] == look
    assert f"From the left. {phrase[1]}" in technician.get(look).text
    ends = {"x_from": "10", "y_from": "12,5", "x_to": "40", "y_to": "50"}
    drawn = technician.post(
        f"/pictures/{uid}/marks", data=ends | {"shape": "arrow", "words": "here", "version": "2"}
    )
    assert drawn.status_code == 303
    page = technician.get(look).text
    assert 'x1="10.0%" y1="12.5%" x2="40.0%" y2="50.0%"' in page
    assert 'marker-end="url(#tip-over-' in page
    assert 'x1="10.0%"' not in technician.get(f"{look}?marks=off").text
    assert technician.post(f"/pictures/{uid}/marks/0/take-back", data={"version": "3"}).status_code == 303
    assert technician.post(f"/pictures/{uid}/marks/5/take-back", data={"version": "4"}).status_code == 404
    spoken = technician.post(f"/pictures/{uid}/voice", files={"file": ("n.ogg", OGG, "audio/ogg")})
    assert spoken.status_code == 303
    heard = technician.get(f"/pictures/{uid}/voice")
    assert (heard.content, heard.headers["content-type"]) == (OGG, "audio/ogg")
    assert heard.headers["content-disposition"] == f'attachment; filename="note-{uid}.ogg"'
    out = technician.post(f"/pictures/{uid}/retire", data={"reason": "Of another board", "version": "5"})
    assert out.status_code == 303
    page = technician.get(look).text
    assert "Of another board" in page
    assert "Keep this" not in page
    assert uid not in technician.get(of_round(walk)).text


def test_what_is_wrong_is_told_at_its_box_and_what_was_typed_stays(
    technician: TestClient, walk: Walked
) -> None:
    uid = walk.bring().uid
    wrong = technician.post(
        f"/pictures/{uid}/marks",
        data={"shape": "ring", "x_from": "", "y_from": "x", "x_to": "140", "y_to": "5", "version": "1"},
    )
    assert wrong.status_code == 422
    for field in ("x-from", "y-from"):
        assert f'href="#field-{field}"' in wrong.text
    outside = technician.post(
        f"/pictures/{uid}/marks",
        data={"shape": "ring", "x_from": "1", "y_from": "2", "x_to": "140", "y_to": "5", "version": "1"},
    )
    assert 'href="#field-x-to"' in outside.text
    assert 'value="140"' in outside.text
    assert technician.post(f"/pictures/{uid}/retire", data={"reason": " ", "version": "1"}).status_code == 422
    assert technician.post(f"/pictures/{uid}/voice", data={"file": ""}).status_code == 422
    assert see_picture(walk.store, walk.technician, uid).picture.version == 1


def test_a_point_shows_its_latest_pair_all_visits_and_two_side_by_side(
    technician: TestClient, walk: Walked
) -> None:
    later = walked(walk.store, plant=walk.issued.plant, day=date(2026, 11, 25))
    for one, number in ((walk, 1), (later, 2)):
        for kind in (PictureKind.THERMAL, PictureKind.VISIBLE):
            content = encoded(number=number + 10 * (kind is PictureKind.VISIBLE))
            one.bring(content, row_uid=one.issued.rows[0][0], kind=kind, taken_at=one.issued.walked_at)
    point_id, tag = walk.issued.rows[0][2], walk.issued.rows[0][1]
    point = technician.get(f"/points/{point_id}").text
    assert f"The last pictures, 25 Nov 2026, {later.issued.code}" in point
    assert point.count('<figure class="picture') == 2
    gallery = technician.get(f"/points/{point_id}/pictures").text
    assert "Four pictures from two visits" in gallery
    assert gallery.index(later.issued.code) < gallery.index(walk.issued.code)
    compare = technician.get(f"/points/{point_id}/pictures/compare").text
    assert "24 Nov 2026 beside 25 Nov 2026" in compare
    assert compare.count("data-cross>") == 4
    assert compare.count(">40.0<") == 6, "what was typed on each visit stands beside its pictures"
    turned = technician.get(
        f"/points/{point_id}/pictures/compare",
        params={"left": later.issued.round_id, "right": walk.issued.round_id},
    ).text
    assert "25 Nov 2026 beside 24 Nov 2026" in turned
    assert f"Thermal picture of {tag}, 24 Nov 2026 08:00" in compare.replace(", 08:00", " 08:00")
    bare = technician.get(f"/points/{walk.issued.rows[6][2]}").text
    assert "The last pictures" not in bare
    assert (
        "No pictures of this point yet" in technician.get(f"/points/{walk.issued.rows[6][2]}/pictures").text
    )
    assert (
        "There are no pictures" in technician.get(f"/points/{walk.issued.rows[6][2]}/pictures/compare").text
    )


def test_a_finding_shows_its_pictures_and_takes_more(walk: Walked) -> None:
    walk.issued.bring(
        [
            {
                "place": "Roof",
                "picture": "950",
                "temperature_c": 71.0,
                "taken_at": walk.issued.walked_at.isoformat(),
            }
        ]
    )
    picture = walk.bring(file_name="TH_0950.jpg")
    with signed_in(walk, Role.ENGINEER) as engineer:
        address = f"/findings/{picture.finding_id}"
        assert f"/pictures/{picture.uid}/preview" in engineer.get(address).text
        more = engineer.post(f"{address}/pictures", files={"visible": jpeg("roof.jpg", 9)})
        assert more.headers["location"] == address
        assert engineer.get(address).text.count("/preview") == 2
        assert "2\u00a0pictures of this finding" in engineer.get(f"{address}/pictures").text
        assert engineer.post(f"{address}/pictures", files={"visible": ("a.jpg", b"x", "")}).status_code == 422


def test_who_only_looks_gets_no_forms(walk: Walked) -> None:
    picture = walk.bring(file_name="TH_0401.jpg")
    walk.bring(encoded(number=2))
    with signed_in(walk, Role.MANAGER) as manager:
        for address in (of_round(walk), f"/pictures/{picture.uid}/look"):
            page = manager.get(address).text
            for wanted in ("Bring them in", "Place them", "Keep this", "Draw it", "Take it out"):
                assert wanted not in page
        assert "<textarea" not in manager.get("/set-up/phrases").text


def test_the_list_of_phrases_is_edited_a_line_each(walk: Walked) -> None:
    with signed_in(walk, Role.ENGINEER) as engineer:
        address = f"/set-up/phrases/{walk.issued.plant.client_id}"
        lines = "All like parts alike.\r\n\r\n  Seen   through the window. "
        assert engineer.post(address, data={"lines": lines, "version": "1"}).status_code == 303
        page = engineer.get("/set-up/phrases").text
        assert "All like parts alike.\nSeen through the window.</textarea>" in page
        long = engineer.post(address, data={"lines": "x" * 161, "version": "2"})
        assert long.status_code == 422
        assert "x" * 161 in long.text


def test_more_pictures_ask_no_more_of_the_database(walk: Walked) -> None:
    def statements(client: TestClient, address: str) -> int:
        seen: list[str] = []

        def remember(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
            seen.append(statement)

        event.listen(walk.store.engine, "before_cursor_execute", remember)
        try:
            assert client.get(address).status_code == 200
        finally:
            event.remove(walk.store.engine, "before_cursor_execute", remember)
        return len(seen)

    addresses = (of_round(walk), f"/points/{walk.issued.rows[0][2]}/pictures")
    with signed_in(walk, Role.ENGINEER) as engineer:
        walk.bring(encoded(number=1), row_uid=walk.issued.rows[0][0])
        few = [statements(engineer, address) for address in addresses]
        for number in range(2, 8):
            walk.bring(encoded(number=number), row_uid=walk.issued.rows[number % 3][0])
        assert [statements(engineer, address) for address in addresses] == few
