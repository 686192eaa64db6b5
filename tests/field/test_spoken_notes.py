"""Notes spoken to a reading or a stop: kept as they came and once, on a true clock, heard where they belong."""

import hashlib
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from sqlalchemy import select
from starlette.testclient import TestClient

from service.domain.spoken_notes import SpokenNote
from service.domain.words import Role, RoundState
from service.errors import Conflict, Forbidden, Invalid, NotFound, StorageFull
from service.intake.limits import MOST_VOICE_BYTES
from service.settings import ROOT
from service.storage import pictures
from service.storage.files import FileShelf
from service.storage.tables.record import AuditRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from service.usecases.record.verify import verify
from service.usecases.spoken_notes.keep import SentNote, keep_note, take_note_back
from service.usecases.spoken_notes.see import (
    hear_note,
    list_point_notes,
    list_reading_notes,
    list_round_notes,
)
from tests.doors import browser_as, files_of, open_app
from tests.field.builders import AT, MORNING, NOW, Device
from tests.readings.builders import Issued, issue
from tests.rounds.builders import change

OGG = b"OggS" + bytes(range(60))
WEBM = b"\x1a\x45\xdf\xa3" + bytes(40)
MP4 = b"\0\0\0\x18ftypM4A " + bytes(40)


def shelf(store: Store) -> FileShelf:
    return FileShelf(files_of(store))


@pytest.fixture
def keep(store: Store, issued: Issued) -> Callable[..., SpokenNote]:
    """Keep a note of the technician, of the first row unless said otherwise."""

    def kept(uid: str = "spoken-0001", content: bytes = OGG, **told: object) -> SpokenNote:
        actor = told.pop("actor", issued.technician)
        place = {} if "stop_id" in told else {"row_uid": issued.rows[0][0]}
        sent = SentNote(uid, content, **(place | told))  # type: ignore[arg-type]
        return keep_note(store, actor, issued.round_id, sent, shelf=shelf(store), now=NOW)  # type: ignore[arg-type]

    return kept


def stop_of(store: Store, issued: Issued) -> int:
    with store.look() as unit:
        return pictures.places_of_round(unit, issued.round_id).stops[0].stop_id


def notes(store: Store, issued: Issued) -> tuple[SpokenNote, ...]:
    return list_round_notes(store, issued.engineer, issued.round_id)


def on_shelf(store: Store) -> int:
    return sum(path.is_file() for path in shelf(store).folder.rglob("*"))


# ---- kept as it came and once ---------------------------------------------------------------------


@pytest.mark.parametrize(("content", "kind"), [(OGG, "ogg"), (WEBM, "webm"), (MP4, "m4a")])
def test_a_note_is_told_by_its_content_and_given_back_byte_for_byte(
    any_store: Store, content: bytes, kind: str
) -> None:
    issued = issue(any_store, walked_at=MORNING)
    sent = SentNote("spoken-0001", content, row_uid=issued.rows[1][0])
    note = keep_note(any_store, issued.technician, issued.round_id, sent, shelf=shelf(any_store), now=NOW)
    assert (note.kind, note.content_hash) == (kind, hashlib.sha256(content).hexdigest())
    assert (note.row_uid, note.point_tag, note.point_id) == issued.rows[1][:3]
    heard = hear_note(any_store, issued.engineer, issued.round_id, note.uid, shelf=shelf(any_store))
    assert heard == (note, content)


def test_the_same_send_again_is_the_same_note_and_another_under_its_id_is_refused(
    store: Store, issued: Issued, keep: Callable[..., SpokenNote]
) -> None:
    first = keep()
    assert keep() == first
    for other in ({"content": OGG + b"!"}, {"row_uid": issued.rows[1][0]}, {"stop_id": first.stop_id}):
        with pytest.raises(Conflict, match="another spoken note"):
            keep(**other)
    elsewhere = issue(store, plant=issued.plant, walked_at=MORNING + timedelta(days=1))
    sent = SentNote("spoken-0001", OGG, row_uid=elsewhere.rows[0][0])
    with pytest.raises(Conflict, match="another spoken note"):
        keep_note(store, issued.technician, elsewhere.round_id, sent, shelf=shelf(store), now=NOW)
    assert notes(store, issued) == (first,)


