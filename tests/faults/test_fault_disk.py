"""Disks that fill while a recording runs: it stops in good order, keeps what it has, and is sealed later."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.errors import BadValue, DiskTrouble
from bridge.link import CaptureWriter, check_room, disk, read_capture, record, room
from bridge.logbook import Logbook
from bridge.sealing import record_session, recover
from tests.faults.fault_kit import FakeLogger, World


@pytest.fixture
def small_disk(tmp_path):
    """Mount a disk of 6 MB."""
    folder = tmp_path / "disk"
    folder.mkdir()
    if not sys.platform.startswith("linux") or os.geteuid() != 0:
        pytest.skip(
            "only root on Linux may mount a small disk; elsewhere the tests with a told size stand in"
        )
    mount = ["mount", "-t", "tmpfs", "-o", "size=6m", "none", str(folder)]
    done = subprocess.run(mount, capture_output=True, text=True, check=False)
    if done.returncode and ("denied" in done.stderr or "not permitted" in done.stderr):
        pytest.skip("this container may not mount; the tests with a told size stand in")
    assert done.returncode == 0, done.stderr
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def running():
    """Return a world in which a logger prints 1000 lines a second."""
    world = World()
    world.plug("/dev/ttyX", FakeLogger(rate=1000))
    return world


def record_in(folder, world):
    with Logbook.open(folder, write=True) as logbook:
        return record_session(
            logbook,
            SlowEnough(world.open("/dev/ttyX"), world),
            source="/dev/ttyX",
            stop=lambda: world.now_s > 400,
        )


class SlowEnough:
    """A port that gives a megabyte a second of real time, of a logger whose own time is hurried."""

    port = "/dev/ttyX"

    def __init__(self, port, world):
        self._port, self._world = port, world
        self.write, self.close = port.write, port.close

    def read(self, size=1):
        """Read a little less than what is taken for a full read."""
        self._world.sleep(0.08)
        return self._port.read(size)


def test_a_disk_that_fills_ends_the_recording_while_there_is_room_to_seal_it(small_disk):
    """It stops before the last byte, says how much is kept, and the session is sealed at once."""
    world = running()

    done = record_in(small_disk, world)

    assert isinstance(done.trouble, DiskTrouble)
    with Logbook.open(small_disk, write=False) as logbook:
        capture = read_capture(logbook.raw_path(1))
        assert logbook.session(1).state == "sealed"
    assert f"{len(capture.data)} bytes are kept in" in str(done.trouble)
    assert bytes(world.handed_over).startswith(capture.data)
    assert 1_000_000 < len(capture.data) < 5_000_000
    assert done.sealed.samples == capture.data.count(b">D,") - (done.sealed.counts["lines_damaged"] > 0)
    assert any("the recording stops here" in note for note in done.sealed.notes)


def test_room_to_seal_is_kept_wherever_it_runs(tmp_path, monkeypatch):
    """Where the system tells that little is left, the recording ends and is sealed at once, on any machine."""
    world = running()
    monkeypatch.setattr(disk, "SYNC_S", 0.2)
    monkeypatch.setattr(
        room, "free_bytes", lambda folder: 3_000_000 - sum(f.stat().st_size for f in folder.iterdir())
    )

    done = record_in(tmp_path, world)

    assert isinstance(done.trouble, DiskTrouble)
    with Logbook.open(tmp_path, write=False) as logbook:
        capture = read_capture(logbook.raw_path(1))
        assert logbook.session(1).state == "sealed"
    size = len(capture.data)
    assert f"{size} bytes are kept in" in str(done.trouble)
    assert bytes(world.handed_over).startswith(capture.data)
    assert room.reserve(size) < 3_000_000 - 0.5 * size
    assert 1_000_000 < size < 2_500_000
    assert any("the recording stops here" in note for note in done.sealed.notes)


def test_a_disk_that_another_program_fills_keeps_what_was_taken_and_is_sealed_later(small_disk, monkeypatch):
    """With no byte left the recording is kept as far as it was written, and `recover` seals it once there is room."""
    monkeypatch.setattr(room, "reserve", lambda _: 0)
    world = running()

    with pytest.raises(DiskTrouble, match=r"No space left.*bytes are kept in .*sealed by 'sootline recover'"):
        record_in(small_disk, world)
    with Logbook.open(small_disk, write=False) as logbook:
        path = logbook.raw_path(1)
        assert logbook.session(1).state == "recording"
    before = read_capture(path)
    assert bytes(world.handed_over).startswith(before.data)
    assert len(before.data) > 3_000_000

    subprocess.run(["mount", "-o", "remount,size=60m", str(small_disk)], check=True)
    with Logbook.open(small_disk, write=True) as logbook:
        (sealed,) = recover(logbook).sealed

    assert sealed.bytes == len(before.data)
    assert sealed.samples >= before.data.count(b">D,") - 1


def test_a_disk_too_small_is_refused_before_the_start(small_disk):
    """Less than a minute's room is said before anything is made; so is a folder that is read-only."""
    (small_disk / "filler").write_bytes(bytes(5_500_000))
    with pytest.raises(BadValue, match="less than a minute"):
        check_room(small_disk / "logbook", 115_200)
    assert not (small_disk / "logbook").exists()

    (small_disk / "filler").unlink()
    assert "about" in check_room(small_disk / "logbook", 115_200)
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    with pytest.raises(BadValue, match="cannot be written"):
        check_room(small_disk / "logbook", 115_200)


_LIMITED = """
import json, resource, sys
from pathlib import Path
from bridge.errors import DiskTrouble
from bridge.link import CaptureWriter, record
from tests.faults.fault_kit import FakeLogger, World
from tests.faults.test_fault_disk import SlowEnough, running
world = running()
writer = CaptureWriter(Path(sys.argv[1]))
resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))
try:
    record(SlowEnough(world.open("/dev/ttyX"), world), writer, stop=lambda: world.now_s > 400)
except DiskTrouble as error:
    print(json.dumps([str(error), writer.bytes_written, writer.bytes_synced]))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="there is no limit on a file's size there")
def test_a_file_that_may_not_grow_ends_the_recording_and_keeps_every_byte_that_was_taken(tmp_path):
    """At a quota (a limit on the file's size) all bytes that the system took are synced and read again."""
    path = tmp_path / "a.capture"
    done = subprocess.run(
        [sys.executable, "-c", _LIMITED, str(path)],
        capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2], timeout=60,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )  # fmt: skip  # a call reads best in one piece
    said, written, synced = json.loads(done.stdout)
    capture = read_capture(path)

    assert "File too large" in said
    assert f"{written} bytes are kept in {path}" in said
    assert len(capture.data) == written == synced
    assert written > 250_000


def test_what_was_taken_before_the_disk_refused_is_safe(tmp_path, monkeypatch):
    """After a refusal what the system took is synced, so that it outlives the power cut that may follow."""
    world = running()
    writer = CaptureWriter(tmp_path / "a.capture")
    whole = writer.append

    def refuse(data, monotonic_ns, utc_ns):
        if writer.bytes_written > 20_000:
            raise OSError(28, "No space left on device")
        whole(data, monotonic_ns, utc_ns)

    monkeypatch.setattr(writer, "append", refuse)
    with pytest.raises(DiskTrouble):
        record(SlowEnough(world.open("/dev/ttyX"), world), writer, stop=lambda: world.now_s > 400)
    writer.close()

    assert writer.bytes_synced == writer.bytes_written == len(read_capture(writer.path).data) > 20_000
