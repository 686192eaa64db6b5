"""keep what was typed of permits on walks"""

import sqlalchemy as sa
from alembic import op

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)
TABLE = "typed_permits"
#: column → the table that it names, whether it may be empty
NAMES = (
    ("round_id", "rounds", False),
    ("permit_id", "permits", False),
    ("stop_id", "stops", False),
    ("by_person_id", "people", True),
    ("settled_by_id", "people", True),
)

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        TABLE,
        *(sa.Column(name, sa.String(), nullable=False) for name in ("uid", "number")),
        *(sa.Column(name, KEY, nullable=empty) for name, _table, empty in NAMES),
        *(sa.Column(name, INSTANT, nullable=False) for name in ("valid_from", "valid_to", "received_at")),
        *(sa.Column(name, INSTANT, nullable=True) for name in ("typed_at", "settled_at")),
        sa.Column("stands", sa.Boolean(), nullable=False),
        sa.Column("id", KEY, nullable=False),
        *(
            sa.ForeignKeyConstraint([name], [f"{table}.id"], name=op.f(f"fk_{TABLE}_{name}_{table}"))
            for name, table, _empty in NAMES
        ),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{TABLE}")),
        sa.UniqueConstraint("uid", name=op.f(f"uq_{TABLE}_uid")),
    )
    op.create_index(f"ix_{TABLE}_permit_id", TABLE, ["permit_id"])


def downgrade() -> None:
    op.drop_table(TABLE)
