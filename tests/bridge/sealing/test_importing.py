"""A file becomes a session: all of it, or after an error nothing."""

import os
import zlib
from datetime import UTC, datetime

import pytest

from bridge.errors import BadFile, BadValue, DiskTrouble, SootlineError, UnknownThing, WireTooNew
from bridge.imports import export_run
from bridge.link.capture import CaptureWriter
from bridge.logbook import Logbook, files
from bridge.model import Bike
from bridge.sealing import import_log
from tests.bridge.sealing.wire_rides import block, data, mark, rows

RIDE = block() + data(rows(100)) + mark(100, 1005)
CSV = "t_s,rpm,lambda_1\n0,5000,0.9\n0.1,5100,0.88\n0.2,5200,\n"
STARTED = datetime(2026, 5, 14, 9, 20, tzinfo=UTC)


@pytest.fixture
def logbook(tmp_path):
    """A logbook with a bike, open to write."""
    with Logbook.open(tmp_path / "logbook", write=True) as opened:
        opened.add_bike(Bike(name="Chalk Pit 400", strokes=4, cylinders=2, displacement_cc=398))
        yield opened


@pytest.fixture
def given(tmp_path):
    """Write a file and give its path."""

    def write(name, content):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return write


def everything(logbook):
    """All that the logbook holds, to see that nothing changed."""
    found = [p for p in logbook.folder.rglob("*") if p.is_file() and not p.name.startswith("logbook.sqlite")]
    return logbook.sessions(), sorted((p.name, p.read_bytes()) for p in found)


def test_a_wire_file(logbook, given):
    """A raw wire file becomes a session with its line counts, and the logbook keeps its very bytes."""
    path = given("ride.WIRE", RIDE)

    done = import_log(logbook, path, bike="Chalk Pit 400", started=STARTED, place="pit lane")

    assert (done.session, done.samples, done.marks) == (1, 100, 1)
    assert done.counts["lines_good"] == 105
    session = logbook.session(1)
    assert (session.bike, session.place, session.started) == ("Chalk Pit 400", "pit lane", STARTED)
    assert session.source == "ride.WIRE"
    assert logbook.raw_path(1).read_bytes() == RIDE


def test_a_delimited_log_with_its_map(logbook, given):
    """A log with a map goes the same way, and answers with its rows."""
    log_map = given("map.toml", 'time = { column = "ms", unit = "ms" }\nchannels.rpm.column = "revs"\n')

    done = import_log(logbook, given("log.tsv", "ms\trevs\n0\t5000\nx\t1\n100\t5100\n"), map_file=log_map)

    assert done.counts == {"rows_read": 2, "rows_refused": 1}
    assert logbook.run(1).samples.collect()["rpm"].to_list() == [5000, 5100]


def test_a_capture_of_our_own(logbook, tmp_path):
    """A capture from another logbook is read with its arrival times, from which its start is known."""
    writer = CaptureWriter(tmp_path / "other.capture")
    writer.append(RIDE, 10**9, 1_780_000_000 * 10**9)
    writer.close()

    import_log(logbook, tmp_path / "other.capture")

    assert abs((logbook.session(1).started - datetime.fromtimestamp(1_780_000_000, UTC)).total_seconds()) < 2
    assert logbook.session(1).samples == 100


@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_an_export_comes_back(logbook, given, tmp_path, ending):
    """A session that was exported comes back as another one with the same samples."""
    import_log(logbook, given("ride.wire", RIDE), started=STARTED)
    export_run(logbook.run(1), tmp_path / f"out{ending}")

    import_log(logbook, tmp_path / f"out{ending}")

    assert logbook.run(2).samples.collect().equals(logbook.run(1).samples.collect())


def test_when_it_began(logbook, given):
    """The start is as told, else as the file tells, else when the file was saved, and a note says which."""
    log_map = given("map.toml", 'time = { column = "at", format = "iso" }\n')
    stamped = given("stamped.csv", "at,rpm\n2026-05-14T11:20:00+02:00,1\n2026-05-14T11:20:01+02:00,2\n")
    saved = given("saved.csv", CSV)
    os.utime(saved, (STARTED.timestamp(), STARTED.timestamp()))
    other = datetime(2026, 6, 1, tzinfo=UTC)

    told = import_log(logbook, stamped, map_file=log_map)
    aged = import_log(logbook, saved)
    given_ = import_log(logbook, saved, started=other, again=True)

    assert [logbook.session(n).started for n in (1, 2, 3)] == [STARTED, STARTED, other]
    assert any("the file tells" in note for note in told.notes)
    assert any("was saved" in note for note in aged.notes)
    assert given_.notes == ()


def test_the_same_file_twice(logbook, given):
    """The same bytes are refused under any name, naming their session, unless told again."""
    import_log(logbook, given("ride.csv", CSV), started=STARTED)
    before = everything(logbook)
    with pytest.raises(BadValue, match="session 1"):
        import_log(logbook, given("copy.csv", CSV))
    assert everything(logbook) == before

    assert import_log(logbook, given("copy.csv", CSV), again=True).session == 2


