"""keep what a trend rests on, and what a repair found"""

import sqlalchemy as sa
from alembic import op

COLUMNS = (
    ("point_state", "trend_fitted", sa.Integer()),
    ("point_state", "trend_z", sa.Double()),
    ("point_state", "trend_risen_k", sa.Double()),
    ("point_state", "trend_onset_on", sa.Date()),
    ("repairs", "found", sa.String()),
)

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    dialect = op.get_bind().dialect
    for table, name, kind in COLUMNS:
        op.execute(f"ALTER TABLE {table} ADD COLUMN {name} {kind.compile(dialect=dialect)}")


def downgrade() -> None:
    for table, name, _kind in COLUMNS:
        op.execute(f"ALTER TABLE {table} DROP COLUMN {name}")
