"""Sealing what was recorded, also when the recorder was cut off."""

import zlib
from datetime import UTC, datetime, timedelta

import pytest
from polars.testing import assert_frame_equal

from bridge.errors import BadFile, WireTooNew
from bridge.link.capture import CaptureWriter
from bridge.logbook import Logbook
from bridge.sealing import Recovered, frame_from_capture, recover, seal_capture
from tests.bridge.sealing.wire_rides import block, data, mark, rows

UTC_NS = 1_780_000_000_000_000_000
PERIOD_NS = 60_000_000  # about as long as the logger takes for 200 bytes
STARTED = datetime(2026, 5, 28, 20, 26, tzinfo=UTC)


@pytest.fixture
def logbook(tmp_path):
    """A logbook, open to write."""
    with Logbook.open(tmp_path / "logbook", write=True) as opened:
        yield opened


def begin(logbook, wire, size=200):
    """Record bytes as a recorder does, and leave the session unfinished."""
    session = logbook.new_session(bike=None, place="pit lane", source="/dev/ttyX", started=STARTED)
    writer = CaptureWriter(logbook.raw_path(session))
    for i, offset in enumerate(range(0, len(wire), size)):
        writer.append(wire[offset : offset + size], i * PERIOD_NS, UTC_NS + i * PERIOD_NS)
    writer.close()
    return session


RIDE = block() + data(rows(300)) + mark(300, 3005, "chop")


def later_version():
    """An identity of a version that nobody here knows."""
    body = b"I,9,bench-logger,0.3,0007,1000,1,1"
    return b">" + body + b"*%08X\r\n" % zlib.crc32(body)


def test_a_recording_is_sealed(logbook):
    """A finished recording is in the logbook with its samples, its mark and what became of its lines."""
    session = begin(logbook, RIDE)

    done = seal_capture(logbook, session)

    assert (done.session, done.samples, done.marks, done.bytes) == (session, 300, 1, len(RIDE))
    assert done.seconds == pytest.approx(2.99)
    nothing = dict.fromkeys(("lines_damaged", "lines_lost", "junk_bytes", "restarts", "reconnects"), 0)
    assert done.counts == {"lines_good": 305, **nothing}
    run = logbook.run(session)
    assert (run.session.state, run.session.samples, run.session.source) == ("sealed", 300, "/dev/ttyX")
    assert abs(run.session.started - datetime.fromtimestamp(UTC_NS / 1e9, UTC)) < timedelta(seconds=0.5)
    assert [(m.what, m.by) for m in run.marks] == [("chop", "wire")]


def test_samples_can_be_made_again_value_for_value(logbook):
    """Samples that are lost come back from the capture the same, and sealing again changes nothing."""
    session = begin(logbook, RIDE)
    seal_capture(logbook, session)
    first, listed = logbook.run(session).samples.collect(), logbook.session(session)
    logbook.samples_path(session).unlink()

    seal_capture(logbook, session)

    assert_frame_equal(logbook.run(session).samples.collect(), first, check_exact=True)
    assert logbook.session(session) == listed


def test_an_interrupted_recording_is_sealed_by_the_next_opener(tmp_path):
    """What a recorder that is gone left is sealed with all that came, torn tail and all, exactly once."""
    with Logbook.open(tmp_path, write=True) as recorder:
        session = begin(recorder, RIDE)
        with recorder.raw_path(session).open("ab") as file:
            file.write(b"\xf5\xc0\x0f\xf1B half a record")
    with Logbook.open(tmp_path, write=True) as logbook:
        found = recover(logbook).sealed

        assert [(done.session, done.samples) for done in found] == [(session, 300)]
        assert any("cut off" in note for note in found[0].notes)
        assert logbook.session(session).state == "sealed"
        assert recover(logbook) == Recovered()
        assert not list(tmp_path.rglob("*.lock"))


def test_a_recording_that_goes_on_is_left_alone(tmp_path):
    """While the recorder lives, nobody seals its session."""
    with Logbook.open(tmp_path, write=True) as recorder, Logbook.open(tmp_path, write=True) as logbook:
        session = begin(recorder, RIDE)
        assert recover(logbook) == recover(recorder) == Recovered()
        assert logbook.session(session).state == "recording"


