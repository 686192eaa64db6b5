"""keep who walked an issued round until it was given to somebody else"""

import sqlalchemy as sa
from alembic import op

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


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


def downgrade() -> None:
    op.drop_table("former_walkers")
