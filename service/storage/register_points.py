"""What goes with a point: its state, its place among the like parts, the versions of its common load."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import select, update

from service.domain.register import CommonLoad
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import CommonLoadRow, PointRow, ViewMemberRow, ViewRow
from service.storage.unit import Unit

NEVER_READ = "never read"


def begin_point(
    unit: Unit, row: PointRow, *, like_part: bool, now: datetime, by_person_id: int | None
) -> None:
    """State (No verdict, due now), membership and the first version of its common load."""
    equipment_id = unit.session.scalar(select(ViewRow.equipment_id).where(ViewRow.id == row.view_id))
    assert equipment_id is not None
    unit.session.add(
        PointStateRow(
            point_id=row.id,
            site_id=row.site_id,
            equipment_id=equipment_id,
            due_on=now.date(),
            due_reason=NEVER_READ,
        )
    )
    if like_part:
        unit.session.add(ViewMemberRow(view_id=row.view_id, point_id=row.id, from_at=now))
    unit.session.add(
        CommonLoadRow(
            point_id=row.id,
            version=1,
            amps=row.common_load_a,
            source=row.common_load_source or "",
            at=now,
            by_person_id=by_person_id,
        )
    )
    unit.session.flush()


def set_member(unit: Unit, view_id: int, point_id: int, *, member: bool, now: datetime) -> None:
    """Let a point join or leave the like parts of its view; what was before stays on record."""
    is_now = unit.session.scalar(
        select(ViewMemberRow.id).where(ViewMemberRow.point_id == point_id, ViewMemberRow.to_at.is_(None))
    )
    if member and is_now is None:
        unit.session.add(ViewMemberRow(view_id=view_id, point_id=point_id, from_at=now))
        unit.session.flush()
    elif not member and is_now is not None:
        unit.session.execute(update(ViewMemberRow).where(ViewMemberRow.id == is_now).values(to_at=now))


def keep_common_load(
    unit: Unit,
    row: PointRow,
    fields: Mapping[str, Any],
    *,
    now: datetime,
    by_person_id: int | None,
    reason: str,
) -> None:
    """A new version when the common load or its source is about to change."""
    amps = fields.get("common_load_a", row.common_load_a)
    source = fields.get("common_load_source", row.common_load_source)
    if amps == row.common_load_a and source == row.common_load_source:
        return
    row.common_load_version += 1
    unit.session.add(
        CommonLoadRow(
            point_id=row.id,
            version=row.common_load_version,
            amps=amps,
            source=source,
            at=now,
            by_person_id=by_person_id,
            reason=reason,
        )
    )


def common_loads(unit: Unit, point_id: int) -> tuple[CommonLoad, ...]:
    """Versions of a point's common load, newest first."""
    query = select(CommonLoadRow).where(CommonLoadRow.point_id == point_id)
    rows = unit.session.scalars(query.order_by(CommonLoadRow.version.desc()))
    return tuple(CommonLoad(row.version, row.amps, row.source, row.at, row.reason) for row in rows)
