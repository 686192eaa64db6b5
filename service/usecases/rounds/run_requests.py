"""Have a machine run for a visit: whom it was asked of, when, and what was answered."""

from collections.abc import Sequence
from datetime import datetime

from service.domain.people import Actor
from service.domain.rounds import Round, check_running
from service.domain.run_requests import RunRequest, check_unanswered
from service.domain.words import RunRequestState
from service.errors import Invalid, NotFound, Problem, Stale
from service.storage import audit, round_facts, rounds, run_requests
from service.storage.unit import Store, Unit
from service.usecases.rounds.sight import round_to_change, round_to_see
from service.usecases.rounds.typed_checks import problem, text_problems

LONGEST = 500


def list_run_requests(store: Store, actor: Actor, round_id: int) -> tuple[RunRequest, ...]:
    """Every request of a round in the order in which they were noted; of one machine the last counts.

    Raises
    ------
    NotFound
        The round is absent, or out of sight.
    """
    with store.look() as unit:
        return run_requests.all_of_round(unit, round_to_see(unit, actor, round_id).id)


def read_run_request(store: Store, actor: Actor, request_id: int) -> RunRequest:
    """One request.

    Raises
    ------
    NotFound
        Absent, or its round is out of sight.
    """
    with store.look() as unit:
        found = _found(unit, request_id)
        round_to_see(unit, actor, found.round_id)
        return found


def ask_to_run(
    store: Store,
    actor: Actor,
    round_id: int,
    equipment_ids: Sequence[int],
    *,
    asked_of: str = "",
    now: datetime,
) -> tuple[RunRequest, ...]:
    """Note that a site was asked to have machines of a round run on its day.

    Parameters
    ----------
    store, actor
        Where, and who: an engineer.
    round_id : int
        The round; its day is the one that was asked for.
    equipment_ids : sequence of int
        Stops of the round that run in turn with others.
    asked_of : str
        Whom, as the site calls them.
    now : datetime
        The instant of the request.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Conflict
        The round is over.
    Invalid
        No machine, one that is not on the round or does not run in turn, or a text too long.

    Notes
    -----
    A note, no permission: whether a machine is switched over is the site's own decision.
    """
    with store.begin() as unit:
        round_ = round_to_change(unit, actor, round_id)
        check_running(round_)
        problems = text_problems("asked_of", asked_of, longest=LONGEST)
        problems += _machine_problems(unit, round_, equipment_ids)
        if problems:
            raise Invalid(problems)
        noted = run_requests.add_requests(
            unit,
            round_id,
            dict.fromkeys(equipment_ids),
            day=round_.planned_on,
            asked_of=asked_of.strip(),
            by=actor.person_id,
            now=now,
        )
        for one in noted:
            after = {"equipment": one.equipment_id, "day": one.day, "asked_of": one.asked_of}
            _trail(unit, actor, one, verb="ask", now=now, after=after | {"round": round_.code})
        return noted


def answer_run_request(
    store: Store,
    actor: Actor,
    request_id: int,
    *,
    agreed: bool,
    answer: str = "",
    version: int,
    now: datetime,
) -> RunRequest:
    """Note what the site answered.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Conflict
        It is answered already, or the round is over.
    Invalid
        A text too long, or a refusal that gives no reason.
    Stale
        Somebody changed it since ``version``.
    """
    with store.begin() as unit:
        round_ = round_to_change(unit, actor, _found(unit, request_id).round_id)
        check_running(round_)
        asked = run_requests.lock_request(unit, request_id)
        if asked.version != version:
            raise Stale(asked.version)
        check_unanswered(asked)
        why = "" if agreed else "Why does it not run, and when would it?"
        problems = text_problems("answer", answer, longest=LONGEST, required=why)
        if problems:
            raise Invalid(problems)
        state = RunRequestState.AGREED if agreed else RunRequestState.REFUSED
        noted = run_requests.note_answer(
            unit,
            request_id,
            version=version,
            state=state,
            answer=answer.strip(),
            by=actor.person_id,
            now=now,
        )
        _trail(
            unit,
            actor,
            noted,
            verb="answer",
            now=now,
            after={"state": state.value, "answer": noted.answer},
        )
        return noted


def _found(unit: Unit, request_id: int) -> RunRequest:
    found = run_requests.request_by_id(unit, request_id)
    if found is None:
        raise NotFound()
    return found


def _machine_problems(unit: Unit, round_: Round, equipment_ids: Sequence[int]) -> list[Problem]:
    if not equipment_ids:
        return [problem("equipment_ids", "", "Which machines are to run?", "Choose at least one.")]
    here = {stop.equipment_id for stop in rounds.stops_of(unit, round_.id)}
    facts = round_facts.equipment_facts(unit, [key for key in equipment_ids if key in here])
    wrong = [key for key in equipment_ids if key not in facts or not facts[key].duty_group]
    if not wrong:
        return []
    message = "This is no machine of the round that runs in turn with others."
    return [problem("equipment_ids", str(wrong[0]), message, "Choose among those of the round.")]


def _trail(
    unit: Unit, actor: Actor, one: RunRequest, *, verb: str, now: datetime, after: dict[str, object]
) -> None:
    audit.note(
        unit,
        actor,
        verb=verb,
        noun="run request",
        noun_id=one.id,
        site_id=one.site_id,
        now=now,
        after=after,
    )
