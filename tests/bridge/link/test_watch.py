"""The watch beside the recorder: who speaks, and whether it can be understood."""

from zlib import crc32

import pytest

from bridge.link.notes import Kind
from bridge.link.watch import FOREIGN_S, PROVE_S, SILENT_S, Watch
from tests.faults.fault_kit import block, data_line


@pytest.fixture
def told():
    return []


@pytest.fixture
def watch(told):
    return Watch(lambda kind, words: told.append((kind, words)), 0.0)


@pytest.mark.parametrize("size", [1, 3, 7, 50, 10_000])
def test_the_logger_is_known_however_its_bytes_are_cut(watch, size):
    """An identity line is found whole whatever the reads make of it, behind junk and data lines alike."""
    data = b"junk>>" + data_line(1, 10) * 20 + block(3, "0042")[:-5] + data_line(2, 20) + block(3, "0042")
    for begin in range(0, len(data), size):
        watch.feed(data[begin : begin + size], 0.1)

    assert (watch.identity.serial, watch.identity.boot) == ("0042", 3)
    assert watch.understood
    assert watch.stranger is None


def test_a_new_boot_of_the_same_logger_is_told_once(watch, told):
    """A restart is one note, and repeating a block is none."""
    for boot in (1, 1, 2, 2, 2):
        watch.feed(block(boot), 0.1)

    assert told == [(Kind.RESTARTED, "the logger began anew (boot 2)")]


def test_another_logger_behind_a_new_opening_makes_all_its_bytes_strange(watch):
    """What came through an opening before a stranger said who it is counts as the stranger's."""
    watch.feed(block(1, "0007"), 0.1)
    watch.opened(1.0)
    stray = data_line(5, 50) * 3 + block(1, "0008")
    watch.feed(stray[:100], 1.1)
    watch.feed(stray[100:], 1.2)

    # the strange identity is the last but two of its lines: the channels after it are its own as well
    assert watch.stranger.size == len(stray)
    assert "bench-logger 0008, not bench-logger 0007" in watch.stranger.because
    assert not watch.proven


def test_a_logger_swapped_behind_a_running_port_is_strange_from_its_identity_on(watch):
    """What came before a stranger spoke up on a proven port stays ours."""
    watch.feed(block(1, "0007") + data_line(1, 10), 0.1)
    watch.feed(block(1, "0008"), 0.2)

    assert watch.stranger.size == len(block(1, "0008"))


def test_a_port_that_must_be_proven_and_is_not_is_strange_in_time(watch):
    """Without an identity a doubtful port is given up after a block's time, and at its end."""
    watch.feed(block(1, "0007"), 0.1)
    watch.opened(1.0, must_prove=True)
    watch.feed(data_line(1, 10), 1.5)
    watch.look(PROVE_S)
    assert watch.stranger is None
    watch.look(1.0 + PROVE_S)

    assert watch.stranger.size == len(data_line(1, 10))
    assert "did not say who it is" in watch.stranger.because


def test_a_few_bytes_of_noise_are_no_foreign_device(watch, told):
    """A click at the opening and then nothing is silence, not another format."""
    watch.feed(b"\xff\x00", 0.1)
    watch.look(FOREIGN_S + 1)

    assert [kind for kind, _ in told] == [Kind.SILENT]


def test_silence_begins_after_three_seconds(watch, told):
    """A port is called silent no sooner than a slow logger may be."""
    watch.feed(data_line(1, 10), 5.0)
    watch.look(5.0 + SILENT_S - 0.1)
    assert told == []
    watch.look(5.0 + SILENT_S)
    watch.look(60.0)

    assert [kind for kind, _ in told] == [Kind.SILENT]


def test_a_later_version_is_told_once_and_is_no_foreign_device(watch, told):
    """A logger of a later version is named with both versions as soon as it speaks."""
    body = b"I,9,bench-logger,1,0007,1000,1,1"
    line = b">" + body + b"*%08X\r\n" % crc32(body)
    watch.feed(line * 3, 0.1)
    watch.look(60.0)

    assert [kind for kind, _ in told][:1] == [Kind.NEWER]
    assert "version 9" in told[0][1]
    assert Kind.FOREIGN not in [kind for kind, _ in told]
