"""Moist air against independent programs, state by state, and against worked values.

psychrolib 2.5 follows the ASHRAE Handbook (Fundamentals, 2017, ch. 1); CoolProp follows the ASHRAE RP-1485 real-gas
mixture and IAPWS; ambiance 1.3 follows ICAO Doc 7488 / ISO 2533. Their values are computed as the tests run.
"""

from itertools import product

import ambiance
import numpy as np
import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI
from CoolProp.HumidAirProp import HAPropsSI

from bridge.physics.air import (
    density_budget,
    dry_air_density,
    dry_pressure_hpa,
    humidity_ratio,
    moist_air_density,
    oxygen_density,
    relative_density,
    saturation_pressure_hpa,
    vapour_pressure_hpa,
)
from bridge.physics.altitude import (
    density_altitude_m,
    density_at_altitude,
    pressure_altitude_m,
    pressure_at_altitude,
)

# 84 states: temperature [Cel], station pressure [hPa], relative humidity [%]
STATES = list(
    product((-10.0, 0.0, 5.0, 15.0, 25.0, 35.0, 45.0), (700.0, 850.0, 1000.0, 1040.0), (0.0, 40.0, 95.0))
)


@pytest.fixture(autouse=True)
def psychrolib_in_si():
    """PsychroLib holds its unit system in a global; it is put back as it was."""
    before = psychrolib.GetUnitSystem()
    psychrolib.SetUnitSystem(psychrolib.SI)
    yield
    if before is not None:
        psychrolib.SetUnitSystem(before)


def test_density_of_84_states_is_that_of_psychrolib():
    """Density, humidity ratio and vapour pressure of 84 states agree; the gas constants differ by 0.005 %."""
    assert len(STATES) >= 50
    for temp, pressure, humidity in STATES:
        ratio = psychrolib.GetHumRatioFromRelHum(temp, humidity / 100, pressure * 100)
        density = psychrolib.GetMoistAirDensity(temp, ratio, pressure * 100)
        vapour = psychrolib.GetVapPresFromRelHum(temp, humidity / 100) / 100
        assert moist_air_density(temp, pressure, humidity) == pytest.approx(density, rel=7e-5)
        assert humidity_ratio(temp, pressure, humidity) == pytest.approx(ratio, rel=2e-4, abs=1.1e-7)
        assert vapour_pressure_hpa(temp, humidity) == pytest.approx(vapour, rel=1e-6)


def test_density_of_84_states_is_that_of_coolprop():
    """Density of 84 states agrees with a real-gas mixture within 0.11 %: what leaving real gases costs."""
    for temp, pressure, humidity in STATES:
        volume = HAPropsSI("Vha", "T", temp + 273.15, "P", pressure * 100, "R", humidity / 100)
        assert moist_air_density(temp, pressure, humidity) == pytest.approx(1 / volume, rel=1.1e-3)


def test_dry_part_of_84_states_is_that_of_coolprop():
    """The mass of dry air in a volume agrees too, so the oxygen does."""
    for temp, pressure, humidity in STATES:
        dry = 1 / HAPropsSI("Vda", "T", temp + 273.15, "P", pressure * 100, "R", humidity / 100)
        assert dry_air_density(temp, pressure, humidity) == pytest.approx(dry, rel=1.1e-3)
        # oxygen of dry air by mass: 0.2314 (published: US Standard Atmosphere 1976)
        assert oxygen_density(temp, pressure, humidity) == pytest.approx(0.2314 * dry, rel=2e-3)


@pytest.mark.parametrize(
    "temp_c", [-40.0, -20.0, -5.0, -0.01, 0.0, 0.01, 0.02, 10.0, 25.0, 35.0, 60.0, 100.0]
)
def test_saturation_is_that_of_ashrae(temp_c):
    """The saturation line, over ice and over water, is psychrolib's to the sixth digit."""
    assert saturation_pressure_hpa(temp_c) == pytest.approx(psychrolib.GetSatVapPres(temp_c) / 100, rel=1e-6)


@pytest.mark.parametrize("temp_c", [0.02, 5.0, 10.0, 25.0, 35.0, 45.0, 60.0])
def test_saturation_is_near_that_of_iapws(temp_c):
    """It is within 0.03 % of the reference equation of water, as its docstring says."""
    iapws = PropsSI("P", "T", temp_c + 273.15, "Q", 1, "Water") / 100

    assert saturation_pressure_hpa(temp_c) == pytest.approx(iapws, rel=3e-4)


# published: ASHRAE Fundamentals 2017, computed with psychrolib 2.5 [Pa]
@pytest.mark.parametrize(("temp_c", "pascal"), [(10.0, 1227.995), (25.0, 3169.216), (35.0, 5627.819)])
def test_saturation_by_the_table(temp_c, pascal):
    """Three points of the saturation line in pascal."""
    assert 100 * saturation_pressure_hpa(temp_c) == pytest.approx(pascal, abs=0.01)


