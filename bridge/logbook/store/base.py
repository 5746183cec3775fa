"""What all subjects share: the database, the folder, and one transaction for each question."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

from pydantic import ValidationError
from sqlalchemy import Connection, Engine, Table
from sqlalchemy.exc import OperationalError

from bridge.errors import BadFile, BadValue, DiskTrouble
from bridge.model.base import FileModel

Document = TypeVar("Document", bound=FileModel)


class Store:
    """A logbook's folder and its open database."""

    def __init__(self, folder: Path, engine: Engine, *, write: bool) -> None:
        self.folder = folder
        self._engine = engine
        self._write = write

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        """One transaction that only looks: it sees one moment of the logbook, whoever writes meanwhile."""
        with self._engine.begin() as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        """One transaction that changes something: all of it, or after an error nothing.

        Raises:
            BadValue: the logbook was opened to read.
            DiskTrouble: the database would not take it.
        """
        if not self._write:
            raise BadValue(f"the logbook at {self.folder} is open to read; open it to write for that")
        try:
            with self._engine.begin() as connection:
                yield connection
        except OperationalError as error:
            raise DiskTrouble(
                f"the logbook at {self.folder} would not take it ({error.orig}); nothing was changed, try"
                " again",
            ) from error


def insert(connection: Connection, table: Table, **values: object) -> int:
    """Add a row and return its number."""
    key = connection.execute(table.insert().values(**values)).inserted_primary_key
    assert key is not None  # every table here numbers its rows
    return int(key[0])


def kept(model: type[Document], document: object) -> Document:
    """Return what was written in a file and kept in the logbook.

    Args:
        model: Bike or Setup.
        document: its keys as kept.

    Raises:
        BadFile: an earlier version let something pass that this one does not.
    """
    try:
        return model.model_validate(document)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        key = ".".join(map(str, first["loc"]))
        raise BadFile(
            f"a {model.__name__.lower()} that an earlier version took into this logbook cannot be read:"
            f" {key}: {first['msg']}; read this logbook by the version that wrote it"
        ) from None


def now() -> datetime:
    """Return this moment in UTC."""
    return datetime.now(UTC)
