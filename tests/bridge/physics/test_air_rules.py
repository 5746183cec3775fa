"""Directions, ways back and doubts of moist air and of the standard atmosphere."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.physics.air import (
    REFERENCE_HUMIDITY_PERCENT,
    REFERENCE_PRESSURE_HPA,
    REFERENCE_TEMP_C,
    air_budget,
    dry_air_density,
    dry_pressure_hpa,
    humidity_ratio,
    lambda_factor,
    lambda_factor_budget,
    moist_air_density,
    oxygen_density,
    saturation_pressure_hpa,
    vapour_pressure_hpa,
)
from bridge.physics.altitude import (
    density_altitude_m,
    density_at_altitude,
    pressure_altitude_m,
    pressure_at_altitude,
    sea_level_ratio,
)

TEMPS, PRESSURES, HUMIDITIES = st.floats(-40, 60), st.floats(500, 1100), st.floats(0, 100)
ISA = (15.0, 1013.25, 0.0)


@given(TEMPS, PRESSURES, HUMIDITIES)
def test_vapour_displaces_dry_air(temp_c, pressure_hpa, humidity):
    """Dry part and vapour add up, in pressure and in density, and vapour is never heavier than air."""
    state = temp_c, pressure_hpa, humidity
    dry, ratio = dry_air_density(*state), humidity_ratio(*state)

    assert dry_pressure_hpa(*state) + vapour_pressure_hpa(temp_c, humidity) == pytest.approx(pressure_hpa)
    assert moist_air_density(*state) == pytest.approx(dry * (1 + ratio))
    assert (
        dry * (1 - 1e-12)
        <= moist_air_density(*state)
        <= moist_air_density(temp_c, pressure_hpa, 0.0) * (1 + 1e-12)
    )
    assert 0 < oxygen_density(*state) < dry


@given(TEMPS, PRESSURES, HUMIDITIES)
def test_humidity_comes_back_from_vapour(temp_c, pressure_hpa, humidity):
    """Humidity from the humidity ratio and density is the one that was put in."""
    ratio = humidity_ratio(temp_c, pressure_hpa, humidity)
    vapour = pressure_hpa * ratio / (18.01528 / 28.96546 + ratio)

    assert 100 * vapour / saturation_pressure_hpa(temp_c) == pytest.approx(humidity, abs=1e-6)


@given(st.floats(-2000, 11_000))
def test_height_comes_back(height):
    """Pressure and density altitude are the inverses of the standard's pressure and density."""
    assert pressure_altitude_m(pressure_at_altitude(height)) == pytest.approx(height, abs=1e-6)
    assert density_altitude_m(density_at_altitude(height)) == pytest.approx(height, abs=1e-6)


@given(st.floats(0, 5000), st.floats(-30, 40))
def test_reducing_to_sea_level_depends_on_the_column(height, temp_c):
    """A station is under sea level's pressure, and in cold air by more."""
    ratio = sea_level_ratio(height, temp_c)

    assert 0 < ratio <= 1
    assert sea_level_ratio(height, temp_c - 10) <= ratio
    # closed form: at the standard's own temperature the column is the standard's
    standard = sea_level_ratio(height, 15.0 - 0.0065 * height)
    assert 1013.25 * standard == pytest.approx(pressure_at_altitude(height), rel=1e-9)


def test_saturation_meets_at_the_triple_point():
    """Over ice and over water saturation is the same at 0.01 Cel, 6.117 hPa (published: IAPWS), and always rises."""
    line = saturation_pressure_hpa(np.linspace(-40.0, 60.0, 2001))

    assert saturation_pressure_hpa(0.01) == pytest.approx(6.117, abs=0.002)
    assert saturation_pressure_hpa(0.010001) == pytest.approx(saturation_pressure_hpa(0.01), rel=1e-4)
    assert (np.diff(line) > 0).all()


def test_one_number_is_a_plain_float():
    """One state gives one float, many give an array of the same."""
    assert isinstance(saturation_pressure_hpa(20.0), float)
    assert isinstance(moist_air_density(20.0, 1000.0, 50.0), float)
    temps = np.array([-10.0, 0.0, 20.0])
    assert saturation_pressure_hpa(temps) == pytest.approx(
        [saturation_pressure_hpa(t) for t in temps.tolist()]
    )


# closed form, computed by hand: lambda over that of the standard atmosphere's air with the same jets
@pytest.mark.parametrize(
    ("state", "factor"),
    [
        ((8.0, 1020.0, 85.0), 1.00836),
        ((25.0, 1000.0, 32.0), 0.96859),
        ((35.0, 1005.0, 60.0), 0.93667),
        ((30.0, 835.0, 25.0), 0.87590),
    ],
)
def test_worked_lambda_factors(state, factor):
    """Lambda goes with dry density over the root of moist density."""
    assert lambda_factor(*state, reference=ISA) == pytest.approx(factor, abs=6e-5)


def test_lambda_factor_of_the_reference_day_is_one():
    """The reference day compares with itself, and two days with each other whatever the reference."""
    day = (REFERENCE_TEMP_C, REFERENCE_PRESSURE_HPA, REFERENCE_HUMIDITY_PERCENT)
    cool, hot = (8.0, 1020.0, 85.0), (35.0, 1005.0, 60.0)

    assert lambda_factor(*day) == pytest.approx(1.0, abs=1e-12)
    assert lambda_factor(*hot) / lambda_factor(*cool) == pytest.approx(0.92890, abs=2e-5)  # closed form
    assert lambda_factor(*hot, reference=cool) == pytest.approx(0.92890, abs=2e-5)


def test_dry_air_follows_the_root_of_density():
    """In dry air 0.90 of the density gives 0.948683 of lambda (closed form)."""
    assert lambda_factor(15.0, 0.9 * 1013.25, 0.0, reference=ISA) == pytest.approx(0.9486833, abs=1e-7)


def test_thin_and_humid_air_is_rich():
    """The trade's directions: hotter, higher and more humid air gives a richer mixture with the same jets."""
    usual = lambda_factor(20.0, 1000.0, 40.0)

    assert lambda_factor(30.0, 1000.0, 40.0) < usual
    assert lambda_factor(20.0, 900.0, 40.0) < usual
    assert lambda_factor(20.0, 1000.0, 90.0) < usual


def test_lambda_factor_is_less_sure_far_from_the_reference():
    """The law's own doubt grows with what it says, and at the reference day only the instruments are left."""
    at_home, away = lambda_factor_budget(20.0, 1013.25, 50.0), lambda_factor_budget(30.0, 835.0, 25.0)

    assert at_home.sd < 0.002
    assert away.sd > 0.02
    assert away.largest.name == "formula"
    assert all(part.status in {"common practice", "assumed", "published"} for part in away.components)


def test_budget_follows_the_instruments():
    """Twice as good a thermometer halves its share, and a perfect set of instruments leaves nothing."""
    usual = air_budget(moist_air_density, 25.0, 1000.0, 50.0)
    better = air_budget(moist_air_density, 25.0, 1000.0, 50.0, sds=(0.25, 1.0, 3.0))

    assert better.components[0].sd == pytest.approx(usual.components[0].sd / 2, rel=1e-3)
    assert better.components[1].sd == usual.components[1].sd
    assert air_budget(moist_air_density, 25.0, 1000.0, 50.0, sds=(0, 0, 0)).sd == 0.0
