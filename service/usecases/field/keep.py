"""Keep one send of a device: once, whole, and aside where it has no place any more."""

from collections.abc import Callable
from datetime import datetime, timedelta

from service.domain.device_clock import TakenWithin
from service.domain.field_records import FieldSend, Receipt
from service.domain.people import Actor
from service.domain.permissions import Verb
from service.domain.rounds import Round
from service.errors import Conflict, Invalid, NotFound, Problem
from service.intake.moments import Clock
from service.storage import audit, field_records, held_sends, rounds, site_state, walking_parties
from service.storage.unit import Store, Unit
from service.usecases.rounds.sight import round_to_change, round_walked_before

#: Does what a send asks for; returns the finding that it belongs to, if there is one.
Work = Callable[[Unit, Round], int | None]
#: A walk may begin before its round was issued on paper, never long before (own rule).
EARLY = timedelta(days=1)


class NoPlace(Exception):
    """What was sent has no place on its round any more; raised before anything is written."""

    def __init__(self, reason: str, *, remedy: str = "") -> None:
        super().__init__(reason)
        self.reason, self.remedy = reason, remedy


def keep_send(store: Store, actor: Actor, sent: FieldSend, *, work: Work, now: datetime) -> Receipt:
    """Store a send with whatever it brings, or hold it aside; the same send again is answered the same.

    Parameters
    ----------
    store : Store
        Where it is kept.
    actor : Actor
        Who walks the round, or an engineer.
    sent : FieldSend
        The send as it came.
    work : callable
        What it asks for, in the same transaction. Raises ``NoPlace`` before it writes anything.
    now : datetime
        The instant it was received.

    Raises
    ------
    Invalid
        Another content came under this id before.
    Conflict
        It has no place any more, and its sender can ask somebody.
    NotFound, Forbidden
        Out of sight and never walked by this person, or not this role's.
    """
    with store.begin() as unit:
        round_, handed_on = round_of_send(unit, actor, sent)
        known = known_receipt(unit, actor, sent)
        if known is not None:
            return known
        refuse_replaced(unit, sent)
        if handed_on:
            return hold(unit, actor, sent, reason=handed_on, now=now)
        site_state.bump(unit, rounds.site_ids_of(unit, round_.id), now=now)
        try:
            finding_id = work(unit, round_)
        except NoPlace as no_place:
            if not sent.keep:
                raise Conflict(no_place.reason, remedy=no_place.remedy) from no_place
            return hold(unit, actor, sent, reason=no_place.reason, now=now)
        stand_for_earlier(unit, actor, sent, now=now)
        return field_records.keep_send(unit, sent, person_id=actor.person_id, finding_id=finding_id, now=now)


def round_of_send(unit: Unit, actor: Actor, sent: FieldSend) -> tuple[Round, str]:
    """The round that a send is for, held, and why it takes nothing of this person any more, or nothing.

    Raises
    ------
    NotFound, Forbidden
        Out of sight and never walked by this person, or not this role's.
    """
    try:
        return round_to_change(unit, actor, sent.round_id, verb=Verb.BRING_READINGS), ""
    except NotFound:
        if not sent.keep:
            raise
    round_ = round_walked_before(unit, actor, sent.round_id)
    now_with = walking_parties.walkers_by_id(unit, [round_.person_id, round_.second_person_id])
    names = " and ".join(walker.name for walker in now_with.values()) or "nobody yet"
    return round_, f"Round {round_.code} was taken off {actor.name} meanwhile; it is with {names}."


def known_receipt(unit: Unit, actor: Actor, sent: FieldSend) -> Receipt | None:
    """What this very send was answered before.

    Raises
    ------
    Invalid
        Something else came under its id.
    """
    known = field_records.known_send(unit, sent.uid)
    if known is None:
        return None
    same = (known.person_id, known.content_hash, known.receipt.round_id, known.receipt.kind)
    if same != (actor.person_id, sent.content_hash, sent.round_id, sent.kind):
        raise Invalid(
            [
                Problem(
                    "body",
                    "uid",
                    sent.uid,
                    "Something else was stored under this id.",
                    "Give what is changed an id of its own, and say which one it replaces.",
                )
            ]
        )
    return known.receipt


def refuse_replaced(unit: Unit, sent: FieldSend) -> None:
    """A send that went astray and comes after the one that corrects it must not stand over that.

    Raises
    ------
    Invalid
        Its own device has replaced it.
    """
    if field_records.is_replaced(unit, sent.uid):
        message = "The device has sent a later one in the place of this."
        raise Invalid([Problem("body", "uid", sent.uid, message, "Nothing: the later one is kept.")])


def stand_for_earlier(unit: Unit, actor: Actor, sent: FieldSend, *, now: datetime) -> None:
    """Remember what this send replaces; of that, what is held aside waits no longer."""
    if not sent.replaces:
        return
    field_records.replace_sends(unit, sent)
    held_sends.set_replaced_aside(
        unit, sent.replaces, person_id=actor.person_id, words="Its device has sent a later one.", now=now
    )


def hold(unit: Unit, actor: Actor, sent: FieldSend, *, reason: str, now: datetime) -> Receipt:
    """Keep a send aside for an engineer's decision, inside the unit that found it without a place."""
    row_uid = sent.body.get("row_uid")
    place = field_records.point_of_row(unit, row_uid) if isinstance(row_uid, str) else None
    sites = sorted(rounds.site_ids_of(unit, sent.round_id))
    stop_id = sent.body.get("stop_id")
    at_stop = field_records.place_of_stop(unit, stop_id, sent.round_id) if isinstance(stop_id, int) else None
    if place is not None and not actor.sees_site(place[1]):
        place = None  # a row of somebody else's
    site_id = place[1] if place else at_stop[0] if at_stop else sites[0] if sites else None
    stand_for_earlier(unit, actor, sent, now=now)
    receipt = held_sends.hold_send(
        unit,
        sent,
        person_id=actor.person_id,
        device=actor.device,
        site_id=site_id,
        point_id=None if place is None else place[0],
        reason=reason,
        now=now,
    )
    audit.note(
        unit,
        actor,
        verb="hold aside",
        noun="held send",
        noun_id=receipt.held_id,
        site_id=site_id,
        now=now,
        after={"kind": sent.kind, "uid": sent.uid, "reason": reason},
    )
    return receipt


def instants_of(
    round_: Round, skew_s: float | None, *, now: datetime
) -> Callable[[str, str], datetime | None]:
    """A reader of what a device's clock showed (text, zone of the site); None where that cannot be.

    ``skew_s`` is how far that clock was ahead [s]; None counts as right.
    """
    clock = Clock(round_.planned_on, round_.start_min)
    out = round_.issued_at or now
    within = TakenWithin(min(out, now) - EARLY, now)

    def read(text: str, zone: str) -> datetime | None:
        shown = clock.read(text, zone) if text else None
        return within.put_right(None if shown is None else shown[0], skew_s)

    return read
