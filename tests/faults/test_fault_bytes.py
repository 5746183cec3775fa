"""Bits flipped, lines cut and joined at random: no damaged line becomes a reading, however it was hurt."""

import random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.wire import NEED_DATA, Data, Reader, decode
from tests.faults.fault_kit import block, data_line

LINES = [data_line(i, i * 10) for i in range(3000)]
TRUE = {(i, i * 10, 0.7 + i % 500 / 1000, 2000.0 + i % 9000) for i in range(3000)}
FUZZED_BYTES = 1_000_000


def readings(data):
    """Return every reading that a capture comes to, by the bulk way."""
    rows = set()
    for segment in decode(data).segments:
        rows |= set(segment.frame.select("seq", "tick", "v0", "v1").iter_rows())
    return rows


def by_reader(data, size):
    """Return every reading that a capture comes to, piece by piece."""
    reader, rows = Reader(), set()
    for begin in range(0, len(data), size):
        reader.feed(data[begin : begin + size])
        while (record := reader.next_record()) is not NEED_DATA:
            if isinstance(record, Data):
                rows.add((record.seq, record.tick, *record.values))
    return rows


def close(rows):
    """Return rows with their values rounded, since 0.7 + 0.001 is not what its six decimals say."""
    return {(seq, tick, *(None if v is None else round(v, 6) for v in values)) for seq, tick, *values in rows}


def hurt(rng, lines):
    """Hurt about every third line in one of the ways of a bad cable, a full buffer or a reset."""
    out = bytearray(block())
    for line in lines:
        part, how = bytearray(line), rng.random()
        if how < 0.12:
            for _ in range(rng.choice((1, 1, 1, 2, 5))):
                part[rng.randrange(len(part))] ^= 1 << rng.randrange(8)
        elif how < 0.17:
            del part[rng.randrange(len(part)) :]
        elif how < 0.22:
            del part[: rng.randrange(len(part))]
        elif how < 0.26:
            begin = rng.randrange(len(part))
            del part[begin : begin + rng.randrange(1, 9)]
        elif how < 0.30:
            begin = rng.randrange(len(part))
            part[begin:begin] = rng.randbytes(rng.randrange(1, 9))
        elif how < 0.33:
            part = part[:-2]
        out += part
    return bytes(out)


def test_a_million_fuzzed_bytes_hold_no_reading_that_was_not_sent():
    """Of more than a million bytes of hurt lines every reading that comes out is one that was sent."""
    rng = random.Random(5)
    fuzzed, kept, truth = 0, 0, close(TRUE)
    while fuzzed < FUZZED_BYTES:
        data = hurt(rng, LINES)
        found = close(readings(data))
        assert found <= truth
        assert close(by_reader(data, rng.choice((1000, 4096)))) == found
        fuzzed += len(data)
        kept += len(found)
    assert kept > fuzzed / len(LINES[-1]) / 2


def test_random_bytes_around_the_lines_make_no_reading():
    """Junk as a port at a wrong speed gives it, a million bytes of it with true lines strewn in, adds nothing."""
    rng = random.Random(6)
    alphabet = bytes(range(256)) + b">*D,0123456789ABCDEF" * 20
    parts = [block()]
    for line in LINES[:1000]:
        parts += [bytes(rng.choices(alphabet, k=1000)), line]
    data = b"".join(parts)

    found = close(readings(data))

    assert len(data) > FUZZED_BYTES
    assert found <= close(TRUE)
    assert len(found) == 1000


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.integers(0, 199), min_size=1, max_size=60),
    st.lists(
        st.tuples(st.integers(0, 2**31), st.sampled_from(["flip", "cut", "join", "swap", "insert"])),
        max_size=30,
    ),
    st.binary(max_size=20),
)
def test_any_hurt_gives_only_what_was_sent(picked, hurts, junk):
    """Whatever is flipped, cut, joined, moved or put in between, what is read was sent."""
    data = bytearray(block() + b"".join(LINES[i] for i in sorted(picked)))
    for place, how in hurts:
        at = len(block()) + place % max(1, len(data) - len(block()))
        if how == "flip":
            data[at : at + 1] = bytes(b ^ (1 << place % 8) for b in data[at : at + 1])
        elif how == "cut":
            del data[at : at + 1 + place % 60]
        elif how == "join":
            data[:] = data.replace(b"\r\n", b"", 1 + place % 3)
        elif how == "swap":
            data[at : at + 20] = data[at : at + 20][::-1]
        else:
            data[at:at] = junk
    assert close(readings(bytes(data))) <= close(TRUE)
