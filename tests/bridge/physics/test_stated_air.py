"""Air as a person states it: what is refused, what is questioned, and what is let pass."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import BadValue
from bridge.physics.altitude import pressure_at_altitude
from bridge.physics.stated_air import (
    HPA_PER_INHG,
    HPA_PER_MMHG,
    checked_altitude_m,
    checked_humidity_percent,
    checked_pressure_hpa,
    checked_temp_c,
    questioned_humidity,
    questioned_pressure,
    questions,
    refuse_mmhg,
)


@pytest.mark.parametrize(
    ("stated", "unit", "in_hpa"),
    [
        (29.92, "inHg", "1013.2"),
        (24.7, "inHg", "836.4"),
        (101.3, "kPa", "1013.0"),
        (83.5, "kPa", "835.0"),
        (101_325.0, "Pa", "1013.2"),
        (14.7, "psi", "1013.5"),
        (1.013, "bar", "1013.0"),
    ],
)
def test_pressure_in_another_unit(stated, unit, in_hpa):
    """A pressure in the wrong unit is refused with its unit and its value in hPa."""
    with pytest.raises(BadValue, match=rf"looks like {unit}: give {in_hpa}"):
        checked_pressure_hpa(stated)


@pytest.mark.parametrize("stated", [-5.0, 0.0, 5.0, 300.0, 1500.0, 5e9])
def test_pressure_that_is_none(stated):
    """A pressure that is one of the air in no unit is refused with the range."""
    with pytest.raises(BadValue, match="at least 500 and at most 1100"):
        checked_pressure_hpa(stated)


@given(st.floats(940.0, 1060.0))
def test_the_mend_is_the_pressure_that_was_meant(pressure_hpa):
    """Whatever was read in another unit, the value that the message says is the right one."""
    for reading in (pressure_hpa / HPA_PER_INHG, pressure_hpa / 10, pressure_hpa * 100):
        with pytest.raises(BadValue, match="looks like") as told:
            checked_pressure_hpa(reading)
        assert float(str(told.value).split("give ")[1].split(",")[0]) == pytest.approx(pressure_hpa, abs=0.06)


def test_millimetres_of_mercury():
    """760 is refused where it does not say its place or the place is low, and taken for a place at 2350 m."""
    with pytest.raises(BadValue, match=r"1013\.3 hPa read in mmHg; give the altitude too"):
        refuse_mmhg(760.0, None)
    with pytest.raises(BadValue, match=r"at 120 m .* looks like mmHg: give 1013\.3"):
        refuse_mmhg(760.0, 120.0, 20.0)
    refuse_mmhg(760.0, 2350.0, 15.0)
    refuse_mmhg(835.0, None)
    refuse_mmhg(1013.0, None)


@given(st.floats(-400, 5000), st.floats(-34, 34), st.floats(-20, 40))
def test_station_pressure_is_never_questioned(altitude, swing, temp_c):
    """The standard's pressure with the weather's swing passes at every height and temperature, and is never mmHg."""
    pressure = pressure_at_altitude(altitude) + swing

    assert questioned_pressure(pressure, altitude) is None
    assert questioned_pressure(pressure, altitude, temp_c) is None
    refuse_mmhg(pressure, altitude, temp_c)


@given(st.floats(700, 4000), st.floats(985, 1040), st.floats(-10, 35))
def test_sea_level_pressure_is_questioned_from_700_m_up(altitude, pressure, temp_c):
    """A weather report's value at a high place is questioned, with about the value that a barometer shows there."""
    said = questioned_pressure(pressure, altitude, temp_c)

    assert said is not None
    assert "reduced to sea level" in said
    meant = float(said.rstrip(".").rsplit(" ", 1)[1])
    assert questioned_pressure(meant, altitude, temp_c) is None


def test_sea_level_pressure_at_1500_m():
    """At 1500 m it overstates the air by a fifth (closed form: 1013.25 over 845.6 hPa)."""
    said = questioned_pressure(1013.25, 1500.0)

    assert "20 % too dense" in said
    assert "about 846" in said


def test_a_pressure_that_fits_nothing():
    """A pressure far too low or high for its place is questioned without guessing what it was."""
    for pressure, altitude in ((850.0, 100.0), (1090.0, 100.0), (1000.0, -450.0), (600.0, 1500.0)):
        said = questioned_pressure(pressure, altitude)
        assert said.endswith("look at the pressure and at the altitude again.")


@pytest.mark.parametrize(
    ("stated", "mend"), [(70.0, "Fahrenheit, give 21.1"), (293.0, "kelvin, give 19.9"), (-60.0, "")]
)
def test_temperature_in_another_unit(stated, mend):
    """A temperature out of range is refused, with the value in Celsius where the unit shows."""
    with pytest.raises(BadValue, match=f"at most 60.*{mend}"):
        checked_temp_c(stated)


@pytest.mark.parametrize("stated", [-1.0, 100.1, 140.0])
def test_impossible_humidity(stated):
    """A humidity under 0 or over 100 is refused with its range."""
    with pytest.raises(BadValue, match="at least 0 and at most 100"):
        checked_humidity_percent(stated)


def test_humidity_as_a_share():
    """0.64 is questioned as a share of 1, with 64 in its place; 0 and a dry 5 % are not."""
    assert "give 64" in questioned_humidity(0.64)
    assert questioned_humidity(0.0) is None
    assert questioned_humidity(5.0) is None


def test_what_can_be_is_taken():
    """Values in range come back as they went in."""
    assert checked_pressure_hpa(500.0) == 500.0
    assert checked_pressure_hpa(1100.0) == 1100.0
    assert checked_temp_c(-40.0) == -40.0
    assert checked_humidity_percent(100.0) == 100.0
    assert checked_altitude_m(6000.0) == 6000.0
    with pytest.raises(BadValue, match="at most 6000"):
        checked_altitude_m(20_000.0)


def test_what_nobody_said_raises_no_question():
    """Without an altitude or a humidity nothing is questioned; with both, each is."""
    assert questions(1013.0, None, None, None) == ()
    assert questions(None, None, 1500.0, None) == ()
    assert len(questions(1013.0, 0.5, 1500.0, 20.0)) == 2


def test_mercury_columns():
    """760 mm and 29.92 in of mercury are a standard atmosphere (published: UCUM)."""
    assert pytest.approx(1013.25, abs=0.001) == 760 * HPA_PER_MMHG
    assert pytest.approx(1013.25, abs=0.002) == 29.9213 * HPA_PER_INHG
