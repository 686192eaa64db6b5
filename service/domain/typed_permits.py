"""What a technician types of a permit on the walk, from the paper in the hand: kept, and put on record where nobody had."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.rounds import Permit
from service.domain.words import PermitState

LONGEST_NUMBER = 100


@dataclass(frozen=True, slots=True)
class TypedPermit:
    """As shown by the issuer. ``stands`` says that it was put on the permit; ``settled_at`` that an engineer has seen to it."""

    id: int
    uid: str
    round_id: int
    permit_id: int
    stop_id: int
    number: str
    valid_from: datetime
    valid_to: datetime
    stands: bool
    typed_at: datetime | None
    received_at: datetime
    by: str
    settled_at: datetime | None
    settled_by: str


def may_stand(permit: Permit, number: str, *, typed_before: bool) -> bool:
    """Whether what was typed on the walk goes onto the permit: never against what an engineer typed or closed.

    Parameters
    ----------
    permit : Permit
        As the register has it.
    number : str
        As typed on the walk.
    typed_before : bool
        What stands on it was typed on the walk too, and no engineer has seen to it yet.
    """
    if permit.state is not PermitState.ASKED:
        return False
    if typed_before:
        return True
    if permit.valid_from is not None and permit.valid_to is not None and permit.number.strip():
        return False
    return permit.number.strip().casefold() in ("", number.casefold())
