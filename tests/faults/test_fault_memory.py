"""Memory while a recording runs for hours: a port that is faster than time stands in for the hours."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.link import read_capture

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="memory is read from /proc here")

_RUN = """
import sys, time
from pathlib import Path
from bridge.link import CaptureWriter, Clock, record
from tests.faults.fault_kit import block, data_line

lines = int(sys.argv[2])
now_ns = 0

def sleep(seconds):
    global now_ns
    now_ns += int(seconds * 1e9)

def resident():
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096 / 1e6

BLOCK = block()

class Fast:
    port = "/dev/fast"
    sent = 0
    handed = 0
    marks = []

    def read(self, _size):
        while self.handed - writer.bytes_written > 1_000_000:  # its disk is not faster than time
            time.sleep(0.001)
        if self.sent % (lines // 20) == 0:
            self.marks.append(resident())
        sleep(0.5)
        data = b"".join(data_line(self.sent + i, (self.sent + i) * 10 % 2**32) for i in range(50))
        if self.sent % 1000 == 0:
            data = BLOCK + data
        self.sent += 50
        self.handed += len(data)
        return data

    def write(self, _data):
        pass

fast = Fast()
writer = CaptureWriter(Path(sys.argv[1]))
done = record(fast, writer, stop=lambda: fast.sent >= lines, clock=Clock(lambda: now_ns, lambda: now_ns, sleep))
print(done.seconds, fast.sent, done.bytes, writer.bytes_synced, *fast.marks)
"""


def run(path, lines):
    """Record so many lines in a process of their own; return (hours, lines, bytes, synced, MB at 20 moments)."""
    done = subprocess.run(
        [sys.executable, "-c", _RUN, str(path), str(lines)],
        capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2],
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )  # fmt: skip  # a call reads best in one piece
    seconds, sent, size, synced, *marks = map(float, done.stdout.split())
    return seconds / 3600, sent, size, synced, marks


def test_an_hour_at_a_hundred_lines_a_second_takes_no_more_memory_than_its_beginning(tmp_path):
    """One hour of 100 lines a second: memory after a tenth of it and at its end are alike, and all is kept."""
    hours, sent, size, synced, marks = run(tmp_path / "a.capture", 360_000)

    assert hours > 1
    assert sent >= 360_000
    assert len(read_capture(tmp_path / "a.capture").data) == size == synced
    assert max(marks[2:]) - marks[2] < 6
    assert max(marks) < 150


@pytest.mark.slow
@pytest.mark.timeout(1800)
def test_a_day_at_a_hundred_lines_a_second_takes_no_more_memory_than_its_beginning(tmp_path):
    """24 hours of 100 lines a second: memory after a tenth of them and at their end are alike, and all is kept."""
    hours, sent, size, synced, marks = run(tmp_path / "a.capture", 8_640_000)
    print(f"24 h: {size / 1e6:.0f} MB, memory {min(marks):.1f} to {max(marks):.1f} MB")

    assert hours > 24
    assert sent >= 8_640_000
    assert size == synced
    assert (tmp_path / "a.capture").stat().st_size > size
    assert max(marks[2:]) - marks[2] < 6
    assert max(marks) < 150
