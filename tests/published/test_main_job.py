"""The main job, blind: virtual rides whose truth is known, from the bytes on the wire to the measured lambda.

The rides are invented and seeded. Mixture, pipe, sensor and noise differ from ride to ride; the analysis is
told of the bike what a tuner's file says, and nothing of the sensor's lag or of the mixture.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
import pytest

from bridge.emulator.engine import Circuits, VirtualBike
from bridge.emulator.ride import practice
from bridge.emulator.scenario import Scenario, make_ride
from bridge.emulator.sensors import Sensor
from bridge.model import Bike, Run, Setup
from bridge.plug.exposure import MEMORY_S, measured
from bridge.sealing import frame_from_capture
from tests.virtual_runs import session

RIDES = 100
RATE_HZ = 50.0
SETTLED_S = 1.0


@dataclass(frozen=True)
class Outcome:
    """What one cylinder of one ride came to."""

    error: float
    """Measured lambda less the truth."""
    half_width: float
    """Of the 95 % interval."""


def ride(seed: int, strokes: int = 4) -> tuple[Bike, Run, pl.DataFrame]:
    """Return a bike as its tuner's file has it, a run from the wire's bytes, and the truth."""
    rng = np.random.default_rng([20260514, seed])
    virtual = VirtualBike(
        strokes=strokes,
        circuits=Circuits(main=rng.uniform(0.82, 0.95)),
        cylinder_offset=(0.0, rng.uniform(-0.02, 0.02)),
        wander_sd=rng.uniform(0.002, 0.006),
        cycle_sd=rng.uniform(0.006, 0.02),
        sensor_distance_mm=rng.uniform(300.0, 1200.0),
    )
    sensor = Sensor(lag_s=rng.uniform(0.05, 0.15), noise_sd=rng.uniform(0.001, 0.004))
    script = practice(laps=1, last_full_s=rng.uniform(6.0, 15.0))
    made = make_ride(Scenario(bike=virtual, script=script, rate_hz=RATE_HZ, sensor=sensor), seed)
    bike = Bike(
        name="Blind 400",
        strokes=strokes,
        cylinders=virtual.cylinders,
        displacement_cc=virtual.displacement_cc,
        sensor_distance_mm=virtual.sensor_distance_mm,
        pipe_bore_mm=virtual.pipe_bore_mm,
    )
    sealed = frame_from_capture(made.wire, None)
    head = session(1, bike, float(sealed.frame["t_s"].max()), sealed.frame.height)
    return (
        bike,
        Run(head, bike, Setup(fuel="e5"), sealed.frame.lazy(), sealed.marks, sealed.states),
        made.truth,
    )


def true_lambda(truth: pl.DataFrame, cylinder: int) -> float:
    """Return the true mean over settled full throttle, each second counting exp(-age/60 s).

    Age by the clock is age in running time here, since the engine runs until the cut.
    """
    rows = round(SETTLED_S * RATE_HZ)
    settled = pl.col("throttle").rolling_min(rows) >= 95.0
    lived = truth.filter(settled & pl.col("burning"))
    return float(np.average(lived[f"lambda_true_{cylinder}"], weights=np.exp(lived["t_s"] / MEMORY_S)))


@pytest.fixture(scope="module")
def outcomes() -> list[Outcome]:
    """Ride all rides; cylinder one and two by turns."""
    found = []
    for seed in range(RIDES):
        _, run, truth = ride(seed)
        cylinder = 1 + seed % 2
        result = measured((run,), cylinder)
        found.append(Outcome(result.mean - true_lambda(truth, cylinder), (result.high - result.low) / 2.0))
    return found


def test_at_least_ninety_of_a_hundred_rides_lie_inside_their_own_intervals(outcomes):
    """The measured lambda is the true one within its own 95 % interval."""
    assert sum(abs(one.error) <= one.half_width for one in outcomes) >= 90


def test_the_intervals_are_worth_having(outcomes):
    """On a clean four-stroke ride they reach at most 0.01 lambda to either side."""
    assert max(one.half_width for one in outcomes) <= 0.01


def test_the_intervals_are_not_padded(outcomes):
    """The intervals are at most five times as wide as the errors ask for.

    The mixture's own wandering counts as noise, though the plug lived through it; hence too wide, not exact.
    """
    ratio = np.sqrt(np.mean([(one.error / one.half_width) ** 2 for one in outcomes]))

    assert ratio > 1.0 / (1.96 * 5.0)


def test_there_is_no_constant_error_beyond_a_thousandth(outcomes):
    """Delay, chop and settling leave no bias that a hundred rides would show."""
    assert abs(np.mean([one.error for one in outcomes])) < 0.001


def test_more_fuel_is_measured_as_richer():
    """The same ride with a bigger main jet reads richer at full throttle, by about what the jet did."""
    base = VirtualBike()
    bigger = VirtualBike(circuits=base.circuits.with_main_jet(1.05))
    means = []
    for bike in (base, bigger):
        made = make_ride(Scenario(bike=bike, script=practice(laps=0), rate_hz=RATE_HZ), 1)
        frame = frame_from_capture(made.wire, None).frame
        means.append(measured((Run(session(bike=None), None, Setup(), frame.lazy()),), 1).mean)

    assert means[1] < means[0] - 0.02
    assert means[1] / means[0] == pytest.approx(1.05**-0.86, abs=0.01)
