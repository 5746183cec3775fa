"""What is to be done after a session."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add the to-do."""
    op.create_table(
        "todos",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("cylinder", sa.Integer(), nullable=True, comment="null: the whole engine"),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("because", sa.String(), nullable=True),
        sa.Column(
            "promise",
            sa.Float(),
            nullable=True,
            comment="change of lambda at full throttle; below zero is richer",
        ),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.Column("done", sa.DateTime(), nullable=True),
        sa.Column("note", sa.String(), nullable=True, comment="what was found in doing it"),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_todos_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_todos")),
    )
    op.create_index(op.f("ix_todos_session_id"), "todos", ["session_id"], unique=False)
