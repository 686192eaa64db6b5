"""Routes, rounds, stops and permits, and the rules by which they move."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from service.domain.round_settings import HeldLine, held_lines
from service.domain.settings import RoundSettings
from service.domain.words import Access, PermitState, Reason, RoundState
from service.errors import Conflict

#: from → to; withdrawn and signed off are ends
MOVES: dict[RoundState, frozenset[RoundState]] = {
    RoundState.DRAFT: frozenset({RoundState.ISSUED, RoundState.WITHDRAWN}),
    RoundState.ISSUED: frozenset({RoundState.RETURNED, RoundState.WITHDRAWN}),
    RoundState.RETURNED: frozenset({RoundState.SIGNED_OFF}),
    RoundState.SIGNED_OFF: frozenset(),
    RoundState.WITHDRAWN: frozenset(),
}
PERMIT_MOVES: dict[PermitState, frozenset[PermitState]] = {
    PermitState.ASKED: frozenset({PermitState.GRANTED, PermitState.CLOSED}),
    PermitState.GRANTED: frozenset({PermitState.CLOSED}),
    PermitState.CLOSED: frozenset(),
}
#: in these states readings may come in (after sign-off only as the engineer's revisions)
OPEN_FOR_READINGS = frozenset({RoundState.ISSUED, RoundState.RETURNED})
NOT_OPEN = "NOT OPEN: NO PERMIT NUMBER"
NO_STAND_OFF = "not given: ask the permit issuer"


@dataclass(frozen=True, slots=True)
class Route:
    """A lasting, ordered list of stops at a site or a chain of sites."""

    id: int
    client_id: int
    name: str
    equipment_ids: tuple[int, ...]
    version: int
    retired_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Round:
    """One dated walk."""

    id: int
    client_id: int
    route_id: int | None
    code: str
    name: str
    planned_on: date
    start_min: int
    state: RoundState
    person_id: int | None
    second_person_id: int | None
    instrument_id: int | None
    weather: str
    note: str
    issued_at: datetime | None
    returned_at: datetime | None
    signed_off_at: datetime | None
    version: int
    #: what holds for all its readings where they say nothing
    settings: RoundSettings = field(default_factory=dict, hash=False)

    @property
    def held(self) -> tuple[HeldLine, ...]:
        """What holds for the whole round, as far as it says something."""
        return tuple(line for line in held_lines(self.settings) if line.value is not None)

    @property
    def holdable(self) -> tuple[HeldLine, ...]:
        """Every quantity that may hold for it."""
        return held_lines(self.settings)


@dataclass(frozen=True, slots=True)
class RoundMove:
    """From state to state: who and when."""

    at: datetime
    by_person_id: int | None
    by_name: str
    from_state: str
    to_state: str
    note: str


@dataclass(frozen=True, slots=True)
class Permit:
    """What the site allows, as its issuer wrote it."""

    id: int
    round_id: int
    site_id: int
    number: str
    issuer: str
    covers: str
    valid_from: datetime | None
    valid_to: datetime | None
    escort: str
    stand_off: str
    state: PermitState
    asked_at: datetime
    asked_by: str
    granted_at: datetime | None
    granted_by: str
    closed_at: datetime | None
    closed_by: str
    version: int


@dataclass(frozen=True, slots=True)
class Stop:
    """One equipment on a round."""

    id: int
    round_id: int
    equipment_id: int
    site_id: int
    position: int
    minutes: int
    permit_id: int | None
    sheet_code: str | None


@dataclass(frozen=True, slots=True)
class RoundPoint:
    """One point expected on a round: its row on the sheet and in the file."""

    id: int
    uid: str
    round_id: int
    stop_id: int
    view_id: int
    point_id: int
    position: int
    visit_kind: str
    not_read_reason: Reason | None
    chosen_source: str | None


def check_move(round_: Round, to: RoundState) -> None:
    """Refuse a move that the states do not have.

    Raises
    ------
    service.errors.Conflict
        The round cannot go from its state to ``to``.
    """
    if to not in MOVES[round_.state]:
        ways = ", ".join(sorted(MOVES[round_.state])) or "nothing more"
        raise Conflict(
            f"Round {round_.code} is {round_.state}; it cannot become {to}",
            remedy=f"From {round_.state} it can become: {ways}.",
        )


def check_draft(round_: Round) -> None:
    """Stops, day and start are edited in a draft only: afterwards they stand on paper.

    Raises
    ------
    service.errors.Conflict
        The round has been issued, or is over.
    """
    if round_.state is not RoundState.DRAFT:
        raise Conflict(
            f"Round {round_.code} is {round_.state}; its stops no longer change",
            remedy="Withdraw it and build another, or leave it.",
        )


def check_running(round_: Round) -> None:
    """People, instrument and permits change until sign-off.

    Raises
    ------
    service.errors.Conflict
        The round is signed off or withdrawn.
    """
    if round_.state in (RoundState.SIGNED_OFF, RoundState.WITHDRAWN):
        raise Conflict(f"Round {round_.code} is {round_.state}; it no longer changes")


def check_permit_move(permit: Permit, to: PermitState) -> None:
    """Refuse a move that the states of a permit do not have.

    Raises
    ------
    service.errors.Conflict
        The permit cannot go from its state to ``to``.
    """
    if to not in PERMIT_MOVES[permit.state]:
        raise Conflict(f"The permit is {permit.state}; it cannot become {to}")


def needs_permit(access: Access) -> bool:
    """Gear behind a cover is taken as live unless the permit says otherwise."""
    return access.behind_cover


def closed_because(access: Access, permit: Permit | None) -> str:
    """Why a stop does not open, in words; empty when it does."""
    if not needs_permit(access):
        return ""
    if permit is None:
        return "no permit asked"
    if not permit.number.strip():
        return "no permit number"
    if permit.valid_from is None or permit.valid_to is None:
        return "no from and to on the permit"
    if permit.state is PermitState.CLOSED:
        return "permit closed"
    return ""


def not_open_text(closed: str) -> str:
    """What is printed large where a stop does not open: its reason, never a wrong one."""
    if not closed:
        return ""
    return NOT_OPEN if closed in ("no permit asked", "no permit number") else f"NOT OPEN: {closed.upper()}"


def opens(access: Access, permit: Permit | None) -> bool:
    """True when the stop may be opened in Field as far as its permit goes."""
    return not closed_because(access, permit)


def stand_off_text(equipment_text: str, permit: Permit | None) -> str:
    """The site's own words: those of the permit first, then those of the register."""
    typed = permit.stand_off.strip() if permit else ""
    return typed or equipment_text.strip() or NO_STAND_OFF


def moved(order: Sequence[int], item: int, *, by: int) -> tuple[int, ...]:
    """The order with ``item`` moved ``by`` places, stopping at either end."""
    left = [other for other in order if other != item]
    place = max(0, min(len(left), list(order).index(item) + by))
    return (*left[:place], item, *left[place:])
