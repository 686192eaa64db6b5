"""What came back: read, not read and why, missing, odd, worse than foretold, above Nothing found."""

from datetime import timedelta
from typing import Any

import pytest

from service.domain.reception import CameBack, why_hidden
from service.domain.words import Reason, Role, Trend
from service.errors import Conflict, NotFound
from service.pages.reception_words import reception_lead, reception_title, stands_out, why_words
from service.storage.files import FileShelf
from service.storage.tables.readings import PointStateRow
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from service.usecases.rounds.questions import ask
from service.usecases.rounds.reception import ReceptionPage, read_reception
from service.usecases.spoken_notes.keep import SentNote, keep_note
from tests.doors import browser_as, files_of, open_app, program_as
from tests.readings.builders import START, Issued, issue
from tests.rounds.builders import change, draft, stand


def received(round_: Issued, *, actor: Any = None) -> ReceptionPage:
    return read_reception(round_.store, actor or round_.engineer, round_.round_id, now=round_.received_at)


def row_of(page: ReceptionPage, round_: Issued, place: int) -> CameBack:
    return next(row for row in page.reception.rows if row.row_uid == round_.rows[place][0])


def second_round(store: Store, **first: Any) -> Issued:
    """A round issued after one that read every point at 40 °C; ``first`` is set in each point's state."""
    ensure_presets(store, now=START)
    before = issue(store, boards=1, views=2)
    before.bring(before.all_records())
    for point_id in before.plant.point_ids:
        stand(store, point_id, **first)
    return issue(store, plant=before.plant, walked_at=START + timedelta(days=30))


def test_each_row_is_counted_as_what_it_came_back_as(any_store: Store) -> None:
    round_ = second_round(any_store)
    records = [round_.record(place) for place in (0, 1, 2)]
    records[2] |= {"temperature_c": 49.0}
    records.append(round_.record(3, None, reason="K", current_a=None, ambient_c=None))
    records.append(round_.record(4, None, reason="O", current_a=None, ambient_c=None))
    round_.bring(records)
    page = received(round_)
    counts = page.reception.counts
    assert (counts.rows, counts.read, counts.not_read, counts.missing, counts.above) == (6, 3, 2, 1, 1)
    assert counts.letters == "K 1, O 1"
    assert counts.reasons == {Reason.LOCKED: 1, Reason.OFF: 1}
    assert reception_title(page.reception).replace("\u00a0", " ") == (
        "3 of 6 points were read; 2 could not be, 1 is missing"
    )
    first, *rest = stands_out(page.reception.rows)
    assert first.row_uid == round_.rows[2][0]
    assert [why_words(row)[-1] for row in rest[-3:]] == [
        "K: locked or no permit.",
        "O: off.",
        "Neither read nor given a reason.",
    ]


