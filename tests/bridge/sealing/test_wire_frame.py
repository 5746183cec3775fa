"""From bytes to samples: time, units, limits, restarts, damage."""

import zlib
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from bridge.errors import BadValue, WireTooNew
from bridge.model import Mark, PartState
from bridge.sealing import frame_from_capture
from tests.bridge.sealing.wire_rides import block, chunks, data, mark, rows, state


def test_a_plain_ride():
    """Each data line is a row with the device's own time; marks and states stand beside."""
    wire = block() + state(1000) + data(rows(50), first_tick=1010) + mark(50, 1515, "chop")

    sealed = frame_from_capture(wire, None)

    assert sealed.frame.schema == {
        "t_s": pl.Float64,
        "lambda_1": pl.Float32,
        "egt_1": pl.Float32,
        "rpm": pl.Float32,
    }
    assert sealed.frame["t_s"].to_list() == pytest.approx([0.01 + i / 100 for i in range(50)])
    assert sealed.frame["egt_1"].to_list() == [588 + i for i in range(50)]
    assert sealed.units == {"lambda_1": "1", "egt_1": "Cel", "rpm": "/min"}
    assert sealed.states == (PartState(0.0, "lambda_1", "ready"),)
    assert sealed.marks == (Mark(pytest.approx(0.515), "chop", "wire"),)
    assert sealed.started_utc is None
    assert sealed.notes == ()
    assert sealed.counts == {
        "lines_good": 56,
        "lines_damaged": 0,
        "lines_lost": 0,
        "junk_bytes": 0,
        "restarts": 0,
    }


def test_the_same_bytes_come_to_the_same():
    """Sealing twice gives the same samples, value for value."""
    wire = block() + data(rows(30)) + block(boot=2) + data(rows(30))
    came = chunks(wire, 100, 8_000_000)

    one, two = frame_from_capture(wire, came), frame_from_capture(wire, came)

    assert one.frame.equals(two.frame)
    assert (one.marks, one.notes, one.started_utc) == (two.marks, two.notes, two.started_utc)


def test_damage_costs_the_damaged_lines_and_is_told():
    """A hurt line is missing, its neighbours keep their values and times, and the notes count it."""
    wire = bytearray(block() + data(rows(20)))
    wire[wire.index(b">D,7,") + 6] ^= 1
    sealed = frame_from_capture(bytes(b"junk" + wire), None)

    assert sealed.frame.height == 19
    assert 595 not in sealed.frame["egt_1"].to_list()
    assert sealed.frame["t_s"].to_list() == pytest.approx([i / 100 for i in range(20) if i != 7])
    assert (sealed.counts["lines_damaged"], sealed.counts["lines_lost"]) == (1, 1)
    assert any("1 line damaged" in note for note in sealed.notes)
    assert any("1 line lost" in note for note in sealed.notes)


def test_an_empty_field_is_null_and_never_the_last_value():
    """An empty field is no reading."""
    sealed = frame_from_capture(block() + data([(0.9, None, 5000), (None, 600, 5100)]), None)

    assert sealed.frame["egt_1"].to_list() == [None, 600]
    assert sealed.frame["lambda_1"].to_list() == [pytest.approx(0.9), None]


def test_units_are_converted():
    """A unit that fits its channel is converted to the catalogue's."""
    channels = (("egt_1", "[degF]"), ("air_pressure", "kPa"), ("speed", "m/s"), ("coolant_temp", "K"))
    sealed = frame_from_capture(block(channels) + data([(1000, 100.2, 10, 300)]), None)

    assert sealed.frame.select(pl.exclude("t_s")).row(0) == pytest.approx(
        (537.7778, 1002.0, 36.0, 26.85), rel=1e-6
    )
    assert sealed.units == {"egt_1": "Cel", "air_pressure": "hPa", "speed": "km/h", "coolant_temp": "Cel"}


def test_values_out_of_their_limits():
    """A value out of its channel's limits, in the catalogue's unit, becomes null and is counted in words."""
    sealed = frame_from_capture(
        block((("egt_2", "[degF]"),)) + data([(1000,), (2500,), (3000,), (-100,)]), None
    )

    assert sealed.frame["egt_2"].null_count() == 3
    assert "egt_2: 3 values outside -60..1300 Cel left out" in sealed.notes


def test_a_unit_that_does_not_fit():
    """An import with a unit that does not fit is refused; a recording leaves that channel out and says so."""
    wire = block((("egt_1", "kPa"), ("rpm", "/min"))) + data([(600, 5000), (601, 5010)])
    with pytest.raises(BadValue, match=r"egt_1.*kPa"):
        frame_from_capture(wire, None, strict=True)

    sealed = frame_from_capture(wire, None)

    assert sealed.frame.columns == ["t_s", "rpm"]
    assert any("egt_1" in note and "kPa" in note for note in sealed.notes)


def test_a_channel_that_is_not_in_the_catalogue():
    """An unknown channel is kept as it came, with its unit, and without limits."""
    sealed = frame_from_capture(
        block((("knock_level", "mV"), ("odd", "furlong"))) + data([(9e4, -3)]), None, strict=True
    )

    assert sealed.frame.select("knock_level", "odd").row(0) == (9e4, -3)
    assert sealed.units == {"knock_level": "mV", "odd": "furlong"}


def test_raw_sensors_are_kept_as_they_came():
    """Voltages and currents that need a calibration are channels of their own."""
    channels = (("throttle_voltage", "mV"), ("egt_emf", "mV"), ("pump_current", "mA"))
    sealed = frame_from_capture(block(channels) + data([(2500, 24.4, -0.3)]), None)

    assert sealed.frame.select(pl.exclude("t_s")).row(0) == pytest.approx((2.5, 24.4, -0.3), rel=1e-6)


