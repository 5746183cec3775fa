"""Clocks that are set, loggers that start anew and loggers that fall silent, in the middle of a recording."""

from datetime import UTC, datetime

import pytest

from bridge.errors import ForeignDevice
from bridge.link import CaptureWriter, Kind, read_capture, read_note, record
from bridge.sealing.seal import capture_frame
from tests.faults.fault_kit import UTC_NS, FakeLogger, World

HOUR_NS = 3_600_000_000_000


@pytest.fixture
def writer(tmp_path):
    made = CaptureWriter(tmp_path / "a.capture")
    yield made
    made.close()


@pytest.fixture
def world():
    """A logger that is plugged in."""
    made = World()
    made.logger = FakeLogger()
    made.plug("/dev/ttyX", made.logger)
    return made


@pytest.mark.parametrize("step_ns", [HOUR_NS, -HOUR_NS])
def test_a_host_clock_set_by_an_hour_moves_no_sample(world, writer, step_ns):
    """The times of the samples, and when the session began, are what they were without the step."""
    world.at(20, lambda: setattr(world, "utc_step_ns", step_ns))

    record(world.open("/dev/ttyX"), writer, seconds=30, clock=world.clock)
    capture, sealed = capture_frame(writer.path)
    steps = sealed.frame["t_s"].diff().drop_nulls()

    assert capture.chunks["monotonic_ns"].is_sorted()
    assert capture.chunks["utc_ns"].diff().abs().max() == pytest.approx(HOUR_NS, rel=1e-3)
    assert (steps.min(), steps.max()) == pytest.approx((0.01, 0.01), abs=1e-6)
    begun = datetime.fromtimestamp(UTC_NS / 1e9 + 1, UTC)
    assert abs((sealed.started_utc - begun).total_seconds()) < 0.5
    assert sealed.seconds == pytest.approx(30, abs=0.1)
    assert any("clock jumped" in note for note in sealed.notes)


def test_a_logger_that_starts_anew_is_a_gap_and_no_loss(world, writer):
    """Counters that begin again are told, counted as restarts, and lose no line; time goes on over the gap."""
    for n in range(5):
        world.at(5 + 5 * n, lambda: setattr(world.logger, "silent", True))
        world.at(6 + 5 * n, lambda: setattr(world.logger, "silent", False))
        world.at(6 + 5 * n, lambda: world.logger.restart(world.now_s))

    record(world.open("/dev/ttyX"), writer, seconds=32, clock=world.clock)
    capture, sealed = capture_frame(writer.path)

    assert sealed.counts["restarts"] == 5
    assert sealed.counts["lines_lost"] == 0
    assert sealed.counts["reconnects"] == 0
    assert sum(read_note(n.text).kind is Kind.RESTARTED for n in capture.notes) == 5
    assert (sealed.frame["t_s"].diff().drop_nulls() > 0.9).sum() == 5
    assert sealed.seconds == pytest.approx(32, abs=0.1)


def test_silence_is_told_once_each_and_waited_out(world, writer):
    """A logger that says nothing for some seconds is named, and named again when it speaks."""
    world.at(5, lambda: setattr(world.logger, "silent", True))
    world.at(25, lambda: setattr(world.logger, "silent", False))
    told = []

    record(
        world.open("/dev/ttyX"),
        writer,
        seconds=30,
        clock=world.clock,
        on_note=lambda kind, words: told.append((kind, words)),
    )

    assert [kind for kind, _ in told] == [Kind.SILENT, Kind.HEARD]
    assert told[0][1] == "nothing has come for 3 s: is the logger on?"
    assert "after 20.0 s of silence" in told[1][1]


def test_a_flood_of_junk_is_recorded_and_holds_up_no_stop(world, writer):
    """A port that never runs dry is kept byte for byte, and its recording still ends when told to."""

    class Flood:
        port = "/dev/flood"

        def read(self, _size):
            world.now_ns += 1_000_000
            return b"\x00\xff>>>*" * 10_000

        def write(self, _data):
            pass

    recorded = record(Flood(), writer, stop=lambda: world.now_s > 0.2, clock=world.clock)

    assert recorded.seconds < 0.3
    assert read_capture(writer.path).data == b"\x00\xff>>>*" * (recorded.bytes // 6)


@pytest.mark.parametrize(
    ("junk", "reason", "shown"),
    [
        (bytes([0x80, 0xFE, 0x00, 0xF8, 0x1C, 0xE6]), "baud rate", r"\\x80\\xfe\\x00"),
        (b"LAMBDA 0.87;EGT 612;RPM 6120\r\n", "text in another format", r"LAMBDA 0\.87;EGT 612"),
        (b">D,0,1210345,0.874,588*1A5724D8\r\n", "no checksum fits", r">D,0,1210345,0\.874"),
    ],
)
def test_a_device_that_speaks_no_wire_format_is_named_after_ten_seconds(world, writer, junk, reason, shown):
    """With its first bytes shown readably and the likely reason; its bytes are kept, and the end is not success."""

    class Foreign:
        port = "/dev/ttyX"

        def read(self, _size):
            return junk

        def write(self, _data):
            pass

    told = []
    with pytest.raises(ForeignDevice, match=rf"'{shown}.*{reason}.*bytes that came are kept in"):
        record(
            Foreign(), writer, seconds=15, clock=world.clock,
            on_note=lambda kind, words: told.append((world.now_s, kind, words)),
        )  # fmt: skip  # a call reads best in one piece
    capture, sealed = capture_frame(writer.path)

    assert [kind for _, kind, _ in told] == [Kind.FOREIGN]
    assert told[0][0] == pytest.approx(10, abs=0.5)
    assert capture.data.startswith(junk * 100)
    assert any(reason in note for note in sealed.notes)


def test_a_device_that_begins_to_speak_the_wire_format_is_taken_back(world, writer):
    """A speed that is put right, or a slow start, makes a recording like any other."""
    port = world.open("/dev/ttyX")

    class Late:
        port = "/dev/ttyX"

        def read(self, size):
            return port.read(size) if world.now_s > 12 else b"starting up...\r\n"

        def write(self, data):
            port.write(data)

    told = []
    record(Late(), writer, seconds=20, clock=world.clock, on_note=lambda kind, _: told.append(kind))

    assert told == [Kind.FOREIGN, Kind.HEARD]
    assert capture_frame(writer.path)[1].frame.height > 700
