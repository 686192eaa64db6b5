"""Questions sent back for single points: asked, answered, on the Desk, in nobody's way at sign-off."""

from datetime import datetime

import pytest

from service.domain.desk import Waiting
from service.domain.questions import LONGEST
from service.domain.words import Role, RoundState
from service.errors import Conflict, Forbidden, Invalid, NotFound, Stale
from service.storage import rounds
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from service.usecases.findings.desk import see_desk
from service.usecases.rounds.mark_returned import mark_returned
from service.usecases.rounds.questions import answer, ask, list_questions
from service.usecases.rounds.sign_off import read_sign_off, sign_off_round
from tests.doors import browser_as, open_app, program_as
from tests.rounds.builders import NOW, Walk, change, issued, read_row, rows_of


def returned(store: Store) -> Walk:
    walk = issued(store)
    for row in rows_of(store, walk.round.id):
        read_row(store, row)
    with store.begin() as unit:
        walk.round = mark_returned(unit, walk.technician(), walk.round.id, NOW)
    return walk


def asked(walk: Walk, text: str = "Was the fan on?"):  # type: ignore[no-untyped-def]
    row = rows_of(walk.store, walk.round.id)[1]
    return ask(walk.store, walk.engineer, walk.round.id, row_uid=row.uid, text=text, now=NOW)


def words(page: str) -> str:
    return " ".join(page.replace("\u00a0", " ").split())


def test_a_question_goes_to_the_desk_of_who_walked_and_leaves_it_when_answered(any_store: Store) -> None:
    walk = returned(any_store)
    question = asked(walk)
    assert question.open
    for actor in (walk.technician(), walk.engineer):
        (waiting,) = see_desk(any_store, actor, now=NOW).of(Waiting.QUESTION)
        assert waiting.detail == "1 question waits for an answer."
    told = answer(
        any_store, walk.technician(), walk.round.id, question.id, text="It was off", version=1, now=NOW
    )
    assert (told.answer, told.answered_by, told.open) == ("It was off", "Test technician", False)
    assert see_desk(any_store, walk.engineer, now=NOW).of(Waiting.QUESTION) == ()
    assert list_questions(any_store, walk.technician(), walk.round.id) == (told,)


def test_two_answers_at_once_do_not_overwrite_each_other(any_store: Store) -> None:
    walk = returned(any_store)
    question = asked(walk)
    fields = {"text": "It was off", "version": question.version, "now": NOW}
    answer(any_store, walk.technician(), walk.round.id, question.id, **fields)
    with pytest.raises(Stale):
        answer(any_store, walk.engineer, walk.round.id, question.id, **fields)


def test_only_an_engineer_asks_and_only_about_rows_of_the_round(store: Store) -> None:
    walk = returned(store)
    row = rows_of(store, walk.round.id)[0]
    with pytest.raises(Forbidden):
        ask(store, walk.technician(), walk.round.id, row_uid=row.uid, text="Why?", now=NOW)
    with pytest.raises(NotFound):
        ask(store, walk.engineer, walk.round.id, row_uid="r-not-of-here", text="Why?", now=NOW)
    for text in ("  ", "x" * (LONGEST + 1), "bell \x07"):
        with pytest.raises(Invalid):
            asked(walk, text)


def test_after_the_signature_nothing_is_asked_or_answered(store: Store) -> None:
    walk = returned(store)
    question = asked(walk)
    change(store, RoundRow, walk.round.id, state="signed off")
    with pytest.raises(Conflict):
        asked(walk)
    with pytest.raises(Conflict):
        answer(store, walk.technician(), walk.round.id, question.id, text="It was", version=1, now=NOW)


def test_the_signature_warns_of_open_questions_and_stays_possible(any_store: Store) -> None:
    walk = returned(any_store)
    asked(walk)
    assert read_sign_off(any_store, walk.engineer, walk.round.id, now=NOW).open_questions == 1
    done = sign_off_round(
        any_store, walk.engineer, walk.round.id, reasons={}, version=walk.round.version, now=NOW
    )
    assert done.state is RoundState.SIGNED_OFF
    with any_store.look() as unit:
        assert rounds.moves_of(unit, walk.round.id)[-1].note.endswith("; 1 question never answered")
    assert see_desk(any_store, walk.engineer, now=NOW).of(Waiting.QUESTION) == ()


def test_questions_over_the_api_name_the_version_they_answer(store: Store, now: datetime) -> None:
    walk = returned(store)
    app = open_app(store, lambda: NOW)
    engineer, technician = (
        program_as(app, store, walk.plant, role, now) for role in (Role.ENGINEER, Role.TECHNICIAN)
    )
    address = f"/api/v1/rounds/{walk.round.id}/questions"
    row = rows_of(store, walk.round.id)[0]
    made = engineer.post(address, json={"row_uid": row.uid, "question": "Which camera?"})
    assert (made.status_code, made.headers["etag"]) == (201, '"1"')
    one = technician.get(address).json()[0]
    assert (one["question"], one["answered_at"]) == ("Which camera?", None)
    of_one = f"{address}/{one['id']}"
    assert technician.put(of_one, json={"answer": "IR-1"}).status_code == 428
    told = technician.put(of_one, json={"answer": "IR-1"}, headers={"If-Match": '"1"'})
    assert (told.status_code, told.json()["answer"]) == (200, "IR-1")
    again = engineer.put(of_one, json={"answer": "IR-2"}, headers={"If-Match": '"1"'})
    assert again.status_code == 412


def test_the_pages_ask_answer_and_warn(store: Store, now: datetime) -> None:
    walk = returned(store)
    app = open_app(store, lambda: NOW)
    engineer, technician = (
        browser_as(app, store, walk.plant, role, now) for role in (Role.ENGINEER, Role.TECHNICIAN)
    )
    base, row = f"/rounds/{walk.round.id}", rows_of(store, walk.round.id)[0]
    assert f'value="{row.uid}" selected' in engineer.get(f"{base}/reception?ask={row.uid}").text
    assert "Send it back" not in technician.get(f"{base}/reception").text
    sent = engineer.post(f"{base}/questions", data={"row_uid": row.uid, "question": "Which way up?"})
    assert sent.headers["location"] == f"{base}/reception#questions"
    for page in (base, f"{base}/return"):
        assert "1 question sent back waits" in words(technician.get(page).text)
    assert "1 question sent back is not answered" in words(engineer.get(f"{base}/sign-off").text)
    (question,) = list_questions(store, walk.engineer, walk.round.id)
    empty = technician.post(f"{base}/questions/{question.id}", data={"version": "1", "answer": ""})
    assert empty.status_code == 422
    assert f'href="#field-answer{question.id}"' in empty.text
    done = technician.post(f"{base}/questions/{question.id}", data={"version": "1", "answer": "Upright"})
    assert done.status_code == 303
    assert "Upright" in engineer.get(f"{base}/reception").text
