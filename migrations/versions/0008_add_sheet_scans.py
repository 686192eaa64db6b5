"""add scans of signed sheets, questions sent back, codes of labels, what was foretold at issue"""

import sqlalchemy as sa
from alembic import op

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
INSTANT = sa.DateTime(timezone=True)
KINDS = "'jpg', 'png', 'webp', 'pdf'"
MATCHED = "'sheet code typed', 'sheet code in its name', 'chosen by hand', 'of the whole round'"

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "sheet_scans",
        sa.Column("uid", sa.String(), nullable=False),
        sa.Column("round_id", KEY, nullable=False),
        sa.Column("stop_id", KEY, nullable=True),
        *(
            sa.Column(name, sa.String(), nullable=False)
            for name in ("matched", "file_name", "kind", "content_hash", "stored_as")
        ),
        sa.Column("size_bytes", sa.Integer(), nullable=False),
        sa.Column("received_at", INSTANT, nullable=False),
        sa.Column("by_person_id", KEY, nullable=True),
        sa.Column("taken_back_at", INSTANT, nullable=True),
        sa.Column("taken_back_by_id", KEY, nullable=True),
        sa.Column("taken_back_reason", sa.String(), nullable=False),
        sa.Column("id", KEY, nullable=False),
        sa.CheckConstraint(f"kind IN ({KINDS})", name=op.f("ck_sheet_scans_kind")),
        sa.CheckConstraint(f"matched IN ({MATCHED})", name=op.f("ck_sheet_scans_matched")),
        sa.ForeignKeyConstraint(["round_id"], ["rounds.id"], name=op.f("fk_sheet_scans_round_id_rounds")),
        sa.ForeignKeyConstraint(["stop_id"], ["stops.id"], name=op.f("fk_sheet_scans_stop_id_stops")),
        sa.ForeignKeyConstraint(
            ["by_person_id"], ["people.id"], name=op.f("fk_sheet_scans_by_person_id_people")
        ),
        sa.ForeignKeyConstraint(
            ["taken_back_by_id"], ["people.id"], name=op.f("fk_sheet_scans_taken_back_by_id_people")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sheet_scans")),
        sa.UniqueConstraint("uid", name=op.f("uq_sheet_scans_uid")),
    )
    op.create_index("ix_sheet_scans_round_id", "sheet_scans", ["round_id"])
    op.create_index("ix_sheet_scans_stop_id", "sheet_scans", ["stop_id"])
    op.create_table(
        "round_questions",
        sa.Column("round_id", KEY, nullable=False),
        sa.Column("row_id", KEY, nullable=False),
        sa.Column("asked_by_id", KEY, nullable=True),
        sa.Column("question", sa.Text(), nullable=False),
        sa.Column("answered_at", INSTANT, nullable=True),
        sa.Column("answered_by_id", KEY, nullable=True),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), server_default="1", nullable=False),
        sa.Column("created_at", INSTANT, nullable=False),
        sa.Column("changed_at", INSTANT, nullable=False),
        sa.Column("id", KEY, nullable=False),
        sa.ForeignKeyConstraint(["round_id"], ["rounds.id"], name=op.f("fk_round_questions_round_id_rounds")),
        sa.ForeignKeyConstraint(
            ["row_id"], ["round_rows.id"], name=op.f("fk_round_questions_row_id_round_rows")
        ),
        sa.ForeignKeyConstraint(
            ["asked_by_id"], ["people.id"], name=op.f("fk_round_questions_asked_by_id_people")
        ),
        sa.ForeignKeyConstraint(
            ["answered_by_id"], ["people.id"], name=op.f("fk_round_questions_answered_by_id_people")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_round_questions")),
    )
    op.create_index("ix_round_questions_round_id", "round_questions", ["round_id"])
    few = sa.text("answered_at IS NULL")
    op.create_index(
        "ix_round_questions_open", "round_questions", ["round_id"], sqlite_where=few, postgresql_where=few
    )
    op.execute("ALTER TABLE round_rows ADD COLUMN foretold JSON")
    op.execute("ALTER TABLE equipment ADD COLUMN label_code VARCHAR")
    op.create_index("ix_equipment_label_code", "equipment", ["label_code"], unique=True)


def downgrade() -> None:
    op.drop_index("ix_equipment_label_code", "equipment")
    op.execute("ALTER TABLE equipment DROP COLUMN label_code")
    op.execute("ALTER TABLE round_rows DROP COLUMN foretold")
    op.drop_table("round_questions")
    op.drop_table("sheet_scans")
