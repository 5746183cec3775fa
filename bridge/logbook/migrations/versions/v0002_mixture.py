"""Sensor history, exhaust-gas analyses and the tuner's own fuels."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add what the measured mixture needs to be judged."""
    op.create_table(
        "sensor_events",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bike_id", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(), nullable=False, comment="free air, replaced, offset or trapped"),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("cylinder", sa.Integer(), nullable=True, comment="null: all of the bike's sensors"),
        sa.Column("value", sa.Float(), nullable=True),
        sa.Column("sd", sa.Float(), nullable=True),
        sa.Column("air_temp_c", sa.Float(), nullable=True),
        sa.Column("air_pressure_hpa", sa.Float(), nullable=True),
        sa.Column("humidity_percent", sa.Float(), nullable=True),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["bike_id"], ["bikes.id"], name=op.f("fk_sensor_events_bike_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sensor_events")),
    )
    op.create_index(op.f("ix_sensor_events_bike_id"), "sensor_events", ["bike_id"], unique=False)
    op.create_table(
        "gas_analyses",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("cylinder", sa.Integer(), nullable=True, comment="null: the gas of all cylinders together"),
        sa.Column("co2_percent", sa.Float(), nullable=False),
        sa.Column("co_percent", sa.Float(), nullable=False),
        sa.Column("o2_percent", sa.Float(), nullable=False),
        sa.Column("hc_ppm", sa.Float(), nullable=False),
        sa.Column("no_ppm", sa.Float(), nullable=True),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_gas_analyses_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gas_analyses")),
    )
    op.create_index(op.f("ix_gas_analyses_session_id"), "gas_analyses", ["session_id"], unique=False)
    op.create_table(
        "fuels",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False, comment="lower case; the newest row of a name counts"),
        sa.Column("document", sa.JSON(), nullable=False, comment="the keys of the fuel's file as written"),
        sa.Column("written", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fuels")),
    )
    op.create_index(op.f("ix_fuels_name"), "fuels", ["name"], unique=False)
