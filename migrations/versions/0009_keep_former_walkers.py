"""keep who walked an issued round until it was given to somebody else, and drawings among pictures"""

import sqlalchemy as sa
from alembic import op

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def kinds_of_pictures(words: str) -> None:
    """Change which kinds of pictures there may be."""
    name = op.f("ck_pictures_kind")
    with op.batch_alter_table("pictures") as batch:
        batch.drop_constraint(name, type_="check")
        batch.create_check_constraint(name, f"kind IN ({words})")


def upgrade() -> None:
    op.create_table(
        "former_walkers",
        sa.Column("round_id", KEY, nullable=False),
        sa.Column("person_id", KEY, nullable=False),
        sa.Column("until_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("id", KEY, nullable=False),
        sa.ForeignKeyConstraint(["round_id"], ["rounds.id"], name=op.f("fk_former_walkers_round_id_rounds")),
        sa.ForeignKeyConstraint(
            ["person_id"], ["people.id"], name=op.f("fk_former_walkers_person_id_people")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_former_walkers")),
        sa.UniqueConstraint("round_id", "person_id", name=op.f("uq_former_walkers_round_id_person_id")),
    )
    kinds_of_pictures("'thermal', 'visible', 'drawing'")
    drawn = sa.text("kind = 'drawing'")
    op.create_index(
        "ix_pictures_drawings", "pictures", ["stop_id"], sqlite_where=drawn, postgresql_where=drawn
    )


def downgrade() -> None:
    op.drop_index("ix_pictures_drawings", table_name="pictures")
    # a drawing is a picture that was not taken by a camera for heat
    op.execute("UPDATE pictures SET kind = 'visible' WHERE kind = 'drawing'")
    kinds_of_pictures("'thermal', 'visible'")
    op.drop_table("former_walkers")
