"""Requests that a machine which runs in turn runs for a visit: asked of whom, and what was answered."""

from dataclasses import dataclass
from datetime import date, datetime

from service.domain.day_words import day_words
from service.domain.site_clock import local_day
from service.domain.words import RunRequestState
from service.errors import Conflict

_ANSWERS = {RunRequestState.AGREED: "it will run", RunRequestState.REFUSED: "it will not run"}


@dataclass(frozen=True, slots=True)
class RunRequest:
    """One request of a site for one machine and one day.

    ``asked_by`` and ``answered_by`` are who noted it here; ``asked_of`` is whom they asked, ``answer``
    what was said in reply.
    """

    id: int
    round_id: int
    equipment_id: int
    site_id: int
    zone: str
    day: date
    asked_of: str
    state: RunRequestState
    asked_at: datetime
    asked_by: str
    answer: str
    answered_at: datetime | None
    answered_by: str
    version: int

    def stands(self, day: date) -> bool:
        """It was asked for that day; a round that moved must be asked for again."""
        return self.day == day


def still_to_ask(request: RunRequest | None, day: date) -> bool:
    """Nobody was asked that the machine runs on this day."""
    return request is None or not request.stands(day)


def run_words(request: RunRequest | None, day: date) -> str:
    """Who was asked, when, by whom, and what came of it, in a sentence without its stop."""
    if request is None:
        return "Nobody has been asked yet"
    of = f" of {request.asked_of}" if request.asked_of else ""
    by = f" by {request.asked_by}" if request.asked_by else ""
    asked = f"Asked{of} on {day_words(local_day(request.asked_at, request.zone))}{by}"
    if still_to_ask(request, day):
        return f"{asked}, for {day_words(request.day)}: the round has moved, ask again"
    if request.state is RunRequestState.ASKED or request.answered_at is None:
        return f"{asked}; no answer noted"
    said = f" (“{request.answer}”)" if request.answer else ""
    noted = f"on {day_words(local_day(request.answered_at, request.zone))}"
    return (
        f"{asked}; {_ANSWERS[request.state]}{said}, noted {noted} by {request.answered_by or 'the service'}"
    )


def check_unanswered(request: RunRequest) -> None:
    """An answer is noted once; who hears another one asks again.

    Raises
    ------
    service.errors.Conflict
        It is answered already.
    """
    if request.state is not RunRequestState.ASKED:
        raise Conflict(
            f"This request is answered already: {request.state.value}",
            remedy="Where the site says something else now, note a new request and its answer.",
        )
