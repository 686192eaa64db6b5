"""What devices send from the walk beside readings: each under its own id, safe to repeat."""

from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Header, Path, Request, Response

from service.api.asking import Around, Asker
from service.api.field_schemas import (
    CameraClockBody,
    CameraClockOut,
    FieldCheckBody,
    HeldReply,
    KeptReply,
    SentBody,
    SignedInReply,
    StopVisitBody,
    StopVisitOut,
    TellingBody,
)
from service.api.problems import PROBLEMS
from service.domain.field_records import FieldSend, Receipt, SendKind
from service.domain.people import Actor
from service.errors import NotSignedIn, VersionMissing
from service.intake.content_hash import content_hash_of
from service.usecases.field import send_records as sends
from service.usecases.field.walked import see_walked
from service.usecases.surroundings import Surroundings

router = APIRouter(tags=["field"], responses=PROBLEMS)
Id = Annotated[int, Path(ge=1, le=2**53)]
Uid = Annotated[str, Path(pattern=r"^[A-Za-z0-9._:-]{8,64}$")]
HELD: dict[int | str, dict[str, Any]] = {
    202: {"model": HeldReply, "description": "Kept aside: its round no longer takes it"}
}


def new_under_own_id(request: Request) -> None:
    """A creating PUT says that it is one.

    Raises
    ------
    VersionMissing
        Without ``If-None-Match: *``.
    """
    if request.headers.get("if-none-match", "").strip() != "*":
        raise VersionMissing(
            "Say that it is new (If-None-Match)", remedy="Send If-None-Match: * with a new id."
        )


def from_device(
    actor: Asker,
    riseline_person: Annotated[
        str | None,
        Header(
            max_length=20,
            description="id of the person whose device sends this: what has no place any more is held aside (202)",
        ),
    ] = None,
) -> bool:
    """Whether a device sends this, which cannot ask anybody what to do.

    Raises
    ------
    NotSignedIn
        Somebody else is signed in than the one who typed it: it must not come in under that name.
    """
    if riseline_person is None:
        return False
    if riseline_person != str(actor.person_id):
        raise NotSignedIn(
            "Somebody else is signed in on this device", remedy="Sign in as the person who typed this."
        )
    return True


New = Depends(new_under_own_id)
FromDevice = Annotated[bool, Depends(from_device)]


def _kept(
    around: Surroundings,
    actor: Actor,
    response: Response,
    body: Any,
    *,
    send: Callable[..., Receipt],
    at: tuple[SendKind, int, str, bool],
) -> KeptReply | HeldReply:
    kind, round_id, uid, keep = at
    sent = _sent(body, kind, round_id, uid, keep=keep)
    receipt = send(around.store, actor, sent, body.typed(), now=around.now())
    if receipt.held_id is None:
        return KeptReply.of(receipt)
    response.status_code = 202
    return HeldReply.of(receipt)


def _sent(body: SentBody, kind: SendKind, round_id: int, uid: str, *, keep: bool) -> FieldSend:
    return FieldSend(
        uid=uid,
        kind=kind,
        round_id=round_id,
        body=body.model_dump(mode="json", exclude=set(SentBody.model_fields)),
        content_hash=content_hash_of(kind, uid, body.model_dump_json()),
        device_time=body.device_time,
        skew_s=body.skew_s,
        replaces=tuple(body.replaces),
        keep=keep,
    )


@router.get("/field/signed-in")
def who_is_signed_in(around: Around, actor: Asker) -> SignedInReply:
    """Who is signed in on this device, and the server's clock."""
    return SignedInReply(person_id=actor.person_id, name=actor.name, now=around.now())


@router.put("/rounds/{round_id}/stop-visits/{uid}", status_code=201, responses=HELD, dependencies=[New])
def put_stop_visit(
    around: Around,
    actor: Asker,
    response: Response,
    keep: FromDevice,
    round_id: Id,
    uid: Uid,
    body: StopVisitBody,
) -> KeptReply | HeldReply:
    """Keep one visit of a stop: from, to, what was seen, heard or smelt, when its cautions were."""
    at = (SendKind.STOP_VISIT, round_id, uid, keep)
    return _kept(around, actor, response, body, send=sends.send_stop_visit, at=at)


@router.get("/rounds/{round_id}/stop-visits")
def read_stop_visits(around: Around, actor: Asker, round_id: Id) -> list[StopVisitOut]:
    """The visits of a round's stops that stand, in the order in which they came."""
    return [StopVisitOut.of(visit) for visit in see_walked(around.store, actor, round_id).visits]


@router.put("/rounds/{round_id}/field-tellings/{uid}", status_code=201, responses=HELD, dependencies=[New])
def put_telling(
    around: Around,
    actor: Asker,
    response: Response,
    keep: FromDevice,
    round_id: Id,
    uid: Uid,
    body: TellingBody,
) -> KeptReply | HeldReply:
    """Keep whom was told of an Act now: at the point's live finding, opened where there is none."""
    at = (SendKind.TELLING, round_id, uid, keep)
    return _kept(around, actor, response, body, send=sends.send_telling, at=at)


@router.put("/rounds/{round_id}/field-checks/{uid}", status_code=201, responses=HELD, dependencies=[New])
def put_field_check(
    around: Around,
    actor: Asker,
    response: Response,
    keep: FromDevice,
    round_id: Id,
    uid: Uid,
    body: FieldCheckBody,
) -> KeptReply | HeldReply:
    """Keep an instrument check made on the walk."""
    at = (SendKind.CHECK, round_id, uid, keep)
    return _kept(around, actor, response, body, send=sends.send_check, at=at)


@router.put("/rounds/{round_id}/camera-clocks/{uid}", status_code=201, responses=HELD, dependencies=[New])
def put_camera_clock(
    around: Around,
    actor: Asker,
    response: Response,
    keep: FromDevice,
    round_id: Id,
    uid: Uid,
    body: CameraClockBody,
) -> KeptReply | HeldReply:
    """Keep what a camera's clock showed beside the device's."""
    at = (SendKind.CAMERA_CLOCK, round_id, uid, keep)
    return _kept(around, actor, response, body, send=sends.send_camera_clock, at=at)


@router.get("/rounds/{round_id}/camera-clocks")
def read_camera_clocks(around: Around, actor: Asker, round_id: Id) -> list[CameraClockOut]:
    """The clocks that were compared on a round, in order of time."""
    return [CameraClockOut.of(clock) for clock in see_walked(around.store, actor, round_id).clocks]
