"""Expected loss as the database orders by it; the arithmetic is that of ``domain.losses``."""

from typing import Any

from sqlalchemy import ColumnElement, func

from service.domain.losses import HOURS_A_DAY, USUAL_LEAD_DAYS
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import EquipmentRow


def expected_loss() -> ColumnElement[Any]:
    """0 where chance or money is not known, so that such points follow, in their old order."""
    days = func.coalesce(EquipmentRow.repair_lead_days, USUAL_LEAD_DAYS)
    loss: ColumnElement[Any] = func.coalesce(
        PointStateRow.chance_12 * EquipmentRow.cost_per_hour * days * HOURS_A_DAY, 0
    )
    return loss
