"""Every moment has exactly one state, and what a sensor alone shows is told of that sensor."""

import numpy as np
import polars as pl
import pytest

from bridge.bands import STATES, SteadyLimits, bands, prepare
from bridge.model import Bike, PartState
from bridge.model.steady import SteadySettings

T = np.arange(3000) * 0.01


def seconds_in(frame, column, state):
    """Return how long a column is in a state."""
    return float(frame.filter(pl.col(column) == state)["dt_s"].sum())


def test_opening_and_closing_are_told_apart(make_run, states_of):
    """A hand that opens from 20 to 80 % in half a second opens for so long, and closes as long."""
    throttle = np.interp(T, [10.0, 10.5, 20.0, 20.5], [20.0, 80.0, 80.0, 20.0])
    stays = states_of(prepare(make_run(30, throttle=throttle)))
    spans = {state: (begin, end) for state, begin, end in stays if state in {"opening", "closing"}}

    assert spans["opening"] == pytest.approx((10.02, 10.68), abs=0.05)
    assert spans["closing"] == pytest.approx((20.02, 20.68), abs=0.05)


def test_idle_and_overrun_have_bands_of_their_own(make_run):
    """With the throttle shut the mixture at 1600 rpm is in idle, at 5200 rpm in overrun, the rest in its circuit."""
    part = T // 10
    run = make_run(
        30,
        throttle=np.choose(part.astype(int), [0.0, 60.0, 0.0]),
        rpm=np.choose(part.astype(int), [1600.0, 5200.0, 5200.0]),
        lambda_1=np.choose(part.astype(int), [0.95, 0.88, 1.2]),
    )
    cells = {cell["circuit"]: cell for cell in bands(run).cells.to_dicts()}

    assert set(cells) == {"idle", "needle (taper)", "overrun"}
    assert cells["idle"]["lambda_mean"] == pytest.approx(0.95, abs=1e-4)
    assert cells["overrun"]["lambda_mean"] == pytest.approx(1.2, abs=1e-4)
    assert (cells["overrun"]["throttle_from"], cells["overrun"]["throttle_to"]) == (0.0, 3.0)


@pytest.mark.parametrize(
    ("columns", "cold_s"),
    [
        ({"cht_1": np.where(T < 12, 30.0, 120.0), "cht_2": 120.0}, 12.0),
        ({"coolant_temp": np.where(T < 9, 20.0, 70.0), "egt_1": 100.0}, 9.0),
        ({"egt_1": np.where(T < 5, 90.0, 600.0)}, 5.0),
        ({"cht_1": np.nan}, 0.0),
        ({}, 0.0),
    ],
)
def test_a_cold_engine_is_told_by_head_coolant_or_exhaust(make_run, columns, cold_s):
    """While the coldest head or the coolant is cold so is the engine; the exhaust is asked where neither is there."""
    frame = prepare(make_run(30, **columns)).collect()

    assert seconds_in(frame, "state", "cold") == pytest.approx(cold_s, abs=0.05)
    assert not frame.filter(pl.col("state") == "cold")["steady"].any()


def test_without_temperatures_cold_is_a_setting(make_run):
    """So long after the engine's first turn it counts as cold, if the bike's file says so and no temperature does."""
    run = make_run(30, rpm=np.where(T < 4, 0.0, 6000.0))
    frame = prepare(run, limits=SteadyLimits(cold_s=10.0)).collect()

    assert seconds_in(frame, "state", "cold") == pytest.approx(10.0, abs=0.05)


def test_the_bikes_own_limits_count(make_run):
    """What bike.toml says under [steady] is what is judged by and what the answer shows."""
    bike = Bike(
        name="b", strokes=4, cylinders=1, displacement_cc=400, steady=SteadySettings(cold_head_c=80.0)
    )
    found = bands(make_run(30, bike=bike, cht_1=70.0))

    assert found.state_seconds["cold"] == pytest.approx(30.0, abs=0.3)
    assert found.to_json()["limits"]["cold_head_c"] == 80.0


def test_what_a_sensor_shows_is_told_of_that_sensor(make_run):
    """A warming first sensor is not ready by its own column; the engine, and the second, are steady all the same."""
    states = (PartState(0.0, "lambda_1", "warming"), PartState(20.0, "lambda_1", "ready"))
    frame = prepare(make_run(30, lambda_2=0.9, states=states)).collect()

    assert seconds_in(frame, "state_lambda_1", "not ready") > 19.0
    assert seconds_in(frame, "state", "not ready") == seconds_in(frame, "state_lambda_2", "not ready") == 0.0
    assert seconds_in(frame, "state_lambda_2", "steady") > 28.0


