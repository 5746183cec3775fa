"""Opening a logbook: made when written to, never made when read, brought up to date, refused when newer."""

import os
import sqlite3
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.dialects import postgresql

from bridge.errors import BadFile, BadValue, DiskTrouble, UnknownThing
from bridge.logbook import Logbook, opening, tables
from bridge.logbook.migrations import HEAD
from bridge.model import Bike

FIRST_VERSION = Path(__file__).with_name("first_version.sql")
TWIN = Bike(name="Chalk Pit 400", strokes=4, cylinders=2, displacement_cc=398)


def test_writing_makes_a_logbook(tmp_path):
    """Opening to write makes the folder and everything above it."""
    with Logbook.open(tmp_path / "a" / "b", write=True) as logbook:
        assert logbook.bikes() == []
    assert (tmp_path / "a" / "b" / "logbook.sqlite").is_file()


@pytest.mark.parametrize("name", ["with space", "per%cent", "ques?tion", "ha#sh", "Übung", "a&b=c"])
def test_any_folder_name_will_do(tmp_path, name):
    """A folder whose name means something in a URL is opened like any other."""
    with Logbook.open(tmp_path / name, write=True) as logbook:
        logbook.add_bike(TWIN)
    with Logbook.open(tmp_path / name, write=False) as logbook:
        assert [bike.name for bike, _ in logbook.bikes()] == [TWIN.name]
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_a_relative_folder_will_do(tmp_path, monkeypatch):
    """A folder is meant from where the command runs."""
    monkeypatch.chdir(tmp_path)
    with Logbook.open(Path("logbook"), write=True) as logbook:
        logbook.add_bike(TWIN)
    with Logbook.open(Path("logbook"), write=False) as logbook:
        assert logbook.bikes()


def test_reading_never_makes_a_logbook(tmp_path):
    """Opening to read refuses what is not there, and makes neither folder nor file."""
    (tmp_path / "empty").mkdir()
    for folder in (tmp_path / "none", tmp_path / "empty"):
        with pytest.raises(UnknownThing, match="no logbook"):
            Logbook.open(folder, write=False)
    assert not (tmp_path / "none").exists()
    assert list((tmp_path / "empty").iterdir()) == []


@pytest.mark.usefixtures("book")
def test_a_reader_cannot_write(folder):
    """A logbook that was opened to read refuses to be changed, and the database would too."""
    with Logbook.open(folder, write=False) as reader:
        with pytest.raises(BadValue, match="open to read"):
            reader.add_bike(TWIN)
        with pytest.raises(sa.exc.OperationalError, match="readonly"), reader._engine.begin() as connection:
            connection.execute(tables.bikes.delete())


def test_a_folder_that_may_not_be_written(tmp_path, monkeypatch):
    """A logbook in a folder that takes no file can still be read, without the index that readers share."""
    with Logbook.open(tmp_path, write=True) as logbook:
        logbook.add_bike(TWIN)
    before = sorted(tmp_path.iterdir())
    monkeypatch.setattr(os, "access", lambda *_: False)

    with Logbook.open(tmp_path, write=False) as logbook:
        assert logbook.bikes()
        assert sorted(tmp_path.iterdir()) == before


def test_a_folder_that_cannot_be_made(tmp_path):
    """Where a file stands in the way of the folder, one sentence says so."""
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(DiskTrouble, match="cannot be made"):
        Logbook.open(tmp_path / "file" / "logbook", write=True)


@pytest.mark.parametrize("write", [True, False])
def test_a_file_that_is_no_database(tmp_path, write):
    """Something else under the name of the database is refused and left as it is."""
    path = tmp_path / "logbook.sqlite"
    path.write_bytes(b"certainly no database" * 100)
    with pytest.raises(BadFile, match="no logbook"):
        Logbook.open(tmp_path, write=write)
    assert path.read_bytes() == b"certainly no database" * 100


