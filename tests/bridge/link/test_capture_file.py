"""Capture files: what was appended comes back, and damage costs only what it hit."""

import time

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
    """Each look gives what is new with its times, never half a record, and ends with everything."""
    path = tmp_path / "a.capture"
    written(path)
    whole = path.read_bytes()
    chunks, position = (), 0

    for length in [*range(len(MAGIC), len(whole) + 1, 7), len(whole)]:
        path.write_bytes(whole[:length])
        followed = follow_capture(path, position)
        position = followed.position
        chunks += followed.chunks
        assert b"".join(PIECES).startswith(b"".join(chunk.data for chunk in chunks))

    assert chunks == tuple((piece, 1_000 + i, 2_000 + i) for i, piece in enumerate(PIECES))
    assert position == len(whole)
    assert follow_capture(path, position).chunks == ()


def test_a_follower_gets_the_notes_and_where_they_stood(tmp_path):
    """Notes come with the bytes, their offset counted within what is new."""
    path = tmp_path / "a.capture"
    writer = CaptureWriter(path)
    writer.append(b"one", 10, 20)
    first = follow_capture(path)
    writer.append(b"three", 12, 22)
    writer.note("half way", 13, 23)
    writer.close()

    second = follow_capture(path, first.position)

    assert (first.data, second.data) == (b"one", b"three")
    assert [(n.text, n.offset, n.utc_ns) for n in second.notes] == [("half way", 5, 23)]


def test_a_capture_can_be_followed_from_near_its_end(tmp_path):
    """From any place in the file on, reading begins at the next whole record: a page opened late needs no more."""
    path = tmp_path / "a.capture"
    sizes = written(path)

    for begin in range(sizes[1] + 1, sizes[2]):
        assert follow_capture(path, begin).data == b"".join(PIECES[2:]), begin


def test_following_reads_only_what_is_new(tmp_path):
    """A look at a capture of 20 MB that has gained one record takes no longer than at a small one."""
    small, large = tmp_path / "s.capture", tmp_path / "l.capture"
    position = {}
    for path, count in ((small, 1), (large, 20)):
        written(path, [bytes(1_000_000)] * count)
        position[path] = follow_capture(path).position
        with path.open("ab") as file:
            file.write(small.read_bytes()[len(MAGIC) : len(MAGIC) + 100])

    def seconds(path):
        begun = time.perf_counter()
        for _ in range(50):
            follow_capture(path, position[path])
        return time.perf_counter() - begun

    assert seconds(large) < 5 * seconds(small) + 0.05


def test_a_capture_that_is_not_there_cannot_be_followed(tmp_path):
    """Following nothing is refused in a sentence."""
    with pytest.raises(BadFile, match="cannot be read"):
        follow_capture(tmp_path / "nothing")


def test_what_a_sync_has_covered_is_counted(tmp_path):
    """Bytes count as safe only once a sync that began after them has returned."""
    writer = CaptureWriter(tmp_path / "a.capture")
    writer.append(b"one", 1, 1)
    assert (writer.bytes_written, writer.bytes_synced) == (3, 0)
    writer.sync()
    writer.append(b"two", 2, 2)
    assert (writer.bytes_written, writer.bytes_synced) == (6, 3)
    writer.close()
