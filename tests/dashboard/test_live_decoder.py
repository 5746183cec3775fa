"""The live page's decoding: the same values as the sealed session's, whenever and however the bytes come."""

import re

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.emulator import Scenario, channel, damaged, make_ride, short_ride
from bridge.emulator.logger import LoggerSettings
from bridge.link.capture import Chunk
from bridge.sealing.wire_frame import frame_from_capture
from bridge.wire import ChannelLine, Data, Identity, State, encode
from dashboard.live.clock import TickClock
from dashboard.live.columns import columns_of
from dashboard.live.decoder import Decoder

RATE_HZ = 50.0


def chunked(wire, sizes):
    """Cut bytes into chunks of these sizes, over and over, each as old as its last whole line says."""
    written = [(m.end(), int(m[1]) * 1000) for m in re.finditer(rb">D,\d+,(\d+),[^>]*\n", wire)]
    chunks, at, turn, come_ns = [], 0, 0, 0
    while at < len(wire):
        end = at + sizes[turn % len(sizes)]
        while written and written[0][0] <= end:
            come_ns = max(come_ns, written.pop(0)[1])
        chunks.append(Chunk(wire[at:end], come_ns + 10**12, come_ns + 10**18))
        at, turn = end, turn + 1
    return chunks


def as_frame(decoder, fresh):
    """Return rows as a frame of the kind that sealing makes."""
    names = [column.name for column in decoder.layouts[0]]
    values = [[None if value is False else value for value in row.values] for row in fresh.rows]
    frame = pl.DataFrame(values, schema=dict.fromkeys(names, pl.Float64), orient="row")
    return frame.insert_column(0, pl.Series("t_s", [row.t for row in fresh.rows]))


def chunk_frame(chunks):
    """Return what sealing is told of the same chunks."""
    lengths = np.array([len(chunk.data) for chunk in chunks])
    return pl.DataFrame(
        {
            "offset": pl.Series(np.cumsum(lengths) - lengths, dtype=pl.UInt64),
            "length": pl.Series(lengths, dtype=pl.UInt32),
            "monotonic_ns": [chunk.monotonic_ns for chunk in chunks],
            "utc_ns": [chunk.utc_ns for chunk in chunks],
        }
    )


@pytest.fixture(scope="module")
def wire():
    """Return the bytes of a short virtual ride with other units than ours and a slow channel."""
    names = [
        channel("lambda_1"),
        channel("egt_1", "K"),
        channel("rpm"),
        channel("throttle"),
        channel("air_pressure", "kPa"),
    ]
    return make_ride(Scenario(script=short_ride(20.0), rate_hz=RATE_HZ, channels=tuple(names)), 4).wire


@pytest.mark.parametrize("hurt", [False, True])
def test_the_same_as_sealing(wire, hurt):
    """Rows, values, marks, states and counts are those of the sealed session, also after a bad cable."""
    wire = damaged(wire, 3, flips=30, cuts=3, bursts=3) if hurt else wire
    chunks = chunked(wire, [97, 411, 13])
    decoder = Decoder()
    parts = [decoder.feed([chunk]) for chunk in chunks]
    live = pl.concat([as_frame(decoder, part) for part in parts if part.rows])
    sealed = frame_from_capture(wire, chunk_frame(chunks))

    assert live.columns == sealed.frame.columns
    ours = live.filter(pl.col("t_s") > live["t_s"][0] + 1.0)  # by then the clocks' offset has settled
    theirs = sealed.frame.tail(ours.height)
    for column in decoder.layouts[0]:
        # rounded to one digit more than is shown
        pair = ours[column.name].to_numpy(), theirs[column.name].to_numpy()
        assert np.allclose(*pair, rtol=0.0, atol=0.51 * 10.0 ** -(column.decimals + 1), equal_nan=True)
    offset = (ours["t_s"] - theirs["t_s"]).to_numpy()
    assert np.ptp(offset) < 0.03
    assert [m.what for part in parts for m in part.marks] == [m.what for m in sealed.marks]
    assert decoder.states == {s.part: s.state for s in sealed.states}
    if not hurt:  # sealing's close also judges the last, torn line
        assert decoder.counts.lines_good == sealed.counts["lines_good"]
    assert decoder.counts.lines_lost == sealed.counts["lines_lost"]


@given(sizes=st.lists(st.integers(1, 900), min_size=1, max_size=6), together=st.integers(1, 9))
@settings(max_examples=25, deadline=None)
def test_however_the_bytes_are_cut(wire, sizes, together):
    """The values do not depend on how the bytes were cut or on how many chunks are looked at together."""
    whole = Decoder().feed(chunked(wire, [len(wire)]))
    decoder, rows = Decoder(), []
    chunks = chunked(wire, sizes)
    for at in range(0, len(chunks), together):
        rows += decoder.feed(chunks[at : at + together]).rows

    assert [row.values for row in rows] == [row.values for row in whole.rows]


