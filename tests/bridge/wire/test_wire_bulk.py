"""The bulk way gives what the reader gives, on any bytes."""

import polars as pl
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bridge.errors import WireTooNew
from bridge.wire import ChannelLine, Counts, Data, Identity, Mark, State, bulk, decode
from tests.bridge.wire.wire_helpers import EXAMPLE, block, chunks, data_lines, line, read, read_chunks


def by_reader(data, cuts=()):
    """Return segments, marks, states and counts as the reader tells them."""
    segments, marks, states = [], [], []
    records, counts = read_chunks(chunks(data, cuts))
    for boot, record in records:
        match record:
            case Identity():
                segments.append((boot, record, [], []))
            case ChannelLine():
                segments[-1][2].append(record)
            case Data(seq, tick, values):
                segments[-1][3].append((seq, tick, *values))
            case Mark(seq, tick, what):
                marks.append((boot, seq, tick, what))
            case State(tick, part, state):
                states.append((boot, tick, part, state))
    return segments, marks, states, counts


def by_bulk(data):
    """Return the same as the bulk way tells it."""
    decoded = decode(data)
    segments = [
        (segment.boot_index, segment.identity, list(segment.channels), segment.frame.drop("offset").rows())
        for segment in decoded.segments
    ]
    marks, states = decoded.marks.drop("offset").rows(), decoded.states.drop("offset").rows()
    return segments, marks, states, decoded.counts


def test_the_example_becomes_frames():
    """The example of the format's description, as frames with their places in the bytes."""
    decoded = decode(EXAMPLE)
    (segment,) = decoded.segments

    assert segment.frame.schema == {
        "offset": pl.UInt64,
        "seq": pl.UInt32,
        "tick": pl.UInt32,
        **dict.fromkeys(["v0", "v1", "v2", "v3"], pl.Float64),
    }
    assert segment.frame.rows() == [
        (EXAMPLE.index(b">D,0"), 0, 1_210_345, 0.874, 588.0, 6120.0, 42.5),
        (EXAMPLE.index(b">D,1"), 1, 1_220_345, 0.871, None, 6135.0, 42.5),
    ]
    assert decoded.marks.rows() == [(EXAMPLE.index(b">M"), 0, 2, 1_221_000, "lap")]
    assert decoded.states.rows() == [(EXAMPLE.index(b">S"), 0, 1_200_345, "lambda_1", "ready")]
    assert decoded.identity == segment.identity
    assert decoded.counts == Counts(lines_good=9)


@pytest.mark.parametrize("data", [b"", b"\r\n", b"no log at all", b"\x00\xff" * 50, data_lines([1, 2])])
def test_bytes_without_a_block_give_no_segment(data):
    """What holds no whole block gives no segment, and empty tables with their columns."""
    decoded = decode(data)

    assert (decoded.segments, decoded.identity) == ((), None)
    assert decoded.marks.columns == ["offset", "boot_index", "seq", "tick", "what"]
    assert decoded.states.columns == ["offset", "boot_index", "tick", "part", "state"]


def test_a_later_version_is_refused():
    """A capture of a later version raises the same error as the reader."""
    with pytest.raises(WireTooNew, match=r"version 9 .* version 1 "):
        decode(EXAMPLE + line("I,9,a,b,c,1000,1,5"))


FIELDS = st.one_of(
    st.sampled_from(["", "0", "-0", "1.5", "-12.25", "0.1", "123456789012345", "-0.123456789012", "00.10"]),
    st.decimals(-99999, 99999, places=3).map(str),
    # what polars would take and the grammar does not, or the other way about
    st.sampled_from(
        [".5", "5.", "-.5", "-", "1-2", "1.2.3", "--1", "+1", "1e3", "nan", "inf", "0" * 16, "D", " 1"]
    ),
)
SOUND_FIELDS = st.sampled_from(["", "0", "-0", "1.5", "-12.25", "0.1", "123456789012345", "00.10"])


HURTS = st.sampled_from(["flip", "cut", "joined", "doubled", "star", "begin", "between"])


class Logger:
    """A logger that prints whatever hypothesis has it print."""

    def __init__(self, draw):
        self.draw = draw
        self.boot, self.channels = 1, draw(st.integers(1, 3))
        self.seq = draw(st.sampled_from([0, 5, 2**32 - 4]))
        self.fields = draw(st.sampled_from([SOUND_FIELDS, FIELDS]))

    def next_seq(self):
        self.seq = (self.seq + 1) % 2**32
        return (self.seq - 1) % 2**32

    def data(self):
        lines = []
        for _ in range(self.draw(st.integers(1, 6))):
            count = self.channels + (self.draw(st.integers(0, 9)) == 9)
            values = self.draw(st.lists(self.fields, min_size=count, max_size=count))
            seq = self.next_seq()
            lines.append(line(",".join(["D", str(seq), str(seq * 1000 % 2**32), *values])))
        return b"".join(lines)

    def mark(self):
        return line(f"M,{self.next_seq()},7," + self.draw(st.sampled_from(["lap", "chop", "sneeze"])))

    def state(self):
        return line("S,7,x," + self.draw(st.sampled_from(["ready", "fault", "dreaming"])))

    def block(self):
        self.channels = self.draw(st.sampled_from([self.channels, self.channels, 1, 2]))
        return block(self.boot, self.channels, self.draw(st.sampled_from(["1", "kPa"])))

    def half_a_block(self):
        return block(self.boot, 3)[:-20]

    def restart(self):
        self.boot, self.seq = self.boot + 1, self.draw(st.sampled_from([0, self.seq]))
        return self.draw(st.sampled_from([block(self.boot, self.channels), b""]))

    def gap(self):
        self.seq = (self.seq + self.draw(st.integers(-3, 5))) % 2**32
        return b""

    def odd(self):
        bodies = ["X,1", "D,1", "D,,,", "D,4294967296,0,1", "D,0,1", "M,1", "I,1", "C,0,a,1", ""]
        return line(self.draw(st.sampled_from(bodies)))

    def junk(self):
        return self.draw(st.binary(max_size=12))


