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


@dataclass(frozen=True, slots=True)
class PermitWords:
    """What is said of a permit; what is not said is empty or None."""

    number: str
    valid_from: datetime | None
    valid_to: datetime | None

    @property
    def whole(self) -> bool:
        return bool(self.number.strip()) and self.valid_from is not None and self.valid_to is not None

    def agrees(self, shown: "PermitWords") -> bool:
        """Nothing that is said here is said otherwise there."""
        same_number = self.number.strip().casefold() in ("", shown.number.casefold())
        return (
            same_number
            and self.valid_from in (None, shown.valid_from)
            and self.valid_to in (None, shown.valid_to)
        )


def may_stand(permit: Permit, shown: PermitWords, *, engineers: PermitWords) -> bool:
    """Whether what was typed on the walk goes onto the permit: never against what an engineer typed or closed.

    Parameters
    ----------
    permit : Permit
        As the register has it.
    shown : PermitWords
        As typed on the walk.
    engineers : PermitWords
        As an engineer typed it last; what stands on the permit may be of an earlier walk.
    """
    return permit.state is PermitState.ASKED and not engineers.whole and engineers.agrees(shown)
