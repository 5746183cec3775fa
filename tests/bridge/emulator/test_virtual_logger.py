"""The virtual logger: its bytes are what the wire format says, the same for the same seed."""

from dataclasses import replace

import polars as pl
import pytest

from bridge.emulator.engine import VirtualBike
from bridge.emulator.logger import LoggerSettings, VirtualLogger, channel, damaged
from bridge.emulator.ride import Phase, practice, short_ride
from bridge.emulator.scenario import Scenario, make_ride
from bridge.emulator.sensors import Sensor
from bridge.errors import BadValue
from bridge.wire.bulk import decode

SHORT = Scenario(script=short_ride(20.0))


def lines_of(wire):
    return [line.partition(b"*")[0].decode().split(",") for line in wire.split(b"\r\n") if line]


def test_the_same_seed_gives_the_same_bytes():
    """A ride is its scenario and its seed and nothing else."""
    first, again, other = make_ride(SHORT, 7), make_ride(SHORT, 7), make_ride(SHORT, 8)

    assert first.wire == again.wire
    assert first.truth.equals(again.truth)
    assert first.note == again.note
    assert first.wire != other.wire


def test_its_bytes_decode_without_damage_to_what_was_sampled():
    """Every line is good and there is one data line for each row of the truth, within the noise."""
    ride = make_ride(SHORT, 7)

    decoded = decode(ride.wire)
    frame = decoded.segments[0].frame

    assert decoded.counts.lines_damaged == decoded.counts.lines_lost == decoded.counts.junk_bytes == 0
    assert frame.height == ride.truth.height == 2000
    names = [c.name for c in decoded.segments[0].channels]
    assert names == ["lambda_1", "lambda_2", "egt_1", "egt_2", "rpm", "throttle"]
    assert (frame[f"v{names.index('rpm')}"] - ride.truth["rpm"]).abs().max() < 40.0
    told = frame.filter(pl.col("v0").is_not_null()).height
    assert told == pytest.approx(2000 - 300, abs=1)
    assert frame["tick"].to_list()[:3] == [0, 10_000, 20_000]


def test_blocks_states_and_marks_stand_where_the_format_wants_them():
    """A block at the start and every 10 s, each followed by the states; lambda is empty while it warms."""
    lines = lines_of(make_ride(SHORT, 7).wire)
    kinds = [fields[0] for fields in lines]
    blocks = [i for i, kind in enumerate(kinds) if kind == ">I"]

    assert len(blocks) == 2
    for at in blocks:
        assert kinds[at : at + 9] == [">I"] + [">C"] * 6 + [">S"] * 2
    states = [(fields[2], fields[3]) for fields in lines if fields[0] == ">S"]
    assert states[:2] == [("lambda_1", "warming"), ("lambda_2", "warming")]
    assert set(states[2:]) == {("lambda_1", "ready"), ("lambda_2", "ready")}
    ready = next(i for i, fields in enumerate(lines) if fields[-1] == "ready")
    assert all(f[3] == "" for f in lines[:ready] if f[0] == ">D")
    assert all(f[3] != "" for f in lines[ready:] if f[0] == ">D")
    assert [f[3] for f in lines if f[0] == ">M"] == ["chop"]


def test_a_slow_channel_leaves_the_fields_between_empty():
    """The thermocouple says five readings a second and gives one in twenty lines at 100 lines a second."""
    lines = lines_of(make_ride(SHORT, 7).wire)

    assert [">C", "2", "egt_1", "Cel", "5"] in lines
    told = [fields[5] != "" for fields in lines if fields[0] == ">D"]
    assert sum(told) == 100
    assert told[0]
    assert told[20]


def test_both_counters_wrap():
    """A ride that starts just below the end of both counters goes on at zero and loses nothing."""
    near = LoggerSettings(first_seq=2**32 - 500, first_tick=2**32 - 3_000_000)

    decoded = decode(make_ride(replace(SHORT, logger=near), 7).wire)
    frame = decoded.segments[0].frame

    assert decoded.counts.lines_lost == decoded.counts.restarts == 0
    assert frame["seq"][0] == 2**32 - 500
    assert frame["seq"].min() == 0
    assert frame["tick"][0] == 2**32 - 3_000_000
    assert frame["tick"].min() < 10_000


def test_a_restart_begins_anew_with_another_boot():
    """A logger that lost its supply is silent for a second, then counts from zero and warms again."""
    scenario = replace(SHORT, logger=LoggerSettings(boot=41, restarts_s=(9.0,)))

    wire = make_ride(scenario, 7).wire
    decoded = decode(wire)

    assert decoded.counts.restarts == 1
    assert decoded.counts.lines_lost == 0
    assert [s.identity.boot for s in decoded.segments] == [41, 42]
    assert sum(s.frame.height for s in decoded.segments) == pytest.approx(1900, abs=2)
    assert decoded.segments[1].frame["tick"][0] == 0
    assert [f[3] for f in lines_of(wire) if f[0] == ">S"].count("warming") == 4


