"""What pages say of a request that a machine runs for a visit."""

from datetime import date

from service.domain.run_requests import RunRequest, still_to_ask
from service.pages import view
from service.usecases.rounds.browse import RoundPage


def run_state(request: RunRequest | None, day: date) -> str:
    """The state in a word or two, for a list and a file."""
    if request is None:
        return "to be asked for"
    if still_to_ask(request, day):
        return "asked for another day: ask again"
    return request.state.value


def running_title(page: RoundPage) -> str:
    """Two machines of this round are still to be asked for."""
    day = page.round.planned_on
    waiting = sum(still_to_ask(stop.run_request, day) for stop in page.in_turn)
    if not page.in_turn:
        return "No machine of this round runs in turn with others"
    if not waiting:
        return "The site was asked to run every machine that runs in turn"
    one = waiting == 1
    told = f"{view.number_word(waiting)} {'machine' if one else 'machines'} that {'runs' if one else 'run'} in turn"
    return view.sentence_case(f"{told} {'is' if one else 'are'} still to be asked for")
