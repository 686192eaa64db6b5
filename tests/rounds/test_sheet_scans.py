"""Signed sheets: kept as they came, told by their content, found by their code, never shown as a page."""

import hashlib
import io
from datetime import datetime
from typing import Any

import pytest
from PIL import Image
from starlette.testclient import TestClient

from service.domain.scans import Matched, ScanKind, SheetScan
from service.domain.words import Role
from service.errors import Conflict, Forbidden, Invalid, NotFound
from service.intake.limits import MOST_SCAN_BYTES
from service.intake.scans import read_scan
from service.settings import ROOT
from service.storage import rounds
from service.storage.files import FileShelf
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from service.usecases.record.verify import verify
from service.usecases.rounds.sheet_scans import (
    SentFile,
    bring_scans,
    put_scan,
    read_scans,
    see_scan,
    take_scan_back,
)
from tests.doors import browser_as, files_of, open_app, program_as
from tests.rounds.builders import NOW, Walk, change, draft, issued

PDF = b"%PDF-1.7\n" + b"% words of a sheet\n" * 8 + b"%%EOF\n"


def picture(kind: str) -> bytes:
    """A small picture as another library writes it."""
    out = io.BytesIO()
    Image.new("L", (40, 56), 200).save(out, kind)
    return out.getvalue()


def shelf(store: Store) -> FileShelf:
    return FileShelf(files_of(store))


def bring(walk: Walk, *sent: tuple[str, bytes], code: str = "", actor: Any = None) -> tuple[SheetScan, ...]:
    return bring_scans(
        walk.store,
        actor or walk.technician(),
        walk.round.id,
        files=shelf(walk.store),
        sent=[SentFile(*one) for one in sent],
        typed_code=code,
        now=NOW,
    )


def codes(walk: Walk) -> list[str]:
    with walk.store.look() as unit:
        return [stop.sheet_code or "" for stop in rounds.stops_of(unit, walk.round.id)]


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (picture("JPEG"), ScanKind.JPEG),
        (picture("PNG"), ScanKind.PNG),
        (picture("WEBP"), ScanKind.WEBP),
        (PDF, ScanKind.PDF),
    ],
)
def test_a_scan_is_told_by_its_content_and_given_back_byte_for_byte(
    store: Store, content: bytes, kind: ScanKind
) -> None:
    walk = issued(store)
    (scan,) = bring(walk, ("holiday.txt", content))
    assert (scan.kind, scan.content_hash) == (kind, hashlib.sha256(content).hexdigest())
    assert see_scan(store, walk.engineer, walk.round.id, scan.uid, files=shelf(store))[1] == content


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "empty"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>" * 2, "neither"),
        (b"<!doctype html><script>alert(1)</script>" * 3, "neither"),
        (b"GIF89a" + bytes(80), "neither"),
        (b"PK\x03\x04" + bytes(80), "neither"),
        (picture("JPEG")[:-30], "not whole"),
        (picture("PNG")[:-8], "not whole"),
        (picture("WEBP")[:-3], "not whole"),
        (PDF[:-6], "not whole"),
        (b"%PDF-1.7\n" + bytes(MOST_SCAN_BYTES), "larger than 15 MiB"),
    ],
)
def test_what_is_no_whole_scan_is_refused_with_what_it_is(content: bytes, told: str) -> None:
    kind, (problem,) = read_scan(content, name="7K2-QX4.jpg")
    assert kind is None
    assert told in problem.message
    assert problem.remedy


def test_one_bad_file_and_nothing_of_the_send_is_kept(any_store: Store) -> None:
    walk = issued(any_store)
    with pytest.raises(Invalid) as caught:
        bring(walk, ("good.pdf", PDF), ("bad.pdf", b"<html>" * 20), ("none.png", b""))
    assert [problem.found for problem in caught.value.problems] == ["bad.pdf", "none.png"]
    assert read_scans(any_store, walk.engineer, walk.round.id).scans == 0


def test_the_sheet_code_in_a_name_or_typed_finds_the_stop(any_store: Store) -> None:
    walk = issued(any_store, boards=2)
    first, second = codes(walk)
    named, apart = bring(walk, (f"scan {first}.pdf", PDF), ("IMG 34.png", picture("PNG")))
    (typed,) = bring(walk, ("x.webp", picture("WEBP")), code=second.lower().replace("-", " "))
    page = read_scans(any_store, walk.technician(), walk.round.id)
    assert [one.scans for one in page.stops] == [(named,), (typed,)]
    assert page.of_round == (apart,)
    assert [scan.matched for scan in (named, typed, apart)] == [Matched.NAME, Matched.TYPED, Matched.ROUND]
    with pytest.raises(Invalid) as caught:
        bring(walk, ("x.jpg", picture("JPEG")), code="222-222")
    assert [problem.field for problem in caught.value.problems] == ["code"]


def test_the_same_file_again_is_the_same_scan(any_store: Store) -> None:
    walk = issued(any_store)
    (first,) = bring(walk, ("a.pdf", PDF))
    again, other = bring(walk, ("b.pdf", PDF), ("c.pdf", PDF))
    assert first == again == other
    assert read_scans(any_store, walk.engineer, walk.round.id).scans == 1