def test_two_notes_on_one_reading_both_stand_in_the_order_in_which_they_were_spoken(
    store: Store, issued: Issued, keep: Callable[..., SpokenNote]
) -> None:
    later = keep("spoken-0001", device_time="2026-03-16T09:30:00Z")
    sooner = keep("spoken-0002", OGG + b"2", device_time=AT)
    of_stop = keep("spoken-0003", stop_id=stop_of(store, issued), device_time="2026-03-16T10:00:00Z")
    assert notes(store, issued) == (of_stop, sooner, later)
    assert (of_stop.row_uid, of_stop.point_id, of_stop.about) == ("", None, of_stop.stop)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "empty"),
        (b"<!doctype html><script>alert(1)</script>", "none of WebM, Ogg and MP4"),
        (b"%PDF-1.7", "none of WebM, Ogg and MP4"),
        (b"RIFF\0\0\0\0WAVE", "none of WebM, Ogg and MP4"),
        (b"OggS" + bytes(MOST_VOICE_BYTES), "larger than 2 MiB"),
    ],
)
def test_what_is_no_recording_leaves_nothing_behind(
    store: Store, issued: Issued, keep: Callable[..., SpokenNote], content: bytes, told: str
) -> None:
    with pytest.raises(Invalid) as caught:
        keep(content=content)
    assert told in caught.value.problems[0].message
    assert (notes(store, issued), on_shelf(store)) == ((), 0)


def test_a_row_or_stop_of_another_round_none_and_both_are_refused(
    store: Store, issued: Issued, keep: Callable[..., SpokenNote]
) -> None:
    other = issue(store, plant=issued.plant, walked_at=MORNING + timedelta(days=1))
    both = {"row_uid": issued.rows[0][0], "stop_id": stop_of(store, issued)}
    for place, field in (
        ({"row_uid": other.rows[0][0]}, "row_uid"),
        ({"stop_id": stop_of(store, other)}, "stop_id"),
        ({"row_uid": ""}, "row_uid"),
        (both, "row_uid"),
    ):
        with pytest.raises(Invalid) as caught:
            keep(**place)
        assert [problem.field for problem in caught.value.problems] == [field]
    assert (notes(store, issued), on_shelf(store)) == ((), 0)


def test_a_full_disk_keeps_no_row(
    store: Store, issued: Issued, keep: Callable[..., SpokenNote], monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_self: FileShelf, _name: str, _content: bytes) -> None:
        raise StorageFull("There is no room")

    monkeypatch.setattr(FileShelf, "keep", full)
    with pytest.raises(StorageFull):
        keep()
    assert notes(store, issued) == ()


# ---- when, and as long as the round takes it ------------------------------------------------------


@pytest.mark.parametrize(
    ("shown", "skew_s", "true"),
    [
        (AT, 0.0, datetime.fromisoformat(AT)),
        ("2026-03-16T11:00:00+01:00", 3600.0, datetime.fromisoformat(AT)),
        ("2031-01-01T00:00:00Z", 0.0, None),
        ("", None, None),
    ],
)
def test_the_devices_clock_is_put_right_and_one_that_cannot_be_is_left_out(
    keep: Callable[..., SpokenNote], shown: str, skew_s: float | None, true: datetime | None
) -> None:
    note = keep(device_time=shown, skew_s=skew_s)
    assert (note.taken_at, note.received_at, note.at) == (true, NOW, true or NOW)


def test_after_the_signature_only_an_engineer_adds_one_and_a_withdrawn_round_takes_none(
    store: Store, issued: Issued, keep: Callable[..., SpokenNote]
) -> None:
    change(store, RoundRow, issued.round_id, state=RoundState.SIGNED_OFF.value)
    with pytest.raises(Forbidden):
        keep()
    assert keep(actor=issued.engineer)
    change(store, RoundRow, issued.round_id, state=RoundState.WITHDRAWN.value)
    with pytest.raises(Conflict):
        keep("spoken-0002", actor=issued.engineer)


