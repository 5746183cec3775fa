"""The logbook's tables.

What a person typed is only ever added to: a corrected bike file, set-up, reading or scale is a new row, and
the newest row counts. Only what the program itself works out (a session's length, its state) is written over,
and a session that has no bike gets one when somebody says which.
"""

from datetime import UTC, datetime

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    TypeDecorator,
    UniqueConstraint,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    },
)


class Moment(TypeDecorator[datetime]):
    """A moment, kept in UTC without a zone so that every database orders it alike."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        # SQLAlchemy's signature
        """Turn an aware moment into UTC; one without a zone is a defect of the caller."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value} has no zone")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002  # as above
        """Give the zone back."""
        return None if value is None else value.replace(tzinfo=UTC)


bikes = Table(
    "bikes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String, nullable=False, unique=True),
)

bike_files = Table(
    "bike_files",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("bike_id", ForeignKey("bikes.id"), nullable=False, index=True),
    Column("document", JSON, nullable=False, comment="the keys of bike.toml as written"),
    Column("written", Moment, nullable=False),
)

builds = Table(
    "builds",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("bike_id", ForeignKey("bikes.id"), nullable=False),
    Column("number", Integer, nullable=False, comment="from 1 for each bike"),
    Column("what", String, nullable=False),
    Column("written", Moment, nullable=False),
    UniqueConstraint("bike_id", "number"),
)

sessions = Table(
    "sessions",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("started", Moment, nullable=False),
    Column("bike_id", ForeignKey("bikes.id")),
    Column("build", Integer),
    Column("place", String),
    Column("seconds", Float, nullable=False),
    Column("samples", Integer, nullable=False),
    Column("state", String, nullable=False),
    Column("source", String, nullable=False),
    Column("ending", String, nullable=False, comment="of the raw file, such as .capture or .csv"),
    Column("sha256", String, index=True, comment="of an imported file"),
    Column("notes", JSON, nullable=False),
    CheckConstraint("state IN ('recording', 'interrupted', 'sealed')", name="state"),
    Index("ix_sessions_bike_id_started", "bike_id", "started"),
)

marks = Table(
    "marks",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("session_id", ForeignKey("sessions.id"), nullable=False, index=True),
    Column("t_s", Float, nullable=False),
    Column("what", String, nullable=False),
    Column("by", String, nullable=False, comment="wire or hand"),
    Column("utc", Moment, nullable=False),
)

part_states = Table(
    "part_states",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("session_id", ForeignKey("sessions.id"), nullable=False, index=True),
    Column("t_s", Float, nullable=False),
    Column("part", String, nullable=False),
    Column("state", String, nullable=False),
)

setup_files = Table(
    "setup_files",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("session_id", ForeignKey("sessions.id"), nullable=False, index=True),
    Column("document", JSON, nullable=False, comment="the keys of setup.toml as written"),
    Column("written", Moment, nullable=False),
)

fittings = Table(
    "fittings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("plug", String, nullable=False, index=True),
    Column("bike_id", ForeignKey("bikes.id"), index=True),
    Column("cylinder", Integer, nullable=False),
    Column("state", String, nullable=False),
    Column("fitted", ForeignKey("sessions.id"), nullable=False),
    Column("type", String),
    Column("nose_mm", Float),
    Column("heat_range", Integer),
    Column("written", Moment, nullable=False),
)

pulls = Table(
    "plug_pulls",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("fitting_id", ForeignKey("fittings.id"), nullable=False, unique=True),
    Column("session_id", ForeignKey("sessions.id"), nullable=False),
    Column("order_lost", Boolean, nullable=False),
    Column("written", Moment, nullable=False),
)