def test_a_second_block_starts_a_segment():
    """A channel that is added and a unit that changes: earlier samples keep their meaning."""
    wire = (
        block((("egt_1", "Cel"),)) + data([(600,), (601,)])
        + block((("egt_1", "[degF]"), ("rpm", "/min"))) + data([(1112, 5000)], first_seq=2, first_tick=20)
    )  # fmt: skip  # two blocks, two lines
    sealed = frame_from_capture(wire, None)

    assert sealed.frame["egt_1"].to_list() == pytest.approx([600, 601, 600])
    assert sealed.frame["rpm"].to_list() == [None, None, 5000]
    assert sealed.frame["t_s"].to_list() == pytest.approx([0, 0.01, 0.02])


def test_restarts_without_arrival_times():
    """Nobody noted the arrival: the starts of the logger stand one second apart, said in a note."""
    wire = block(boot=1) + data(rows(11), first_tick=500) + block(boot=2) + data(rows(11), first_tick=0)
    sealed = frame_from_capture(wire, None)

    assert sealed.frame["t_s"].to_list() == pytest.approx(
        [i / 100 for i in range(11)] + [1.1 + i / 100 for i in range(11)]
    )
    assert sealed.counts["restarts"] == 1
    assert any("1 s apart" in note for note in sealed.notes)
    assert any("started anew once" in note for note in sealed.notes)


def test_restarts_by_arrival_time():
    """With arrival times a silence between two starts is as long as it was."""
    first, second = block(boot=1) + data(rows(100)), block(boot=2) + data(rows(100), first_tick=4_000_000)
    came = pl.concat(
        [
            chunks(first, 200, 10_000_000),
            chunks(second, 200, 10_000_000, begin_ns=65_000_000_000).with_columns(
                pl.col("offset") + len(first)
            ),
        ],
    )
    sealed = frame_from_capture(first + second, came)

    gap = sealed.frame["t_s"][100] - sealed.frame["t_s"][99]
    assert 59 < gap < 61
    assert not any("apart" in note for note in sealed.notes)
    assert sealed.frame["t_s"].diff().drop_nulls().min() > 0


def test_the_start_is_the_arrival_of_the_first_line():
    """A session starts when its first line came in, which is its second zero."""
    wire = block() + data(rows(200))
    line = len(data(rows(1)))
    sealed = frame_from_capture(wire, chunks(wire, line, 10_000_000))

    assert sealed.frame["t_s"][0] == 0.0
    first = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=1_780_000_000)
    # the block before the first data line is a few chunks of 10 ms
    assert timedelta(0) <= sealed.started_utc - first < timedelta(seconds=0.1)


def test_late_arrivals_do_not_bend_the_devices_clock():
    """The steps between samples are those of the device, however unevenly the bytes came in."""
    wire = block() + data(rows(500))
    came = chunks(wire, 333, 90_000_000)
    jitter = np.random.default_rng(1).integers(0, 50_000_000, came.height).cumsum() // 100
    came = came.with_columns(pl.col("monotonic_ns") + jitter)

    steps = frame_from_capture(wire, came).frame["t_s"].diff().drop_nulls()

    assert steps.to_numpy() == pytest.approx(np.full(499, 0.01), abs=1e-9)


def test_time_always_rises():
    """A line whose tick is not after the one before is left out and counted."""
    wire = (
        block()
        + data(rows(5))
        + data(rows(2), first_seq=5, first_tick=30)
        + data(rows(2), first_seq=7, first_tick=50)
    )
    sealed = frame_from_capture(wire, None)

    assert sealed.frame["t_s"].to_list() == pytest.approx([0, 0.01, 0.02, 0.03, 0.04, 0.05, 0.06])
    assert any("2 lines left out" in note for note in sealed.notes)


def test_a_wrapped_tick_goes_on():
    """The device's clock wraps at 32 bits and time goes on."""
    sealed = frame_from_capture(
        block()
        + b"".join(data(rows(1), first_seq=i, first_tick=(2**32 - 20 + 10 * i) % 2**32) for i in range(5)),
        None,
    )

    assert sealed.frame["t_s"].to_list() == pytest.approx([0, 0.01, 0.02, 0.03, 0.04])


def test_a_later_version_is_not_read():
    """A logger that speaks a later version is refused with both versions."""
    body = b"I,2,bench-logger,0.3,0007,1000,1,1"
    with pytest.raises(WireTooNew, match="2"):
        frame_from_capture(b">" + body + b"*%08X\r\n" % zlib.crc32(body) + data([(1,)]), None)


@pytest.mark.parametrize("wire", [b"", b"certainly no wire", block()])
def test_bytes_without_a_data_line(wire):
    """Bytes without a data line come to no samples, not to an error: a recording of silence is one too."""
    sealed = frame_from_capture(wire, chunks(wire, 50, 1_000_000))

    assert sealed.frame.height == 0
    assert sealed.frame.columns[0] == "t_s"
    assert sealed.seconds == 0.0


def test_data_before_the_first_block_are_read_once_it_has_come():
    """Lines that came before anyone knew what they say are read like the others."""
    sealed = frame_from_capture(data(rows(3)) + block() + data(rows(3), first_seq=3, first_tick=30), None)

    assert sealed.frame["t_s"].to_list() == pytest.approx([0, 0.01, 0.02, 0.03, 0.04, 0.05])