def test_a_scan_is_put_to_its_stop_and_taken_back_for_a_reason(any_store: Store) -> None:
    walk = issued(any_store, boards=2)
    (scan,) = bring(walk, ("a.pdf", PDF))
    page = read_scans(any_store, walk.engineer, walk.round.id)
    stop = page.stops[1].stop.id
    moved = put_scan(any_store, walk.technician(), walk.round.id, scan.uid, stop_id=stop, now=NOW)
    assert (moved.stop_id, moved.matched) == (stop, Matched.HAND)
    with pytest.raises(NotFound):
        put_scan(any_store, walk.technician(), walk.round.id, scan.uid, stop_id=stop + 999, now=NOW)
    with pytest.raises(Invalid):
        take_scan_back(any_store, walk.engineer, walk.round.id, scan.uid, reason=" ", now=NOW)
    back = take_scan_back(any_store, walk.engineer, walk.round.id, scan.uid, reason="of last month", now=NOW)
    assert (back.taken_back_reason, back.taken_back_by) == ("of last month", "Test engineer")
    assert read_scans(any_store, walk.engineer, walk.round.id).scans == 0
    assert see_scan(any_store, walk.engineer, walk.round.id, scan.uid, files=shelf(any_store))[1] == PDF
    with pytest.raises(Conflict):
        take_scan_back(any_store, walk.engineer, walk.round.id, scan.uid, reason="again", now=NOW)
    (again,) = bring(walk, ("a.pdf", PDF))
    assert again.uid != scan.uid


def test_after_the_signature_only_an_engineer_adds_a_sheet_and_a_draft_has_none(store: Store) -> None:
    walk = issued(store)
    change(store, RoundRow, walk.round.id, state="signed off")
    with pytest.raises(Forbidden):
        bring(walk, ("a.pdf", PDF))
    assert bring(walk, ("a.pdf", PDF), actor=walk.engineer)
    plan = draft(store, plant=walk.plant)
    with pytest.raises(Conflict):
        bring(plan, ("b.pdf", PDF), actor=walk.engineer)


def test_a_scan_is_given_out_as_a_file_and_never_as_a_page(store: Store, now: datetime) -> None:
    walk = issued(store)
    (scan,) = bring(walk, ('"><script>.pdf', PDF))
    app = open_app(store, lambda: NOW)
    for client, prefix in (
        (browser_as(app, store, walk.plant, Role.TECHNICIAN, now), ""),
        (program_as(app, store, walk.plant, Role.TECHNICIAN, now), "/api/v1"),
    ):
        answer = client.get(f"{prefix}/rounds/{walk.round.id}/scans/{scan.uid}")
        assert answer.content == PDF
        assert answer.headers["content-type"] == "application/pdf"
        assert answer.headers["content-disposition"] == f'attachment; filename="sheet-{scan.uid}.pdf"'
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["content-security-policy"] == "default-src 'none'; sandbox"


def test_sheets_are_sent_by_form_and_by_api_and_listed_on_the_round(store: Store, now: datetime) -> None:
    walk = issued(store)
    app = open_app(store, lambda: NOW)
    page: TestClient = browser_as(app, store, walk.plant, Role.TECHNICIAN, now)
    address = f"/rounds/{walk.round.id}/scans"
    several = [
        ("files", (f"{codes(walk)[0]} 1.pdf", PDF, "text/html")),
        ("files", ("2.png", picture("PNG"), "")),
    ]
    assert page.post(address, files=several).status_code == 303
    wrong = page.post(address, files=[("files", ("x.svg", b"<svg/>" * 30, "image/svg+xml"))])
    assert wrong.status_code == 422
    assert "neither a JPEG" in wrong.text
    assert page.post(address, data={"code": ""}).status_code == 422
    program = program_as(app, store, walk.plant, Role.TECHNICIAN, now)
    code = codes(walk)[0]
    sent = program.post(f"/api/v1{address}?file_name=3.jpg&code={code}", content=picture("JPEG"))
    assert sent.status_code == 201, sent.text
    assert sent.json()["kind"] == "jpg"
    assert len(program.get(f"/api/v1{address}").json()) == 3
    assert "3 signed sheets kept" in page.get(f"/rounds/{walk.round.id}").text.replace("\u00a0", " ")
    assert f"{codes(walk)[0]} 1.pdf" in page.get(address).text


def test_verify_names_signed_sheets_whose_files_are_gone(store: Store, flushing_store: Store) -> None:
    walk = issued(store)
    (scan,) = bring(walk, ("a.pdf", PDF))
    files = shelf(store)
    url = str(store.engine.url)
    assert verify(flushing_store, url, migrations=ROOT / "migrations", files=files, shelf=files) == []
    (files.folder / scan.stored_as).unlink()
    (fault,) = verify(flushing_store, url, migrations=ROOT / "migrations", files=files, shelf=files)
    assert "1 files of signed sheets are not in" in fault
