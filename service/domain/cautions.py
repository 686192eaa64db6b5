"""The usual cautions of the work near live and moving gear, in our own words.

They defer to the permit, the label on the door, local codes and the qualified person, and set
no boundary themselves (standards.md §7; NFPA 70E for who is qualified, ASTM E1934 §6 for the
qualified assistant and covers opened just before viewing).
"""

from collections.abc import Collection
from dataclasses import dataclass

from service.domain.stop_facts import EquipmentFacts
from service.domain.words import Access, PointKind

FIRST = "Local codes and the site's own rules come first. Nothing said here permits work or sets a boundary."
CLOSED_FRONT = "Scan the closed front before anything else."
LABEL = "Read the label on the door; stand where the permit says, in the protective equipment it names."
FROM_AFAR = "Scan it from a distance before you step closer; nothing is opened or taken off for a reading."
STANDS_FREE = "stands free"
LABELS_ON_IT = (
    "Read the labels on it; stand where the site's rules say, in the protective equipment they name."
)
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
#: kinds that stand free: pumps, tanks of transformers, pipes and linings have no front and no door
FREE_KINDS = frozenset(
    {
        PointKind.BEARING,
        PointKind.COUPLING,
        PointKind.MOTOR,
        PointKind.TRANSFORMER,
        PointKind.STEAM_TRAP,
        PointKind.REFRACTORY,
    }
)


@dataclass(frozen=True, slots=True)
class Cautions:
    """What stands in the box on top of a sheet: ours, then the site's own words."""

    lines: tuple[str, ...]
    at_act_now: str
    of_site: str


def cautions_for(facts: EquipmentFacts, kinds: frozenset[str]) -> Cautions:
    """Cautions for one stop, by how it is reached and what is read there."""
    lines = [FIRST, *approach(facts.access, kinds)]
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


def stands_free(access: Access, kinds: Collection[str]) -> bool:
    """Whether it is a machine without a front, as a pump is; a front is supposed wherever that may be right.

    A cover or a window is one by itself. What is read closed stands free only when every point of
    it is of a kind that no front ever hides.
    """
    return access is Access.CLOSED_FRONT and bool(kinds) and all(kind in FREE_KINDS for kind in kinds)


def approach(access: Access, kinds: Collection[str]) -> tuple[str, str]:
    """What is done before anything else: of gear behind a front, and of a machine that stands free."""
    return (FROM_AFAR, LABELS_ON_IT) if stands_free(access, kinds) else (CLOSED_FRONT, LABEL)


def access_words(access: Access, *, free: bool) -> str:
    """How it is reached, as lists and sheets say it."""
    return STANDS_FREE if free else access.value


def act_now_line(facts: EquipmentFacts) -> str:
    """Whom to tell at Act now; without a contact on record the permit issuer is named."""
    contact = ", ".join(word for word in (facts.contact_name.strip(), facts.contact_phone.strip()) if word)
    whom = contact or "the site's control (no contact is on record: ask the permit issuer)"
    return f"Above a row's figure, and at anything that smells, sparks or sounds wrong: stop, step back, tell {whom}."
