"""Pictures of rounds: kept once, placed, described, compared by visit, taken out; pixels never change."""

from datetime import date, timedelta

import pytest
from sqlalchemy import select, update

from service.domain.pictures import Mark, MarkShape, MatchedBy, PictureKind, TimeFrom
from service.domain.words import Role, RoundState
from service.errors import Conflict, Forbidden, Invalid, NotFound, Stale, StorageFull
from service.storage import pictures as stored
from service.storage.files import FileShelf
from service.storage.tables.field import CameraClockRow
from service.storage.tables.record import AuditRow
from service.storage.tables.register import InstrumentRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from service.usecases.findings.open_finding import FindingFields, open_off_round
from service.usecases.pictures.bring import Sent, bring_picture, bring_to_finding
from service.usecases.pictures.change import (
    PictureWish,
    change_picture,
    keep_voice,
    place_pictures,
    retire_picture,
)
from service.usecases.pictures.phrases import list_phrases, see_phrases, set_phrases
from service.usecases.pictures.see import (
    list_finding_pictures,
    list_point_pictures,
    list_round_pictures,
    see_file,
    see_picture,
)
from tests.builders import add
from tests.conftest import NOW
from tests.pictures.builders import Walked, encoded, exif_of, walked

RING = Mark(MarkShape.RING, 10, 10, 30, 30, "here")


@pytest.fixture
def walk(store: Store) -> Walked:
    return walked(store)


def on_shelf(walk: Walked) -> int:
    return sum(path.is_file() for path in walk.shelf.folder.rglob("*"))


def set_state(walk: Walked, state: RoundState) -> None:
    with walk.store.begin() as unit:
        unit.session.execute(
            update(RoundRow).where(RoundRow.id == walk.issued.round_id).values(state=state.value)
        )


# ---- kept once --------------------------------------------------------------------------------


def test_the_same_send_again_is_the_same_picture(walk: Walked) -> None:
    first = walk.bring_again(encoded(), uid="picture-0001")
    assert not first.again
    again = walk.bring_again(encoded(), uid="picture-0001", file_name="another name.jpg")
    assert again.again
    assert again.picture == first.picture
    assert on_shelf(walk) == 2


def test_the_same_id_with_other_bytes_or_on_another_round_is_refused(walk: Walked) -> None:
    walk.bring(encoded(), uid="picture-0001")
    with pytest.raises(Conflict, match="another picture already"):
        walk.bring(encoded(number=2), uid="picture-0001")
    other = walked(walk.store, plant=walk.issued.plant, day=date(2026, 11, 25))
    with pytest.raises(Conflict, match="another picture already"):
        other.bring(encoded(), uid="picture-0001")


def test_a_file_chosen_twice_is_kept_once_until_it_was_taken_out(walk: Walked) -> None:
    first = walk.bring_again(encoded())
    assert walk.bring_again(encoded()).picture.uid == first.picture.uid
    retire_picture(walk.store, walk.technician, first.picture.uid, reason="blurred", version=1, now=NOW)
    assert not walk.bring_again(encoded()).again


def test_a_full_disk_keeps_no_row(walk: Walked, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_self: FileShelf, _name: str, _content: bytes) -> None:
        raise StorageFull("There is no room")

    monkeypatch.setattr(FileShelf, "keep", full)
    with pytest.raises(StorageFull):
        walk.bring()
    assert list_round_pictures(walk.store, walk.technician, walk.issued.round_id).pictures == ()


def test_what_is_no_picture_leaves_nothing_behind(walk: Walked) -> None:
    with pytest.raises(Invalid):
        walk.bring(b"%PDF-1.7")
    assert on_shelf(walk) == 0


# ---- placed -------------------------------------------------------------------------------------


def test_a_device_says_what_it_took(walk: Walked) -> None:
    uid, tag, point_id, view_id = walk.issued.rows[2]
    at = walk.issued.walked_at + timedelta(hours=3)
    found = walk.bring(encoded(exif=exif_of()), row_uid=uid, kind=PictureKind.VISIBLE, taken_at=at)
    assert (found.matched, found.point_id, found.view_id, found.point_tag) == (
        MatchedBy.APP, point_id, view_id, tag,
    )  # fmt: skip
    assert (found.taken_at, found.time_from, found.kind) == (at, TimeFrom.DEVICE, PictureKind.VISIBLE)