def lines(*values, name="lambda_1", unit="1", boot=1, first=0):
    """Return the bytes of a one-channel logger."""
    head = [Identity(1, "test", "1", "1", 1000, 1, boot), ChannelLine(0, name, unit)]
    return b"".join(map(encode, [*head, *(Data(first + i, i * 10, (v,)) for i, v in enumerate(values))]))


def fed(*pieces):
    """Return a decoder and all that it made of pieces that came a second apart."""
    decoder = Decoder()
    return decoder, decoder.feed([Chunk(piece, i * 10**9, i * 10**9) for i, piece in enumerate(pieces)])


def test_outside_its_limits_is_no_value():
    """A value outside its channel's limits is told apart from an empty field, and neither is a number."""
    _, fresh = fed(lines(0.87, 22.0, None))

    assert [row.values for row in fresh.rows] == [(0.87,), (False,), (None,)]


def test_units_are_brought_to_the_catalogue():
    """Kelvin comes out as degrees Celsius; a name of nobody's keeps its unit and its value."""
    _, hot = fed(lines(873.15, name="egt_1", unit="K"))
    decoder, own = fed(lines(873.15, name="my_thing", unit="K"))

    assert hot.rows[0].values == (pytest.approx(600.0),)
    assert own.rows[0].values == (873.15,)
    assert decoder.layouts[0][0].unit == "K"


def test_a_unit_that_does_not_fit_is_left_out():
    """A channel whose unit measures something else is left out, as sealing leaves it out; so is a second one."""
    told = [
        ChannelLine(0, "lambda_1", "V"),
        ChannelLine(1, "rpm", "/min"),
        ChannelLine(2, "rpm", "/min"),
        ChannelLine(3, "t_s", "s"),
    ]

    assert [column.name for column in columns_of(told)] == ["rpm"]


def test_a_restart_begins_the_states_anew():
    """After a restart the old states are gone, time still rises, and the lines go on."""
    before = lines(0.9, 0.9) + encode(State(20, "lambda_1", "ready"))
    decoder, fresh = fed(before, lines(0.8, 0.8, boot=2))
    times = [row.t for row in fresh.rows]

    assert decoder.states == {}
    assert decoder.counts.restarts == 1
    assert [row.values for row in fresh.rows] == [(0.9,), (0.9,), (0.8,), (0.8,)]
    assert times == sorted(times)


def test_a_later_version_is_said():
    """A logger of a later version is named in the bridge's own sentence, and nothing breaks."""
    decoder, fresh = fed(lines(0.9).replace(b">I,1,", b">I,9,"), lines(0.9))
    assert decoder.too_new is None  # the checksum no longer fits, so the line is only damaged

    newer = Decoder()
    body = b"I,9,test,1,1,1000,1,1"
    from zlib import crc32  # noqa: PLC0415  # for this one line

    newer.feed([Chunk(b">%b*%08X\r\n" % (body, crc32(body)), 0, 0)])

    assert fresh.rows
    assert "9" in newer.too_new


def test_the_last_good_line_has_its_arrival():
    """The age of the last line is that of good lines: noise that comes after them does not make them young."""
    decoder, _ = fed(lines(0.9), b"\x00\xff noise")

    assert decoder.last_line_s == 0.0


def test_late_arrivals_move_no_line():
    """Lines keep the device's spacing when some of them come late, and stand where the earliest puts them."""
    clock = TickClock(1000)
    on_time = [(i * 10, 100.0 + i * 0.01) for i in range(100)]
    late = [(tick, at + (0.03 if tick % 70 else 0.0)) for tick, at in on_time]

    assert clock.lay(late) == pytest.approx([at for _, at in on_time], abs=1e-6)


def test_a_wrap_of_the_ticks_is_a_step_like_any_other():
    """Time goes on evenly where the 32-bit counter wraps."""
    clock = TickClock(1000)
    laid = clock.lay([(2**32 - 5, 10.0), (5, 10.01), (15, 10.02)])

    assert np.diff(laid) == pytest.approx([0.01, 0.01])


def test_a_drifting_clock_is_followed():
    """A logger's clock that runs 100 ppm slow is still on time after an hour."""
    clock = TickClock(1000)
    laid = [clock.lay([(round(s * 1000 * (1 - 100e-6)), float(s))])[0] for s in range(0, 3600, 5)]

    assert laid[-1] == pytest.approx(3595.0, abs=0.05)


def test_a_restart_in_a_virtual_ride():
    """A logger that loses its supply in mid-ride is followed through it, as sealing does."""
    scenario = Scenario(script=short_ride(20.0), rate_hz=RATE_HZ, logger=LoggerSettings(restarts_s=(8.0,)))
    wire = make_ride(scenario, 5).wire
    decoder = Decoder()
    fresh = decoder.feed(chunked(wire, [300]))

    assert decoder.counts.restarts == 1
    assert len(fresh.rows) == frame_from_capture(wire, None).frame.height