def test_an_unknown_bike(logbook, given):
    """A misspelt bike is refused with the nearest, and nothing is changed."""
    before = everything(logbook)
    with pytest.raises(UnknownThing, match="'Chalk Pit 400'"):
        import_log(logbook, given("ride.csv", CSV), bike="Chalk Pit")
    assert everything(logbook) == before


@pytest.mark.parametrize(
    ("name", "content", "parts"),
    [
        ("empty.csv", "", ["empty"]),
        ("photo.csv", b"\x89PNG\r\n\x1a\n" + bytes(range(256)), ["photo.csv", "no text"]),
        ("photo.wire", b"\x89PNG\r\n\x1a\n" + bytes(range(256)), ["photo.wire", "no data line"]),
        ("words.wire", "certainly no wire", ["words.wire", "0 good lines"]),
        ("block.wire", block(), ["block.wire", "no data line"]),
        ("log.mf4", "MDF", ["MDF 4", ".csv"]),
        ("log.xyz", "1,2", [".xyz", ".wire", ".csv", ".parquet"]),
        ("log", "1,2", [".wire"]),
        ("log.parquet", "PAR1", ["no Parquet"]),
        ("odd.capture", b"sootline capture 1\nfoo", ["no data line"]),
        ("unit.wire", block((("egt_1", "kPa"),)) + data([(600,)]), ["egt_1", "kPa"]),
    ],
)
def test_what_is_no_log(logbook, given, name, content, parts):
    """What cannot be read is refused in one sentence and nothing is changed."""
    before = everything(logbook)
    with pytest.raises((BadFile, BadValue)) as caught:
        import_log(logbook, given(name, content))
    assert "\n" not in str(caught.value)
    for part in parts:
        assert part in str(caught.value)
    assert everything(logbook) == before


def test_a_file_that_is_not_there(logbook, tmp_path):
    """A file that is not there is named."""
    with pytest.raises(BadFile, match=r"nowhere\.wire"):
        import_log(logbook, tmp_path / "nowhere.wire")


def test_a_map_for_what_needs_none(logbook, given):
    """A map for a wire file is refused rather than ignored."""
    with pytest.raises(BadValue, match="needs no map"):
        import_log(logbook, given("ride.wire", RIDE), map_file=given("map.toml", 'decimal = "."'))


def test_a_wire_file_without_a_channel(logbook, given):
    """Data lines of no channel hold nothing to import, and are refused as that."""
    before = everything(logbook)
    with pytest.raises(BadFile, match=r"ride\.wire.*no channel"):
        import_log(logbook, given("ride.wire", block(()) + data([()] * 5)))
    assert everything(logbook) == before


def test_a_wire_file_longer_than_any_session(logbook, given):
    """A logger's clock that leaps by years is refused with the line that is too late."""
    wire = block(rate=1) + data(rows(3)) + data(rows(2), first_seq=3, first_tick=40_000_000)
    with pytest.raises(BadValue, match=r"ride\.wire: data line 4 .*366 days"):
        import_log(logbook, given("ride.wire", wire))


def test_a_wire_file_of_a_later_version(logbook, given):
    """A wire file of a later version says that nothing was imported, and claims no copy that there is not."""
    body = b"I,2,bench-logger,0.3,0007,1000,1,1"
    with pytest.raises(WireTooNew, match=r"later\.wire: .*version 2 .*nothing was imported") as caught:
        import_log(logbook, given("later.wire", b">" + body + b"*%08X\r\n" % zlib.crc32(body) + RIDE))
    assert "kept" not in str(caught.value)
    assert logbook.sessions() == []


def test_a_file_that_was_saved_in_no_year_of_a_session(logbook, given):
    """A file whose own time is none asks for the start, and is taken with it."""
    path = given("ride.csv", CSV)
    os.utime(path, (10_000_000_000, 10_000_000_000))
    with pytest.raises(BadValue, match=r"2286; say --started"):
        import_log(logbook, path)
    assert import_log(logbook, path, started=STARTED).session == 1


def test_two_who_import_one_file_at_once(logbook, given, monkeypatch):
    """Of two processes that import one file at once, the one that comes second is refused and leaves nothing."""
    path = given("ride.csv", CSV)
    with Logbook.open(logbook.folder, write=True) as other:
        # both have asked before either has written
        monkeypatch.setattr(other, "refuse_again", lambda *_: None)
        import_log(logbook, path)
        before = everything(logbook)
        with pytest.raises(BadValue, match=r"ride\.csv was imported before, as session 1; .*--again"):
            import_log(other, path)
        assert everything(logbook) == before
        assert import_log(other, path, again=True).session == 2


def test_a_full_disk_leaves_nothing(logbook, given, monkeypatch):
    """When the disk fills up while a file is taken in, the logbook is as it was."""
    before = everything(logbook)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "_sync", full)
    with pytest.raises(DiskTrouble) as caught:
        import_log(logbook, given("ride.wire", RIDE))
    assert isinstance(caught.value, SootlineError)
    assert everything(logbook) == before