def test_a_program_reads_of_it_what_the_page_says(store: Store) -> None:
    round_ = second_round(store, level=0)
    records = [round_.record(place) for place in (0, 1, 2)]
    records[0] |= {"temperature_c": 410.0}
    records[2] |= {"temperature_c": 49.0}
    records.append(round_.record(3, None, reason="K", current_a=None, ambient_c=None))
    round_.bring(records)
    walker, (first, second) = round_.technician, (round_.rows[0][0], round_.rows[1][0])
    files = FileShelf(files_of(store))
    for uid, place in (("spoken-01", first), ("spoken-02", second)):
        sent = SentNote(uid, b"OggS" + bytes(20), row_uid=place)
        keep_note(store, walker, round_.round_id, sent, shelf=files, now=round_.received_at)
    ask(store, round_.engineer, round_.round_id, row_uid=first, text="Was the fan on?", now=START)
    page = received(round_)
    app = open_app(store, lambda: round_.received_at)
    program = program_as(app, store, round_.plant, Role.ENGINEER, round_.received_at)
    answer = program.get(f"/api/v1/rounds/{round_.round_id}/reception")
    assert answer.status_code == 200, answer.text
    told = answer.json()
    counts = page.reception.counts
    assert told["counts"] == {
        "rows": 6, "read": 3, "not_read": 1, "reasons": {"K": 1}, "missing": 2,
        "odd": counts.odd, "worse": counts.worse, "above": counts.above,
    }  # fmt: skip
    assert (told["state"], told["signed_sheets"], counts.odd > 0, counts.above > 0) == (
        "returned",
        0,
        True,
        True,
    )
    assert [stop["counts"]["rows"] for stop in told["stops"]] == [6]
    for row, shown in zip(told["rows"], page.reception.rows, strict=True):
        assert (row["row_uid"], row["odd"], row["level"]) == (
            shown.row_uid,
            list(shown.odd),
            shown.point.level,
        )
        assert (row["missing"], row["reason"], row["worse"] is None) == (
            shown.missing, shown.point.reason, shown.worse is None,
        )  # fmt: skip
        assert row["temperature_c"] == shown.point.temperature_c
    assert told["rows"][3]["reason_words"] == "locked or no permit"
    assert [[note["uid"] for note in row["spoken_notes"]] for row in told["rows"]][:3] == [
        ["spoken-01"], ["spoken-02"], [],
    ]  # fmt: skip
    missed = page.reception.missed
    assert (told["could_have_missed"]["clean"], told["could_have_missed"]["told"]) == (
        missed.clean,
        missed.told,
    )
    assert told["could_have_missed"]["why"] == [
        {"words": one.words, "count": one.count} for one in page.reception.hidden
    ]
    assert [one["question"] for one in told["questions"]] == ["Was the fan on?"]
    nothing = draft(store, plant=round_.plant)
    assert program.get(f"/api/v1/rounds/{nothing.round.id}/reception").status_code == 409


def test_what_was_worse_than_foretold_is_told_with_what_had_been(store: Store) -> None:
    round_ = second_round(
        store, level=0, trend=Trend.STEADY.value, common_k=0.1, u_common_k=0.2, trend_fan=None
    )
    round_.bring([*(round_.record(place) for place in (0, 2, 3, 4, 5)), round_.record(1, 75.0)])
    shown = next(row for row in received(round_).reception.rows if row.worse is not None)
    app = open_app(store, lambda: round_.received_at)
    program = program_as(app, store, round_.plant, Role.ENGINEER, round_.received_at)
    told = program.get(f"/api/v1/rounds/{round_.round_id}/reception").json()
    (row,) = [one for one in told["rows"] if one["worse"] is not None]
    assert shown.worse is not None
    assert (row["row_uid"], row["foretold"], told["foretold"]) == (shown.row_uid, True, 6)
    assert row["worse"] == {
        "trend": shown.worse.trend, "middle_k": shown.worse.middle_k,
        "most_k": shown.worse.most_k, "read_k": shown.worse.read_k,
    }  # fmt: skip


def test_what_looks_odd_is_told_at_its_row_as_it_stands_now(any_store: Store) -> None:
    round_ = second_round(any_store)
    records = round_.all_records(41.0)
    records[0] |= {"temperature_c": 410.0}
    records[1] |= {"skew_s": -600.0}
    round_.bring(records)
    round_.bring([round_.record(4, 43.0)], actor=round_.engineer)
    page = received(round_)
    told = {place: " ".join(row_of(page, round_, place).odd) for place in range(6)}
    assert "ten times what this point usually shows" in told[0]
    assert told[1] == "The clock of its device was off by 10 minutes."
    assert told[4] == "Read twice, and nobody has decided which one stands."
    assert (told[2], told[5]) == ("", "")
    round_.bring([records[0] | {"temperature_c": 41.0, "correction_reason": "digit slip"}])
    assert row_of(received(round_), round_, 0).odd == ()


def test_the_past_of_a_stored_reading_is_what_was_read_before_it(any_store: Store) -> None:
    """The state of a point holds the reading itself by now: held against that, all would be copied."""
    round_ = second_round(any_store)
    round_.bring(round_.all_records(41.0))
    assert received(round_).reception.counts.odd == 0
    again = issue(any_store, plant=round_.plant, walked_at=START + timedelta(days=60))
    again.bring(again.all_records(41.0))
    assert any("All as last time" in line for row in received(again).reception.rows for line in row.odd)


