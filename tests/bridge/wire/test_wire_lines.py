"""Lines both ways: one list of cases drives the encoder and the reader."""

import math
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import BadValue, WireTooNew
from bridge.wire import (
    NEED_DATA,
    ChannelLine,
    Counts,
    Data,
    Identity,
    Mark,
    Reader,
    State,
    Unknown,
    encode,
)
from bridge.wire.grammar import read_body
from tests.bridge.wire.wire_helpers import EXAMPLE, block, line, read, read_chunks

IDENTITY = Identity(1, "bench-logger", "0.3", "0007", 1_000_000, 4, 812)
CHANNELS = [
    ChannelLine(0, "lambda_1", "1"),
    ChannelLine(1, "egt_1", "Cel", 5.0),
    ChannelLine(2, "rpm", "/min"),
    ChannelLine(3, "throttle", "%"),
]
EXAMPLE_RECORDS = [
    IDENTITY,
    *CHANNELS,
    State(1_200_345, "lambda_1", "ready"),
    Data(0, 1_210_345, (0.874, 588.0, 6120.0, 42.5)),
    Data(1, 1_220_345, (0.871, None, 6135.0, 42.5)),
    Mark(2, 1_221_000, "lap"),
]
OPENING = [Identity(1, "a", "b", "c", 1000, 2, 5), ChannelLine(0, "x", "1"), ChannelLine(1, "y", "kPa", 0.5)]
CASES = [
    (EXAMPLE_RECORDS, EXAMPLE),
    (OPENING, None),
    ([*OPENING, Data(0, 0, (None, None))], None),
    ([*OPENING, Data(2**32 - 1, 2**32 - 1, (-0.5, 12345678.123456)), Data(0, 0, (0.0, -1e6))], None),
    (
        [*OPENING, *(Mark(n, n, what) for n, what in enumerate(("chop", "lap", "start", "stop", "mark")))],
        None,
    ),
    ([*OPENING, *(State(9, "y", state) for state in ("warming", "ready", "fault", "off"))], None),
    ([*OPENING, Unknown("Q", ("7", "", "new thing")), Unknown("S", ("7", "x", "dreaming"))], None),
    ([*OPENING, Unknown("M", ("7", "8", "sneeze"), 7), Unknown("q", ())], None),
]


def good(records):
    unknown = sum(isinstance(record, Unknown) for record in records)
    return Counts(lines_good=len(records), unknown_lines=unknown)


def test_checksum_is_the_published_one():
    """The CRC-32 of ISO 3309 and ITU-T V.42 gives CBF43926 for 123456789 (published check value)."""
    assert zlib.crc32(b"123456789") == 0xCBF43926
    assert encode(Unknown("123456789", ())) == b">123456789*CBF43926\r\n"


def test_example_is_written_to_the_byte():
    """The encoder writes the example of the format's description byte for byte."""
    assert b"".join(map(encode, EXAMPLE_RECORDS)) == EXAMPLE


@pytest.mark.parametrize(("records", "golden"), CASES)
@pytest.mark.parametrize(
    "way", ["whole", "byte by byte", "trailing bytes", "after junk", "no line ends", "LF"]
)
def test_what_is_encoded_is_read_back(records, golden, way):
    """Each case comes back as it went in, however it arrives and whatever stands around it."""
    written = b"".join(map(encode, records))
    assert golden in (None, written)
    parts, junk = [written], 0
    if way == "byte by byte":
        parts = [written[i : i + 1] for i in range(len(written))]
    elif way == "trailing bytes":
        parts, junk = [written + b"\x00\xffabc\r\n"], 5
    elif way == "after junk":
        parts, junk = [b"*\x00\x80Rubbish,1*\r\n\n" + written], 13
    elif way == "no line ends":
        parts = [written.replace(b"\r\n", b"")]
    elif way == "LF":
        parts = [written.replace(b"\r\n", b"\n")]

    got, counts = read_chunks(parts)

    assert [record for _, record in got] == records
    assert counts == good(records) + Counts(junk_bytes=junk)


