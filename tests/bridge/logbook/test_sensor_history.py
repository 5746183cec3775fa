"""What the bike's file and the sensor's history make of a session, through the logbook and back."""

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from bridge.channels import SensorEvent
from bridge.errors import BadValue, UnknownThing
from bridge.logbook import Logbook
from bridge.model import Bike, ChannelFrom, PartState, SensorCell
from bridge.model.sealed import SealedFrame
from bridge.model.sensor_known import state_of

NAME = "Chalk Pit 400"
STARTED = datetime(2026, 5, 14, 9, 20, tzinfo=UTC)
WEEK_BEFORE = STARTED - timedelta(days=7)


def told(**keys):
    """One channel as the bike's file tells it."""
    return ChannelFrom.model_validate(keys)


def bike(**changes):
    """The twin with some channels of its own."""
    return Bike(name=NAME, strokes=4, cylinders=2, displacement_cc=398, **changes)


THROTTLE = told(**{"from": "throttle_voltage", "points": [(0.5, 0.0), (4.5, 100.0)]})
TABLE = told(
    **{"from": "pump_current", "points": [(-2.0, 0.6), (0.0, 1.0), (1.0, 2.0)], "table": "sensor.csv"}
)
PROBE = told(**{"from": "egt_emf", "type": "K", "cold_junction_c": 25.0})


@pytest.fixture
def ride(book):
    """Add a session of the bike with these channels and states, and give its number."""

    def add(states=(), **columns):
        n = len(next(iter(columns.values())))
        t = {"t_s": np.arange(n) / 10.0}
        frame = pl.DataFrame(t | {k: pl.Series(v, dtype=pl.Float32) for k, v in columns.items()})
        raw = book.folder.parent / "ride.csv"
        raw.write_text("a ride", encoding="utf-8")
        return book.logbook.import_session(
            SealedFrame(frame, {}, states=states),
            raw,
            sha256="0" * 64,
            bike=NAME,
            place=None,
            started=STARTED,
            again=True,
        )

    return add


def seen(run, name):
    """One column of a run."""
    return run.samples.select(name).collect()[name].to_list()


def test_each_kind_of_channel(book, ride):
    """Volts, a pump current and a thermocouple come out of the logbook as throttle, lambda and temperature."""
    book.logbook.add_bike(bike(channel={"throttle": THROTTLE, "lambda": TABLE, "egt": PROBE}))
    # published: NIST Monograph 175, 700 Cel against 25 Cel is 28.128731 mV
    number = ride(throttle_voltage=[2.5], pump_current_1=[-1.0], egt_emf_1=[28.128731])
    run = book.logbook.run(number)

    assert seen(run, "throttle") == pytest.approx([50.0])
    assert seen(run, "lambda_1") == pytest.approx([0.8])
    assert seen(run, "egt_1") == pytest.approx([700.0], abs=0.01)
    assert len(run.notes) == 3
    assert "the table sensor.csv" in " ".join(run.notes)


def test_a_corrected_bike_file_holds_for_its_old_sessions(book, ride):
    """Samples on disk stay as recorded, so that a corrected calibration holds for a session of before."""
    number = ride(throttle_voltage=[2.5])
    before = book.logbook.run(number).samples.collect_schema().names()
    book.logbook.add_bike(bike(channel={"throttle": THROTTLE}))
    first = seen(book.logbook.run(number), "throttle")
    corrected = told(**{"from": "throttle_voltage", "points": [(2.0, 0.0), (4.0, 100.0)]})
    book.logbook.add_bike(bike(channel={"throttle": corrected}))

    assert "throttle" not in before
    assert first == pytest.approx([50.0])
    assert seen(book.logbook.run(number), "throttle") == pytest.approx([25.0])


def test_recorded_is_what_was_recorded(book, ride):
    """`recorded` gives the samples of the disk: no channel worked out, no lambda corrected."""
    book.logbook.add_bike(bike(channel={"throttle": THROTTLE}))
    book.logbook.add_sensor_event(NAME, SensorEvent("offset", WEEK_BEFORE, value=0.02, sd=0.01))
    number = ride(throttle_voltage=[2.5], lambda_1=[0.9])
    run, recorded = book.logbook.run(number), book.logbook.recorded(number)

    assert recorded.samples.collect_schema().names() == ["t_s", "throttle_voltage", "lambda_1"]
    assert seen(recorded, "lambda_1") == pytest.approx([0.9])
    assert recorded.notes == ()
    assert recorded.sensor_events == run.sensor_events
    assert seen(run, "lambda_1") == pytest.approx([0.88])


