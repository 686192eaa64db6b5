"""keep notes spoken on the walk to readings and stops"""

import sqlalchemy as sa
from alembic import op

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)
KINDS = "'webm', 'ogg', 'm4a'"
TABLE = "spoken_notes"
#: column → the table that it names, whether it may be empty
NAMES = (
    ("site_id", "sites", False),
    ("round_id", "rounds", False),
    ("stop_id", "stops", False),
    ("row_id", "round_rows", True),
    ("point_id", "points", True),
    ("by_person_id", "people", True),
    ("taken_back_by_id", "people", True),
)

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        TABLE,
        sa.Column("uid", sa.String(), nullable=False),
        *(sa.Column(name, KEY, nullable=empty) for name, _table, empty in NAMES),
        *(sa.Column(name, sa.String(), nullable=False) for name in ("kind", "content_hash", "stored_as")),
        sa.Column("size_bytes", sa.Integer(), nullable=False),
        sa.Column("taken_at", INSTANT, nullable=True),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.Column("taken_back_at", INSTANT, nullable=True),
        sa.Column("taken_back_reason", sa.String(), nullable=False),
        sa.Column("id", KEY, nullable=False),
        sa.CheckConstraint(f"kind IN ({KINDS})", name=op.f(f"ck_{TABLE}_kind")),
        *(
            sa.ForeignKeyConstraint([name], [f"{table}.id"], name=op.f(f"fk_{TABLE}_{name}_{table}"))
            for name, table, _empty in NAMES
        ),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{TABLE}")),
        sa.UniqueConstraint("uid", name=op.f(f"uq_{TABLE}_uid")),
    )
    for name in ("round_id", "point_id"):
        op.create_index(f"ix_{TABLE}_{name}", TABLE, [name])


def downgrade() -> None:
    op.drop_table(TABLE)