def test_a_row_or_stop_of_another_round_is_refused(walk: Walked) -> None:
    other = walked(walk.store, plant=walk.issued.plant, day=date(2026, 11, 25), bring=False)
    with pytest.raises(Invalid) as told:
        walk.bring(row_uid=other.issued.rows[0][0], stop_id=987_654)
    assert [problem.field for problem in told.value.problems] == ["row_uid", "stop_id"]
    assert on_shelf(walk) == 0


def test_the_cameras_clock_is_put_right_by_what_it_was_ahead(walk: Walked) -> None:
    """Readings a minute apart from 08:00; shown 08:06:30 on a clock 5 min ahead, it was 08:01:30."""
    with walk.store.begin() as unit:
        unit.session.execute(update(InstrumentRow).values(clock_offset_s=300.0))
    found = walk.bring(encoded(exif=exif_of("2026:11:24 08:06:10")))
    assert found.taken_at == walk.issued.walked_at + timedelta(minutes=1, seconds=10)
    assert found.time_from is TimeFrom.CAMERA
    assert (found.matched, found.point_tag) == (MatchedBy.TIME, walk.issued.rows[1][1])
    assert list_round_pictures(walk.store, walk.technician, walk.issued.round_id).ahead_s == 300.0


def test_a_clock_compared_on_the_walk_goes_before_the_registers(walk: Walked) -> None:
    """Compared twice: the later one counts, and one that was replaced does not."""
    with walk.store.begin() as unit:
        unit.session.execute(update(InstrumentRow).values(clock_offset_s=300.0))
        for minute, (offset_s, replaced) in enumerate([(60.0, False), (3600.0, False), (9.0, True)]):
            add(
                unit,
                CameraClockRow(
                    uid=f"clock-uid-{minute}",
                    round_id=walk.issued.round_id,
                    instrument_id=walk.issued.plant.instrument_id,
                    at=walk.issued.walked_at + timedelta(minutes=minute),
                    camera_time="09:00:00",
                    offset_s=offset_s,
                    replaced=replaced,
                ),
            )
    found = walk.bring(encoded(exif=exif_of("2026:11:24 09:01:10")))
    assert found.taken_at == walk.issued.walked_at + timedelta(minutes=1, seconds=10)
    assert found.point_tag == walk.issued.rows[1][1]


def test_the_number_typed_with_a_reading_goes_before_its_time(walk: Walked) -> None:
    found = walk.bring(encoded(exif=exif_of("2026:11:24 08:00:00")), file_name="TH_0405.jpg")
    assert (found.matched, found.code, found.point_tag) == (MatchedBy.CODE, "405", walk.issued.rows[4][1])


def test_what_has_no_place_waits_for_a_hand(walk: Walked) -> None:
    found = walk.bring(file_name="IMG_9999.jpg")
    assert (found.matched, found.placed) == (None, False)
    uid, tag, _, _ = walk.issued.rows[7]
    moved = place_pictures(
        walk.store, walk.technician, walk.issued.round_id, {found.uid: (f"row {uid}", 1)}, now=NOW
    )
    assert moved == 1
    seen = see_picture(walk.store, walk.technician, found.uid).picture
    assert (seen.matched, seen.point_tag, seen.version) == (MatchedBy.HAND, tag, 2)
    gone = change_picture(walk.store, walk.technician, found.uid, PictureWish(place=""), version=2, now=NOW)
    assert (gone.matched, gone.stop_id, gone.row_uid) == (None, None, "")


def test_placing_many_is_all_or_nothing(walk: Walked) -> None:
    first, second = walk.bring(encoded(number=1)), walk.bring(encoded(number=2))
    wanted = {first.uid: (f"row {walk.issued.rows[0][0]}", 1), second.uid: ("row elsewhere", 1)}
    with pytest.raises(Invalid):
        place_pictures(walk.store, walk.technician, walk.issued.round_id, wanted, now=NOW)
    assert not see_picture(walk.store, walk.technician, first.uid).picture.placed


# ---- described --------------------------------------------------------------------------------


def test_marks_and_notes_never_touch_the_pixels(walk: Walked) -> None:
    found = walk.bring()
    before = see_file(walk.store, walk.technician, found.uid, shelf=walk.shelf, what="stored_as")[1]
    wish = PictureWish(note="  Seen from the left. ", marks=(RING,), kind=PictureKind.VISIBLE)
    seen = change_picture(walk.store, walk.technician, found.uid, wish, version=1, now=NOW)
    assert (seen.note, seen.marks, seen.kind, seen.version) == (
        "Seen from the left.", (RING,), PictureKind.VISIBLE, 2,
    )  # fmt: skip
    after = see_file(walk.store, walk.technician, found.uid, shelf=walk.shelf, what="stored_as")[1]
    assert after == before
    with walk.store.look() as unit:
        notes = unit.session.scalars(select(AuditRow.verb).where(AuditRow.noun == "picture")).all()
    assert notes == ["bring picture", "describe picture"]


