"""Equipment as its label names it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Labelled:
    """One equipment as its label names it; ``code`` is empty until its first label is made."""

    equipment_id: int
    site_id: int
    site: str
    area_id: int
    area: str
    tag: str
    name: str
    code: str
