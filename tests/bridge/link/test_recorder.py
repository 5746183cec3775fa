"""The recorder: every byte kept, whatever the port or the disk does."""

import errno
import os
import socket
import threading
import time
from itertools import pairwise

import pytest

from bridge.errors import DiskTrouble, PortLost
from bridge.link import disk, recorder
from bridge.link.capture import CaptureWriter, read_capture
from bridge.link.ports import open_port
from bridge.link.recorder import record

LINE = b">D,0,1210345,0.874,588,6120,42.5*1A5724D9\r\n"

pty_only = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")


class ScriptedPort:
    """Gives out what it was told to, then calls, raises or stays silent."""

    port = "scripted"

    def __init__(self, *steps):
        self.steps = list(steps)
        self.written = b""

    def read(self, _size=1):
        if not self.steps:
            return b""
        step = self.steps.pop(0)
        if isinstance(step, Exception):
            raise step
        return step

    def write(self, data):
        self.written += data

    def close(self):
        pass


@pytest.fixture
def writer(tmp_path):
    made = CaptureWriter(tmp_path / "a.capture")
    yield made
    made.close()


def in_thread(work):
    thread = threading.Thread(target=work)
    thread.start()
    return thread


def test_a_loop_port_is_recorded_to_the_last_byte(writer):
    """What is written into a loop while it is recorded stands in the capture, and nothing else."""
    port = open_port("loop://")
    stop = threading.Event()

    def send():
        for _ in range(50):
            port.write(LINE)
            time.sleep(0.002)
        time.sleep(0.05)
        stop.set()

    sender = in_thread(send)
    recorded = record(port, writer, stop=stop, ask=False)
    sender.join()
    port.close()
    capture = read_capture(writer.path)

    assert capture.data == LINE * 50
    assert recorded.bytes == len(capture.data)
    assert capture.notes[0].text == "began: recording from loop://"
    assert "stopped when asked to" in capture.notes[-1].text


@pty_only
def test_a_terminal_at_a_thousand_lines_a_second_loses_nothing_and_makes_few_records(writer):
    """Every byte off a real device arrives in order, gathered to some 25 records a second."""
    master, slave = os.openpty()
    port = open_port(os.ttyname(slave))
    os.close(slave)

    def send():
        for _ in range(200):
            os.write(master, LINE * 5)
            time.sleep(0.005)

    sender = in_thread(send)
    recorded = record(port, writer, seconds=1.8)
    sender.join()
    asked = os.read(master, 10)
    port.close()
    os.close(master)
    capture = read_capture(writer.path)

    assert capture.data == LINE * 1000
    assert asked == b"?"
    assert recorded.seconds == pytest.approx(1.8, abs=0.3)
    assert 5 <= capture.chunks.height <= 60
    assert capture.chunks["monotonic_ns"].is_sorted()
    assert "its time was over" in capture.notes[-1].text


@pty_only
def test_a_terminal_that_hangs_up_leaves_all_that_came(writer):
    """A pulled cable is PortLost, the sentence says where how much is kept, and it is there."""
    master, slave = os.openpty()
    port = open_port(os.ttyname(slave))
    os.close(slave)

    def send():
        os.write(master, LINE * 3)
        time.sleep(0.1)
        os.close(master)

    sender = in_thread(send)
    with pytest.raises(PortLost, match=rf"all {3 * len(LINE)} bytes that came are kept in .*a\.capture"):
        record(port, writer)
    sender.join()
    port.close()

    assert read_capture(writer.path).data == LINE * 3


def test_a_socket_whose_other_side_closes_is_a_lost_port(writer):
    """The end of a socket's stream is a hang-up too, and the bytes before it are kept."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def send():
            peer, _ = server.accept()
            with peer:
                assert peer.recv(1) == b"?"  # after the opening, which throws away what waits
                peer.sendall(LINE * 100)

        sender = in_thread(send)
        port = open_port(f"socket://127.0.0.1:{server.getsockname()[1]}")
        with pytest.raises(PortLost):
            record(port, writer)
        sender.join()
        port.close()

    assert read_capture(writer.path).data == LINE * 100


def test_bytes_that_came_with_the_hang_up_are_kept(writer):
    """Bytes of the very last read before an error are on the disk when the error is raised."""
    full = b"x" * 5000
    port = ScriptedPort(b"abc", full, OSError(errno.EIO, "gone"))

    with pytest.raises(PortLost, match="5003 bytes"):
        record(port, writer)

    assert read_capture(writer.path).data == b"abc" + full


def test_a_port_that_cannot_be_written_to_is_recorded_all_the_same(writer):
    """A receive-only wire needs no answer."""

    class ReceiveOnly(ScriptedPort):
        def write(self, _data):
            raise OSError(errno.EPERM, "receive only")

    recorded = record(ReceiveOnly(LINE), writer, seconds=0.05)

    assert recorded.bytes == len(LINE)


def test_a_disk_that_takes_half_a_second_holds_no_reading_up(writer, monkeypatch):
    """While a sync lasts, reading goes on every few milliseconds and the times of arrival stay true."""
    monkeypatch.setattr(disk, "SYNC_S", 0.2)
    monkeypatch.setattr(writer, "sync", lambda: time.sleep(0.5))
    reads = []

    class Watched(ScriptedPort):
        def read(self, _size=1):
            reads.append(time.monotonic())
            return b"x"

    record(Watched(), writer, seconds=1.2)
    capture = read_capture(writer.path)
    gaps = [after - before for before, after in pairwise(reads)]

    assert max(gaps) < 0.4
    assert len(capture.data) == len(reads)
    assert capture.chunks["monotonic_ns"].diff().max() < 0.45e9


def test_a_full_disk_ends_the_recording_and_says_what_is_kept(writer, monkeypatch):
    """An error of the disk thread comes out as DiskTrouble with the number of bytes that are safe."""
    whole = writer.append

    def fill_up(data, monotonic_ns, utc_ns):
        if writer.bytes_written:
            raise OSError(errno.ENOSPC, "No space left on device")
        whole(data, monotonic_ns, utc_ns)

    monkeypatch.setattr(writer, "append", fill_up)

    class Endless(ScriptedPort):
        def read(self, _size=1):
            return b"x"

    with pytest.raises(DiskTrouble, match=r"No space left on device.*bytes are kept in .*a\.capture"):
        record(Endless(), writer, seconds=20)

    assert len(read_capture(writer.path).data) == writer.bytes_written > 0


def test_a_disk_that_never_answers_is_given_up(writer, monkeypatch):
    """What waits for the disk is capped, and so is the waiting at the end."""
    monkeypatch.setattr(disk, "_MEMORY_CAP", 1000)
    monkeypatch.setattr(disk, "_PATIENCE_S", 0.05)
    answered = threading.Event()
    monkeypatch.setattr(writer, "append", lambda *_: answered.wait(10))

    class Endless(ScriptedPort):
        def read(self, _size=1):
            return b"x" * 100

    with pytest.raises(DiskTrouble, match="kept"):
        record(Endless(), writer, seconds=20)
    answered.set()


def test_progress_is_told_about_once_a_second(writer, monkeypatch):
    """Whoever watches hears how long and how much."""
    monkeypatch.setattr(recorder, "_PROGRESS_S", 0.1)
    heard = []

    record(ScriptedPort(LINE), writer, seconds=0.35, on_progress=heard.append)

    assert 2 <= len(heard) <= 4
    assert heard[-1].bytes == len(LINE)
    assert heard[0].seconds < heard[-1].seconds
