"""Starting, stopping and marking from the page: the recorder's own process, and never another one."""

import os
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime

import pytest

from bridge.errors import BadValue, PortNotUsable, UnknownThing
from bridge.link.notes import Kind, Told
from bridge.logbook import Logbook, files
from bridge.logbook.lock import holder
from dashboard.live import control
from dashboard.live.words import disk_words, standing
from tests.dashboard.live_tools import recording

HOLD = """
import sys, time
from datetime import UTC, datetime
from pathlib import Path
from bridge.logbook import Logbook
logbook = Logbook.open(Path(sys.argv[1]), write=True)
print(logbook.new_session(bike=None, place=None, source="/dev/other", started=datetime.now(UTC)), flush=True)
time.sleep(60)
"""

pty_only = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")


@pytest.fixture
def folder(tmp_path):
    """Return the folder of an empty logbook."""
    with Logbook.open(tmp_path / "logbook", write=True):
        pass
    return tmp_path / "logbook"


@pytest.fixture
def other(folder):
    """Return a process that holds the lock of a session of its own, and that session."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(folder)], stdout=subprocess.PIPE, text=True
    ) as process:
        yield process, int(process.stdout.readline())
        process.kill()


@pytest.fixture
def signals(monkeypatch):
    """Return the requests to stop that would have been sent."""
    sent, send = [], os.kill

    def kill(pid, number):
        sent.append((pid, number)) if number == signal.SIGTERM else send(pid, number)

    monkeypatch.setattr(os, "kill", kill)
    return sent


def test_stop_signals_the_holder_of_the_lock(folder, other, signals):
    """Stopping sends SIGTERM to the process that holds the session's lock."""
    process, session = other
    control.stop(folder, session)

    assert signals == [(process.pid, signal.SIGTERM)]


def test_a_dead_recorders_number_is_nobody(folder, other, signals):
    """After the recorder has died the number in its lock file is not believed, whoever has it by now."""
    process, session = other
    process.kill()
    process.wait()
    lock = files.lock(folder, session)
    lock.write_text(f"{os.getpid()}\n")

    with pytest.raises(BadValue, match="not being recorded any more"):
        control.stop(folder, session)
    assert signals == []


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells which files a process has open")
@pytest.mark.parametrize("written", ["1", "0", "-5", "x", "", "{parent}"])
def test_a_wrong_number_in_a_held_lock_is_refused(folder, other, signals, written):
    """A number that is not of a process with the lock open is refused, though the lock is held."""
    _, session = other
    files.lock(folder, session).write_text(written.format(parent=os.getppid()))

    with pytest.raises(BadValue, match="not being recorded any more"):
        control.stop(folder, session)
    assert signals == []


def test_asking_does_not_take_the_lock(folder, other):
    """Asking who holds a lock leaves it held, its file as it was, and its owner undisturbed."""
    process, session = other
    lock = files.lock(folder, session)
    before = lock.read_bytes()

    assert [holder(lock) for _ in range(3)] == [process.pid] * 3
    assert lock.read_bytes() == before
    assert holder(lock.with_name("none.lock")) is None


def test_stopping_what_is_not_there(folder, signals):
    """A session that nobody knows, or one that is sealed, is not stopped."""
    with pytest.raises(UnknownThing):
        control.stop(folder, 99)
    assert signals == []


def test_the_recorders_own_sentence(folder):
    """A port that is not there ends the start with the recorder's sentence, and leaves no session behind."""
    with pytest.raises(PortNotUsable, match="there is no port '/dev/no-such-port'"):
        control.start(folder, "/dev/no-such-port", "", "")
    with Logbook.open(folder, write=False) as logbook:
        assert logbook.sessions() == []
    assert len(list((folder / "logs").iterdir())) == 1


@pty_only
def test_an_unknown_bike_is_refused(folder):
    """A bike that the logbook does not know ends the start with the sentence that says so."""
    master, slave = os.openpty()
    try:
        with pytest.raises(PortNotUsable, match="Nobody"):
            control.start(folder, os.ttyname(slave), "Nobody's", None)
    finally:
        os.close(master)
        os.close(slave)


