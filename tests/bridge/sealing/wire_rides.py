"""Rides as a logger prints them, through the project's own encoder, with known truth."""

import polars as pl

from bridge.wire import ChannelLine, Data, Identity, Mark, State, encode

TWIN = (("lambda_1", "1"), ("egt_1", "Cel"), ("rpm", "/min"))


def block(channels=TWIN, boot=1, rate=1000):
    """An identity with its channels."""
    head = Identity(1, "bench-logger", "0.3", "0007", rate, len(channels), boot)
    lines = [ChannelLine(i, name, unit) for i, (name, unit) in enumerate(channels)]
    return b"".join(map(encode, [head, *lines]))


def data(rows, first_seq=0, first_tick=0, step=10):
    """Data lines, evenly apart."""
    return b"".join(
        encode(Data(first_seq + i, first_tick + i * step, tuple(row))) for i, row in enumerate(rows)
    )


def mark(seq, tick, what="lap"):
    """A mark line."""
    return encode(Mark(seq, tick, what))


def state(tick, part="lambda_1", word="ready"):
    """A state line."""
    return encode(State(tick, part, word))


def rows(count, rpm=6000):
    """Values of the twin's channels that can be told apart."""
    return [(0.85 + i / 1000, 588 + i, rpm + i) for i in range(count)]


def chunks(data_, size, period_ns, begin_ns=5_000_000_000, utc_ns=1_780_000_000_000_000_000):
    """Arrival times of pieces of one size, evenly apart."""
    offsets = list(range(0, len(data_), size))
    return pl.DataFrame(
        {
            "offset": offsets,
            "length": [len(data_[o : o + size]) for o in offsets],
            "monotonic_ns": [begin_ns + i * period_ns for i in range(len(offsets))],
            "utc_ns": [utc_ns + i * period_ns for i in range(len(offsets))],
        },
        schema={"offset": pl.UInt64, "length": pl.UInt32, "monotonic_ns": pl.Int64, "utc_ns": pl.Int64},
    )