def test_history_by_date(book, ride):
    """Only what happened up to a session's start holds for it, of its own sensor, and the notes say it."""
    log = book.logbook
    log.add_sensor_event(NAME, SensorEvent("offset", STARTED + timedelta(days=1), value=0.05, sd=0.01))
    log.add_sensor_event(NAME, SensorEvent("offset", WEEK_BEFORE, cylinder=2, value=0.02, sd=0.01))
    number = ride(lambda_1=[0.9], lambda_2=[0.9])
    run = log.run(number)

    assert seen(run, "lambda_1") == pytest.approx([0.9])
    assert seen(run, "lambda_2") == pytest.approx([0.88])
    assert run.notes == ("lambda_2: the sensor's stated offset of +0.020 lambda is taken off",)
    assert [event.value for event in run.sensor_events] == [0.02]
    assert [event.value for event in log.sensor_events(NAME)] == [0.02, 0.05]
    assert state_of(run, 2).checked_days == pytest.approx(7.0)
    assert state_of(run, 1).checked_days is None


def test_an_event_comes_back_whole(book):
    """What was written of a free-air check comes back, to the last field."""
    check = SensorEvent("free air", WEEK_BEFORE, 1, 0.205, 0.001, 22.0, 1004.0, 55.0)
    book.logbook.add_sensor_event(NAME, check)

    assert book.logbook.sensor_events(NAME) == (check,)


def test_gain_of_a_free_air_check(book, ride):
    """A sensor that tells too little oxygen in free air has its rich reading moved richer."""
    check = SensorEvent(
        "free air", WEEK_BEFORE, value=0.199, air_temp_c=20.0, air_pressure_hpa=1013.0, humidity_percent=50
    )
    book.logbook.add_sensor_event(NAME, check)
    number = ride(lambda_1=[0.85, 1.0, None])
    rich, even, none = seen(book.logbook.run(number), "lambda_1")

    assert 0.84 < rich < 0.849
    assert even == pytest.approx(1.0)
    assert none is None


def test_the_cell_as_the_bike_tells_it(book, ride):
    """The bike's word on its sensors' accuracy and pressure share reaches state and samples."""
    book.logbook.add_bike(
        bike(sensor_cell=SensorCell(pressure_share=0.5, accuracy=0.004, drift_per_year=0.0))
    )
    number = ride(lambda_1=[0.85], exhaust_pressure=[115.0])
    run = book.logbook.run(number)

    assert state_of(run, 1).sd == pytest.approx(0.004)
    assert seen(run, "lambda_1")[0] > 0.852


def test_a_worked_out_lambda_is_ready_when_its_sensor_is(book, ride):
    """The state of the sensor whose current was recorded is that of the lambda made of it."""
    book.logbook.add_bike(bike(channel={"lambda": TABLE}))
    states = (PartState(0.0, "pump_current_1", "warming"), PartState(9.0, "pump_current_1", "ready"))
    number = ride(states=states, pump_current_1=[-1.0])
    run = book.logbook.run(number)

    assert [(s.t_s, s.state) for s in run.states if s.part == "lambda_1"] == [
        (0.0, "warming"),
        (9.0, "ready"),
    ]
    assert [s for s in run.states if s.part == "pump_current_1"] == list(states)


def test_wired_backwards_is_told(book, ride):
    """A session whose thermocouple is the wrong way round says so at every load, and its channel is empty."""
    book.logbook.add_bike(bike(channel={"egt": PROBE}))
    number = ride(rpm=[5000.0] * 40, egt_emf_1=np.linspace(-1.0, -25.0, 40))

    for _ in range(2):
        run = book.logbook.run(number)
        assert seen(run, "egt_1") == [None] * 40
        assert any("backwards" in note for note in run.notes)