def test_one_bad_capture_does_not_keep_the_others_from_being_sealed(tmp_path):
    """A capture that cannot be read is marked with the reason, its bytes stay, and the others are sealed."""
    with Logbook.open(tmp_path, write=True) as recorder:
        hurt, new, none, good = (begin(recorder, wire) for wire in (RIDE, later_version() + RIDE, RIDE, RIDE))
        hurt_path, none_path = recorder.raw_path(hurt), recorder.raw_path(none)
    hurt_path.write_bytes(b"certainly no capture")
    none_path.unlink()
    with Logbook.open(tmp_path, write=True) as logbook:
        assert [done.session for done in recover(logbook).sealed] == [good]
        assert [logbook.session(n).state for n in (hurt, new, none)] == ["interrupted"] * 3
        assert "not a capture" in logbook.session(hurt).notes[0]
        assert "9" in logbook.session(new).notes[0]
        assert recover(logbook) == Recovered()
    assert hurt_path.read_bytes() == b"certainly no capture"


def test_what_the_disk_will_not_take_is_left_for_later(tmp_path):
    """A capture whose samples the disk will not take is left with the reason, and sealed once there is room."""
    with Logbook.open(tmp_path, write=True) as recorder:
        big, small = begin(recorder, RIDE), begin(recorder, RIDE)
    with Logbook.open(tmp_path, write=True) as logbook:
        way = logbook.samples_path(big)
        way.mkdir(parents=True)  # whatever is in the way of the samples

        found = recover(logbook)

        assert [done.session for done in found.sealed] == [small]
        assert [left.session for left in found.left] == [big]
        assert f"session {big}" in found.left[0].in_words()
        assert str(way) in found.left[0].in_words()
        assert logbook.session(big).state == "recording"
        way.rmdir()
        assert [done.session for done in recover(logbook).sealed] == [big]


def test_lines_beyond_any_session_are_left_out():
    """A recording whose logger's clock leaps by years is sealed all the same, without what lies beyond a year."""
    leap = 40_000_000
    wire = block(rate=1) + data(rows(3)) + mark(3, leap) + data(rows(2), first_seq=4, first_tick=leap)
    sealed = frame_from_capture(wire, None)

    assert sealed.seconds == 20.0
    assert sealed.marks == ()
    assert any("2 lines left out, more than 366 days" in note for note in sealed.notes)


def test_a_recording_of_no_channel(logbook):
    """A logger that describes no channel is recorded and sealed: its lines have a time and nothing else."""
    done = seal_capture(logbook, begin(logbook, block(()) + data([()] * 5)))

    assert done.samples == 5
    assert logbook.run(done.session).samples.collect().columns == ["t_s"]


def test_a_later_version_is_kept_but_not_sealed(logbook):
    """A logger of a later version: the error names it, the session and its bytes are kept."""
    session = begin(logbook, later_version() + RIDE)
    before = logbook.raw_path(session).read_bytes()
    with pytest.raises(WireTooNew, match=r"kept at .*\.capture"):
        seal_capture(logbook, session)
    assert logbook.session(session).state == "interrupted"
    assert logbook.raw_path(session).read_bytes() == before


@pytest.mark.parametrize(("wire", "part"), [(b"", "cable"), (b"\x00\xff" * 500, "baud")])
def test_a_recording_of_nothing(logbook, wire, part):
    """A recording in which no data line came is a session of no samples, with the mend in its notes."""
    done = seal_capture(logbook, begin(logbook, wire))

    assert (done.samples, done.seconds, done.bytes) == (0, 0.0, len(wire))
    assert part in done.notes[0]


def test_a_capture_elsewhere(logbook, tmp_path):
    """A session whose capture is gone is marked with the place where it should be."""
    session = begin(logbook, RIDE)
    with pytest.raises(BadFile, match=r"none\.capture"):
        seal_capture(logbook, session, tmp_path / "none.capture")
