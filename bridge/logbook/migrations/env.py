"""Alembic's way in. It runs on the connection that ``bridge.logbook.opening`` hands over, or prints SQL."""

from alembic import context

from bridge.logbook.tables import metadata

connection = context.config.attributes.get("connection")
if connection is None:
    # only to look at the SQL: a database is never opened from here
    context.configure(
        url=context.config.get_main_option("sqlalchemy.url"),
        target_metadata=metadata,
        literal_binds=True,
    )
else:
    context.configure(
        connection=connection,
        target_metadata=metadata,
        transactional_ddl=True,
        render_as_batch=connection.dialect.name == "sqlite",
    )
with context.begin_transaction():
    context.run_migrations()
