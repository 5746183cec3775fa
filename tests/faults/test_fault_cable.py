"""Cables pulled and put back: one recording goes on, and every byte that came is in it."""

import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time

import pytest

from bridge.errors import PortLost
from bridge.link import CaptureWriter, PortFinder, open_port, read_capture, read_note, record
from bridge.link.notes import Kind
from bridge.sealing.seal import capture_frame
from bridge.wire import decode
from tests.faults.fault_kit import FakeLogger, World, block, data_line

pty_only = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")


@pytest.fixture
def writer(tmp_path):
    made = CaptureWriter(tmp_path / "a.capture")
    yield made
    made.close()


def kinds(capture):
    """Return the kinds of a capture's notes, in order."""
    return [read_note(note.text).kind for note in capture.notes]


@pytest.mark.parametrize("own_battery", [True, False])
def test_a_hundred_cable_pulls_are_one_recording_with_a_hundred_gaps(writer, own_battery):
    """Every byte a port handed over is kept, every whole line is a sample, and each gap is shown."""
    rng = random.Random(7)
    world, logger = World(), FakeLogger(own_battery=own_battery)
    world.plug("/dev/ttyUSB0", logger, "A17")
    at_s, name = 0.0, "/dev/ttyUSB0"
    for pull in range(100):
        back_as = f"/dev/ttyUSB{(pull + 1) % 3}"
        at_s += rng.uniform(1, 4)
        world.at(at_s, lambda gone=name: world.pull(gone))
        at_s += rng.uniform(0.1, 8)
        world.at(at_s, lambda new=back_as: world.plug(new, logger, "A17"))
        at_s, name = at_s + 6, back_as

    recorded = record(
        world.open("/dev/ttyUSB0"),
        writer,
        finder=world.finder("/dev/ttyUSB0"),
        seconds=at_s + 5,
        clock=world.clock,
    )
    capture, sealed = capture_frame(writer.path)

    assert capture.data == bytes(world.handed_over)
    assert recorded.bytes == len(capture.data)
    assert recorded.reconnects == sealed.counts["reconnects"] == 100
    assert kinds(capture).count(Kind.LOST) == kinds(capture).count(Kind.BACK) == 100
    assert sealed.frame.height == capture.data.count(b">D,")
    assert sealed.counts["lines_damaged"] == 0
    assert sealed.counts["restarts"] == (0 if own_battery else 100)
    assert sum("the port was away for" in note for note in sealed.notes) == 100
    steps = sealed.frame["t_s"].diff().drop_nulls()
    assert steps.min() > 0
    assert (steps > 0.3).sum() >= 95


def test_the_pauses_grow_to_five_seconds_and_are_told(writer):
    """Half a second, one, two, four, then five again and again; what is told says why and when."""
    world = World()
    world.plug("/dev/ttyUSB0", FakeLogger(), "A17")
    finder = world.finder("/dev/ttyUSB0")
    tries, told = [], []
    listing = finder._list_all
    finder._list_all = lambda: tries.append(world.now_s) or listing()
    world.at(3, lambda: world.pull("/dev/ttyUSB0"))

    with pytest.raises(
        PortLost, match=r"away at the end.*after 60\.\d s; all \d+ bytes that came are kept in"
    ):
        record(
            world.open("/dev/ttyUSB0"), writer, finder=finder, seconds=60, clock=world.clock,
            on_note=lambda kind, words: told.append((kind, words)),
        )  # fmt: skip  # a call reads best in one piece

    pauses = [round(after - before, 1) for before, after in zip([3.0, *tries], tries, strict=False)]
    assert pauses[:6] == [0.5, 1.0, 2.0, 4.0, 5.0, 5.0]
    waiting = [words for kind, words in told if kind is Kind.WAITING]
    assert waiting[0] == "port /dev/ttyUSB0 went away; trying again in 0.5 s"
    assert waiting[-1] == "the USB device with serial number A17 is not plugged in; trying again in 5 s"
    assert len(waiting) == 5
    assert "the port was away" in read_capture(writer.path).notes[-1].text


