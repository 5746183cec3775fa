"""Directions of moist air, and which circuit governs."""

import numpy as np
import pytest

from bridge.physics.air import moist_air_density
from bridge.physics.jets import CIRCUITS, HAND_OVER_PERCENT, circuit_at


def test_air_gets_thinner_with_heat_height_and_moisture():
    """Warmer, higher and more humid air is thinner."""
    usual = moist_air_density(20.0, 1013.25, 50.0)

    assert moist_air_density(30.0, 1013.25, 50.0) < usual
    assert moist_air_density(20.0, 900.0, 50.0) < usual
    assert moist_air_density(20.0, 1013.25, 90.0) < usual


def test_density_takes_arrays():
    """An array of temperatures gives the same numbers as one by one."""
    temps = np.array([-10.0, 0.0, 35.0])

    assert moist_air_density(temps, 1000.0, 40.0) == pytest.approx(
        [moist_air_density(t, 1000.0, 40.0) for t in temps]
    )


@pytest.mark.parametrize(
    ("opening", "circuit"),
    [
        (-1.0, "pilot"),
        (0.0, "pilot"),
        (12.49, "pilot"),
        (12.5, "cutaway"),
        (25.0, "needle (straight)"),
        (50.0, "needle (taper)"),
        (75.0, "main"),
        (100.0, "main"),
        (102.0, "main"),
    ],
)
def test_each_opening_has_its_circuit(opening, circuit):
    """A circuit governs from the opening where it takes over (common practice)."""
    assert circuit_at(opening) == circuit


def test_circuits_leave_no_gap():
    """Each circuit ends where the next begins, from 0 to 100 %."""
    assert HAND_OVER_PERCENT == (0.0, 12.5, 25.0, 50.0, 75.0, 100.0)
    assert [c.until for c in CIRCUITS[:-1]] == [c.opens_at for c in CIRCUITS[1:]]