def test_on_the_way_to_air_and_back_nothing_counts(make_run):
    """A cut of 0.4 s lifts a reading to that of air and lets it fall again: nothing of either slope is in the mean."""
    air = 0.88 + np.where(T >= 15, 2.0 * (1 - np.exp(-(T - 15) / 0.1)), 0.0)
    end = 0.88 + 2.0 * (1 - np.exp(-4.0))
    readings = np.where(T < 15.4, air, 0.88 + (end - 0.88) * np.exp(-np.clip(T - 15.4, 0, None) / 0.1))
    found = bands(make_run(30, lambda_1=readings))

    assert found.cells["lambda_mean"][0] == pytest.approx(0.88, abs=2e-4)
    assert found.cells["lambda_p90"][0] < 0.885
    assert 1.0 < found.state_seconds["off range"] < 2.2


def test_a_sensor_at_its_own_end_is_off_range(make_run):
    """Readings that stand at a sensor's lean end of 1.36 are no mixture, though such a mixture could fire."""
    found = prepare(
        make_run(30, lambda_1=np.where((T > 10) & (T < 12), 1.36, 0.9 + 0.01 * np.sin(9 * T)))
    ).collect()

    assert found["lambda_1"].max() < 0.92
    assert seconds_in(found, "state_lambda_1", "off range") > 2.0


def test_a_lean_spike_with_a_stumble_is_a_suspected_misfire(make_run):
    """Spikes of 0.1 are suspected where the revs stumble with them, and left alone where nothing else happens."""
    rng = np.random.default_rng(4)
    spike = 0.1 * ((T > 15.12) & (T < 15.22))
    readings = 0.88 + rng.normal(0, 0.005, 3000) + spike
    stumble = 6000 - 300 * np.exp(-(((T - 15.1) / 0.15) ** 2))
    alone, both = (bands(make_run(30, rpm=rpm, lambda_1=readings)) for rpm in (6000.0, stumble))

    assert alone.state_seconds["misfire suspected"] == 0.0
    assert both.state_seconds["misfire suspected"] == pytest.approx(2.0, abs=0.4)
    assert any("misfire is suspected" in note and "before any jet" in note for note in both.notes)
    assert both.cells["lambda_p90"][0] < 0.9


def test_a_cooling_exhaust_says_the_same(make_run):
    """A spike counts as well where the exhaust cools by 20 degrees with it."""
    rng = np.random.default_rng(4)
    readings = 0.88 + rng.normal(0, 0.005, 3000) + 0.1 * ((T > 15.12) & (T < 15.22))
    egt = 700 - 20 * np.exp(-(((T - 15.4) / 0.4) ** 2))

    assert bands(make_run(30, egt_1=egt, lambda_1=readings)).state_seconds["misfire suspected"] > 1.0


def test_noise_is_no_misfire(make_run):
    """A noisy sensor with a hunting engine is noisy, and nothing is taken out of its mean on one side."""
    rng = np.random.default_rng(5)
    run = make_run(30, rpm=6000 + 150 * np.sin(6 * T), lambda_1=rng.normal(0.88, 0.04, 3000))

    assert bands(run).state_seconds["misfire suspected"] == 0.0


def test_all_states_are_known_and_add_up(make_run):
    """Whatever happens, each moment is one of the thirteen states, and their seconds are those of the run."""
    rng = np.random.default_rng(6)
    throttle = np.repeat(rng.choice([0.0, 15.0, 60.0, 100.0, np.nan], 30), 100)
    rpm = np.repeat(rng.choice([0.0, 1500.0, 5000.0, 9000.0], 30), 100)
    found = bands(
        make_run(
            30,
            throttle=throttle,
            rpm=rpm,
            lambda_1=rng.uniform(0.5, 3.0, 3000),
            cht_1=np.linspace(20, 90, 3000),
        )
    )

    assert tuple(found.state_seconds) == STATES
    assert sum(found.state_seconds.values()) == pytest.approx(30.0, abs=0.02)
    assert sum(found.channel_seconds["lambda_1"].values()) == pytest.approx(30.0, abs=0.02)
