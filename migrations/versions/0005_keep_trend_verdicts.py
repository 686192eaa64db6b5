"""keep what was said of trends, and where they may go"""

import sqlalchemy as sa
from alembic import op

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
TRENDS = (
    "'too few visits', 'cannot tell', 'steady', 'first sign', 'has risen', "
    "'rising', 'rising faster', 'stepped up', 'easing'"
)
NUMBERS = ("slope_k_month", "slope_low", "slope_high", "risen_k", "chance_6", "chance_12")
DAYS = ("onset_on", "crossing_from", "crossing_to", "newest_on")

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "trend_verdicts",
        sa.Column("point_id", KEY, nullable=False),
        sa.Column("told_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("trend", sa.String(), nullable=False),
        *(sa.Column(name, sa.Double(), nullable=True) for name in NUMBERS),
        *(sa.Column(name, sa.Date(), nullable=True) for name in DAYS),
        *(sa.Column(name, sa.Integer(), nullable=False) for name in ("visits", "fitted", "episode")),
        sa.Column("method", sa.String(), nullable=False),
        sa.Column("criteria_id", KEY, nullable=True),
        sa.Column("round_id", KEY, nullable=True),
        sa.Column("id", KEY, nullable=False),
        sa.CheckConstraint(f"trend IN ({TRENDS})", name=op.f("ck_trend_verdicts_trend")),
        sa.ForeignKeyConstraint(["point_id"], ["points.id"], name=op.f("fk_trend_verdicts_point_id_points")),
        sa.ForeignKeyConstraint(
            ["criteria_id"], ["criteria_sets.id"], name=op.f("fk_trend_verdicts_criteria_id_criteria_sets")
        ),
        sa.ForeignKeyConstraint(["round_id"], ["rounds.id"], name=op.f("fk_trend_verdicts_round_id_rounds")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_trend_verdicts")),
    )
    op.create_index("ix_trend_verdicts_point_id_id", "trend_verdicts", ["point_id", "id"])
    op.execute("ALTER TABLE point_state ADD COLUMN trend_fan JSON")


def downgrade() -> None:
    op.execute("ALTER TABLE point_state DROP COLUMN trend_fan")
    op.drop_table("trend_verdicts")
