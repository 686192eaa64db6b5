"""The usual cautions of the work near live and moving gear, in our own words.

They defer to the permit, the label on the door, local codes and the qualified person, and set
no boundary themselves (standards.md §7; NFPA 70E for who is qualified, ASTM E1934 §6 for the
qualified assistant and covers opened just before viewing).
"""

from dataclasses import dataclass

from service.domain.stop_facts import EquipmentFacts
from service.domain.words import Access, PointKind

FIRST = "Local codes and the site's own rules come first. This sheet permits nothing and sets no boundary."
CLOSED_FRONT = "Scan the closed front before anything else."
LABEL = "Read the label on the door; stand where the permit says, in the protective equipment it names."
COVERS = "Only the qualified person opens covers, just before viewing, and closes them at once."
WINDOW = "Read through the window; no cover is opened for it."
HANDS_OFF = "Whoever reads never touches, tightens or switches anything."
TWO = "Two people; stand still while viewing; no metal jewellery."
TAPE = "Tape or paint only on parts isolated and proved dead."
TURNING = "Guards stay on turning parts; no loose clothing near them."
WEATHER = "Rain, fog or sun on the target: letter W, no reading."
LOW_LOAD = "Under 40 % load or in wind a reading may accuse; it clears nothing."
BARE_METAL = "A cool reading on bare metal proves nothing."
_TURNING_KINDS = frozenset({PointKind.BEARING, PointKind.COUPLING, PointKind.MOTOR})


@dataclass(frozen=True, slots=True)
class Cautions:
    """What stands in the box on top of a sheet: ours, then the site's own words."""

    lines: tuple[str, ...]
    at_act_now: str
    of_site: str


def cautions_for(facts: EquipmentFacts, kinds: frozenset[str]) -> Cautions:
    """Cautions for one stop, by how it is reached and what is read there."""
    lines = [FIRST, CLOSED_FRONT, LABEL]
    if facts.access.behind_cover:
        lines.append(COVERS)
    if facts.access is Access.WINDOW:
        lines.append(WINDOW)
    lines += [HANDS_OFF, TWO, TAPE]
    if any(PointKind(kind) in _TURNING_KINDS for kind in kinds):
        lines.append(TURNING)
    if facts.outdoor:
        lines.append(WEATHER)
    lines += [LOW_LOAD, BARE_METAL]
    return Cautions(tuple(lines), act_now_line(facts), facts.safety_text.strip())


def act_now_line(facts: EquipmentFacts) -> str:
    """Whom to tell at Act now; without a contact on record the permit issuer is named."""
    contact = ", ".join(word for word in (facts.contact_name.strip(), facts.contact_phone.strip()) if word)
    whom = contact or "the site's control (no contact is on record: ask the permit issuer)"
    return f"Above a row's figure, and at anything that smells, sparks or sounds wrong: stop, step back, tell {whom}."