def hurt(draw, data):
    """Do one thing to the bytes that noise, a cut or a full buffer does."""
    at, how = draw(st.integers(0, len(data) - 1)), draw(HURTS)
    if how == "flip":
        data[at] ^= 1 << draw(st.integers(0, 7))
    elif how == "cut":
        del data[at : at + draw(st.integers(1, 30))]
    elif how == "joined":
        data[at:] = data[at:].replace(b"\r\n", b"", 1)
    elif how == "doubled":
        data[at:at] = data[at : at + 40]
    elif how == "between":  # a sound or a malformed line where a line began
        at = max(0, data.find(b">", at))
        data[at:at] = line(draw(st.sampled_from(["D,3,0,1", "D,3,0,.5", "S,1,x,ready", "M,x", "X"])))
    else:
        data[at:at] = b"*" if how == "star" else b">"


@st.composite
def captures(draw):
    """Draw a capture, with a little damage or none."""
    logger = Logger(draw)
    prints = [*[logger.data] * 6, logger.mark, logger.state, logger.block, logger.half_a_block]
    prints += [logger.restart, logger.gap, logger.odd, logger.junk]
    parts = [logger.block()] if draw(st.booleans()) else []
    parts += [draw(st.sampled_from(prints))() for _ in range(draw(st.integers(0, 12)))]
    data = bytearray(b"".join(parts))
    for _ in range(draw(st.integers(0, 4))):
        if data:
            hurt(draw, data)
    return bytes(data)


@given(captures(), st.lists(st.integers(0, 2000), max_size=8), st.sampled_from([1, 40, 200, 1 << 21]))
@example(block() + data_lines([0, 1]) + line("D,2,20,.5"), [], 1 << 21)
@example(block(1, 2) + data_lines([0], 2) + data_lines([1], 3) + data_lines([2], 1), [], 1 << 21)
@example(block(1, 2) + line("D,0,0,1,\n") + line("D,1,0"), [], 1 << 21)
@example(block(1, 2).replace(b">C,1", line("D,0,0,.5,1") + b">C,1") + data_lines([1], 2), [], 1 << 21)
@example(block() + data_lines([0]) + line("D,,10,1.5") + data_lines([2]), [], 1 << 21)
@example(line("D,0,0" + ",1" * 250), [], 1 << 21)  # longer than 512 bytes
@example(block() + data_lines([0]) + line("D,1,10,1", end=b"\x8d\n") + data_lines([2]), [], 1 << 21)
def test_bulk_and_reader_agree_on_any_capture(data, cuts, block_bytes):
    """Segments, marks, states and every count are the same both ways, wherever blocks and chunks end."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bulk, "_BLOCK_BYTES", block_bytes)
        by_blocks = by_bulk(data)

    assert by_blocks == by_reader(data, cuts)


@given(captures())
def test_offsets_point_at_the_lines(data):
    """Read alone, the line at an offset is the row beside it."""
    decoded = decode(data)
    for segment in decoded.segments:
        for offset, *row in segment.frame.rows():
            end = data.find(b">", offset + 1)
            alone = data[offset : end if end >= 0 else len(data)]
            records, _ = read(block(9, len(segment.channels)) + alone)
            assert [records[-1].seq, records[-1].tick, *records[-1].values] == row
    for offset, *_ in [*decoded.marks.rows(), *decoded.states.rows()]:
        assert data[offset : offset + 3] in {b">M,", b">S,"}


def test_a_long_hurt_capture_is_the_same_both_ways():
    """Across several blocks of the usual size, one line in a hundred hurt, both ways agree."""
    lines = [line(f"D,{n},{n * 10},{n / 7:.4f},,{n}") for n in range(60_000)]
    for n in range(50, len(lines), 100):
        hurt = bytearray(lines[n])
        hurt[n * 7919 % len(hurt)] ^= 1 << n // 100 % 8
        lines[n] = bytes(hurt)
    data = block(1, 3) + b"".join(lines[:30_000]) + block(1, 3) + b"".join(lines[30_000:])

    assert len(data) > bulk._BLOCK_BYTES
    assert by_bulk(data) == by_reader(data)
    assert 500 < decode(data).counts.lines_damaged < 700