def test_another_logger_on_the_same_name_is_refused_until_ours_is_back(writer):
    """Its bytes are kept and are no readings; ours goes on in the same session."""
    world, ours, other = World(), FakeLogger("0007"), FakeLogger("0008", deaf=True)
    world.plug("/dev/ttyUSB0", ours)
    world.at(3, lambda: world.pull("/dev/ttyUSB0"))
    world.at(4, lambda: world.plug("/dev/ttyUSB0", other))
    world.at(20, lambda: world.pull("/dev/ttyUSB0"))
    world.at(21, lambda: world.plug("/dev/ttyUSB0", ours))

    recorded = record(
        world.open("/dev/ttyUSB0"), writer, finder=world.finder("/dev/ttyUSB0"), seconds=40, clock=world.clock
    )
    capture, sealed = capture_frame(writer.path)
    bare = decode(capture.data)

    assert recorded.reconnects == sealed.counts["reconnects"] == 1
    assert capture.data == bytes(world.handed_over)
    assert b",0008," in capture.data
    assert sum(s.frame.height for s in bare.segments) > sealed.frame.height
    assert sealed.counts["restarts"] == 0
    assert any("another logger (bench-logger 0008, not bench-logger 0007)" in note for note in sealed.notes)
    assert 1500 < sealed.frame.height <= len(ours.sent)


def test_a_device_without_a_serial_number_is_found_by_its_logger_under_another_name(writer):
    """Among the ports that are new, the one whose logger says that it is ours is taken."""
    world, ours, other = World(), FakeLogger("0007"), FakeLogger("0008")
    world.plug("/dev/ttyUSB0", ours)
    world.at(3, lambda: world.pull("/dev/ttyUSB0"))
    world.at(4, lambda: world.plug("/dev/ttyUSB1", other))
    world.at(4, lambda: world.plug("/dev/ttyUSB2", ours))

    recorded = record(
        world.open("/dev/ttyUSB0"), writer, finder=world.finder("/dev/ttyUSB0"), seconds=60, clock=world.clock
    )
    _, sealed = capture_frame(writer.path)

    assert recorded.reconnects == 1
    assert sealed.frame["t_s"][-1] == pytest.approx(60, abs=0.2)
    assert sealed.counts["restarts"] == 0


def test_a_stop_ends_the_waiting_at_once(writer):
    """Whoever stops while the port is away waits for nothing; what was kept is said."""
    world = World()
    world.plug("/dev/ttyUSB0", FakeLogger(), "A17")
    world.at(3, lambda: world.pull("/dev/ttyUSB0"))

    with pytest.raises(PortLost, match="kept"):
        record(
            world.open("/dev/ttyUSB0"), writer, finder=world.finder("/dev/ttyUSB0"), clock=world.clock,
            stop=lambda: world.now_s > 14.2,
        )  # fmt: skip  # as above
    assert world.now_s < 14.4


def test_a_connection_that_has_gone_dead_is_opened_anew(writer):
    """A network logger that lost its supply never hangs up; after half a minute's silence it is called again."""
    world, logger, url = World(), FakeLogger(own_battery=False), "socket://logger:4000"
    world.plug(url, logger)
    world.at(5, lambda: setattr(logger, "silent", True))
    world.at(35.3, lambda: setattr(logger, "silent", False))

    recorded = record(world.open(url), writer, finder=world.finder(url), seconds=50, clock=world.clock)
    capture, sealed = capture_frame(writer.path)

    assert recorded.reconnects == sealed.counts["reconnects"] == 1
    assert kinds(capture).index(Kind.SILENT) < kinds(capture).index(Kind.LOST)
    assert any("has said nothing for 30 s" in note.text for note in capture.notes)
    assert sealed.frame["t_s"][-1] == pytest.approx(50, abs=0.2)


def test_a_socket_that_hangs_up_is_opened_anew(writer):
    """A network logger that is switched off and on again comes back by itself."""
    sent, gone = [], threading.Event()
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(20)

        def serve():
            for turn in range(3):
                peer, _ = server.accept()
                with peer:
                    assert peer.recv(1) == b"?"
                    sent.append(
                        block() + b"".join(data_line(turn * 50 + i, turn * 5000 + i) for i in range(50))
                    )
                    peer.sendall(sent[-1])
                    time.sleep(0.1)
                    if turn == 2:
                        gone.set()
                        time.sleep(0.3)

        thread = threading.Thread(target=serve)
        thread.start()
        url = f"socket://127.0.0.1:{server.getsockname()[1]}"
        with open_port(url) as port:
            record(port, writer, finder=PortFinder(url), stop=gone.is_set)
        thread.join()

    assert read_capture(writer.path).data == b"".join(sent)


