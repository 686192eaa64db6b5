"""Sign a round off: every row read or with a reason, no double undecided, by a certified person."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.rounds import Round, RoundPoint, check_move
from service.domain.stop_facts import SheetPoint
from service.domain.walking_parties import why_not_signing
from service.domain.words import Reason, RoundState
from service.errors import Conflict, Invalid
from service.storage import audit, round_questions, rounds, sheet_rows, site_state, walking_parties
from service.storage.unit import Store, Unit
from service.usecases.rounds.sight import round_to_change, round_to_see
from service.usecases.rounds.typed_checks import problem


@dataclass(frozen=True, slots=True)
class SignOffPage:
    """What stands between a returned round and its signature."""

    round: Round
    read: int
    with_reason: int
    not_read: tuple[SheetPoint, ...]
    doubles: tuple[SheetPoint, ...]
    why_not: str
    #: questions sent back that nobody has answered: told, and in nobody's way
    open_questions: int = 0

    @property
    def points(self) -> int:
        return self.read + self.with_reason + len(self.not_read)


def read_sign_off(store: Store, actor: Actor, round_id: int, *, now: datetime) -> SignOffPage:
    """Rows without a reading, doubles without a decision, and whether the asker may sign.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id, verb=Verb.SIGN_OFF)
        open_rows, doubles, read = _rows(unit, round_id)
        by_uid = {point.row_uid: point for point in sheet_rows.sheet_points(unit, round_id)}
        return SignOffPage(
            round=round_,
            read=read,
            with_reason=len(by_uid) - read - len(open_rows),
            not_read=tuple(by_uid[row.uid] for row in open_rows),
            doubles=tuple(by_uid[row.uid] for row in doubles),
            why_not=_why_not(unit, actor, now=now),
            open_questions=round_questions.count_open(unit, round_id),
        )


def sign_off_round(
    store: Store,
    actor: Actor,
    round_id: int,
    *,
    reasons: Mapping[str, Reason],
    version: int,
    now: datetime,
) -> Round:
    """Close a returned round.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        An engineer whose certificate (second category or above) is valid now.
    round_id : int
        The round.
    reasons : mapping of str to Reason
        By row id: why a point has no reading. Such points stay due.
    version : int
        The version that was read.
    now : datetime
        The instant of the request.

    Raises
    ------
    Conflict
        The round is not returned, or the certificate is missing, too low or expired.
    Invalid
        Every row without reading and reason, and every undecided double, at once.
    Stale
        Somebody changed it since ``version``.
    """
    with store.begin() as unit:
        round_ = round_to_change(unit, actor, round_id, verb=Verb.SIGN_OFF, version=version)
        check_move(round_, RoundState.SIGNED_OFF)
        why_not = _why_not(unit, actor, now=now)
        if why_not:
            raise Conflict(why_not, remedy="Somebody with a valid certificate signs it off.")
        open_rows, doubles, read = _rows(unit, round_id)
        _refuse_unfinished(unit, round_id, open_rows, doubles, reasons=reasons)
        given = {row.id: reasons[row.uid] for row in open_rows}
        rounds.set_not_read(unit, given)
        note = f"{read} read, {len(rounds.points_of(unit, round_id)) - read} with a reason instead"
        unanswered = round_questions.count_open(unit, round_id)
        if unanswered:
            note += f"; {unanswered} {'question' if unanswered == 1 else 'questions'} never answered"
        after = rounds.move_round(
            unit, round_, RoundState.SIGNED_OFF, by=actor.person_id, now=now, note=note, version=version
        )
        site_state.bump(unit, rounds.site_ids_of(unit, round_id), now=now)
        audit.note(
            unit,
            actor,
            verb="sign off",
            noun="round",
            noun_id=round_id,
            now=now,
            after={"read": read, "reasons": {row.uid: reasons[row.uid] for row in open_rows}},
        )
        return after


def _why_not(unit: Unit, actor: Actor, *, now: datetime) -> str:
    walkers = walking_parties.walkers_by_id(unit, [actor.person_id])
    return why_not_signing(walkers.get(actor.person_id or 0), now.date())


def _rows(unit: Unit, round_id: int) -> tuple[list[RoundPoint], list[RoundPoint], int]:
    """(neither read nor with a reason, read twice and undecided, how many are read)."""
    answers = sheet_rows.answers_by_row(unit, round_id)
    points = rounds.points_of(unit, round_id)
    open_rows = [row for row in points if row.id not in answers and row.not_read_reason is None]
    doubles = [row for row in points if len(answers.get(row.id, ())) > 1 and row.chosen_source is None]
    read = sum("" in answers.get(row.id, {}).values() for row in points)
    return open_rows, doubles, read


def _refuse_unfinished(
    unit: Unit,
    round_id: int,
    open_rows: list[RoundPoint],
    doubles: list[RoundPoint],
    *,
    reasons: Mapping[str, Reason],
) -> None:
    missing = [row for row in open_rows if row.uid not in reasons]
    unknown = set(reasons) - {row.uid for row in open_rows}
    if not (missing or doubles or unknown):
        return
    named = {point.row_uid: point for point in sheet_rows.sheet_points(unit, round_id)}
    problems = [
        problem(
            f"reason-{row.uid}",
            "",
            f"{named[row.uid].tag} has neither a reading nor a reason.",
            "Give the reason, or bring its reading in.",
            where=f"row {row.position}",
        )
        for row in missing
    ]
    problems += [
        problem(
            "",
            "two readings",
            f"{named[row.uid].tag} was read twice and nobody has decided.",
            "Decide on the Desk which one stands.",
            where=f"row {row.position}",
        )
        for row in doubles
    ]
    problems += [
        problem(f"reason-{uid}", "", "A reason for a row that needs none.", "Read the page again.")
        for uid in sorted(unknown)
    ]
    raise Invalid(problems)