def test_a_line_is_read_with_its_last_digit():
    """A line needs neither its line end nor the next line to be accepted."""
    reader = Reader()
    reader.feed(EXAMPLE[:-3])
    before = [reader.next_record() for _ in range(9)]
    reader.feed(EXAMPLE[-3:-2])

    assert before[-1] is NEED_DATA
    assert reader.next_record() == Mark(2, 1_221_000, "lap")


NUMBERS = st.one_of(
    st.none(),
    st.floats(-1e8, 1e8).map(lambda value: round(value, 6)),
    st.integers(-(10**6), 10**14).map(float),
)
COUNTERS = st.integers(0, 2**32 - 1)
TEXTS = st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E, exclude_characters=",*>"), max_size=20)
NAMES = TEXTS.filter(bool)
RECORDS = st.one_of(
    st.builds(Data, COUNTERS, COUNTERS, st.lists(NUMBERS, max_size=12).map(tuple)),
    st.builds(Mark, COUNTERS, COUNTERS, st.sampled_from(["chop", "lap", "start", "stop", "mark"])),
    st.builds(State, COUNTERS, NAMES, st.sampled_from(["warming", "ready", "fault", "off"])),
    st.builds(ChannelLine, st.integers(0, 99), NAMES, NAMES, st.none() | st.sampled_from([0.1, 5.0, 12.5])),
    st.builds(Identity, st.just(1), TEXTS, TEXTS, TEXTS, st.integers(1, 10**9), st.integers(0, 99), COUNTERS),
    st.builds(
        Unknown, NAMES.filter(lambda kind: kind not in set("ICDMS")), st.lists(TEXTS, max_size=5).map(tuple)
    ),
)


def nearest_written(record):
    """Return a data record as its 15 characters can carry it: 8 figures before the point leave 6 behind."""
    if not isinstance(record, Data):
        return record
    return Data(
        record.seq, record.tick, tuple(v if v is None else pytest.approx(v, abs=1e-5) for v in record.values)
    )


@given(RECORDS)
def test_any_record_survives_the_round_trip(record):
    """What the encoder writes the grammar reads as the same record, values to what 15 characters can hold."""
    written = encode(record)
    body = written[1:-11]

    assert written == line(body)
    assert len(written) <= 512
    assert read_body(body) == nearest_written(record)


@given(st.floats(-99_999_999_999_999, 999_999_999_999_999))
def test_values_are_written_short_and_near(value):
    """A value takes at most 15 characters, no exponent, and comes back within half of its last decimal."""
    written = encode(Data(0, 0, (value,)))[7:-11].decode()
    decimals = len(written.partition(".")[2])
    digits_before = len(f"{abs(value):.0f}") + (value < 0)
    allowed = min(6, max(0, 15 - 1 - digits_before))

    assert len(written) <= 15
    assert set(written) <= set("-0123456789.")
    assert decimals <= 6
    assert abs(float(written) - value) <= 0.5 * 10.0**-allowed * (1 + 1e-9) + 1e-9


@pytest.mark.parametrize(
    ("record", "says"),
    [
        (Data(0, 0, (math.nan,)), "None for no valid reading"),
        (Data(0, 0, (math.inf,)), "None for no valid reading"),
        (Data(0, 0, (1e15,)), "15 characters"),
        (Data(0, 0, (-1e14,)), "15 characters"),
        (Data(2**32, 0, ()), "seq 4294967296 does not fit 32 bits"),
        (Data(0, -1, ()), "tick -1 does not fit 32 bits"),
        (Data(0, 0, (1.123456,) * 60), "512"),
        (Mark(0, 0, "sneeze"), "chop, lap, start, stop, mark"),
        (State(0, "", "ready"), "part is empty"),
        (State(0, "x", "dreaming"), "warming, ready, fault, off"),
        (ChannelLine(0, "rpm,1", "1"), "channel name 'rpm,1'"),
        (ChannelLine(0, "rpm", "/min*"), "unit '/min*'"),
        (ChannelLine(0, "rpm", ""), "unit is empty"),
        (ChannelLine(-1, "rpm", "1"), "index -1"),
        (ChannelLine(0, "rpm", "1", 0.0), "leave the rate out"),
        (Identity(2, "a", "b", "c", 1, 1, 1), "version 1 of the wire format, not 2"),
        (Identity(1, "é", "b", "c", 1, 1, 1), "printable ASCII"),
        (Identity(1, "a>", "b", "c", 1, 1, 1), "'a>'"),
        (Identity(1, "a", "b", "c", 0, 1, 1), "0 ticks a second"),
        (Identity(1, "a", "b", "c", 1, 1, 10**15), "boot 1000000000000000"),
        (Unknown("", ()), "kind is empty"),
        (Unknown("Q", ("\n",)), "printable ASCII"),
    ],
)
def test_what_the_format_cannot_carry_is_refused(record, says):
    """The encoder refuses in one sentence what no line may hold."""
    with pytest.raises(BadValue, match=r"\A[^\n]+\Z") as caught:
        encode(record)

    assert says in str(caught.value)


