"""Who walks a round and with which instrument, and what is wanting before they leave."""

from dataclasses import dataclass
from datetime import date, datetime

from service.domain.day_words import day_words
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


def certificate_warnings(person: Walker | None, second: Walker | None, *, day: date) -> list[str]:
    """What the certificates of those who walk leave open on the day of a round.

    Whoever reads holds one that is valid on the day (first category collects); one of the second
    category or above evaluates and signs (ISO 18436-7). Where neither does, somebody else must.
    """
    told = [
        f"{walker.name} has no certificate valid on {day_words(day)}{_ran_out(walker)}."
        for walker in (person, second)
        if walker is not None and walker.expired_on(day) and (walker is person or walker.certificates)
    ]
    party = [walker for walker in (person, second) if walker is not None]
    if party and not any(walker.may_sign(day) for walker in party):
        names = " or ".join(walker.name for walker in party)
        told.append(
            f"Signing needs the second category, which {names} does not hold on {day_words(day)}: "
            "an engineer who holds it evaluates and signs."
        )
    return told


def _ran_out(walker: Walker) -> str:
    last = max((last for _, last in walker.certificates), default=None)
    return ": none is on record" if last is None else f": the last ran out on {day_words(last)}"


def why_not_signing(walker: Walker | None, day: date) -> str:
    """Why this person may not sign off on the day, in words; empty when they may."""
    if walker is None:
        return "Only a person signs off, never a program."
    if walker.may_sign(day):
        return ""
    signing = [last for category, last in walker.certificates if category >= SIGNING_CATEGORY]
    if signing:
        last = max(signing)
        return f"The certificate of {walker.name} ran out on {day_words(last)}."
    if walker.certificates:
        return f"{walker.name} is certified to collect; signing needs the second category."
    return f"No certificate of {walker.name} is on record."