def test_a_database_of_another_program(tmp_path):
    """Tables that are not ours are refused, and none of ours is put beside them."""
    with sqlite3.connect(tmp_path / "logbook.sqlite") as other:
        other.execute("CREATE TABLE shopping (what TEXT)")
    other.close()
    with pytest.raises(BadFile, match="another program"):
        Logbook.open(tmp_path, write=True)
    with sqlite3.connect(tmp_path / "logbook.sqlite") as other:
        assert other.execute("SELECT name FROM sqlite_master").fetchall() == [("shopping",)]
    other.close()


@pytest.mark.parametrize("write", [True, False])
def test_a_logbook_of_a_later_version(book, folder, write):
    """A logbook that a later program wrote is refused, naming both versions, and kept as it is."""
    book.logbook.close()
    with sqlite3.connect(folder / "logbook.sqlite") as later:
        later.execute("UPDATE alembic_version SET version_num = '9999'")
    later.close()
    with pytest.raises(BadFile, match=f"9999.*{HEAD}.*update sootline"):
        Logbook.open(folder, write=write)
    with sqlite3.connect(folder / "logbook.sqlite") as later:
        assert later.execute("SELECT version_num FROM alembic_version").fetchall() == [("9999",)]
    later.close()


def test_a_logbook_of_the_first_version(tmp_path):
    """A logbook as the first version wrote it opens with all that was in it."""
    (tmp_path / "samples").mkdir()
    with sqlite3.connect(tmp_path / "logbook.sqlite") as old:
        old.executescript(FIRST_VERSION.read_text(encoding="utf-8"))
    old.close()
    with Logbook.open(tmp_path, write=True) as logbook:
        assert logbook.bike_and_build("Chalk Pit 400") == (logbook.bike("Chalk Pit 400"), 2)
        assert [(s.id, s.kind, s.seconds, s.build) for s in logbook.sessions()] == [(1, "practice", 60.0, 1)]
        assert logbook.setup(1).of_cylinder(2).main_jet == 165
        assert [(row.plug, row.cylinder, row.readings, row.pulled) for row in logbook.tray()] == [
            ("A1", 1, 1, 1)
        ]
        assert logbook.readings(1)[0].ring_mm == 6.4
        assert [r.ring_mm for r in logbook.readings(1, all_of_them=True)] == [6.2, 6.4]
        assert logbook.statements("Chalk Pit 400")[0].lambda_ == 0.87


def _steps():
    return ScriptDirectory.from_config(opening._scripts())


def test_the_version_that_the_program_names_is_the_newest():
    """The version that a logbook is held against is that of the last migration, the only last one."""
    assert _steps().get_heads() == [HEAD]
    assert HEAD in opening.known_versions()


def test_the_migrations_make_the_tables_that_the_code_speaks_of(book):
    """Nothing differs between the migrated tables and those that the code describes."""
    with book.logbook._engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, tables.metadata) == []


def test_a_migration_that_fails_leaves_nothing(tmp_path, monkeypatch):
    """An error in the middle of a migration undoes all of it."""

    def half(connection):
        connection.execute(sa.text("CREATE TABLE half (x INTEGER)"))
        raise RuntimeError("the power went")

    monkeypatch.setattr(opening, "_migrate", half)
    with pytest.raises(RuntimeError):
        Logbook.open(tmp_path, write=True)
    with sqlite3.connect(tmp_path / "logbook.sqlite") as left:
        assert left.execute("SELECT name FROM sqlite_master").fetchall() == []
    left.close()


def test_the_tables_can_be_made_elsewhere():
    """Each table can be said to PostgreSQL, so that a workshop can point the code at one."""
    for table in tables.metadata.sorted_tables:
        assert f"CREATE TABLE {table.name}" in str(
            sa.schema.CreateTable(table).compile(dialect=postgresql.dialect())
        )


def test_what_the_database_promises(book):
    """Foreign keys are held, and readers are not shut out by a writer."""
    with book.logbook._engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
    with pytest.raises(sa.exc.IntegrityError), book.logbook._engine.begin() as connection:
        connection.execute(tables.part_states.insert().values(session_id=99, t_s=0, part="x", state="ready"))
