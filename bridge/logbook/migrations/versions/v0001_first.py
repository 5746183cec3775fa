"""The first tables."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables of the first version."""
    op.create_table(
        "bikes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bikes")),
        sa.UniqueConstraint("name", name=op.f("uq_bikes_name")),
    )
    op.create_table(
        "bike_files",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bike_id", sa.Integer(), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False, comment="the keys of bike.toml as written"),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["bike_id"], ["bikes.id"], name=op.f("fk_bike_files_bike_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bike_files")),
    )
    op.create_index(op.f("ix_bike_files_bike_id"), "bike_files", ["bike_id"], unique=False)
    op.create_table(
        "builds",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bike_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False, comment="from 1 for each bike"),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["bike_id"], ["bikes.id"], name=op.f("fk_builds_bike_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_builds")),
        sa.UniqueConstraint("bike_id", "number", name=op.f("uq_builds_bike_id_number")),
    )
    op.create_table(
        "scale_statements",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bike_id", sa.Integer(), nullable=False),
        sa.Column("build", sa.Integer(), nullable=False),
        sa.Column("plug_type", sa.String(), nullable=True),
        sa.Column("nose_mm", sa.Float(), nullable=True),
        sa.Column("depth_mm", sa.Float(), nullable=False),
        sa.Column("sd_mm", sa.Float(), nullable=False),
        sa.Column("lambda_", sa.Float(), nullable=False),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["bike_id"], ["bikes.id"], name=op.f("fk_scale_statements_bike_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_scale_statements")),
    )
    op.create_index(op.f("ix_scale_statements_bike_id"), "scale_statements", ["bike_id"], unique=False)
    op.create_table(
        "sessions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("started", sa.DateTime(), nullable=False),
        sa.Column("bike_id", sa.Integer(), nullable=True),
        sa.Column("build", sa.Integer(), nullable=True),
        sa.Column("place", sa.String(), nullable=True),
        sa.Column("seconds", sa.Float(), nullable=False),
        sa.Column("samples", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        sa.Column("ending", sa.String(), nullable=False, comment="of the raw file, such as .capture or .csv"),
        sa.Column("sha256", sa.String(), nullable=True, comment="of an imported file"),
        sa.Column("notes", sa.JSON(), nullable=False),
        sa.CheckConstraint("state IN ('recording', 'interrupted', 'sealed')", name=op.f("ck_sessions_state")),
        sa.ForeignKeyConstraint(["bike_id"], ["bikes.id"], name=op.f("fk_sessions_bike_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sessions")),
    )
    op.create_index("ix_sessions_bike_id_started", "sessions", ["bike_id", "started"], unique=False)
    op.create_index(op.f("ix_sessions_sha256"), "sessions", ["sha256"], unique=False)
    op.create_table(
        "fittings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("plug", sa.String(), nullable=False),
        sa.Column("bike_id", sa.Integer(), nullable=True),
        sa.Column("cylinder", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("fitted", sa.Integer(), nullable=False),
        sa.Column("type", sa.String(), nullable=True),
        sa.Column("nose_mm", sa.Float(), nullable=True),
        sa.Column("heat_range", sa.Integer(), nullable=True),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["bike_id"], ["bikes.id"], name=op.f("fk_fittings_bike_id")),
        sa.ForeignKeyConstraint(["fitted"], ["sessions.id"], name=op.f("fk_fittings_fitted")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fittings")),
    )
    op.create_index(op.f("ix_fittings_bike_id"), "fittings", ["bike_id"], unique=False)
    op.create_index(op.f("ix_fittings_plug"), "fittings", ["plug"], unique=False)
    op.create_table(
        "marks",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("t_s", sa.Float(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("by", sa.String(), nullable=False, comment="wire or hand"),
        sa.Column("utc", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_marks_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_marks")),
    )
    op.create_index(op.f("ix_marks_session_id"), "marks", ["session_id"], unique=False)
    op.create_table(
        "part_states",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("t_s", sa.Float(), nullable=False),
        sa.Column("part", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_part_states_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_states")),
    )
    op.create_index(op.f("ix_part_states_session_id"), "part_states", ["session_id"], unique=False)
    op.create_table(
        "setup_files",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False, comment="the keys of setup.toml as written"),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_setup_files_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_setup_files")),
    )
    op.create_index(op.f("ix_setup_files_session_id"), "setup_files", ["session_id"], unique=False)
    op.create_table(
        "plug_pulls",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("fitting_id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("order_lost", sa.Boolean(), nullable=False),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["fitting_id"], ["fittings.id"], name=op.f("fk_plug_pulls_fitting_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_plug_pulls_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plug_pulls")),
        sa.UniqueConstraint("fitting_id", name=op.f("uq_plug_pulls_fitting_id")),
    )
    op.create_table(
        "readings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("fitting_id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.Column("ring", sa.String(), nullable=False),
        sa.Column("ring_mm", sa.Float(), nullable=True),
        sa.Column("ring_sd_mm", sa.Float(), nullable=True),
        sa.Column("view", sa.String(), nullable=False),
        sa.Column("nose_colour", sa.String(), nullable=True),
        sa.Column("base_ring", sa.String(), nullable=True),
        sa.Column("strap_mark", sa.Float(), nullable=True),
        sa.Column("specks", sa.String(), nullable=False),
        sa.Column("edge", sa.String(), nullable=True),
        sa.Column("glaze", sa.Boolean(), nullable=True),
        sa.Column("blisters", sa.Boolean(), nullable=True),
        sa.Column("wet", sa.Boolean(), nullable=True),
        sa.Column("gap_mm", sa.Float(), nullable=True),
        sa.Column("piston_wash", sa.String(), nullable=True),
        sa.Column("note", sa.String(), nullable=True),
        sa.Column("corrects", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["corrects"], ["readings.id"], name=op.f("fk_readings_corrects")),
        sa.ForeignKeyConstraint(["fitting_id"], ["fittings.id"], name=op.f("fk_readings_fitting_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_readings_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_readings")),
        sa.UniqueConstraint("corrects", name=op.f("uq_readings_corrects")),
    )
    op.create_index(op.f("ix_readings_fitting_id"), "readings", ["fitting_id"], unique=False)
    op.create_index(op.f("ix_readings_session_id"), "readings", ["session_id"], unique=False)
