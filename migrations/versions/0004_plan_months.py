"""plan months: who walks when, what is closed when, plans and their versions, calendars"""

import sqlalchemy as sa
from alembic import op

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)
PARTS = "IN ('reads', 'goes along', 'does not walk')"

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    _sites()
    _people()
    _closures()
    _plans()
    _feeds()


def _sites() -> None:
    false = sa.false().compile(dialect=op.get_bind().dialect)
    flag = sa.Boolean().compile(dialect=op.get_bind().dialect)
    op.execute("ALTER TABLE sites ADD COLUMN opening_hours VARCHAR DEFAULT '' NOT NULL")
    op.execute(f"ALTER TABLE sites ADD COLUMN two_people {flag} DEFAULT {false} NOT NULL")


def _people() -> None:
    op.create_table(
        "walking_hours",
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("part", sa.String(), nullable=False),
        sa.Column("hours", sa.String(), nullable=False),
        sa.Column("start_place", sa.String(), nullable=False),
        sa.Column("start_latitude", sa.Double(), nullable=True),
        sa.Column("start_longitude", sa.Double(), nullable=True),
        sa.Column("holidays_of", sa.String(), nullable=False),
        sa.Column("version", sa.Integer(), server_default="1", nullable=False),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.Column("changed_at", INSTANT, nullable=False),
        sa.Column("id", KEY, nullable=False),
        sa.CheckConstraint(f"part {PARTS}", name=op.f("ck_walking_hours_part")),
        sa.CheckConstraint(
            "start_latitude >= -90 AND start_latitude <= 90", name=op.f("ck_walking_hours_start_latitude")
        ),
        sa.CheckConstraint(
            "start_longitude >= -180 AND start_longitude <= 180",
            name=op.f("ck_walking_hours_start_longitude"),
        ),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_walking_hours_person_id_people")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_walking_hours")),
        sa.UniqueConstraint("person_id", name=op.f("uq_walking_hours_person_id")),
    )
    op.create_table(
        "absences",
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("to_on", sa.Date(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("id", KEY, nullable=False),
        sa.CheckConstraint("from_on <= to_on", name=op.f("ck_absences_from_on")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_absences_person_id_people")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_absences")),
    )
    op.create_index("ix_absences_person_id_to_on", "absences", ["person_id", "to_on"])


def _closures() -> None:
    op.create_table(
        "site_closures",
        sa.Column("site_id", KEY, nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("to_on", sa.Date(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("id", KEY, nullable=False),
        sa.CheckConstraint("from_on <= to_on", name=op.f("ck_site_closures_from_on")),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_site_closures_site_id_sites")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site_closures")),
    )
    op.create_index("ix_site_closures_site_id_to_on", "site_closures", ["site_id", "to_on"])


def _plans() -> None:
    op.create_table(
        "month_plans",
        sa.Column("client_id", KEY, nullable=False),
        sa.Column("month_on", sa.Date(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("current", sa.Integer(), nullable=False),
        sa.Column("newest", sa.Integer(), nullable=False),
        sa.Column("working", sa.JSON(), nullable=True),
        sa.Column("version", sa.Integer(), server_default="1", nullable=False),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.Column("changed_at", INSTANT, nullable=False),
        sa.Column("id", KEY, nullable=False),
        sa.ForeignKeyConstraint(["client_id"], ["clients.id"], name=op.f("fk_month_plans_client_id_clients")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_month_plans")),
    )
    op.create_index("ix_month_plans_client_id_month_on", "month_plans", ["client_id", "month_on"])
    op.create_table(
        "month_plan_versions",
        sa.Column("plan_id", KEY, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("parent", sa.Integer(), nullable=False),
        sa.Column("aside", sa.Boolean(), nullable=False),
        sa.Column("at", INSTANT, nullable=False),
        sa.Column("by_person_id", KEY, nullable=True),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.Column("id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["plan_id"], ["month_plans.id"], name=op.f("fk_month_plan_versions_plan_id_month_plans")
        ),
        sa.ForeignKeyConstraint(
            ["by_person_id"], ["people.id"], name=op.f("fk_month_plan_versions_by_person_id_people")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_month_plan_versions")),
        sa.UniqueConstraint("plan_id", "number", name=op.f("uq_month_plan_versions_plan_id_number")),
    )
    op.create_table(
        "month_plan_rounds",
        sa.Column("plan_id", KEY, nullable=False),
        sa.Column("walk", sa.String(), nullable=False),
        sa.Column("round_id", KEY, nullable=False),
        sa.Column("id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["plan_id"], ["month_plans.id"], name=op.f("fk_month_plan_rounds_plan_id_month_plans")
        ),
        sa.ForeignKeyConstraint(
            ["round_id"], ["rounds.id"], name=op.f("fk_month_plan_rounds_round_id_rounds")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_month_plan_rounds")),
        sa.UniqueConstraint("plan_id", "walk", name=op.f("uq_month_plan_rounds_plan_id_walk")),
    )
    op.create_index(op.f("ix_month_plan_rounds_round_id"), "month_plan_rounds", ["round_id"])


def _feeds() -> None:
    op.create_table(
        "calendar_feeds",
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("secret_hash", sa.String(), nullable=False),
        sa.Column("prefix", sa.String(), nullable=False),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.Column("used_at", INSTANT, nullable=True),
        sa.Column("revoked_at", INSTANT, nullable=True),
        sa.Column("id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["people.id"], name=op.f("fk_calendar_feeds_person_id_people")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calendar_feeds")),
        sa.UniqueConstraint("secret_hash", name=op.f("uq_calendar_feeds_secret_hash")),
    )
    op.create_index(op.f("ix_calendar_feeds_person_id"), "calendar_feeds", ["person_id"])


def downgrade() -> None:
    for table in (
        "calendar_feeds",
        "month_plan_rounds",
        "month_plan_versions",
        "month_plans",
        "site_closures",
        "absences",
        "walking_hours",
    ):
        op.drop_table(table)
    op.execute("ALTER TABLE sites DROP COLUMN two_people")
    op.execute("ALTER TABLE sites DROP COLUMN opening_hours")
