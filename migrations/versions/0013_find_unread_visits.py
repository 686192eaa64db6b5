"""find visits without a reading by their index alone"""

from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

NAME = "ix_readings_not_assessable"
SOME = "not_assessable IS NOT NULL"


def upgrade() -> None:
    op.execute(f"DROP INDEX {NAME}")
    op.execute(f"CREATE INDEX {NAME} ON readings (point_id, taken_at, id) WHERE {SOME}")


def downgrade() -> None:
    op.execute(f"DROP INDEX {NAME}")
    op.execute(f"CREATE INDEX {NAME} ON readings (point_id) WHERE {SOME}")
