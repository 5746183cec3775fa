"""The virtual logger in real time, read through a real port."""

import os
import queue
import threading
import time

import pytest

from bridge.emulator import pty
from bridge.errors import BadValue, PortLost
from bridge.link.capture import CaptureWriter, read_capture
from bridge.link.ports import open_port
from bridge.link.recorder import record
from bridge.wire.bulk import decode

KINDS = [
    pytest.param(
        pty._PseudoTerminal,
        marks=pytest.mark.skipif(not hasattr(os, "openpty"), reason="no pseudo-terminals on this system"),
        id="terminal",
    ),
    pytest.param(pty._SocketLine, id="socket"),
]


@pytest.fixture
def running(monkeypatch):
    """Start virtual loggers in threads and see them end."""
    threads = []
    stop = threading.Event()

    def start(line, seconds, rate_hz=100.0):
        monkeypatch.setattr(pty, "_open_line", line)
        address = queue.Queue()
        thread = threading.Thread(target=pty.run, args=(1, rate_hz, seconds, address.put, stop.is_set))
        thread.start()
        threads.append(thread)
        return address.get(timeout=10), thread

    yield start
    stop.set()
    for thread in threads:
        thread.join(10)
        assert not thread.is_alive()


@pytest.mark.parametrize("line", KINDS)
def test_a_recording_of_it_has_no_damage_and_starts_at_its_beginning(running, tmp_path, line):
    """The port waits for its reader: a recording is whole from its first line on, the answer to ? in it."""
    address, _ = running(line, None)
    time.sleep(0.3)
    writer = CaptureWriter(tmp_path / "a.capture")
    port = open_port(address)
    record(port, writer, seconds=1.5)
    port.close()
    writer.close()

    decoded = decode(read_capture(writer.path).data)

    assert decoded.counts.lines_damaged <= 1  # the last line may be cut where the recording ended
    assert decoded.counts.lines_lost == decoded.counts.junk_bytes == 0
    frame = decoded.segments[0].frame
    assert frame["seq"][0] == 0
    assert 80 < frame.height < 140
    assert read_capture(writer.path).data.count(b">I,") == 2


@pytest.mark.parametrize("line", KINDS)
def test_it_ends_when_its_time_is_over_and_hangs_up(running, monkeypatch, tmp_path, line):
    """After its seconds and a little grace the port is gone, and everything printed until then was read."""
    monkeypatch.setattr(pty, "_GRACE_S", 0.3)
    address, thread = running(line, 1.0, rate_hz=500.0)
    writer = CaptureWriter(tmp_path / "a.capture")
    port = open_port(address)
    with pytest.raises(PortLost):
        record(port, writer, seconds=20)
    thread.join(5)
    port.close()
    writer.close()

    decoded = decode(read_capture(writer.path).data)

    assert not thread.is_alive()
    assert decoded.counts.lines_lost == decoded.counts.lines_damaged == 0
    assert decoded.segments[0].frame.height >= 600


@pytest.mark.parametrize("line", KINDS)
def test_it_ends_where_nobody_comes(running, line):
    """Without a reader it ends after its seconds all the same."""
    _, thread = running(line, 0.3)
    thread.join(5)

    assert not thread.is_alive()


@pytest.mark.parametrize("line", KINDS)
def test_a_second_reader_after_the_first_joins_the_ride(running, line):
    """When a reader goes and another comes, the second one reads cleanly and gets a block when it asks."""
    address, _ = running(line, None)
    heard = []
    for _ in range(2):
        port = open_port(address)
        time.sleep(0.6)
        port.read(100_000)
        port.write(b"?")
        time.sleep(0.3)
        heard.append(port.read(100_000))
        port.close()
        time.sleep(0.1)

    for data in heard:
        decoded = decode(data)
        assert data.count(b">I,") == 1
        assert decoded.counts.lines_damaged <= 2  # both ends may be cut
    assert decode(heard[1]).segments[0].frame["seq"][0] > decode(heard[0]).segments[0].frame["seq"][-1]


def test_a_wrong_rate_is_refused_before_there_is_a_port():
    """Nothing is announced when the rate is none."""
    announced = []

    with pytest.raises(BadValue, match="5000"):
        pty.run(1, 5000.0, 1.0, announced.append)

    assert announced == []
