"""Sets of criteria as they are kept, and what sites and classes of equipment are judged by."""

from dataclasses import dataclass
from datetime import date

from service.domain.criteria import Criteria


@dataclass(frozen=True, slots=True)
class KeptCriteria:
    """A set with what the database knows of it.

    Attributes
    ----------
    edits : int
        How often this version was written: what an edit of it names.
    valid_from : date
        From this day on it may be chosen.
    locked : bool
        Chosen or used once: an edit makes the next version.
    newest : bool
        No later version of it is kept.
    client_id : int or None
        Whose it is; None for presets.
    shipped : bool
        Came with the service: copied, never edited.
    """

    id: int
    name: str
    edits: int
    valid_from: date
    locked: bool
    newest: bool
    client_id: int | None
    shipped: bool
    criteria: Criteria

    def offered_on(self, day: date) -> bool:
        return self.valid_from <= day


@dataclass(frozen=True, slots=True)
class ClassChoice:
    """A class of equipment at a site with a set of its own."""

    equipment_class: str
    criteria_id: int


@dataclass(frozen=True, slots=True)
class SiteCriteria:
    """A site, its own choice (None: its client's or the shipped set), what is in force, and its classes.

    ``classes`` are the classes of equipment in its register, ``chosen`` those with a set of their own.
    """

    site_id: int
    site_name: str
    client_id: int
    version: int
    chosen_id: int | None
    in_force_id: int
    classes: tuple[str, ...] = ()
    chosen: tuple[ClassChoice, ...] = ()