@pytest.mark.parametrize(
    "field",
    [
        *(
            "1e3",
            "nan",
            "inf",
            "+1",
            "1_0",
            " 1",
            "1 ",
            "0x1",
            "-",
            "--1",
            "1-",
            ".5",
            "5.",
            "-.5",
            "1.2.3",
            "1.-2",
        ),
        *(
            "1234567890123456",
            "-123456789012345",
            "0.12345678901234",
            "0000000000000001",
            "٣",
            "D",
            "1\n",
            "1;2",
        ),
    ],
)
def test_a_bad_number_damages_its_line(field):
    """Only a minus or nothing, digits, and a point between digits is a number, whatever the checksum says."""
    records, counts = read(block() + line(f"D,0,0,{field}"))

    assert not any(isinstance(record, Data) for record in records)
    assert counts == Counts(lines_good=2, lines_damaged=1)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("", None),
        ("0", 0.0),
        ("-0", 0.0),
        ("007", 7.0),
        ("-00.50", -0.5),
        ("123456789012345", 123456789012345.0),
        ("-0.123456789012", -0.123456789012),
    ],
)
def test_a_good_number_is_its_value(field, value):
    """Digits mean their value; an empty field is no reading, never zero."""
    records, _ = read(block() + line(f"D,0,0,{field}"))

    assert records[-1] == Data(0, 0, (value,))


@pytest.mark.parametrize(
    "body",
    [
        *(
            "D",
            "D,",
            "D,1",
            "D,,1,1",
            "D,1,,1",
            "D,-1,0,1",
            "D,1.0,0,1",
            "D,4294967296,0,1",
            "D,0,4294967296,1",
        ),
        *("D,0,0", "D,0,0,1,2", "M,0,0", "M,0,0,lap,1", "M,0,0,", "M,x,0,lap", "M,0,4294967296,lap"),
        *("S,0,x", "S,0,x,ready,1", "S,,x,ready", "S,0,,ready", "S,0,x,", "S,-1,x,ready"),
        *("C,0,x", "C,x,x,1", "C,0,,1", "C,0,x,", "C,0,x,1,0", "C,0,x,1,-5", "C,0,x,1,fast", "C,0,x,1,5,5"),
        *("I,1,a,b,c,1000,1", "I,1,a,b,c,1000,1,5,6", "I,0,a,b,c,1000,1,5", "I,x,a,b,c,1000,1,5", "I"),
        *(
            "I,1,a,b,c,0,1,5",
            "I,1,a,b,c,1e3,1,5",
            "I,1,a,b,c,1000,,5",
            "I,1,a,b,c,1000,1,-5",
            "",
            ",1",
            "Q,\x7f",
            "Q\t",
        ),
    ],
)
def test_a_malformed_body_damages_its_line(body):
    """A known kind with fields too many, too few or wrong is damaged, whatever its checksum."""
    _, counts = read(block() + line(body) + line("Q"))

    assert counts == Counts(lines_good=3, lines_damaged=1, unknown_lines=1)


def test_a_later_version_is_refused_by_name():
    """An identity line of a higher version raises an error that names both versions."""
    with pytest.raises(WireTooNew, match=r"version 2 .* version 1 "):
        read(line("I,2,anything"))
