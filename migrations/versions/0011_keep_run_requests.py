"""keep requests that a machine runs for a visit"""

import sqlalchemy as sa
from alembic import op

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "run_requests",
        sa.Column("round_id", KEY, nullable=False),
        sa.Column("equipment_id", KEY, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("asked_of", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("asked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("asked_by_id", KEY, nullable=True),
        sa.Column("answer", sa.String(), nullable=False),
        sa.Column("answered_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("answered_by_id", KEY, nullable=True),
        sa.Column("version", sa.Integer(), server_default="1", nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("id", KEY, nullable=False),
        sa.CheckConstraint("state IN ('asked', 'agreed', 'refused')", name=op.f("ck_run_requests_state")),
        sa.ForeignKeyConstraint(["round_id"], ["rounds.id"], name=op.f("fk_run_requests_round_id_rounds")),
        sa.ForeignKeyConstraint(
            ["equipment_id"], ["equipment.id"], name=op.f("fk_run_requests_equipment_id_equipment")
        ),
        sa.ForeignKeyConstraint(
            ["asked_by_id"], ["people.id"], name=op.f("fk_run_requests_asked_by_id_people")
        ),
        sa.ForeignKeyConstraint(
            ["answered_by_id"], ["people.id"], name=op.f("fk_run_requests_answered_by_id_people")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run_requests")),
    )
    op.create_index("ix_run_requests_round_id_equipment_id", "run_requests", ["round_id", "equipment_id"])


def downgrade() -> None:
    op.drop_table("run_requests")
