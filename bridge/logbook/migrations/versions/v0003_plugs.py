"""The lives of plugs, corrected cylinders, and photographs."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add what a plug's whole story needs."""
    op.create_table(
        "plug_notes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("plug", sa.String(), nullable=False),
        sa.Column("what", sa.String(), nullable=False, comment="cleaned, scrapped, swapped, order found"),
        sa.Column("session_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(), nullable=True),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_plug_notes_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plug_notes")),
    )
    op.create_index(op.f("ix_plug_notes_plug"), "plug_notes", ["plug"], unique=False)
    op.create_table(
        "fitting_corrections",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("fitting_id", sa.Integer(), nullable=False),
        sa.Column(
            "cylinder", sa.Integer(), nullable=False, comment="where it really was; the newest row counts"
        ),
        sa.Column("why", sa.String(), nullable=False),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["fitting_id"], ["fittings.id"], name=op.f("fk_fitting_corrections_fitting_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fitting_corrections")),
    )
    op.create_index(
        op.f("ix_fitting_corrections_fitting_id"), "fitting_corrections", ["fitting_id"], unique=False
    )
    op.create_table(
        "photos",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("fitting_id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("file", sa.String(), nullable=False, comment="its name in the folder of photos"),
        sa.Column("sha256", sa.String(), nullable=False),
        sa.Column("view", sa.String(), nullable=False),
        sa.Column("nose_mm", sa.Float(), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False, comment="the taps, and what was found"),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["fitting_id"], ["fittings.id"], name=op.f("fk_photos_fitting_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_photos_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photos")),
    )
    op.create_index(op.f("ix_photos_fitting_id"), "photos", ["fitting_id"], unique=False)
    op.create_index(op.f("ix_photos_session_id"), "photos", ["session_id"], unique=False)
