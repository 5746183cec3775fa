"""Finding a port again: by its USB serial number, by its name, and among those that are new."""

import pytest

from bridge.errors import PortNotUsable
from bridge.link import PortFinder, PortInfo
from bridge.link.reconnect import Candidate


def finder(before, after, device="/dev/ttyUSB0"):
    """Return a finder that saw some ports at the start and sees others now, as {name: serial number}."""
    listings = iter([before, after])
    return PortFinder(
        device, list_all=lambda: [PortInfo(name, "", usb) for name, usb in next(listings).items()]
    )


def sure(device):
    return Candidate(device, must_prove=False)


def doubtful(device):
    return Candidate(device, must_prove=True)


@pytest.mark.parametrize(
    ("before", "after", "candidates"),
    [
        ({"/dev/ttyUSB0": "A1"}, {"/dev/ttyUSB0": "A1"}, [sure("/dev/ttyUSB0")]),
        ({"/dev/ttyUSB0": "A1"}, {"/dev/ttyUSB3": "A1", "/dev/ttyUSB0": "B2"}, [sure("/dev/ttyUSB3")]),
        # two cheap adapters that share a number: the one that was there under its own name before is doubted
        (
            {"/dev/ttyUSB0": "0001", "/dev/ttyUSB1": "0001"},
            {"/dev/ttyUSB1": "0001", "/dev/ttyUSB2": "0001"},
            [doubtful("/dev/ttyUSB1"), sure("/dev/ttyUSB2")],
        ),
        # no number: the name, then what is new
        (
            {"/dev/ttyUSB0": None, "/dev/ttyS0": None},
            {"/dev/ttyS0": None, "/dev/ttyUSB1": None},
            [sure("/dev/ttyUSB0"), doubtful("/dev/ttyUSB1")],
        ),
        # no device that the system lists at all, such as a pseudo-terminal
        ({}, {}, [sure("/dev/ttyUSB0")]),
    ],
)
def test_candidates_are_those_that_may_be_it(before, after, candidates):
    """Each table of what is plugged in gives the ports to try, and which of them must prove themselves."""
    assert finder(before, after).candidates() == candidates


def test_a_device_that_is_not_plugged_in_is_named_by_its_number():
    """What is waited for is said, and that its name belongs to another one now."""
    with pytest.raises(PortNotUsable, match=r"serial number A1 is not plugged in$"):
        finder({"/dev/ttyUSB0": "A1"}, {}).candidates()
    with pytest.raises(PortNotUsable, match=r"A1 is not plugged in \(/dev/ttyUSB0 is another device now\)"):
        finder({"/dev/ttyUSB0": "A1"}, {"/dev/ttyUSB0": "B2"}).candidates()


def test_a_link_is_followed_to_its_device(tmp_path):
    """A port named by a link is known by the serial number of the device behind it."""
    device, link = tmp_path / "ttyUSB0", tmp_path / "by-id"
    device.touch()
    link.symlink_to(device)

    again = finder({str(device): "A1"}, {"/dev/ttyUSB9": "A1"}, str(link))

    assert again.candidates() == [sure("/dev/ttyUSB9")]


def test_a_network_address_is_its_own_candidate():
    """There is nothing to look for where the port is an address."""
    assert PortFinder("socket://host:1", list_all=lambda: 1 / 0).candidates() == [sure("socket://host:1")]
