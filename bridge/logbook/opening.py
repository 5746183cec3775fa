"""Opening the database: to write (made and brought up to date) or to read (never made, never changed)."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.exc import DatabaseError, OperationalError

from bridge.errors import BadFile, DiskTrouble, UnknownThing
from bridge.logbook import files
from bridge.logbook.migrations import HEAD

BUSY_S = 15.0
"""How long a writer waits for another one [s]."""


def open_to_write(folder: Path) -> Engine:
    """Open a logbook to write, making it where it is missing and migrating it where it is old.

    Raises:
        BadFile: the file is no logbook, or one of a later version.
        DiskTrouble: the folder cannot be made or written.
    """
    path = files.database(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DiskTrouble(f"the logbook's folder {folder} cannot be made ({error.strerror})") from error
    engine = _engine(path, "rwc", "BEGIN IMMEDIATE")
    with _told_in_words(path, engine), engine.begin() as connection:
        version = _version(connection)
        if version != HEAD:
            if version is not None:
                _refuse_later(path, version)
            _migrate(connection)
    return engine


def open_to_read(folder: Path) -> Engine:
    """Open a logbook to read. Nothing is made or changed.

    Raises:
        UnknownThing: there is no logbook.
        BadFile: the file is no logbook, or one of another version.
    """
    path = files.database(folder)
    if not path.is_file():
        raise UnknownThing(
            f"there is no logbook at {folder}; name another by --logbook, or begin one by 'record' or"
            " 'import'"
        )
    engine = _engine(path, "ro", "BEGIN")
    with _told_in_words(path, engine), engine.begin() as connection:
        _refuse_other(path, _version(connection))
    return engine


def _engine(path: Path, mode: str, begin: str) -> Engine:
    query = {"mode": mode, "uri": "true"}
    if (
        mode == "ro"
        and not os.access(path.parent, os.W_OK)
        and not path.with_name(path.name + "-wal").exists()
    ):
        # a reader of a write-ahead log needs to share an index file, which a read-only folder cannot take;
        # with nobody able to write there the file cannot change under it either
        query["immutable"] = "1"
    database = "file:" + quote(str(path.resolve()))
    engine = create_engine(
        URL.create("sqlite", database=database, query=query),
        connect_args={"timeout": BUSY_S, "check_same_thread": False},
    )

    @event.listens_for(engine, "connect")
    def _prepare(connection: Any, _record: object) -> None:  # noqa: ANN401  # the driver's own
        # the driver's own transactions leave table changes outside, so they are begun by hand (below)
        connection.isolation_level = None
        connection.execute("PRAGMA foreign_keys = ON")
        if mode != "ro":
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


def _version(connection: Connection) -> str | None:
    """Return the version of the tables; None where there are none."""
    tables = inspect(connection).get_table_names()
    if "alembic_version" not in tables:
        if tables:
            path = connection.engine.url.database
            raise BadFile(f"{path} is no logbook: it holds tables of another program; name another folder")
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()


def _scripts() -> Any:  # noqa: ANN401  # alembic's Config, imported late for start-up
    from alembic.config import Config  # noqa: PLC0415  # start-up: only for a logbook that is new or old

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def known_versions() -> list[str]:
    """Return the versions that this program knows, newest first."""
    from alembic.script import ScriptDirectory  # noqa: PLC0415  # start-up

    return [step.revision for step in ScriptDirectory.from_config(_scripts()).walk_revisions()]


def _migrate(connection: Connection) -> None:
    from alembic import command  # noqa: PLC0415  # start-up

    config = _scripts()
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def _refuse_other(path: Path, version: str | None) -> None:
    """Refuse to read a logbook of another version than this program's."""
    if version == HEAD:
        return
    if version is not None:
        _refuse_later(path, version)
    raise BadFile(
        f"{path} was left by an earlier version of sootline; bring it up to date by 'sootline recover'"
    )


def _refuse_later(path: Path, version: str) -> None:
    if version not in known_versions():
        raise BadFile(
            f"{path} was written by a later version of sootline (its tables are at {version}, this one knows"
            f" them up to {HEAD}); update sootline",
        )


@contextmanager
def _told_in_words(path: Path, engine: Engine) -> Iterator[None]:
    """Close the database again where it cannot be opened, and say why in a sentence."""
    try:
        yield
    except BaseException as error:
        engine.dispose()
        if isinstance(error, OperationalError):
            raise DiskTrouble(
                f"the logbook {path} cannot be opened ({error.orig}); look at the folder's rights and space",
            ) from error
        if isinstance(error, DatabaseError):
            raise BadFile(f"{path} is no logbook ({error.orig}); name another folder by --logbook") from error
        raise