def test_a_single_has_one_sensor_whatever_it_is_called(book):
    """On a single-cylinder bike the engine's lambda is that of cylinder 1, and so is its history."""
    single = Bike(name="Reed Lane 125", strokes=2, cylinders=1, displacement_cc=124)
    book.logbook.add_bike(single)
    book.logbook.add_sensor_event(
        single.name, SensorEvent("trapped", WEEK_BEFORE, cylinder=1, value=0.08, sd=0.03)
    )
    raw = book.folder.parent / "single.csv"
    raw.write_text("a ride", encoding="utf-8")
    frame = pl.DataFrame({"t_s": [0.0], "lambda": pl.Series([0.95], dtype=pl.Float32)})
    number = book.logbook.import_session(
        SealedFrame(frame, {}),
        raw,
        sha256="1" * 64,
        bike=single.name,
        place=None,
        started=STARTED,
        again=True,
    )
    run = book.logbook.run(number)

    assert seen(run, "lambda") == pytest.approx([0.87])
    assert state_of(run, None).calibrated


def test_gas(book, ride):
    """Analyses are kept in the order in which they were typed, and belong to their own session."""
    one, two = ride(rpm=[1000.0]), ride(rpm=[1000.0])
    log = book.logbook
    log.add_gas(one, cylinder=1, co2_percent=12.1, co_percent=4.2, o2_percent=0.6, hc_ppm=900, no_ppm=300)
    log.add_gas(one, cylinder=1, co2_percent=12.2, co_percent=4.1, o2_percent=0.6, hc_ppm=850)
    log.add_gas(two, cylinder=None, co2_percent=13.0, co_percent=2.0, o2_percent=0.5, hc_ppm=200)
    found = log.run(one).gas

    assert found == log.gas(one)
    assert [(g.cylinder, g.co2_percent, g.no_ppm) for g in found] == [(1, 12.1, 300.0), (1, 12.2, None)]
    assert [g.cylinder for g in log.gas(two)] == [None]


def test_refusals_change_nothing(book, ride):
    """What cannot be is refused in one sentence, and the logbook stays as it was."""
    number = ride(rpm=[1000.0])
    log = book.logbook
    collector = Bike(name="Sand Pit 350", strokes=2, cylinders=2, displacement_cc=347, sensor="collector")
    log.add_bike(collector)
    replaced = SensorEvent("replaced", WEEK_BEFORE)
    with pytest.raises(BadValue, match="2 cylinders"):
        log.add_sensor_event(NAME, SensorEvent("replaced", WEEK_BEFORE, cylinder=3))
    with pytest.raises(BadValue, match="one sensor in the collector"):
        log.add_sensor_event(collector.name, SensorEvent("replaced", WEEK_BEFORE, cylinder=1))
    with pytest.raises(BadValue, match="still to come"):
        log.add_sensor_event(NAME, SensorEvent("replaced", datetime.now(UTC) + timedelta(days=30)))
    with pytest.raises(UnknownThing, match="did you mean"):
        log.add_sensor_event("Chalk Pit 40", replaced)
    with pytest.raises(BadValue):
        log.add_gas(number, cylinder=1, co2_percent=80, co_percent=30, o2_percent=5, hc_ppm=0)
    with pytest.raises(BadValue, match="2 cylinders"):
        log.add_gas(number, cylinder=5, co2_percent=12, co_percent=4, o2_percent=0.5, hc_ppm=100)
    with pytest.raises(UnknownThing):
        log.gas(99)

    assert log.sensor_events(NAME) == log.sensor_events(collector.name) == log.gas(number) == ()


def test_a_reader_sees_it_too(book, ride, folder):
    """A logbook that is open to read gives the same corrected run, and takes no event."""
    book.logbook.add_sensor_event(NAME, SensorEvent("offset", WEEK_BEFORE, value=0.02, sd=0.01))
    number = ride(lambda_1=[0.9])
    with Logbook.open(folder, write=False) as reader:
        assert seen(reader.run(number), "lambda_1") == pytest.approx([0.88])
        with pytest.raises(BadValue, match="open to read"):
            reader.add_sensor_event(NAME, SensorEvent("replaced", WEEK_BEFORE))
