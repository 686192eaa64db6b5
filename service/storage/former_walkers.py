"""Who walked a round until it was given to somebody else."""

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import Select, select

from service.storage.tables.rounds import FormerWalkerRow
from service.storage.unit import Unit


def keep_former_walkers(unit: Unit, round_id: int, person_ids: Collection[int], *, until: datetime) -> None:
    """Remember that these people had an issued round in hand until now; the last time counts."""
    for person_id in sorted(person_ids):
        row = unit.session.scalar(_of(round_id, person_id))
        if row is None:
            unit.session.add(FormerWalkerRow(round_id=round_id, person_id=person_id, until_at=until))
        else:
            row.until_at = until


def has_walked(unit: Unit, round_id: int, person_id: int) -> bool:
    """Whether somebody had this round in hand once it was issued, and has it no longer."""
    return unit.session.scalar(_of(round_id, person_id)) is not None


def _of(round_id: int, person_id: int) -> Select[FormerWalkerRow]:
    return select(FormerWalkerRow).where(
        FormerWalkerRow.round_id == round_id, FormerWalkerRow.person_id == person_id
    )
