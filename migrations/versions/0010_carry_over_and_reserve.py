"""carry over with causes, keep duty groups and forecasts, weigh opened covers"""

import sqlalchemy as sa
from alembic import op

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    false = sa.false().compile(dialect=op.get_bind().dialect)
    flag = sa.Boolean().compile(dialect=op.get_bind().dialect)
    op.execute("ALTER TABLE clients ADD COLUMN carried_over_most INTEGER DEFAULT '3' NOT NULL")
    double = sa.Double().compile(dialect=op.get_bind().dialect)
    op.execute(f"ALTER TABLE clients ADD COLUMN cover_minutes {double} DEFAULT '0' NOT NULL")
    op.execute("ALTER TABLE equipment ADD COLUMN duty_group VARCHAR DEFAULT '' NOT NULL")
    op.execute(f"ALTER TABLE equipment ADD COLUMN run_on_request {flag} DEFAULT {false} NOT NULL")
    for name, table, columns, where in (
        ("ix_readings_not_assessable", "readings", ["point_id"], "not_assessable IS NOT NULL"),
        ("ix_round_rows_not_read", "round_rows", ["point_id"], "not_read_reason IS NOT NULL"),
        ("ix_equipment_duty_group", "equipment", ["site_id"], "duty_group <> ''"),
    ):
        few = sa.text(where)
        op.create_index(name, table, columns, sqlite_where=few, postgresql_where=few)
    op.create_table(
        "site_forecasts",
        sa.Column("site_id", KEY, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("wind_m_s", sa.Double(), nullable=True),
        sa.Column("rain_mm", sa.Double(), nullable=True),
        sa.Column("unfit", sa.Boolean(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by_person_id", KEY, nullable=True),
        sa.Column("id", KEY, nullable=False),
        sa.CheckConstraint("wind_m_s >= 0 AND wind_m_s <= 100", name=op.f("ck_site_forecasts_wind_m_s")),
        sa.CheckConstraint("rain_mm >= 0 AND rain_mm <= 2000", name=op.f("ck_site_forecasts_rain_mm")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_site_forecasts_site_id_sites")),
        sa.ForeignKeyConstraint(
            ["by_person_id"], ["people.id"], name=op.f("fk_site_forecasts_by_person_id_people")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site_forecasts")),
        sa.UniqueConstraint("site_id", "day", name=op.f("uq_site_forecasts_site_id_day")),
    )


def downgrade() -> None:
    op.drop_table("site_forecasts")
    op.drop_index("ix_equipment_duty_group", "equipment")
    op.drop_index("ix_round_rows_not_read", "round_rows")
    op.drop_index("ix_readings_not_assessable", "readings")
    for name in ("run_on_request", "duty_group"):
        op.execute(f"ALTER TABLE equipment DROP COLUMN {name}")
    for name in ("cover_minutes", "carried_over_most"):
        op.execute(f"ALTER TABLE clients DROP COLUMN {name}")