# closed form (ideal mixture, saturation of ASHRAE 2017), with CIPM-2007 within 0.06 %; columns: vapour pressure [Pa],
# density [kg/m3], density of the dry part [kg/m3], relative density [%], density altitude [m] (published: ISO 2533)
@pytest.mark.parametrize(
    ("state", "vapour", "density", "dry", "relative", "altitude"),
    [
        ((15.0, 1013.25, 0.0), 0.0, 1.224991, 1.224991, 100.00, 0.1),
        ((8.0, 1020.0, 85.0), 911.914, 1.259583, 1.252555, 102.82, -290.94),
        ((25.0, 1000.0, 32.0), 1014.149, 1.163943, 1.156573, 95.02, 529.37),
        ((35.0, 1005.0, 60.0), 3376.692, 1.121727, 1.097984, 91.57, 907.95),
        ((30.0, 835.0, 25.0), 1061.508, 0.954930, 0.947343, 77.95, 2519.83),
        ((25.0, 1013.25, 50.0), 1584.608, 1.176905, 1.165390, 96.07, 415.24),
    ],
)
def test_worked_air(state, vapour, density, dry, relative, altitude):  # noqa: PLR0917  # the columns of a table
    """Six worked states: the gas constants of CIPM-2007 move the last digits by 0.006 %, which is 0.6 m."""
    assert 100 * vapour_pressure_hpa(state[0], state[2]) == pytest.approx(vapour, abs=0.01)
    assert moist_air_density(*state) == pytest.approx(density, abs=8e-5)
    assert dry_air_density(*state) == pytest.approx(dry, abs=8e-5)
    assert 100 * relative_density(*state) == pytest.approx(relative, abs=0.011)
    assert density_altitude_m(moist_air_density(*state)) == pytest.approx(altitude, abs=0.8)
    assert 100 * dry_pressure_hpa(*state) == pytest.approx(100 * state[1] - vapour, abs=0.01)


@pytest.mark.parametrize("density", [0.75, 0.95493, 1.0, 1.121727, 1.225, 1.259583])
def test_density_altitude_is_that_of_ambiance(density):
    """Density altitude is the standard atmosphere's height of that density, within a centimetre or so."""
    theirs = ambiance.Atmosphere.from_density(density).H[0]

    assert density_altitude_m(density) == pytest.approx(theirs, abs=0.02)


def test_density_altitude_of_hot_and_high():
    """0.95493 kg/m3 is the air of 2519.825 m (published: ISO 2533, computed with ambiance 1.3.1)."""
    assert density_altitude_m(0.95493) == pytest.approx(2519.825, abs=0.01)


@pytest.mark.parametrize("height", [-400.0, 0.0, 1000.0, 2500.0, 4500.0])
def test_standard_atmosphere_is_that_of_ambiance(height):
    """Pressure and density at a geopotential height, and both ways back."""
    theirs = ambiance.Atmosphere(ambiance.Atmosphere.geop2geom_height(height))
    pressure, density = float(theirs.pressure[0]) / 100, float(theirs.density[0])

    assert pressure_at_altitude(height) == pytest.approx(pressure, rel=1e-6)
    assert density_at_altitude(height) == pytest.approx(density, rel=1e-5)
    assert pressure_altitude_m(pressure) == pytest.approx(height, abs=0.02)
    assert density_altitude_m(density) == pytest.approx(height, abs=0.1)


def test_isa_at_1000_m():
    """At 1000 m geometric the standard has 898.7628 hPa and 1.111660 kg/m3 (published: ISO 2533)."""
    geopotential = 6_356_766.0 * 1000.0 / 6_357_766.0  # the standard's earth radius [m]

    assert pressure_at_altitude(geopotential) == pytest.approx(898.7628, abs=0.002)
    assert density_at_altitude(geopotential) == pytest.approx(1.111660, abs=3e-6)


def test_budget_covers_what_the_instruments_may_be_off():
    """The density's doubt is that of drawn instruments, and the thermometer has its share by T alone."""
    rng = np.random.default_rng(11)
    state = np.array([[30.0], [985.0], [60.0]])
    drawn = state + np.array([[0.5], [1.0], [3.0]]) * rng.normal(size=(3, 40_000))
    budget = density_budget(30.0, 985.0, 60.0)
    by_instruments = np.sqrt(sum(part.sd**2 for part in budget.components if part.name != "formula"))
    thermometer = next(part for part in budget.components if part.name.startswith("temperature"))

    assert by_instruments == pytest.approx(np.std(moist_air_density(*drawn)), rel=0.02)
    # closed form: density over absolute temperature for the gas, and warmer air holds more vapour at one humidity
    assert thermometer.sd > 0.5 * moist_air_density(30.0, 985.0, 60.0) / 303.15
