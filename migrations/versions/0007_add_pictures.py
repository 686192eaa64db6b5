"""add pictures, and phrases for their notes"""

import sqlalchemy as sa
from alembic import op

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
#: column, table it points into, whether it may be empty
LINKS = (
    ("site_id", "sites", False),
    ("round_id", "rounds", True),
    ("stop_id", "stops", True),
    ("row_id", "round_rows", True),
    ("point_id", "points", True),
    ("view_id", "views", True),
    ("finding_id", "findings", True),
    ("by_person_id", "people", True),
)
TEXTS = (
    "uid",
    "kind",
    "stored_as",
    "preview_as",
    "sent_hash",
    "file_name",
    "code",
    "voice_as",
    "retired_reason",
)
WORDS = {
    "kind": "'thermal', 'visible'",
    "matched": "'app', 'code', 'time', 'hand'",
    "time_from": "'camera', 'device', 'typed'",
}

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def kept() -> tuple[sa.Column, ...]:
    return (
        sa.Column("version", sa.Integer(), server_default="1", nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("id", KEY, nullable=False),
    )


def upgrade() -> None:
    op.create_table(
        "pictures",
        *(sa.Column(name, KEY, nullable=empty) for name, _, empty in LINKS),
        *(sa.Column(name, sa.String(), nullable=False) for name in TEXTS),
        *(sa.Column(name, sa.String(), nullable=True) for name in ("matched", "time_from")),
        *(sa.Column(name, sa.Integer(), nullable=False) for name in ("width", "height", "frames")),
        *(
            sa.Column(name, sa.DateTime(timezone=True), nullable=name != "received_at")
            for name in ("taken_at", "received_at", "retired_at")
        ),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("marks", sa.JSON(), nullable=False),
        *kept(),
        *(
            sa.CheckConstraint(f"{name} IN ({words})", name=op.f(f"ck_pictures_{name}"))
            for name, words in WORDS.items()
        ),
        *(
            sa.ForeignKeyConstraint([name], [f"{table}.id"], name=op.f(f"fk_pictures_{name}_{table}"))
            for name, table, _ in LINKS
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pictures")),
        sa.UniqueConstraint("uid", name=op.f("uq_pictures_uid")),
    )
    for name in ("round_id", "view_id", "finding_id"):
        op.create_index(f"ix_pictures_{name}", "pictures", [name])
    op.create_table(
        "phrases",
        sa.Column("client_id", KEY, nullable=False),
        sa.Column("lines", sa.JSON(), nullable=False),
        *kept(),
        sa.ForeignKeyConstraint(["client_id"], ["clients.id"], name=op.f("fk_phrases_client_id_clients")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_phrases")),
        sa.UniqueConstraint("client_id", name=op.f("uq_phrases_client_id")),
    )


def downgrade() -> None:
    op.drop_table("phrases")
    op.drop_table("pictures")