@pytest.mark.parametrize(
    ("wish", "field"),
    [
        (PictureWish(marks=(Mark(MarkShape.ARROW, 0, 0, 100.5, 50),)), "x_to"),
        (PictureWish(marks=(Mark(MarkShape.RING, 5, 5, 5, 5),)), "x_to"),
        (PictureWish(marks=(Mark(MarkShape.WORDS, 5, 5, 5, 5),)), "words"),
        (PictureWish(marks=(Mark(MarkShape.ARROW, 0, 0, 9, 9, "x" * 61),)), "words"),
        (PictureWish(marks=(RING,) * 25), "marks"),
        (PictureWish(note="x" * 1001), "note"),
        (PictureWish(place="row elsewhere"), "place"),
        (PictureWish(place="finding 1"), "place"),
    ],
    ids=str,
)
def test_what_cannot_be_kept_is_told_at_its_box(walk: Walked, wish: PictureWish, field: str) -> None:
    uid = walk.bring().uid
    with pytest.raises(Invalid) as told:
        change_picture(walk.store, walk.technician, uid, wish, version=1, now=NOW)
    assert {problem.field for problem in told.value.problems} == {field}
    assert see_picture(walk.store, walk.technician, uid).picture.version == 1


def test_who_edits_an_old_version_is_told(walk: Walked) -> None:
    uid = walk.bring().uid
    change_picture(walk.store, walk.technician, uid, PictureWish(note="a"), version=1, now=NOW)
    with pytest.raises(Stale):
        change_picture(walk.store, walk.technician, uid, PictureWish(note="b"), version=1, now=NOW)


def test_a_spoken_note_is_kept_as_it_came_and_once(walk: Walked) -> None:
    uid, sound = walk.bring().uid, b"OggS" + bytes(range(60))
    ways = {"shelf": walk.shelf, "round_id": None, "now": NOW}
    for _ in range(2):
        keep_voice(walk.store, walk.technician, uid, content=sound, **ways)  # type: ignore[arg-type]
    _, content, kind = see_file(walk.store, walk.technician, uid, shelf=walk.shelf, what="voice_as")
    assert (content, kind) == (sound, "ogg")
    with pytest.raises(Conflict, match="spoken note already"):
        keep_voice(walk.store, walk.technician, uid, content=sound + b"!", **ways)  # type: ignore[arg-type]
    with pytest.raises(NotFound):
        see_file(
            walk.store, walk.technician, walk.bring(encoded(number=3)).uid, shelf=walk.shelf, what="voice_as"
        )


def test_a_picture_taken_out_stands_on_its_own_page_alone(walk: Walked) -> None:
    found = walk.bring(file_name="TH_0401.jpg")
    assert found.point_id is not None
    assert found.view_id is not None
    with pytest.raises(Invalid):
        retire_picture(walk.store, walk.technician, found.uid, reason="  ", version=1, now=NOW)
    retire_picture(walk.store, walk.technician, found.uid, reason="Of another board", version=1, now=NOW)
    assert list_round_pictures(walk.store, walk.engineer, walk.issued.round_id).pictures == ()
    assert list_point_pictures(walk.store, walk.engineer, found.point_id).visits == ()
    with walk.store.look() as unit:
        assert stored.latest_of_views(unit, [found.view_id]) == {}
    seen = see_picture(walk.store, walk.engineer, found.uid)
    assert (seen.picture.retired_reason, seen.may_change) == ("Of another board", False)
    with pytest.raises(Conflict, match="was taken out"):
        change_picture(walk.store, walk.engineer, found.uid, PictureWish(note="x"), version=2, now=NOW)


# ---- who --------------------------------------------------------------------------------------


def test_who_walks_no_round_of_it_sees_no_picture(walk: Walked) -> None:
    placed, lost = walk.bring(file_name="TH_0401.jpg"), walk.bring(encoded(number=2))
    for picture in (placed, lost):
        with pytest.raises(NotFound):
            see_picture(walk.store, walk.other_technician, picture.uid)
    with pytest.raises(NotFound):
        list_round_pictures(walk.store, walk.other_technician, walk.issued.round_id)