# ---- taken back -----------------------------------------------------------------------------------


def test_an_engineer_takes_a_note_back_for_a_reason_and_it_stays_on_record(
    store: Store, issued: Issued, keep: Callable[..., SpokenNote]
) -> None:
    note, ways = keep(), {"now": NOW}
    for reason in (" ", "x" * 501):
        with pytest.raises(Invalid):
            take_note_back(store, issued.engineer, issued.round_id, note.uid, reason=reason, now=NOW)
    with pytest.raises(Forbidden):
        take_note_back(store, issued.technician, issued.round_id, note.uid, reason="mine", now=NOW)
    with pytest.raises(NotFound):
        take_note_back(store, issued.engineer, issued.round_id, "spoken-0009", reason="no", **ways)
    back = take_note_back(store, issued.engineer, issued.round_id, note.uid, reason="other board", **ways)
    assert (back.taken_back_reason, back.taken_back_by, back.taken_back_at) == (
        "other board", "Test engineer", NOW,
    )  # fmt: skip
    assert notes(store, issued) == ()
    assert hear_note(store, issued.engineer, issued.round_id, note.uid, shelf=shelf(store))[1] == OGG
    with pytest.raises(Conflict):
        take_note_back(store, issued.engineer, issued.round_id, note.uid, reason="again", now=NOW)
    assert keep() == back, "the device hears that it is kept, and sends it no more"
    with store.look() as unit:
        verbs = unit.session.scalars(select(AuditRow.verb).where(AuditRow.verb.contains("spoken"))).all()
    assert verbs == ["keep spoken note", "take spoken note back"]


# ---- seen and heard -------------------------------------------------------------------------------


def test_a_note_is_with_its_reading_and_with_its_point_through_all_visits(
    store: Store, issued: Issued, keep: Callable[..., SpokenNote]
) -> None:
    issued.bring([issued.record(0, uid="reading-01")])
    first = keep(device_time=AT)
    later = issue(store, plant=issued.plant, walked_at=MORNING + timedelta(days=1))
    sent = SentNote("spoken-0002", OGG, row_uid=later.rows[0][0])
    next_day = NOW + timedelta(days=1)
    second = keep_note(store, later.technician, later.round_id, sent, shelf=shelf(store), now=next_day)
    point_id = issued.rows[0][2]
    assert list_reading_notes(store, issued.technician, "reading-01") == (first,)
    assert list_point_notes(store, issued.technician, point_id) == (second, first)
    assert list_point_notes(store, issued.engineer, issued.rows[1][2]) == ()
    stranger = issued.plant.actor(Role.TECHNICIAN, person_id=987_654)
    for look in (
        lambda: list_round_notes(store, stranger, issued.round_id),
        lambda: list_reading_notes(store, stranger, "reading-01"),
        lambda: list_point_notes(store, stranger, point_id),
        lambda: hear_note(store, stranger, issued.round_id, first.uid, shelf=shelf(store)),
        lambda: hear_note(store, issued.engineer, later.round_id, first.uid, shelf=shelf(store)),
    ):
        with pytest.raises(NotFound):
            look()


def test_verify_misses_a_note_whose_file_is_gone(
    store: Store, flushing_store: Store, keep: Callable[..., SpokenNote]
) -> None:
    url, folder = str(store.engine.url), shelf(store)
    asked = {"migrations": ROOT / "migrations", "files": folder, "shelf": folder}
    note = keep()
    assert verify(flushing_store, url, **asked) == []  # type: ignore[arg-type]
    (folder.folder / note.stored_as).unlink()
    (fault,) = verify(flushing_store, url, **asked)  # type: ignore[arg-type]
    assert "1 files of spoken notes" in fault


