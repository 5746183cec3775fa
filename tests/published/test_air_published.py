"""Moist air against PsychroLib, an independent program.

PsychroLib follows the ASHRAE Handbook (Fundamentals, 2017, ch. 1); its values are computed as the test runs.
"""

import psychrolib
import pytest

from bridge.physics.air import moist_air_density, saturation_pressure_hpa, vapour_pressure_hpa

STATES = [
    (15.0, 1013.25, 0.0),
    (8.0, 1020.0, 85.0),
    (25.0, 1000.0, 32.0),
    (35.0, 1005.0, 60.0),
    (30.0, 835.0, 25.0),
    (25.0, 1013.25, 50.0),
]


@pytest.fixture(autouse=True)
def si_units():
    """PsychroLib holds its unit system in a global; it is put back as it was."""
    before = psychrolib.GetUnitSystem()
    psychrolib.SetUnitSystem(psychrolib.SI)
    yield
    if before is not None:
        psychrolib.SetUnitSystem(before)


@pytest.mark.parametrize(("temp_c", "pressure_hpa", "humidity"), STATES)
def test_density_matches_psychrolib(temp_c, pressure_hpa, humidity):
    """Density agrees within 0.02 %: saturation makes 0.005 % of it, the gas constants the rest."""
    ratio = psychrolib.GetHumRatioFromRelHum(temp_c, humidity / 100, pressure_hpa * 100)
    theirs = psychrolib.GetMoistAirDensity(temp_c, ratio, pressure_hpa * 100)

    assert moist_air_density(temp_c, pressure_hpa, humidity) == pytest.approx(theirs, rel=2e-4)


@pytest.mark.parametrize("temp_c", [0.5, 10.0, 20.0, 25.0, 35.0, 40.0])
def test_saturation_matches_psychrolib(temp_c):
    """The saturation line agrees within the 0.3 % that its docstring claims; it runs low in warm air."""
    theirs = psychrolib.GetSatVapPres(temp_c) / 100

    assert saturation_pressure_hpa(temp_c) == pytest.approx(theirs, rel=3e-3)


def test_isa_density():
    """Dry air at 15 Cel and 1013.25 hPa has the standard atmosphere's 1.225 kg/m3 (published: ISO 2533)."""
    assert moist_air_density(15.0, 1013.25, 0.0) == pytest.approx(1.225, abs=1e-4)


def test_vapour_pressure_is_a_share_of_saturation():
    """Half the humidity is half the vapour pressure."""
    assert vapour_pressure_hpa(25.0, 50.0) == pytest.approx(saturation_pressure_hpa(25.0) / 2)
