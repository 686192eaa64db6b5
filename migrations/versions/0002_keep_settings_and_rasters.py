"""keep settings, re-evaluations and rasters

Columns are added with their CHECK in one statement, which both databases know: a CHECK of its own
would make SQLite rebuild its greatest tables.
"""

import sqlalchemy as sa
from alembic import op

KEY = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
NUMBER, FLAG, WORD, TEXT, OBJECT = sa.Double(), sa.Boolean(), sa.String(), sa.Text(), sa.JSON()
SOURCES = "IN ('measured', 'table', 'assumed')"

#: by table: column, type, condition, default
COLUMNS = {
    "assessments": (
        ("common_low_k", NUMBER, "", None),
        ("common_high_k", NUMBER, "", None),
        ("inputs", TEXT, "", None),
        ("cautions", WORD, "", ""),
        ("smallest_fault_k", NUMBER, "", None),
        ("reevaluation_id", KEY, "", None),
        ("replaces_id", KEY, "", None),
    ),
    "equipment": (("settle_minutes", NUMBER, ">= 0 AND settle_minutes <= 10000", None),),
    "people": (("temperature_unit", WORD, "IN ('c', 'f')", "c"),),
    "point_state": (
        ("u_k", NUMBER, "", None),
        ("u_common_k", NUMBER, "", None),
        ("smallest_fault_k", NUMBER, "", None),
    ),
    "points": (
        ("emissivity_standing", WORD, SOURCES, None),
        ("emissivity_finish", WORD, "", ""),
        ("emissivity_half_width", NUMBER, ">= 0 AND emissivity_half_width <= 0.5", None),
        ("reflected_c", NUMBER, ">= -90 AND reflected_c <= 1000", None),
        ("reflected_half_width_k", NUMBER, ">= 0 AND reflected_half_width_k <= 100", None),
        (
            "window_transmission_half_width",
            NUMBER,
            ">= 0 AND window_transmission_half_width <= 0.5",
            None,
        ),
        ("target_mm", NUMBER, ">= 0 AND target_mm <= 100000", None),
    ),
    "readings": (
        ("emissivity", NUMBER, ">= 0.01 AND emissivity <= 1", None),
        ("emissivity_standing", WORD, SOURCES, None),
        ("reflected_standing", WORD, SOURCES, None),
        ("through_window", FLAG, "", None),
        ("window_transmission", NUMBER, ">= 0.01 AND window_transmission <= 1", None),
        ("window_c", NUMBER, "", None),
        ("path_transmission", NUMBER, ">= 0.01 AND path_transmission <= 1", None),
        ("boxes", OBJECT, "", None),
    ),
    "rounds": (("settings", OBJECT, "", None),),
}

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "criteria_of_classes",
        sa.Column("site_id", KEY, nullable=False),
        sa.Column("equipment_class", sa.String(), nullable=False),
        sa.Column("criteria_id", KEY, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by_person_id", KEY, nullable=True),
        sa.Column("id", KEY, nullable=False),
        sa.ForeignKeyConstraint(
            ["by_person_id"], ["people.id"], name=op.f("fk_criteria_of_classes_by_person_id_people")
        ),
        sa.ForeignKeyConstraint(
            ["criteria_id"],
            ["criteria_sets.id"],
            name=op.f("fk_criteria_of_classes_criteria_id_criteria_sets"),
        ),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_criteria_of_classes_site_id_sites")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_criteria_of_classes")),
        sa.UniqueConstraint(
            "site_id", "equipment_class", name=op.f("uq_criteria_of_classes_site_id_equipment_class")
        ),
    )
    op.create_table(
        "reevaluations",
        sa.Column("uid", sa.String(), nullable=False),
        sa.Column("target", sa.String(), nullable=False),
        sa.Column("target_id", KEY, nullable=False),
        sa.Column("client_id", KEY, nullable=False),
        sa.Column("site_id", KEY, nullable=True),
        sa.Column("changes", sa.JSON(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by_person_id", KEY, nullable=True),
        sa.Column("undoes_id", KEY, nullable=True),
        sa.Column("readings", sa.Integer(), nullable=False),
        sa.Column("levels_changed", sa.Integer(), nullable=False),
        sa.Column("points_changed", sa.Integer(), nullable=False),
        sa.Column("id", KEY, nullable=False),
        sa.CheckConstraint(
            "target IN ('reading', 'point', 'round', 'site')", name=op.f("ck_reevaluations_target")
        ),
        sa.ForeignKeyConstraint(
            ["by_person_id"], ["people.id"], name=op.f("fk_reevaluations_by_person_id_people")
        ),
        sa.ForeignKeyConstraint(
            ["client_id"], ["clients.id"], name=op.f("fk_reevaluations_client_id_clients")
        ),
        sa.ForeignKeyConstraint(["site_id"], ["sites.id"], name=op.f("fk_reevaluations_site_id_sites")),
        sa.ForeignKeyConstraint(
            ["undoes_id"], ["reevaluations.id"], name=op.f("fk_reevaluations_undoes_id_reevaluations")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reevaluations")),
        sa.UniqueConstraint("uid", name=op.f("uq_reevaluations_uid")),
    )
    with op.batch_alter_table("reevaluations", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_reevaluations_site_id"), ["site_id"], unique=False)

    op.create_table(
        "rasters",
        sa.Column("uid", sa.String(), nullable=False),
        sa.Column("reading_id", KEY, nullable=False),
        sa.Column("file_name", sa.String(), nullable=False),
        sa.Column("content_hash", sa.String(), nullable=False),
        sa.Column("stored_as", sa.String(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("columns", sa.Integer(), nullable=False),
        sa.Column("low_c", sa.Double(), nullable=False),
        sa.Column("high_c", sa.Double(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by_person_id", KEY, nullable=True),
        sa.Column("id", KEY, nullable=False),
        sa.ForeignKeyConstraint(["by_person_id"], ["people.id"], name=op.f("fk_rasters_by_person_id_people")),
        sa.ForeignKeyConstraint(["reading_id"], ["readings.id"], name=op.f("fk_rasters_reading_id_readings")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rasters")),
        sa.UniqueConstraint("reading_id", "content_hash", name=op.f("uq_rasters_reading_id_content_hash")),
        sa.UniqueConstraint("uid", name=op.f("uq_rasters_uid")),
    )
    op.create_table(
        "raster_regions",
        sa.Column("raster_id", KEY, nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("shape", sa.String(), nullable=False),
        sa.Column("row_from", sa.Integer(), nullable=False),
        sa.Column("column_from", sa.Integer(), nullable=False),
        sa.Column("row_to", sa.Integer(), nullable=False),
        sa.Column("column_to", sa.Integer(), nullable=False),
        sa.Column("radius", sa.Double(), nullable=True),
        sa.Column("figures", sa.JSON(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by_person_id", KEY, nullable=True),
        sa.Column("retired_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("id", KEY, nullable=False),
        sa.CheckConstraint("shape IN ('box', 'spot')", name=op.f("ck_raster_regions_shape")),
        sa.ForeignKeyConstraint(
            ["by_person_id"], ["people.id"], name=op.f("fk_raster_regions_by_person_id_people")
        ),
        sa.ForeignKeyConstraint(
            ["raster_id"], ["rasters.id"], name=op.f("fk_raster_regions_raster_id_rasters")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_raster_regions")),
    )
    with op.batch_alter_table("raster_regions", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_raster_regions_raster_id"), ["raster_id"], unique=False)

    _add_columns()
    op.create_index(
        "ix_assessments_reevaluation_id",
        "assessments",
        ["reevaluation_id"],
        sqlite_where=sa.text("reevaluation_id IS NOT NULL"),
        postgresql_where=sa.text("reevaluation_id IS NOT NULL"),
    )


def _add_columns() -> None:
    dialect = op.get_bind().dialect
    for table, columns in COLUMNS.items():
        for name, kind, condition, default in columns:
            words = [f"ALTER TABLE {table} ADD COLUMN {name} {kind.compile(dialect=dialect)}"]
            if default is not None:
                words.append(f"DEFAULT '{default}' NOT NULL")
            if condition:
                words.append(f"CONSTRAINT ck_{table}_{name} CHECK ({name} {condition})")
            op.execute(" ".join(words))


def downgrade() -> None:
    op.drop_index("ix_assessments_reevaluation_id", table_name="assessments")
    for table, columns in COLUMNS.items():
        for name, *_rest in columns:
            op.execute(f"ALTER TABLE {table} DROP COLUMN {name}")
    op.drop_table("raster_regions")
    op.drop_table("rasters")
    op.drop_table("reevaluations")
    op.drop_table("criteria_of_classes")
