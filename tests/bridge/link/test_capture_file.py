"""Capture files: what was appended comes back, and damage costs only what it hit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import BadFile, DiskTrouble
from bridge.link.capture import MAGIC, CaptureWriter, follow_capture, read_capture

PIECES = [b">D,0,1,2*00000000\r\n", b"", b"\xf5\xc0\x0f\xf1 looks like a marker", bytes(range(256))]


def written(path, pieces=PIECES):
    writer = CaptureWriter(path)
    sizes = [path.stat().st_size]
    for i, piece in enumerate(pieces):
        writer.append(piece, 1_000 + i, 2_000 + i)
        sizes.append(path.stat().st_size)
    writer.close()
    return sizes


def test_what_was_appended_comes_back_with_its_times(tmp_path):
    """Bytes come back joined, one chunk row a record, and notes say where they stood."""
    path = tmp_path / "a.capture"
    writer = CaptureWriter(path)
    writer.append(b"one", 10, 20)
    writer.note("half way", 11, 21)
    writer.append(b"three", 12, 22)
    writer.sync()
    writer.close()

    capture = read_capture(path)

    assert capture.data == b"onethree"
    assert capture.chunks.rows() == [(0, 3, 10, 20), (3, 5, 12, 22)]
    assert [(n.text, n.offset, n.monotonic_ns, n.utc_ns) for n in capture.notes] == [("half way", 3, 11, 21)]
    assert (capture.torn_bytes, capture.damaged_bytes) == (0, 0)
    assert writer.bytes_written == 8


@given(st.lists(st.binary(max_size=300), max_size=8))
def test_any_bytes_come_back(tmp_path_factory, pieces):
    """Whatever comes off a wire, the capture gives it back to the last bit."""
    path = tmp_path_factory.mktemp("c") / "a.capture"
    written(path, pieces)

    capture = read_capture(path)

    assert capture.data == b"".join(pieces)
    assert capture.chunks["length"].to_list() == [len(piece) for piece in pieces]


def test_a_tail_torn_at_any_byte_costs_the_last_record_only(tmp_path):
    """Wherever a power cut tears the last record, all records before it are read and the rest is counted."""
    path = tmp_path / "a.capture"
    *_, begin, end = written(path)
    whole = path.read_bytes()
    kept = b"".join(PIECES[:-1])

    for cut in range(begin, end):
        path.write_bytes(whole[:cut])
        capture = read_capture(path)
        assert capture.data == kept, cut
        assert capture.torn_bytes == cut - begin
        assert capture.damaged_bytes == 0


def test_a_file_torn_within_its_first_line_is_an_empty_capture(tmp_path):
    """A recorder cut off at its very start leaves a capture with nothing in it, not a broken file."""
    path = tmp_path / "a.capture"
    for length in range(len(MAGIC) + 1):
        path.write_bytes(MAGIC[:length])
        assert read_capture(path).data == b""


def test_a_hurt_byte_in_the_middle_costs_its_record_only(tmp_path):
    """Any byte of a middle record turned over loses that record, counts it, and keeps those around it."""
    path = tmp_path / "a.capture"
    sizes = written(path, [b"first", b"second", b"third"])
    whole = path.read_bytes()

    for at in range(sizes[1], sizes[2]):
        hurt = bytearray(whole)
        hurt[at] ^= 0x10
        path.write_bytes(hurt)
        capture = read_capture(path)
        assert capture.data == b"firstthird", at
        assert capture.damaged_bytes == sizes[2] - sizes[1]
        assert capture.torn_bytes == 0


def test_a_file_that_is_no_capture_is_refused(tmp_path):
    """A picture given as a capture is refused in a sentence that names it; so is a file that is not there."""
    path = tmp_path / "photo.png"
    path.write_bytes(b"\x89PNG\r\n and so on")

    with pytest.raises(BadFile, match=r"photo\.png is not a capture"):
        read_capture(path)
    with pytest.raises(BadFile, match="cannot be read"):
        read_capture(tmp_path / "nothing")


def test_a_capture_is_never_written_over(tmp_path):
    """A second writer on the same name is refused and the first one's bytes stay."""
    path = tmp_path / "a.capture"
    written(path)
    before = path.read_bytes()

    with pytest.raises(DiskTrouble, match="nothing was recorded"):
        CaptureWriter(path)

    assert path.read_bytes() == before


def test_a_growing_capture_is_followed_record_by_record(tmp_path):
    """Each look gives what is new, never half a record, and ends with everything."""
    path = tmp_path / "a.capture"
    written(path)
    whole = path.read_bytes()
    seen, position = b"", 0

    for length in range(len(MAGIC), len(whole) + 1, 7):
        path.write_bytes(whole[:length])
        new, position = follow_capture(path, position)
        seen += new
        assert b"".join(PIECES).startswith(seen)
    path.write_bytes(whole)
    new, position = follow_capture(path, position)

    assert seen + new == b"".join(PIECES)
    assert position == len(whole)