def test_a_reading_is_held_against_what_its_trend_said_when_the_round_was_issued(any_store: Store) -> None:
    day = (START + timedelta(days=30)).date()
    fan = [[(day + timedelta(days=d)).isoformat(), 0.0, 0.2, 0.5, 0.8, 1.0] for d in (-5, 25)]
    steady = {"trend": Trend.STEADY.value, "common_k": 0.1, "u_common_k": 0.2, "trend_fan": None}
    round_ = second_round(any_store, **steady)
    rising = round_.rows[1][2]
    change(any_store, PointStateRow, rising, trend=Trend.RISING.value, trend_fan=fan)
    round_ = issue(any_store, plant=round_.plant, walked_at=START + timedelta(days=30))
    change(any_store, PointStateRow, rising, trend_fan=None, trend=Trend.STEADY.value)
    records = round_.all_records(40.0)
    records[1] |= {"temperature_c": 49.0}
    records[3] |= {"temperature_c": 49.0}
    round_.bring(records)
    page = received(round_)
    assert page.reception.foretold == 6
    worse = {place: row_of(page, round_, place).worse for place in range(6)}
    assert {place for place, found in worse.items() if found is not None} == {1, 3}
    assert worse[1] is not None
    assert worse[3] is not None
    assert (worse[1].trend, worse[3].trend) == (Trend.RISING, Trend.STEADY)
    assert worse[1].middle_k == pytest.approx(0.5)
    assert "Worse than foretold" in why_words(row_of(page, round_, 1))[0]
    assert "2 worse than foretold" in reception_lead(page.round, page.reception)


def test_points_with_too_few_visits_were_foretold_nothing(store: Store) -> None:
    round_ = second_round(store, trend=Trend.TOO_FEW_VISITS.value, common_k=0.1, u_common_k=0.2)
    round_.bring(round_.all_records(40.0))
    assert received(round_).reception.foretold == 0


def test_why_faults_would_have_been_hidden_is_summed_over_clean_readings(store: Store) -> None:
    round_ = second_round(store)
    records = round_.all_records(40.0)
    for record in records[:3]:
        record |= {"current_a": 45.0}
    records[5] |= {"wind_m_s": 3.0}
    round_.bring(records)
    page = received(round_)
    told = {one.words: one.count for one in page.reception.hidden}
    assert told == {"load under 57 % of common load": 3, "wind over 1 m/s": 1}
    far = why_hidden(page.reception.rows, {page.reception.rows[0].stop_id: ("too far",)})
    assert ("the spot of the lens is not filled at that stop", 6) in {(one.words, one.count) for one in far}
    assert page.reception.missed.clean == 6


def test_nothing_comes_back_of_a_draft_and_strangers_see_nothing(store: Store) -> None:
    plan = draft(store)
    with pytest.raises(Conflict):
        read_reception(store, plan.engineer, plan.round.id, now=START)
    round_ = issue(store, plant=plan.plant)
    stranger = round_.plant.actor(Role.TECHNICIAN, person_id=10_000)
    with pytest.raises(NotFound):
        received(round_, actor=stranger)
    assert reception_title(received(round_).reception) == "Nothing has come back yet"


def test_the_page_leads_on_to_the_signature_whoever_may_sign(store: Store) -> None:
    round_ = second_round(store)
    round_.bring(round_.all_records(40.0))
    app = open_app(store, lambda: round_.received_at)
    address = f"/rounds/{round_.round_id}"
    for role, may in ((Role.ENGINEER, True), (Role.MANAGER, False), (Role.TECHNICIAN, False)):
        client = browser_as(app, store, round_.plant, role, round_.received_at)
        page = client.get(f"{address}/reception")
        assert page.status_code == 200
        assert ("On to the signature" in page.text) is may
        assert f"{address}/reception" in client.get(address).text