# ---- through the doors ----------------------------------------------------------------------------


def test_a_device_sends_one_and_it_goes_out_so_that_nothing_in_it_runs(
    device: Device, engineer: TestClient
) -> None:
    row_uid = device.issued.rows[0][0]
    address = f"/api/v1/rounds/{device.issued.round_id}/spoken-notes"
    asked = {"row_uid": row_uid, "device_time": "2026-03-16T10:00:00+01:00", "skew_s": "0.4"}
    hostile = b"OggS<script>alert(1)</script>"
    sent = device.client.put(
        f"{address}/spoken-01", params=asked, content=hostile, headers={"Content-Type": "text/html"}
    )
    assert sent.status_code == 201, sent.text
    assert (sent.json()["uid"], sent.json()["taken_at"]) == ("spoken-01", "2026-03-16T08:59:59.600000Z")
    assert engineer.get(address).json() == [sent.json()]
    assert engineer.get(f"/api/v1/points/{sent.json()['point_id']}/spoken-notes").json() == [sent.json()]
    for prefix in ("", "/api/v1"):
        heard = engineer.get(f"{prefix}{address.removeprefix('/api/v1')}/spoken-01")
        assert heard.content == hostile
        assert heard.headers["content-type"] == "audio/ogg"
        assert heard.headers["content-disposition"] == 'attachment; filename="note-spoken-01.ogg"'
        assert heard.headers["content-security-policy"] == "default-src 'none'; sandbox"
        assert heard.headers["x-content-type-options"] == "nosniff"
    back = engineer.post(f"{address}/spoken-01/take-back", json={"reason": "of another board"})
    assert (back.status_code, back.json()["taken_back_reason"]) == (200, "of another board")
    assert engineer.get(address).json() == []


def test_a_device_on_which_somebody_else_is_signed_in_is_asked_to_sign_in(device: Device) -> None:
    path = f"/api/v1/rounds/{device.issued.round_id}/spoken-notes/spoken-01"
    asked = {"row_uid": device.issued.rows[0][0]}
    answer = device.client.put(path, params=asked, content=OGG, headers={"Riseline-Person": "1234567"})
    assert answer.status_code == 401


def test_a_player_stands_beside_the_row_on_every_page_that_shows_it(
    store: Store, issued: Issued, keep: Callable[..., SpokenNote], now: datetime
) -> None:
    issued.bring([issued.record(0, uid="reading-01")])
    of_row, of_stop = keep(), keep("spoken-0002", OGG + b"2", stop_id=stop_of(store, issued))
    page = browser_as(open_app(store, lambda: NOW), store, issued.plant, Role.ENGINEER, now)
    round_, point_id = f"/rounds/{issued.round_id}", issued.rows[0][2]

    def player(note: SpokenNote) -> str:
        return f'<audio controls preload="none" src="{round_}/spoken-notes/{note.uid}"'

    for address, shown in (
        (f"{round_}/reception", (of_row, of_stop)),
        (f"{round_}/walked", (of_row, of_stop)),
        ("/readings/reading-01", (of_row,)),
        (f"/points/{point_id}", (of_row,)),
    ):
        answer = page.get(address)
        assert [player(note) in answer.text for note in (of_row, of_stop)] == [
            note in shown for note in (of_row, of_stop)
        ], address
        assert "media-src 'self'" in answer.headers["content-security-policy"]
    lead = page.get(f"{round_}/reception").text.replace("\N{NO-BREAK SPACE}", " ")
    assert "2 spoken notes to listen to." in lead
    wrong = page.post(f"{round_}/spoken-notes/{of_row.uid}/take-back", data={"reason": ""})
    assert wrong.status_code == 422
    assert "It needs a reason." in wrong.text
    assert f'href="#field-reason{of_row.uid}"' in wrong.text
    done = page.post(f"{round_}/spoken-notes/{of_row.uid}/take-back", data={"reason": "other board"})
    assert done.status_code == 303
    assert player(of_row) not in page.get(f"{round_}/reception").text
