"""Questions about single points of a round: sent back by the engineer, answered by who walked it."""

from datetime import datetime

from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.questions import LONGEST, RoundQuestion
from service.domain.rounds import OPEN_FOR_READINGS, Round
from service.errors import Conflict, Invalid, NotFound
from service.storage import audit, round_questions
from service.storage.unit import Store, Unit
from service.usecases.rounds.sight import round_to_change, round_to_see
from service.usecases.rounds.typed_checks import text_problems


def list_questions(store: Store, actor: Actor, round_id: int) -> tuple[RoundQuestion, ...]:
    """Questions of a round in the order in which they were asked.

    Raises
    ------
    NotFound
        Absent, or out of sight.
    """
    with store.look() as unit:
        round_to_see(unit, actor, round_id)
        return round_questions.questions_of(unit, round_id)


def ask(
    store: Store, actor: Actor, round_id: int, *, row_uid: str, text: str, now: datetime
) -> RoundQuestion:
    """Send a question about one point back to those who walked the round.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, no row of this round, or not an engineer.
    Conflict
        The round is not out, or signed off.
    Invalid
        Nothing is asked, or too much.
    """
    told = text.strip()
    _refuse(told, field="question", required="There is no question.")
    with store.begin() as unit:
        round_ = round_to_change(unit, actor, round_id, verb=Verb.KEEP_REGISTER)
        _check_open(round_)
        made = round_questions.add_question(unit, round_id, row_uid, text=told, by=actor.person_id, now=now)
        if made is None:
            raise NotFound("There is no such row on this round.")
        after = {"row": row_uid, "question": told}
        audit.note(unit, actor, verb="ask", noun="round", noun_id=round_id, now=now, after=after)
        return _question(unit, round_id, made)


def answer(
    store: Store,
    actor: Actor,
    round_id: int,
    question_id: int,
    *,
    text: str,
    version: int,
    now: datetime,
) -> RoundQuestion:
    """Answer a question; a later answer takes the place of the first, which stays in the audit trail.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, no question of this round, or neither its walker nor an engineer.
    Conflict, Stale
        The round is signed off, or somebody answered since ``version``.
    Invalid
        Nothing is answered, or too much.
    """
    told = text.strip()
    _refuse(told, field="answer", required="There is no answer.")
    with store.begin() as unit:
        round_ = round_to_change(unit, actor, round_id, verb=Verb.BRING_READINGS)
        before = _question(unit, round_id, question_id)
        _check_open(round_)
        round_questions.answer_question(
            unit, question_id, text=told, version=version, by=actor.person_id, now=now
        )
        audit.note(
            unit, actor, verb="answer", noun="round", noun_id=round_id, now=now,
            before={"question": before.question, "answer": before.answer}, after={"answer": told},
        )  # fmt: skip
        return _question(unit, round_id, question_id)


def _refuse(text: str, *, field: str, required: str) -> None:
    problems = text_problems(field, text, longest=LONGEST, required=required)
    if problems:
        raise Invalid(problems)


def _check_open(round_: Round) -> None:
    if round_.state not in OPEN_FOR_READINGS:
        raise Conflict(f"Round {round_.code} is {round_.state}; nothing is asked about it any more")


def _question(unit: Unit, round_id: int, question_id: int) -> RoundQuestion:
    found = round_questions.question_of(unit, round_id, question_id)
    if found is None:
        raise NotFound()
    return found