def test_who_walks_a_point_now_sees_what_others_took_of_it_and_changes_nothing(walk: Walked) -> None:
    picture = walk.bring(file_name="TH_0401.jpg")
    later = walked(walk.store, plant=walk.issued.plant, day=date(2026, 11, 25), bring=False)
    with walk.store.begin() as unit:
        unit.session.execute(
            update(RoundRow).where(RoundRow.id == later.issued.round_id).values(person_id=walk.issued.plant.people[Role.MANAGER])
        )  # fmt: skip
    other = walk.issued.plant.actor(Role.TECHNICIAN, person_id=walk.issued.plant.people[Role.MANAGER])
    seen = see_picture(walk.store, other, picture.uid)
    assert (seen.picture.uid, seen.may_change) == (picture.uid, False)
    with pytest.raises(NotFound):
        change_picture(walk.store, other, picture.uid, PictureWish(note="x"), version=1, now=NOW)


def test_after_sign_off_only_the_engineer_brings_and_places(walk: Walked) -> None:
    uid = walk.bring().uid
    set_state(walk, RoundState.SIGNED_OFF)
    with pytest.raises(Forbidden):
        walk.bring(encoded(number=2))
    with pytest.raises(Forbidden):
        change_picture(walk.store, walk.technician, uid, PictureWish(note="x"), version=1, now=NOW)
    assert walk.bring(encoded(number=2), actor=walk.engineer).placed is False
    assert not see_picture(walk.store, walk.technician, uid).may_change


@pytest.mark.parametrize("state", [RoundState.DRAFT, RoundState.WITHDRAWN])
def test_a_round_that_takes_no_readings_takes_no_pictures(walk: Walked, state: RoundState) -> None:
    set_state(walk, state)
    with pytest.raises(Conflict, match="it takes no pictures"):
        walk.bring(actor=walk.engineer)


def test_a_manager_looks_and_brings_nothing(walk: Walked) -> None:
    walk.bring()
    manager = walk.issued.plant.actor(Role.MANAGER)
    seen = list_round_pictures(walk.store, manager, walk.issued.round_id)
    assert (len(seen.pictures), seen.may_bring) == (1, False)
    with pytest.raises(Forbidden):
        walk.bring(encoded(number=2), actor=manager)


# ---- through its visits -----------------------------------------------------------------------


def test_a_points_pictures_come_by_visit_with_what_was_typed_there(walk: Walked) -> None:
    later = walked(walk.store, plant=walk.issued.plant, day=date(2026, 11, 25))
    for one, number in ((walk, 1), (later, 2)):
        row = one.issued.rows[0][0]
        at = one.issued.walked_at
        one.bring(encoded(number=number), row_uid=row, taken_at=at)
        one.bring(encoded(number=number + 10), row_uid=row, taken_at=at, kind=PictureKind.VISIBLE)
    # of a like part: in the same view, so it stands there too, behind the point's own
    later.bring(encoded(number=30), row_uid=later.issued.rows[1][0], taken_at=later.issued.walked_at)
    point_id, like = later.issued.rows[0][2], later.issued.rows[1][2]
    seen = list_point_pictures(walk.store, walk.engineer, point_id)
    assert [(visit.code, len(visit.pictures)) for visit in seen.visits] == [
        (later.issued.code, 3), (walk.issued.code, 2),
    ]  # fmt: skip
    newest = seen.visits[0]
    assert [one.temperature_c for one in newest.temperatures] == [40.0, 40.0, 40.0]
    assert [one.name for one in newest.temperatures] == ["L1", "L2", "L3"]
    thermal = newest.latest(PictureKind.THERMAL, point_id)
    of_like = newest.latest(PictureKind.THERMAL, like)
    assert thermal is not None
    assert of_like is not None
    assert (thermal.point_id, of_like.point_id) == (point_id, like)
    with walk.store.look() as unit:
        found = stored.latest_of_views(unit, [later.issued.rows[0][3], 987_654])
    assert list(found) == [later.issued.rows[0][3]]


# ---- findings ---------------------------------------------------------------------------------


def test_a_part_met_off_the_round_shows_the_picture_of_its_number(walk: Walked) -> None:
    off = {"place": "Cable tray by the door", "picture": "950", "temperature_c": 71.0}
    walk.issued.bring([off | {"taken_at": walk.issued.walked_at.isoformat()}])
    found = walk.bring(file_name="TH_0950.jpg")
    assert (found.matched, found.code) == (MatchedBy.CODE, "950")
    assert found.finding_id is not None
    shown = list_finding_pictures(walk.store, walk.engineer, found.finding_id)
    assert [one.uid for one in shown.pictures] == [found.uid]