readings = Table(
    "readings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("fitting_id", ForeignKey("fittings.id"), nullable=False, index=True),
    Column("session_id", ForeignKey("sessions.id"), nullable=False, index=True),
    Column("written", Moment, nullable=False),
    Column("ring", String, nullable=False),
    Column("ring_mm", Float),
    Column("ring_sd_mm", Float),
    Column("view", String, nullable=False),
    Column("nose_colour", String),
    Column("base_ring", String),
    Column("strap_mark", Float),
    Column("specks", String, nullable=False),
    Column("edge", String),
    Column("glaze", Boolean),
    Column("blisters", Boolean),
    Column("wet", Boolean),
    Column("gap_mm", Float),
    Column("piston_wash", String),
    Column("note", String),
    Column("corrects", ForeignKey("readings.id"), unique=True),
)

scale_statements = Table(
    "scale_statements",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("bike_id", ForeignKey("bikes.id"), nullable=False, index=True),
    Column("build", Integer, nullable=False),
    Column("plug_type", String),
    Column("nose_mm", Float),
    Column("depth_mm", Float, nullable=False),
    Column("sd_mm", Float, nullable=False),
    Column("lambda_", Float, nullable=False),
    Column("written", Moment, nullable=False),
)

sensor_events = Table(
    "sensor_events",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("bike_id", ForeignKey("bikes.id"), nullable=False, index=True),
    Column("what", String, nullable=False, comment="free air, replaced, offset or trapped"),
    Column("at", Moment, nullable=False),
    Column("cylinder", Integer, comment="null: all of the bike's sensors"),
    Column("value", Float),
    Column("sd", Float),
    Column("air_temp_c", Float),
    Column("air_pressure_hpa", Float),
    Column("humidity_percent", Float),
    Column("written", Moment, nullable=False),
)

gas_analyses = Table(
    "gas_analyses",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("session_id", ForeignKey("sessions.id"), nullable=False, index=True),
    Column("cylinder", Integer, comment="null: the gas of all cylinders together"),
    Column("co2_percent", Float, nullable=False),
    Column("co_percent", Float, nullable=False),
    Column("o2_percent", Float, nullable=False),
    Column("hc_ppm", Float, nullable=False),
    Column("no_ppm", Float),
    Column("written", Moment, nullable=False),
)

fuels = Table(
    "fuels",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String, nullable=False, index=True, comment="lower case; the newest row of a name counts"),
    Column("document", JSON, nullable=False, comment="the keys of the fuel's file as written"),
    Column("written", Moment, nullable=False),
)

plug_notes = Table(
    "plug_notes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("plug", String, nullable=False, index=True),
    Column("what", String, nullable=False, comment="cleaned, scrapped, swapped, order found"),
    Column("session_id", ForeignKey("sessions.id")),
    Column("note", String),
    Column("written", Moment, nullable=False),
)

fitting_corrections = Table(
    "fitting_corrections",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("fitting_id", ForeignKey("fittings.id"), nullable=False, index=True),
    Column("cylinder", Integer, nullable=False, comment="where it really was; the newest row counts"),
    Column("why", String, nullable=False),
    Column("written", Moment, nullable=False),
)

photos = Table(
    "photos",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("fitting_id", ForeignKey("fittings.id"), nullable=False, index=True),
    Column("session_id", ForeignKey("sessions.id"), nullable=False, index=True),
    Column("file", String, nullable=False, comment="its name in the folder of photos"),
    Column("sha256", String, nullable=False),
    Column("view", String, nullable=False),
    Column("nose_mm", Float, nullable=False),
    Column("document", JSON, nullable=False, comment="the taps, and what was found"),
    Column("written", Moment, nullable=False),
)

todos = Table(
    "todos",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("session_id", ForeignKey("sessions.id"), nullable=False, index=True),
    Column("cylinder", Integer, comment="null: the whole engine"),
    Column("what", String, nullable=False),
    Column("because", String),
    Column("promise", Float, comment="change of lambda at full throttle; below zero is richer"),
    Column("written", Moment, nullable=False),
    Column("done", Moment),
    Column("note", String, comment="what was found in doing it"),
)