@pty_only
def test_a_real_terminal_pulled_five_times_comes_back_under_its_link(tmp_path, writer):
    """Each time the device is another one behind the same name, as udev makes it; nothing sent is lost."""
    link, stop, sent = tmp_path / "ttyLogger", threading.Event(), []
    lines = [block()] + [data_line(i, i * 10) for i in range(600)]

    def plug():
        master, slave = os.openpty()
        beside = tmp_path / "beside"
        beside.symlink_to(os.ttyname(slave))
        beside.replace(link)
        os.close(slave)
        return master

    master = plug()

    def play():
        hand = master
        for turn in range(6):
            deadline = time.monotonic() + 10
            while b"?" not in _asked(hand):
                assert time.monotonic() < deadline, "nobody opened the port"
            for line in lines[turn * 100 : turn * 100 + 100]:
                os.write(hand, line)
                sent.append(line)
            time.sleep(0.1)
            if turn == 5:
                stop.set()
                time.sleep(0.3)
            os.close(hand)
            hand = plug() if turn < 5 else None

    with open_port(str(link)) as port:
        thread = threading.Thread(target=play)
        thread.start()
        record(port, writer, finder=PortFinder(str(link)), stop=stop.is_set)
        thread.join()
    capture, sealed = capture_frame(writer.path)

    assert capture.data == b"".join(sent)
    assert sealed.counts["reconnects"] == 5
    assert sealed.counts["lines_lost"] == 0


def _asked(master):
    """Return what the recorder wrote; nothing while nobody has the port open."""
    time.sleep(0.02)
    os.set_blocking(master, False)
    try:
        return os.read(master, 10)
    except OSError:
        return b""
    finally:
        os.set_blocking(master, True)


@pty_only
def test_the_command_goes_on_after_a_pull_and_tells_on_the_terminal(tmp_path):
    """`record` over a pulled cable: one session, reconnects 1, words on standard error, exit 0."""
    link = tmp_path / "ttyLogger"
    done = subprocess.Popen(
        [sys.executable, "-c", _COMMAND, str(link), str(tmp_path / "logbook")],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip  # as above
    out, err = done.communicate(timeout=60)
    assert done.returncode == 0, err
    answer = json.loads(out)
    assert answer["code"] == 0
    assert "went away" in err
    assert "trying again in 0.5 s" in err
    assert "is back as" in err
    assert answer["sessions"] == 1


_COMMAND = f"""
import json, os, sys, threading, time, signal
from bridge.cli import main
from bridge.logbook import Logbook
from pathlib import Path
from tests.faults.fault_kit import block, data_line
link, folder = Path(sys.argv[1]), sys.argv[2]

def plug():
    master, slave = os.openpty()
    link.unlink(missing_ok=True)
    link.symlink_to(os.ttyname(slave))
    os.close(slave)
    return master

def play(master):
    for turn in range(2):
        while True:
            time.sleep(0.02)
            try:
                if b"?" in os.read(master, 10):
                    break
            except OSError:
                pass
        os.write(master, block() + b"".join(data_line(turn * 90 + i, (turn * 90 + i) * 10) for i in range(90)))
        time.sleep(0.2)
        if turn == 0:
            os.close(master)
            master = plug()
    os.kill(os.getpid(), signal.SIG{signal.SIGTERM.name[3:]})
    time.sleep(5)

master = plug()
threading.Thread(target=play, args=(master,), daemon=True).start()
sys.stdout.flush()
real, sys.stdout = sys.stdout, sys.stderr
code = main(["--logbook", folder, "record", "--port", str(link)])
with Logbook.open(Path(folder), write=False) as logbook:
    sessions = logbook.sessions()
print(json.dumps(dict(code=code, sessions=len(sessions))), file=real, flush=True)
os._exit(0)
"""