@pytest.mark.parametrize("port", ["", "   ", "x" * 500, "/dev/tty\n0"])
def test_no_port_no_start(folder, port):
    """Without a port, or with one that cannot be one, no process is begun."""
    with pytest.raises(BadValue):
        control.start(folder, port, None, None)
    assert not (folder / "logs").exists()


@pytest.mark.parametrize("port", ["/dev/null", "socket://127.0.0.1:1", "/etc/passwd"])
def test_another_device_names_no_port_of_its_own(folder, port):
    """What came through the door may choose of this machine's list, and opens nothing else."""
    with pytest.raises(BadValue, match="only a port of the list"):
        control.start(folder, port, None, None, any_port=False)
    with Logbook.open(folder, write=False) as logbook:
        assert logbook.sessions() == []


def test_one_recording_a_port(folder):
    """A port that is being recorded is not begun a second time, also by another of its names."""
    with recording(folder, port="/dev/null") as going:
        with pytest.raises(BadValue, match=f"already, as session {going.session}"):
            control.start(folder, "/dev/../dev/null", None, None)
        assert [r["session"] for r in control.recordings(folder)] == [going.session]


def test_a_word_that_looks_like_an_option(folder):
    """A place that begins with a dash is a place, and a port that does is a port: neither is an option."""
    with pytest.raises(PortNotUsable, match="'--help'"):
        control.start(folder, "--help", None, "--json")


@pty_only
def test_a_started_recorder_is_a_process_of_its_own(folder):
    """The recorder runs in a session of its own, records, and stops by the page's signal with its session sealed."""
    master, slave = os.openpty()
    try:
        session = control.start(folder, os.ttyname(slave), None, "Hollow Lane")
        (going,) = control.recordings(folder)
        with Logbook.open(folder, write=False) as logbook:
            pid = logbook.recorder(session)
        assert os.getsid(pid) == pid
        assert (going["session"], going["place"]) == (session, "Hollow Lane")
        control.stop(folder, session)
        until = time.monotonic() + 20.0
        while control.recordings(folder) and time.monotonic() < until:
            time.sleep(0.05)
        with Logbook.open(folder, write=False) as logbook:
            assert logbook.session(session).state == "sealed"
    finally:
        os.close(master)
        os.close(slave)


def test_a_mark_just_before_the_beginning_is_the_beginning(folder):
    """A mark that a hair's breadth of clock puts before the session stands at its beginning."""
    with recording(folder) as going:
        began = going.logbook.session(going.session).started.timestamp()
        control.mark(folder, going.session, "mark", began - 0.2)
        (mark,) = going.logbook.marks(going.session)
    assert mark.t_s == 0.0


def test_a_mark_after_the_end_is_refused(folder):
    """A session that is not recorded any more takes no mark after its end."""
    with recording(folder) as going:
        going.logbook.give_up(going.session, "given up")
        with pytest.raises(BadValue, match="is not in session"):
            control.mark(folder, going.session, "lap", datetime.now(UTC).timestamp() + 3.0)


def test_troubles_are_settled_by_what_ends_them():
    """A trouble stands until the note that ends it, the last word of each kind counts, and an end settles all."""
    lost, waiting = Told(Kind.LOST, "gone"), Told(Kind.WAITING, "in 2 s")
    silent, foreign = Told(Kind.SILENT, "nothing"), Told(Kind.FOREIGN, "noise")

    assert standing([lost, waiting]) == (waiting,)
    assert standing([lost, waiting, Told(Kind.BACK, "back")]) == ()
    assert standing([silent, foreign]) == (silent, foreign)
    assert standing([silent, foreign, Told(Kind.HEARD, "lines")]) == ()
    assert standing([foreign, Told(Kind.BACK, "back")]) == (foreign,)
    ended = Told(Kind.ENDED, "stopped")
    assert standing([lost, foreign, ended]) == (ended,)


def test_disk_words_say_room_and_time():
    """What is left is said in room and in time, and less room or faster growth never sounds like more."""
    assert disk_words(84_000_000_000, 7000.0) == "84.0 GB, more than a day"
    assert disk_words(30_000_000, 10_000.0) == "30 MB, about 50 min 00 s"
    assert disk_words(30_000_000, 20_000.0) == "30 MB, about 25 min 00 s"
    assert disk_words(30_000_000, 0.0) == "30 MB"
