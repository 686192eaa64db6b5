"""The report of a round: gathered for people who read letters and for those who make them."""

from datetime import date

from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.reports import RoundReport
from service.domain.rounds import Round
from service.domain.words import RoundState
from service.storage import instrument_checks, reports, rounds
from service.storage.unit import Store
from service.usecases.rounds.sight import round_to_see, sight_of

REPORTED = (RoundState.RETURNED, RoundState.SIGNED_OFF)


def see_round_report(store: Store, actor: Actor, *, round_id: int) -> RoundReport:
    """Everything that was inspected on a round, and what was not and why.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    with store.look() as unit:
        round_to_see(unit, actor, round_id, verb=Verb.READ_LETTERS)
        return RoundReport(
            reports.report_head(unit, round_id),
            reports.reported_points(unit, round_id),
            instrument_checks.checks_of_round(unit, round_id),
        )


def list_reports(store: Store, actor: Actor, *, first: date, last: date) -> tuple[Round, ...]:
    """Rounds of these days that came back, latest first."""
    require(actor, Verb.READ_LETTERS)
    with store.look() as unit:
        found = rounds.list_rounds(unit, sight_of(actor), first=first, last=last, states=REPORTED)
    return tuple(sorted(found, key=lambda r: (r.planned_on, r.id), reverse=True))
