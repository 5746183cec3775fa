"""Recorders killed and power cut at random moments: what was acknowledged as synced is there afterwards."""

import os
import random
import select
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from bridge.link import CaptureWriter, read_capture
from bridge.link.capture import MAGIC
from tests.faults.fault_kit import block, data_line

KILLS = 200
SENT = block() + b"".join(data_line(i, i) for i in range(100_000))
"""Endless for our purpose, and no two places in it alike: a capture of it can only be a beginning of it."""


@pytest.mark.skipif(not hasattr(os, "fork") or not hasattr(os, "openpty"), reason="needs fork and terminals")
def test_two_hundred_kills_cost_nothing_that_was_synced(tmp_path):
    """After SIGKILL at a random moment every synced byte is there, in order, and the capture can be read."""
    rng = random.Random(11)
    nursery = subprocess.Popen(
        [sys.executable, Path(__file__).with_name("kill_nursery.py")],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=Path(__file__).parents[2],
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )  # fmt: skip  # a call reads best in one piece
    kept = []
    try:
        for turn in range(KILLS):
            path = tmp_path / f"{turn}.capture"
            synced = one_life(nursery, path, rng.uniform(0.005, 0.12))
            if not path.exists():  # killed before it was made
                assert synced == 0
                continue
            capture = read_capture(path)
            assert len(capture.data) >= synced, turn
            assert SENT.startswith(capture.data), turn
            kept.append((len(capture.data), synced))
            path.unlink()
    finally:
        nursery.stdin.close()
        nursery.wait(10)
        nursery.stdout.close()
    assert len(kept) > KILLS * 0.9
    assert sum(synced > 0 for _, synced in kept) > KILLS / 2
    assert sum(size > synced for size, synced in kept) > 0


def one_life(nursery, path, seconds):
    """Let one recorder live for so long, and return how many bytes it last acknowledged."""
    master, slave = os.openpty()
    import tty  # noqa: PLC0415  # not there on Windows, where the other tests of this file run

    tty.setraw(slave)
    over = threading.Event()
    nursery.stdin.write(f"{path} {os.ttyname(slave)}\n".encode())
    nursery.stdin.flush()
    word, number = nursery.stdout.readline().split()
    while word != b"ready":
        word, number = nursery.stdout.readline().split()
    pid = int(number)
    feeder = threading.Thread(target=feed, args=(master, over))
    feeder.start()
    time.sleep(seconds)
    os.kill(pid, signal.SIGKILL)
    synced = 0
    while not (line := nursery.stdout.readline()).startswith(b"gone"):
        synced = int(line.split()[1])
    over.set()
    feeder.join()
    os.close(slave)
    os.close(master)
    return synced


def feed(master, over):
    """Write as fast as the recorder reads."""
    os.set_blocking(master, False)
    at = 0
    while not over.is_set() and at < len(SENT):
        if select.select([], [master], [], 0.01)[1]:
            try:
                at += os.write(master, SENT[at : at + 1000])
            except BlockingIOError:
                time.sleep(0.001)


def test_power_cut_at_any_moment_costs_only_what_was_not_synced(tmp_path):
    """Whatever of the unsynced end the disk lost, wrote as zeros or garbled, the synced bytes are read."""
    rng = random.Random(3)
    path = tmp_path / "a.capture"
    writer = CaptureWriter(path)
    safe = [(len(MAGIC), 0)]
    for i in range(60):
        writer.append(SENT[i * 700 : i * 700 + 700], i, i)
        if i % 7 == 6:
            writer.sync()
            safe.append((path.stat().st_size, writer.bytes_synced))
    writer.close()
    whole = path.read_bytes()

    for _ in range(500):
        size, synced = rng.choice(safe)
        lost = rng.randrange(0, len(whole) - size + 1)
        kept = whole[: len(whole) - lost]
        garbled = bytearray(kept)
        for _ in range(rng.randrange(4)):
            if len(garbled) > size:
                begin = rng.randrange(size, len(garbled))
                garbled[begin : begin + 512] = bytes(len(garbled[begin : begin + 512]))
        path.write_bytes(garbled)
        data = read_capture(path).data
        assert data[:synced] == SENT[:synced]
        assert len(data) >= synced
