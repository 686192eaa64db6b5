"""Who walks a round and with which instrument, and what is wanting before they leave."""

from dataclasses import dataclass
from datetime import date, datetime

from service.domain.instrument_checks import InstrumentCheck
from service.domain.words import Role

#: ISO 18436-7: the second category evaluates and signs
SIGNING_CATEGORY = 2


@dataclass(frozen=True, slots=True)
class Walker:
    """A person that a round may be given to; certificates as (category, last day)."""

    id: int
    name: str
    role: Role
    qualified: bool
    active: bool
    certificates: tuple[tuple[int, date], ...]

    def may_sign(self, day: date) -> bool:
        """True with a certificate of the second category or above that is valid on the day."""
        return any(category >= SIGNING_CATEGORY and day <= last for category, last in self.certificates)

    def expired_on(self, day: date) -> bool:
        """True when every certificate had run out by the day, or there is none."""
        return not any(day <= last for _, last in self.certificates)


@dataclass(frozen=True, slots=True)
class RoundInstrument:
    id: int
    client_id: int
    serial: str
    name: str
    calibration_due: date | None
    last_check: InstrumentCheck | None
    retired_at: datetime | None

    def calibration_overdue(self, day: date) -> bool:
        return self.calibration_due is not None and self.calibration_due < day


@dataclass(frozen=True, slots=True)
class Calibration:
    """An instrument and the day from which it wants a new calibration."""

    name: str
    serial: str
    due: date


def why_not_signing(walker: Walker | None, day: date) -> str:
    """Why this person may not sign off on the day, in words; empty when they may."""
    if walker is None:
        return "Only a person signs off, never a program."
    if walker.may_sign(day):
        return ""
    signing = [last for category, last in walker.certificates if category >= SIGNING_CATEGORY]
    if signing:
        last = max(signing)
        return f"The certificate of {walker.name} ran out on {last.day} {last:%b %Y}."
    if walker.certificates:
        return f"{walker.name} is certified to collect; signing needs the second category."
    return f"No certificate of {walker.name} is on record."
