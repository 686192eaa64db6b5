"""Which pictures somebody may see and change: those of the rounds, points and findings they may."""

from service.domain.findings import Finding
from service.domain.people import Actor
from service.domain.permissions import Verb, may, require
from service.domain.pictures import Picture, PictureKind
from service.domain.rounds import OPEN_FOR_READINGS, Round
from service.domain.words import RoundState
from service.errors import Conflict, NotFound
from service.storage import findings as kept_findings
from service.storage import pictures
from service.storage.unit import Unit
from service.usecases.condition.overview import sight_of
from service.usecases.findings.sight import finding_in_sight
from service.usecases.rounds.sight import round_to_change, round_to_see, round_walked_before


def round_to_add_to(unit: Unit, actor: Actor, round_id: int) -> Round:
    """A round that still takes pictures, held until the unit ends.

    Raises
    ------
    NotFound, Forbidden
        Out of sight, or not this role's.
    Conflict
        It is signed off and this is no engineer, or it takes none.
    """
    round_ = round_to_change(unit, actor, round_id, verb=Verb.BRING_READINGS)
    if round_.state is RoundState.SIGNED_OFF:
        require(actor, Verb.KEEP_REGISTER)
    elif round_.state not in OPEN_FOR_READINGS:
        raise Conflict(
            f"Round {round_.code} is {round_.state}; it takes no pictures",
            remedy="Pictures come in once it is issued.",
        )
    return round_


def round_to_bring_to(unit: Unit, actor: Actor, round_id: int) -> Round:
    """The same, also for who walked it until somebody else was given it: a photo of the walk is evidence.

    Raises
    ------
    NotFound, Forbidden, Conflict
        As above; never walked by this person, or it takes no more.
    """
    try:
        return round_to_add_to(unit, actor, round_id)
    except NotFound:
        round_ = round_walked_before(unit, actor, round_id)
    if round_.state not in OPEN_FOR_READINGS:
        raise Conflict(f"Round {round_.code} is {round_.state}; it takes no pictures")
    return round_


def takes_pictures(actor: Actor, round_: Round) -> bool:
    """Whether this person may bring and place pictures of a round they see."""
    if round_.state is RoundState.SIGNED_OFF:
        return may(actor, Verb.BRING_READINGS) and may(actor, Verb.KEEP_REGISTER)
    return may(actor, Verb.BRING_READINGS) and round_.state in OPEN_FOR_READINGS


def finding_for_pictures(unit: Unit, actor: Actor, finding_id: int, *, verb: Verb = Verb.SEE) -> Finding:
    """A finding in sight.

    Raises
    ------
    NotFound, Forbidden
        Absent, out of sight, or not this role's.
    """
    if actor.only_round is not None:
        raise NotFound()
    found = kept_findings.finding(unit, finding_id)
    finding_in_sight(unit, actor, found, verb)
    return found


def picture_to_see(unit: Unit, actor: Actor, uid: str) -> Picture:
    """A picture of a round, a point or a finding that this person sees.

    Raises
    ------
    NotFound
        Absent, or out of sight: told alike.
    """
    picture = pictures.picture_by_uid(unit, uid)
    if picture is None:
        raise NotFound()
    if _of_point_in_sight(unit, actor, picture):
        return picture
    if picture.round_id is not None:
        round_to_see(unit, actor, picture.round_id)
    elif picture.finding_id is not None:
        finding_for_pictures(unit, actor, picture.finding_id)
    else:
        raise NotFound()
    return picture


def _of_point_in_sight(unit: Unit, actor: Actor, picture: Picture) -> bool:
    """A point's history and a place's drawing are seen whole: also what others took on rounds of their own."""
    if actor.only_round is not None:
        return False
    if picture.kind is PictureKind.DRAWING and pictures.drawing_in_sight(unit, sight_of(actor), picture.id):
        return True
    if picture.point_id is None:
        return False
    return pictures.view_in_sight(unit, sight_of(actor), picture.point_id) is not None


def picture_to_change(unit: Unit, actor: Actor, uid: str) -> Picture:
    """A picture of which this person may say what it shows, held until the unit ends.

    Raises
    ------
    NotFound, Forbidden, Conflict
        Out of sight, not this role's, or its round takes no more.
    """
    picture = picture_to_see(unit, actor, uid)
    if picture.round_id is not None:
        round_to_add_to(unit, actor, picture.round_id)
    elif picture.finding_id is not None:
        finding_for_pictures(unit, actor, picture.finding_id, verb=Verb.OPEN_FINDING)
    if picture.retired_at is not None:
        raise Conflict("This picture was taken out", remedy="Bring it again if it is wanted after all.")
    return picture


def picture_to_speak_to(unit: Unit, actor: Actor, uid: str, *, round_id: int | None) -> Picture:
    """The same, also for who took it on a walk of theirs that was given to somebody else meanwhile.

    Raises
    ------
    NotFound, Forbidden, Conflict
        As above; somebody else's picture, or one of another round than the address names.
    """
    try:
        return picture_to_change(unit, actor, uid)
    except NotFound:
        if round_id is None:
            raise
    round_to_bring_to(unit, actor, round_id)
    picture = pictures.picture_by_uid(unit, uid)
    if picture is None or picture.round_id != round_id or not pictures.is_by(unit, picture, actor.person_id):
        raise NotFound()
    if picture.retired_at is not None:
        raise Conflict("This picture was taken out", remedy="Bring it again if it is wanted after all.")
    return picture


def may_change(unit: Unit, actor: Actor, picture: Picture) -> bool:
    """Whether the page offers its forms."""
    if picture.retired_at is not None:
        return False
    if picture.round_id is None:
        return may(actor, Verb.OPEN_FINDING)
    try:
        return takes_pictures(actor, round_to_see(unit, actor, picture.round_id))
    except NotFound:  # seen through its point: somebody else's round
        return False
