"""add what devices send from the walk"""

import sqlalchemy as sa
from alembic import op

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
KINDS = "'reading', 'stop visit', 'telling', 'check', 'camera clock'"
STATES = "'waiting', 'taken in', 'set aside'"

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def _instant(name: str, *, nullable: bool = False) -> sa.Column:
    return sa.Column(name, sa.DateTime(timezone=True), nullable=nullable)


def _texts(*names: str, kind: type = sa.String) -> list[sa.Column]:
    return [sa.Column(name, kind(), nullable=False) for name in names]


def _key(name: str, *, nullable: bool = False) -> sa.Column:
    return sa.Column(name, KEY, nullable=nullable)


def _to(table: str, column: str, target: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{target}.id"], name=op.f(f"fk_{table}_{column}_{target}"))


def _frame(table: str) -> list[sa.Constraint]:
    return [
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
        sa.UniqueConstraint("uid", name=op.f(f"uq_{table}_uid")),
        _to(table, "round_id", "rounds"),
        _to(table, "person_id", "people"),
    ]


def upgrade() -> None:
    _field_sends()
    _stop_visits()
    _camera_clocks()
    _held_sends()


def _field_sends() -> None:
    op.create_table(
        "field_sends",
        *_texts("uid", "kind"),
        _key("round_id"),
        _key("person_id", nullable=True),
        *_texts("content_hash"),
        _instant("received_at"),
        *_texts("device_time"),
        sa.Column("skew_s", sa.Double(), nullable=True),
        _key("finding_id", nullable=True),
        _key("id"),
        sa.CheckConstraint(f"kind IN ({KINDS})", name=op.f("ck_field_sends_kind")),
        _to("field_sends", "finding_id", "findings"),
        *_frame("field_sends"),
    )
    op.create_index("ix_field_sends_round_id", "field_sends", ["round_id"])
    op.create_table(
        "replaced_sends",
        *_texts("uid", "by_uid"),
        _key("id"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_replaced_sends")),
        sa.UniqueConstraint("uid", name=op.f("uq_replaced_sends_uid")),
    )


def _stop_visits() -> None:
    op.create_table(
        "stop_visits",
        *_texts("uid"),
        _key("round_id"),
        _key("stop_id"),
        _key("person_id", nullable=True),
        *(_instant(name, nullable=True) for name in ("started_at", "ended_at", "cautions_at")),
        *_texts("seen", "heard", "smelt", kind=sa.Text),
        sa.Column("typed", sa.JSON(), nullable=False),
        sa.Column("replaced", sa.Boolean(), nullable=False),
        _key("id"),
        _to("stop_visits", "stop_id", "stops"),
        *_frame("stop_visits"),
    )
    op.create_index("ix_stop_visits_round_id", "stop_visits", ["round_id"])
    op.create_index("ix_stop_visits_stop_id", "stop_visits", ["stop_id"])


def _camera_clocks() -> None:
    op.create_table(
        "camera_clocks",
        *_texts("uid"),
        _key("round_id"),
        _key("instrument_id"),
        _key("person_id", nullable=True),
        _instant("at"),
        *_texts("camera_time"),
        sa.Column("offset_s", sa.Double(), nullable=False),
        sa.Column("replaced", sa.Boolean(), nullable=False),
        _key("id"),
        _to("camera_clocks", "instrument_id", "instruments"),
        *_frame("camera_clocks"),
    )
    op.create_index("ix_camera_clocks_round_id", "camera_clocks", ["round_id"])
    op.create_index("ix_camera_clocks_instrument_id", "camera_clocks", ["instrument_id"])


def _held_sends() -> None:
    op.create_table(
        "held_sends",
        *_texts("uid", "kind", "state"),
        _key("round_id"),
        *(_key(name, nullable=True) for name in ("site_id", "point_id", "person_id")),
        *_texts("device"),
        _instant("received_at"),
        sa.Column("body", sa.JSON(), nullable=False),
        *_texts("content_hash", "device_time"),
        sa.Column("skew_s", sa.Double(), nullable=True),
        *_texts("reason", kind=sa.Text),
        _instant("decided_at", nullable=True),
        _key("decided_by_id", nullable=True),
        *_texts("decision", kind=sa.Text),
        _key("into_round_id", nullable=True),
        _key("id"),
        sa.CheckConstraint(f"kind IN ({KINDS})", name=op.f("ck_held_sends_kind")),
        sa.CheckConstraint(f"state IN ({STATES})", name=op.f("ck_held_sends_state")),
        _to("held_sends", "site_id", "sites"),
        _to("held_sends", "point_id", "points"),
        _to("held_sends", "decided_by_id", "people"),
        *_frame("held_sends"),
    )
    op.create_index("ix_held_sends_round_id", "held_sends", ["round_id"])
    waiting = sa.text("state = 'waiting'")
    op.create_index(
        "ix_held_sends_waiting",
        "held_sends",
        ["received_at"],
        sqlite_where=waiting,
        postgresql_where=waiting,
    )


def downgrade() -> None:
    for table in ("held_sends", "camera_clocks", "stop_visits", "replaced_sends", "field_sends"):
        op.drop_table(table)
