"""A recording from a real port device, with no hardware: the virtual logger on a pseudo-terminal."""

import json
import os
import signal
import subprocess
import sys
import time
from contextlib import contextmanager

import pytest

from bridge.link import read_capture

on_posix = pytest.mark.skipif(
    sys.platform == "win32", reason="neither these signals nor a pseudo-terminal are there on Windows"
)

SOOTLINE = [sys.executable, "-m", "bridge"]


@contextmanager
def virtual_logger(*words):
    """Run `sootline emulate` and give its port."""
    command = [*SOOTLINE, "emulate", *words]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield process.stdout.readline().strip()
        finally:
            process.terminate()
            process.wait(10)


def test_emulate_record_read_compare(sootline, files):
    """A session recorded a moment ago from a port device gives a verdict."""
    sootline.ok("bike", "add", files / "bike.toml")
    sootline.ok("plug", "scale", "Chalk Pit 400", "--stated-mm", "6", "--sd-mm", "1", "--lambda", "0.87")
    with virtual_logger("--seed", "7", "--rate", "50", "--seconds", "30") as port:
        done = subprocess.run(
            [*SOOTLINE, "--logbook", str(sootline.folder), "record", "--port", port, "--seconds", "26",
             "--bike", "Chalk Pit 400", "--json"],
            capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip  # the words of a command read best in lines
    assert done.returncode == 0, done.stderr
    recorded = json.loads(done.stdout)

    assert recorded.keys() >= {
        "session", "seconds", "bytes", "lines_good", "lines_damaged", "lines_lost", "junk_bytes", "samples", "marks",
        "restarts", "reconnects",
    }  # fmt: skip  # as above
    assert recorded["samples"] > 1000
    assert recorded["lines_lost"] == 0
    assert 24 < recorded["seconds"] < 28
    for n in ("1", "2"):
        sootline.ok("plug", "fit", f"A{n}", "--cylinder", n, "--session", "1", "--state", "new")
        sootline.ok("plug", "read", f"A{n}", "--session", "1", "--ring-mm", "6.2", "--view", "cut")
    cylinders = sootline.ok("compare", "1")["cylinders"]
    assert all(c["reading_valid"] for c in cylinders), cylinders
    assert all(c["verdict"] in {"agree", "ring richer", "ring leaner", "cannot say"} for c in cylinders)
    assert all(c["measured_lambda"]["seconds"] > 3 for c in cylinders)


@on_posix
def test_a_recording_stops_on_a_signal_and_is_sealed(sootline):
    """SIGTERM ends a recording cleanly: exit 0, sealed, nothing lost."""
    with virtual_logger("--seed", "3", "--rate", "100") as port:
        command = [*SOOTLINE, "--logbook", str(sootline.folder), "record", "--port", port, "--json"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
            _wait_for_bytes(sootline.folder / "captures", 3000)
            process.send_signal(signal.SIGTERM)
            out, err = process.communicate(timeout=30)
    assert process.returncode == 0, err
    assert json.loads(out)["samples"] > 10
    assert sootline.ok("sessions")["sessions"][0]["state"] == "sealed"


def test_a_port_that_stays_away_until_the_end_keeps_what_came(sootline):
    """A port gone until the end: waited for, exit 1, one sentence that says what was kept, and it is sealed."""
    with virtual_logger("--seed", "3", "--rate", "100") as port:
        command = [*SOOTLINE, "--logbook", str(sootline.folder), "record", "--port", port, "--seconds", "6"]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        _wait_for_bytes(sootline.folder / "captures", 3000)
    _, err = process.communicate(timeout=30)
    assert process.returncode == 1, err
    assert "trying again in 0.5 s" in err
    assert "kept" in err.splitlines()[-1]
    assert "Traceback" not in err
    session = sootline.ok("sessions")["sessions"][0]
    assert session["samples"] > 10
    assert session["state"] == "sealed"


def test_whoever_stops_while_the_port_is_away_waits_for_nothing(sootline):
    """SIGINT while waiting for a port seals at once; the port being away at the end, the exit code is 1."""
    with virtual_logger("--seed", "3", "--rate", "100") as port:
        command = [*SOOTLINE, "--logbook", str(sootline.folder), "record", "--port", port, "--json"]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        _wait_for_bytes(sootline.folder / "captures", 3000)
    _wait_for_note(sootline.folder / "captures", "waiting: ")
    begun = time.monotonic()
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=30)

    assert time.monotonic() - begun < 10
    assert process.returncode == 1
    assert err.count("\n") == 1
    recorded = json.loads(out)
    assert recorded["reconnects"] == 0
    assert "the port was away at the end" in recorded["notes"]


@pytest.mark.parametrize(
    ("free", "words"),
    [(100_000, "0.1 MB left, which holds less than a minute"), (1_200_000, "less than a minute")],
)
def test_a_disk_with_no_room_is_said_before_the_start(sootline, monkeypatch, free, words):
    """A nearly full disk is refused before a port is opened or a folder is made."""
    monkeypatch.setattr("bridge.link.room.free_bytes", lambda _: free)
    assert words in sootline.refused("record", "--port", "/dev/nowhere")
    assert not sootline.folder.exists()


def test_a_folder_that_cannot_be_written_is_said_before_the_start(sootline, monkeypatch):
    """A read-only folder is refused before anything begins (the system's answer is faked: root may do anything)."""
    monkeypatch.setattr("bridge.link.room.os.access", lambda *_: False)
    assert "cannot be written" in sootline.refused("record", "--port", "/dev/nowhere")


@on_posix
def test_a_killed_recording_is_sealed_when_the_logbook_is_next_opened_to_write(sootline):
    """SIGKILL leaves a capture, and the next command that writes seals it and says so."""
    with virtual_logger("--seed", "3", "--rate", "100") as port:
        command = [*SOOTLINE, "--logbook", str(sootline.folder), "record", "--port", port]
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
            _wait_for_bytes(sootline.folder / "captures", 6000)
            process.kill()
            process.communicate(timeout=30)
    recovered = sootline.ok("recover")["recovered"]

    assert [r["session"] for r in recovered] == [1]
    assert recovered[0]["samples"] > 20
    assert sootline.ok("sessions")["sessions"][0]["state"] == "sealed"


def _wait_for_bytes(folder, size, seconds=20):
    """Wait until the capture in this folder has grown to a size."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if folder.is_dir() and sum(path.stat().st_size for path in folder.iterdir()) > size:
            return
        time.sleep(0.05)
    raise AssertionError("the capture did not grow")


def _wait_for_note(folder, begin, seconds=20):
    """Wait until the recorder has noted something."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if any(note.text.startswith(begin) for note in read_capture(folder / "0001.capture").notes):
            return
        time.sleep(0.05)
    raise AssertionError(f"no note began with {begin}")


@on_posix
def test_a_port_from_which_nothing_comes(sootline):
    """A recording into which not a byte came is not done: exit 1, with what to look at."""
    ours, theirs = os.openpty()
    try:
        answer = sootline("record", "--port", os.ttyname(theirs), "--seconds", "1")
    finally:
        os.close(ours)
        os.close(theirs)

    assert answer.code == 1
    assert "nothing came from" in answer.err
    assert sootline.ok("sessions")["sessions"][0]["samples"] == 0
