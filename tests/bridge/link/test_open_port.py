"""Ports: opened by path or URL, and refused in one sentence with the mend."""

import errno
import os
import socket

import pytest
import serial

from bridge.errors import PortNotUsable
from bridge.link.ports import PortInfo, list_ports, open_port

pty_only = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")


@pytest.fixture
def terminal():
    master, slave = os.openpty()
    yield os.ttyname(slave)
    os.close(master)
    os.close(slave)


def test_a_loop_port_reads_what_was_written_and_never_waits():
    """Reading gives what waits, at once, and nothing where nothing does."""
    port = open_port("loop://")

    assert port.read(100) == b""
    port.write(b"abc")
    assert port.read(100) == b"abc"
    port.close()


def test_a_port_that_is_not_there_is_named_with_those_that_are(monkeypatch):
    """The sentence says which port and which ones this machine has."""
    monkeypatch.setattr("bridge.link.ports.list_ports", lambda: [PortInfo("/dev/ttyX7", "", None)])

    with pytest.raises(PortNotUsable, match=r"no port '/dev/nowhere'.*has /dev/ttyX7"):
        open_port("/dev/nowhere")


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.EACCES, "no right to use port '/dev/x'.*usermod -aG dialout"),
        (errno.EBUSY, "held by another program"),
        (errno.EWOULDBLOCK, "held by another program"),
        (errno.EIO, "cannot be opened"),
    ],
)
def test_each_refusal_of_the_system_has_its_mend(monkeypatch, number, words):
    """Not permitted, busy and broken are told apart (the system's answer is faked: root may do anything)."""

    def refuse(*_args, **_kwargs):
        raise serial.SerialException(number, "could not open port")

    monkeypatch.setattr(serial, "serial_for_url", refuse)

    with pytest.raises(PortNotUsable, match=words):
        open_port("/dev/x")


@pty_only
def test_a_port_that_another_program_holds_is_refused(terminal):
    """Two readers would each lose what the other takes, so the second one is refused."""
    port = open_port(terminal)

    with pytest.raises(PortNotUsable, match="held by another program"):
        open_port(terminal)

    port.close()
    open_port(terminal).close()


def test_what_is_no_port_is_refused(tmp_path):
    """A file, a folder, an unknown scheme, half an address and an impossible speed each say what they are."""
    plain = tmp_path / "log.csv"
    plain.write_text("t_s\n")
    with socket.create_server(("127.0.0.1", 0)) as server:
        closed = server.getsockname()[1]

    for name, words in [
        (str(plain), "not a serial port"),
        (str(tmp_path), "not a serial port"),
        ("pigeon://roof", "'pigeon://'"),
        ("socket://here", "socket://host:port"),
        (f"socket://127.0.0.1:{closed}", "nothing can be reached"),
    ]:
        with pytest.raises(PortNotUsable, match=words):
            open_port(name)
    with pytest.raises(PortNotUsable, match="-5 baud"):
        open_port("loop://", -5)


def test_the_ports_of_this_machine_come_as_devices_in_order(monkeypatch):
    """Each port has the name that opens it; an absent description is empty, an absent serial number None."""

    class Found:
        def __init__(self, device, description, serial_number):
            self.device, self.description, self.serial_number = device, description, serial_number

    monkeypatch.setattr(
        "bridge.link.ports.serial_list.comports", lambda: [Found("b", "x", "7"), Found("a", None, None)]
    )

    assert list_ports() == [PortInfo("a", "", None), PortInfo("b", "x", "7")]


@pytest.mark.parametrize("url", ["spy://{there}?file={made}", "SPY://{there}?file={made}", "alt://{there}"])
def test_no_url_makes_a_file(tmp_path, url):
    """Of the serial library's URLs only those for sockets and loops are taken: another one can write files."""
    made = tmp_path / "made.txt"

    with pytest.raises(PortNotUsable, match="cannot be named by"):
        open_port(url.format(there="/dev/null", made=made))
    assert not made.exists()
