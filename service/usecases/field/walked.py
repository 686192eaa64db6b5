"""What the walk of a round brought beside its readings: visits, clocks, doubts, and what is held aside."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from service.domain.device_clock import clock_doubt
from service.domain.field_records import CameraClock, HeldSend, StopVisit
from service.domain.people import Actor
from service.domain.permissions import Verb, may
from service.domain.readings import Reading
from service.domain.rounds import Round
from service.domain.spoken_notes import SpokenNote
from service.domain.typed_permits import TypedPermit
from service.intake.moments import Clock
from service.storage import field_records, held_sends, spoken_notes, typed_permits
from service.storage.unit import Store
from service.usecases.rounds.sight import round_to_see, sight_of

#: Held sends of one round that are listed; the Desk has all of them.
MOST_HELD = 500


@dataclass(frozen=True, slots=True)
class DoubtedTime:
    """A reading whose device had a wrong clock, and what is said of that."""

    reading_uid: str
    point_tag: str
    words: str


@dataclass(frozen=True, slots=True)
class Walked:
    """A round with what devices sent of it; ``stops`` are title and zone by stop, in walking order."""

    round: Round
    stops: Mapping[int, tuple[str, str]]
    visits: tuple[StopVisit, ...]
    clocks: tuple[CameraClock, ...]
    held: tuple[HeldSend, ...]
    doubts: tuple[DoubtedTime, ...]
    spoken: tuple[SpokenNote, ...] = ()
    permits: tuple[TypedPermit, ...] = ()
    may_take_back: bool = False


def see_walked(store: Store, actor: Actor, round_id: int) -> Walked:
    """What came in from the walk of a round.

    Raises
    ------
    NotFound
        The round is absent or out of sight.
    """
    with store.look() as unit:
        round_ = round_to_see(unit, actor, round_id)
        timed = field_records.device_timed(unit, round_id)
        doubts = ((one, tag, doubt_of(one, zone)) for one, tag, zone in timed)
        return Walked(
            round=round_,
            stops=field_records.stop_titles(unit, round_id),
            visits=field_records.stop_visits(unit, round_id),
            clocks=tuple(field_records.camera_clocks(unit, round_id)),
            held=held_sends.held_sends(unit, sight_of(actor), round_id=round_id, limit=MOST_HELD),
            doubts=tuple(DoubtedTime(one.uid, tag, words) for one, tag, words in doubts if words),
            spoken=spoken_notes.notes_of_round(unit, round_id),
            permits=typed_permits.of_round(unit, round_id),
            may_take_back=may(actor, Verb.KEEP_REGISTER),
        )


def doubt_of(reading: Reading, zone: str) -> str:
    """What is to be said of a reading's time; nothing where somebody typed it, or its clock was right."""
    if not reading.device_time or (reading.typed or {}).get("taken_at"):
        return ""
    shown = Clock(date.min, 0).read(reading.device_time, zone)
    return clock_doubt(None if shown is None else shown[0], reading.skew_s, reading.taken_at)