def test_an_act_now_shows_what_was_taken_of_its_part_on_that_round(store: Store) -> None:
    walk = walked(store, bring=False)
    records = walk.issued.all_records()
    records[0] |= {"temperature_c": 95.0, "picture": "401"}
    (finding_id,) = walk.issued.bring(records).finding_ids
    hot, like = (
        walk.bring(file_name="TH_0401.jpg"),
        walk.bring(encoded(number=2), row_uid=walk.issued.rows[1][0]),
    )
    walk.bring(encoded(number=3), row_uid=walk.issued.rows[4][0])
    shown = list_finding_pictures(store, walk.engineer, finding_id).pictures
    assert {one.uid for one in shown} == {hot.uid, like.uid}, "those of its view, not of another"


def test_a_finding_without_a_round_has_pictures_of_its_own(walk: Walked) -> None:
    site_id = walk.issued.plant.site_ids[0]
    file = open_off_round(
        walk.store, walk.engineer, site_id=site_id, place="Roof", fields=FindingFields(), now=NOW
    )
    sent = Sent(encoded(exif=exif_of()), "roof.jpg", kind=PictureKind.VISIBLE)
    for again in (False, True):
        brought = bring_to_finding(
            walk.store, walk.engineer, file.finding.id, sent, shelf=walk.shelf, now=NOW
        )
        assert brought.again is again
    picture = brought.picture
    assert (picture.round_id, picture.finding_id) == (None, file.finding.id)
    assert see_picture(walk.store, walk.technician, picture.uid).may_change
    change_picture(walk.store, walk.technician, picture.uid, PictureWish(note="x"), version=1, now=NOW)
    abroad = walk.issued.plant.actor(Role.ENGINEER, sites=frozenset(), clients=frozenset())
    with pytest.raises(NotFound):
        see_picture(walk.store, abroad, picture.uid)


# ---- phrases ----------------------------------------------------------------------------------


def test_phrases_begin_with_ours_and_are_the_clients_own_from_then_on(walk: Walked) -> None:
    client_id = walk.issued.plant.client_id
    (first,) = list_phrases(walk.store, walk.technician)
    assert len(first.lines) > 5
    lines = ("  All   like parts alike. ", "", "All like parts alike.", "Seen through the window.")
    kept = set_phrases(walk.store, walk.engineer, client_id, lines, version=first.version, now=NOW)
    assert kept.lines == ("All like parts alike.", "Seen through the window.")
    with pytest.raises(Stale):
        set_phrases(walk.store, walk.engineer, client_id, (), version=first.version, now=NOW)
    assert set_phrases(walk.store, walk.engineer, client_id, (), version=kept.version, now=NOW).lines == ()
    assert see_picture(walk.store, walk.technician, walk.bring().uid).phrases == ()
    with pytest.raises(Forbidden):
        set_phrases(walk.store, walk.technician, client_id, (), version=3, now=NOW)
    with pytest.raises(Invalid):
        set_phrases(walk.store, walk.engineer, client_id, ("x" * 161,), version=3, now=NOW)
    with pytest.raises(NotFound):
        see_phrases(walk.store, walk.technician, 987_654)


# ---- either database --------------------------------------------------------------------------


def test_on_either_database_it_goes_the_same_way(any_store: Store, tmp_path) -> None:  # type: ignore[no-untyped-def]
    walk = walked(any_store, boards=1, views=1)
    shelf = FileShelf(tmp_path)
    sent = Sent(encoded(exif=exif_of("2026:11:24 08:02:00")), "VI_1.jpg", "picture-0001")
    for again in (False, True):
        brought = bring_picture(any_store, walk.technician, walk.issued.round_id, sent, shelf=shelf, now=NOW)
        assert brought.again is again
    picture = brought.picture
    assert picture.point_id is not None
    assert picture.view_id is not None
    keep_voice(
        any_store, walk.technician, picture.uid, content=b"OggS....", shelf=shelf, round_id=None, now=NOW
    )
    change_picture(any_store, walk.engineer, picture.uid, PictureWish(marks=(RING,)), version=2, now=NOW)
    (visit,) = list_point_pictures(any_store, walk.engineer, picture.point_id).visits
    assert visit.pictures[0].marks == (RING,)
    assert len(visit.temperatures) == 3
    with any_store.look() as unit:
        assert stored.latest_of_views(unit, [picture.view_id]) == {picture.view_id: picture.uid}
        assert len(stored.files_named(unit)) == 3
