"""Findings: what needs a decision, from open to proven, and the rules of their moves."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from service.domain.words import FindingState, Level
from service.errors import Conflict

#: How the title of a part met off the round begins; its temperature follows in °C.
OFF_ROUND_TITLE = "Hot part off the round"
#: Days after a repair in which it should be read again; later the Desk marks it.
READ_AGAIN_DAYS = 30
#: A second finding on a point within this many days asks for the root cause.
ROOT_CAUSE_DAYS = 730

_MOVES: dict[FindingState, frozenset[FindingState]] = {
    FindingState.OPEN: frozenset({FindingState.PLANNED, FindingState.REPAIRED, FindingState.SET_ASIDE}),
    FindingState.PLANNED: frozenset({FindingState.PLANNED, FindingState.REPAIRED, FindingState.SET_ASIDE}),
    FindingState.REPAIRED: frozenset({FindingState.PROVEN, FindingState.NOT_PROVEN}),
    FindingState.NOT_PROVEN: frozenset({FindingState.PLANNED, FindingState.REPAIRED, FindingState.SET_ASIDE}),
    FindingState.PROVEN: frozenset({FindingState.NOT_PROVEN}),
    FindingState.SET_ASIDE: frozenset({FindingState.OPEN}),
}
#: How a finding ended whose reading turned out wrong: nothing that is read later is covered by it.
READING_CORRECTED = "reading corrected"
#: States in which a finding waits for its decision or its repair.
OPEN_STILL = frozenset({FindingState.OPEN, FindingState.PLANNED, FindingState.NOT_PROVEN})
#: States in which a finding still wants something from somebody.
LIVE = frozenset({FindingState.OPEN, FindingState.PLANNED, FindingState.REPAIRED, FindingState.NOT_PROVEN})


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that needs a decision; ``point_id`` is None for a hot part met off the round."""

    id: int
    version: int
    client_id: int
    site_id: int
    site_name: str
    time_zone: str
    point_id: int | None
    point_tag: str
    point_name: str
    equipment_id: int | None
    equipment_name: str
    round_id: int | None
    reading_id: int | None
    place: str
    picture: str
    title: str
    state: FindingState
    attempt: int
    level: Level | None
    value_k: float | None
    common_k: float | None
    load_ratio: float | None
    current_a: float | None
    opened_at: datetime
    opened_by: str
    owner_id: int | None
    owner: str
    due_on: date | None
    work_order: str
    cause: str
    root_cause: str
    interim_measure: str
    cost: float | None
    consequence: str
    planned_for: date | None
    set_aside_reason: str
    review_on: date | None
    risk_accepted_by: str
    risk_accepted_at: datetime | None
    risk_accepted_note: str
    outcome: str
    closed_at: datetime | None
    told: bool

    @property
    def live(self) -> bool:
        return self.state in LIVE

    @property
    def where(self) -> str:
        """Place in words, registered or not."""
        if self.point_id is None:
            return f"{self.site_name}, {self.place}"
        return f"{self.site_name}, {self.equipment_name}, {self.point_name}"

    @property
    def wants_telling(self) -> bool:
        """Act now and nobody is on record as told."""
        return self.live and self.level is Level.ACT_NOW and not self.told

    def overdue(self, today: date) -> bool:
        return (
            self.live
            and self.state is not FindingState.REPAIRED
            and self.due_on is not None
            and self.due_on < today
        )


@dataclass(frozen=True, slots=True)
class Untold:
    """An Act now of which nobody is on record as told, and whom the site names for it."""

    finding: Finding
    contact_name: str
    contact_phone: str

    @property
    def whom(self) -> str:
        """Contact of the site; where none is on record, its control."""
        contact = ", ".join(word for word in (self.contact_name.strip(), self.contact_phone.strip()) if word)
        return contact or "the site’s control (no contact is on record)"


@dataclass(frozen=True, slots=True)
class SetAside:
    """A decision to leave a point as it is: at which level, and until which day."""

    finding_id: int
    level: Level | None
    review_on: date | None


@dataclass(frozen=True, slots=True)
class TakenBack:
    """Why no reading says Act now any more: the one behind it was corrected, or judged anew.

    ``was_c`` and ``now_c`` are what it read [°C]; None where it is no reading at all. ``standing``
    is the level of the point since ``on``.
    """

    corrected: bool
    reason: str
    was_c: float | None
    now_c: float | None
    on: date
    standing: Level | None

    @property
    def sentence(self) -> str:
        if not self.corrected:
            return "The reading behind it was judged anew and no longer says Act now"
        told = f"The reading behind it was corrected: {self.reason.strip().rstrip('.') or 'no reason kept'}"
        if self.was_c is None or self.was_c == self.now_c:
            return told
        now = "not read" if self.now_c is None else f"{self.now_c:.1f} °C"
        return f"{told} ({self.was_c:.1f} °C, now {now})"


@dataclass(frozen=True, slots=True)
class FindingMove:
    at: datetime
    by: str
    from_state: str
    to_state: str
    note: str


@dataclass(frozen=True, slots=True)
class Telling:
    """Whom was told of an Act now, when, and what they answered."""

    told_whom: str
    told_at: datetime
    answer: str
    by: str


@dataclass(frozen=True, slots=True)
class Repair:
    """One attempt: as found, as left (torque, micro-ohm), and how it ended."""

    attempt: int
    repaired_at: datetime
    by: str
    as_found: str
    as_left: str
    torque_found_nm: float | None
    torque_left_nm: float | None
    micro_ohm_found: float | None
    micro_ohm_left: float | None
    replaced: bool
    cost: float | None
    outcome: str | None
    outcome_at: datetime | None
    outcome_reading_id: int | None
    found: str | None = None

    def read_again_overdue(self, now: datetime) -> bool:
        return self.outcome is None and now - self.repaired_at > timedelta(days=READ_AGAIN_DAYS)


@dataclass(frozen=True, slots=True)
class FindingFile:
    """A finding with everything that happened to it, and at what its point stands now."""

    finding: Finding
    moves: tuple[FindingMove, ...]
    repairs: tuple[Repair, ...]
    tellings: tuple[Telling, ...]
    earlier: tuple[Finding, ...]
    standing: Level | None = None
    taken_back: TakenBack | None = None

    @property
    def gravest(self) -> Level | None:
        """The level it was opened or raised to, or the graver one that its point stands at now."""
        levels = [level for level in (self.finding.level, self.standing) if level is not None]
        return max(levels, default=None)

    @property
    def wants_telling(self) -> bool:
        """Act now, nobody is on record as told, and a reading still says so."""
        return self.finding.wants_telling and self.taken_back is None

    @property
    def wants_root_cause(self) -> bool:
        """Same point within 24 months: the cause behind the cause is asked for."""
        first = self.finding.opened_at - timedelta(days=ROOT_CAUSE_DAYS)
        return not self.finding.root_cause and any(f.opened_at >= first for f in self.earlier)


def check_move(state: FindingState, to: FindingState) -> None:
    """Refuse a move that the states do not know.

    Raises
    ------
    Conflict
        With the moves that are possible from here.
    """
    if to not in _MOVES[state]:
        possible = ", ".join(sorted(_MOVES[state])) or "nothing"
        raise Conflict(f"A finding that is {state} cannot become {to}.", remedy=f"From here: {possible}.")
