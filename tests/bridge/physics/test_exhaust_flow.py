"""The way to the sensor: worked figures and directions.

The worked figures are closed forms of continuity (status: computed by hand, no independent
program): a pipe of 0.9 m by 38 mm, 400 cm3 four-stroke, air of 1.184 kg/m3, lambda 0.88, 1030 hPa in it.
"""

import numpy as np
import pytest

from bridge.physics.exhaust import (
    air_flow_kg_s,
    cycle_s,
    moles_ratio,
    pipe_volume_m3,
    transport_s,
    volume_flow_m3_s,
)


def through(rpm, efficiency, temp_k, *, displacement_cc=400.0, length_mm=900.0, strokes=4):
    """Return the time through the pipe [s]."""
    air = air_flow_kg_s(displacement_cc, rpm, efficiency, 1.184, strokes)
    return transport_s(pipe_volume_m3(length_mm, 38.0), volume_flow_m3_s(air, temp_k))


def test_pipe_volume():
    """0.9 m of 38 mm hold 1.02070 l (geometry)."""
    assert pipe_volume_m3(900.0, 38.0) * 1e3 == pytest.approx(1.02070, abs=1e-5)


@pytest.mark.parametrize(
    ("rpm", "efficiency", "temp_k", "expected"),
    [
        (1500.0, 0.35, 650.0, 0.245),
        (3000.0, 0.50, 750.0, 0.0744),
        (3000.0, 0.80, 800.0, 0.04358),
        (6000.0, 0.90, 950.0, 0.01631),
        (10000.0, 0.95, 1050.0, 0.00839),
    ],
)
def test_transport_by_closed_form(rpm, efficiency, temp_k, expected):
    """Both cylinders into one pipe: from a quarter of a second near idle to 8 ms at full speed.

    Within 1 %: the figures take their exhaust's molar mass from a textbook air, ours is CIPM's.
    """
    assert through(rpm, efficiency, temp_k) == pytest.approx(expected, rel=0.01)
    assert through(rpm, efficiency, temp_k, displacement_cc=200.0) == pytest.approx(2 * expected, rel=0.01)


@pytest.mark.parametrize(
    ("lambda_", "expected"), [(0.80, 1.136), (0.85, 1.116), (0.90, 1.098), (1.00, 1.067)]
)
def test_moles_of_exhaust(lambda_, expected):
    """Moles of exhaust for each mole of air (closed form by element balance, CH1.87)."""
    assert moles_ratio(lambda_) == pytest.approx(expected, abs=1e-3)


def test_lean_mixtures_come_near_air():
    """With more and more air the exhaust is air, mole for mole, and at lambda 1 both branches meet."""
    assert moles_ratio(1.0 - 1e-9) == pytest.approx(moles_ratio(1.0 + 1e-9))
    assert moles_ratio(2.0) < moles_ratio(1.2) < moles_ratio(1.0)
    assert moles_ratio(1e6) == pytest.approx(1.0, abs=1e-5)


def test_directions():
    """Faster engine, hotter gas: sooner. Longer pipe: later. A two-stroke breathes twice as often."""
    usual = through(3000.0, 0.8, 800.0)

    assert through(6000.0, 0.8, 800.0) < usual
    assert through(3000.0, 0.8, 900.0) < usual
    assert through(3000.0, 0.4, 800.0) > usual
    assert through(3000.0, 0.8, 800.0, length_mm=1200.0) > usual
    assert through(3000.0, 0.8, 800.0, strokes=2) == pytest.approx(usual / 2)


def test_cycle():
    """At 6000 rpm a four-stroke's cycle takes 20 ms and a two-stroke's 10 ms."""
    assert cycle_s(6000.0, 4) == pytest.approx(0.020)
    assert cycle_s(6000.0, 2) == pytest.approx(0.010)


def test_arrays_are_taken_too():
    """An array of speeds gives an array of times, nan where a speed is nan."""
    times = through(np.array([3000.0, np.nan, 6000.0]), 0.8, 800.0)

    assert np.isnan(times[1])
    assert times[[0, 2]] == pytest.approx([through(3000.0, 0.8, 800.0), through(6000.0, 0.8, 800.0)])