def test_a_fast_clock_ticks_more_in_the_same_time():
    """A clock that is 100 ppm fast counts 2000 ticks too many in 20 s."""
    fast = replace(SHORT, logger=LoggerSettings(clock_ppm=100.0))

    last = [decode(make_ride(s, 7).wire).segments[0].frame["tick"][-1] for s in (SHORT, fast)]

    assert last[1] - last[0] == pytest.approx(1999, abs=1)


def test_other_units_and_channels_can_be_printed():
    """A channel printed in degrees Fahrenheit carries the same temperature."""
    names = ("lambda_1", "rpm", "throttle", "speed", "roller_rpm", "air_temp", "humidity", "battery", "cht_2")
    one = replace(SHORT, channels=tuple(map(channel, names)))
    plain = replace(SHORT, channels=(channel("cht_1", decimals=2),))
    other = replace(SHORT, channels=(channel("cht_1", "[degF]", 2),))

    assert [c.name for c in decode(make_ride(one, 7).wire).segments[0].channels] == list(names)
    celsius, fahrenheit = (decode(make_ride(s, 7).wire).segments[0].frame["v0"] for s in (plain, other))
    assert (celsius * 1.8 + 32.0 - fahrenheit).abs().max() < 0.02


def test_what_the_virtual_bike_cannot_do_is_refused_by_name():
    """A channel nobody knows, a cylinder that is not there, a unit that does not fit and a wild rate."""
    with pytest.raises(BadValue, match=r"no channel 'lamda_1'.*'lambda'"):
        channel("lamda_1")
    with pytest.raises(BadValue, match="kPa"):
        channel("rpm", "kPa")
    with pytest.raises(BadValue, match="has no egt_3"):
        make_ride(replace(SHORT, channels=(channel("egt_3"),)), 1)
    with pytest.raises(BadValue, match="5000"):
        make_ride(replace(SHORT, rate_hz=5000.0), 1)


@pytest.mark.parametrize("rate_hz", [1.0, 50.0, 1000.0])
def test_the_mean_mixture_does_not_depend_on_the_rate(rate_hz):
    """Lambda at full throttle is the scenario's at any rate of lines, and so is the reading."""
    scenario = Scenario(script=(Phase(40.0, 100.0, 9000.0),), rate_hz=rate_hz, sensor=Sensor())

    truth = make_ride(scenario, 3).truth

    for what in ("lambda_true_1", "seen_lambda_1"):
        assert truth[what].mean() == pytest.approx(0.87, abs=0.008)


def test_a_collector_and_a_two_stroke_single_print_what_they_have():
    """One sensor for all is called lambda; a single has one of each."""
    collector = replace(SHORT, bike=VirtualBike(sensor="collector"))
    single = replace(SHORT, bike=VirtualBike(strokes=2, cylinders=1, displacement_cc=125.0))

    names = [[c.name for c in decode(make_ride(s, 1).wire).segments[0].channels] for s in (collector, single)]

    assert names == [
        ["lambda", "egt_1", "egt_2", "rpm", "throttle"],
        ["lambda_1", "egt_1", "rpm", "throttle"],
    ]


def test_a_bad_cable_hurts_some_lines_and_the_rest_are_read():
    """Damage is seeded, is counted, and leaves most of the ride."""
    wire = make_ride(SHORT, 7).wire

    hurt = damaged(wire, 5)
    counts = decode(hurt).counts

    assert hurt == damaged(wire, 5) != damaged(wire, 6)
    assert 10 < counts.lines_damaged < 80
    assert counts.lines_good > 1900


def test_the_note_tells_the_seed_and_the_truth():
    """Whoever finds the log later reads what it is, and that it is invented."""
    ride = make_ride(Scenario(script=practice(laps=1), note="A clean ride."), 12)

    assert ride.note.startswith("A clean ride. An invented ride")
    assert "seed 12" in ride.note
    full = ride.truth.filter(pl.col("throttle") >= 95.0, pl.col("burning"))
    assert f"{full['lambda_true_1'].mean():.4f} in cylinder 1" in ride.note


def test_asked_for_it_says_who_it_is():
    """The answer to the question is a whole block and its states."""
    logger = VirtualLogger((channel("lambda_1"), channel("rpm")), LoggerSettings(boot=9))

    kinds = [fields[0] for fields in lines_of(logger.hello(0.0))]

    assert kinds == [">I", ">C", ">C", ">S"]
