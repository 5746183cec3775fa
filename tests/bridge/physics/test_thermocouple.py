"""Type K: the published table, the cold junction, both ways round, and what is outside."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.physics.thermocouple import emf_mv, seebeck_mv_per_k, temperature_c, tolerance_k

# published: NIST Monograph 175 / IEC 60584-1:2013, reference junction at 0 Cel [Cel: mV]
TABLE = {
    0: 0.0,
    100: 4.096230,
    200: 8.138473,
    300: 12.208566,
    400: 16.397142,
    500: 20.644286,
    600: 24.905467,
    700: 29.128974,
    800: 33.275380,
    900: 37.325915,
    1000: 41.275606,
    1100: 45.118736,
    1200: 48.838238,
    1372: 54.886364,
}


@pytest.mark.parametrize(("temp_c", "mv"), TABLE.items())
def test_the_published_table(temp_c, mv):
    """The voltage is that of the NIST table to its last digit."""
    assert float(emf_mv(temp_c)) == pytest.approx(mv, abs=6e-7)


def test_the_table_backwards():
    """The temperature of each voltage of the table is the table's, all at once."""
    assert temperature_c(list(TABLE.values())) == pytest.approx(np.array(list(TABLE)), abs=2e-5)


@pytest.mark.parametrize(
    ("mv", "cold_c", "expected"),
    [
        # closed form by the NIST table: E(700) - E(25) = 28.128731 mV
        (28.128731, 25.0, 700.0),
        (28.128731, 0.0, 676.18),  # the naive reading, 24 degrees short
        (4.096, 25.0, 124.31),
        (0.0, 25.0, 25.0),
    ],
)
def test_the_cold_junction_counts_as_voltage(mv, cold_c, expected):
    """A cold junction's own voltage is added, not its degrees."""
    assert float(temperature_c(mv, cold_c)) == pytest.approx(expected, abs=0.01)


def test_adding_the_cold_junctions_degrees_would_be_wrong():
    """At 700 Cel the naive sum is more than a kelvin too hot, and the rule is exact."""
    naive = float(temperature_c(28.128731)) + 25.0

    assert naive - 700.0 > 1.0
    assert abs(float(temperature_c(28.128731, 25.0)) - 700.0) < 1e-4


@given(st.floats(-268.0, 1372.0), st.floats(-40.0, 80.0))
def test_there_and_back(hot_c, cold_c):
    """From temperature to the voltage measured and back, with any cold junction that a bike has."""
    measured = emf_mv(hot_c) - emf_mv(cold_c)

    assert float(temperature_c(measured, cold_c)) == pytest.approx(hot_c, abs=1e-6)


@given(st.floats(-6.4, 54.8))
def test_back_and_there(mv):
    """From a voltage to the temperature and back."""
    assert float(emf_mv(temperature_c(mv))) == pytest.approx(mv, abs=5e-9)


@given(st.floats(-269.0, 1370.0), st.floats(0.5, 100.0))
def test_hotter_is_more_voltage(temp_c, more):
    """Voltage rises with the hot junction's temperature, and falls with the cold one's."""
    hotter = min(temp_c + more, 1372.0)

    assert float(emf_mv(hotter)) > float(emf_mv(temp_c))
    assert float(temperature_c(10.0, 20.0)) < float(temperature_c(10.0, 21.0))


def test_a_reversed_pair_falls_when_heated():
    """With the legs swapped the reckoned temperature goes below the cold junction, and then there is none."""
    warm, hot = -(emf_mv([100.0, 400.0]) - emf_mv(25.0))

    assert float(temperature_c(warm, 25.0)) < 25.0
    assert np.isnan(temperature_c(hot, 25.0))


@pytest.mark.parametrize(
    ("mv", "cold_c"),
    [(54.9, 0.0), (-6.46, 0.0), (np.nan, 0.0), (5.0, np.nan), (5.0, 1400.0), (54.0, 30.0), (np.inf, 0.0)],
)
def test_outside_there_is_no_number(mv, cold_c):
    """What no type K can have measured is nan, and so is what nobody read."""
    assert np.isnan(temperature_c(mv, cold_c))


@pytest.mark.parametrize("temp_c", [-270.01, 1372.01, np.nan])
def test_there_is_no_voltage_outside(temp_c):
    """Outside the reference functions there is no voltage and no slope."""
    assert np.isnan(emf_mv(temp_c))
    assert np.isnan(seebeck_mv_per_k(temp_c))


def test_the_ends_belong_to_it():
    """The last temperatures of the reference functions are still inside, both ways."""
    assert temperature_c(emf_mv([-270.0, 1372.0])) == pytest.approx(np.array([-270.0, 1372.0]), abs=1e-3)


@pytest.mark.parametrize(
    ("temp_c", "slope"),
    [(100, 0.04137), (700, 0.04190)],  # published: NIST Monograph 175
)
def test_the_slope(temp_c, slope):
    """A kelvin more is about 41 microvolts more, as the table's slope says."""
    step = float(emf_mv(temp_c + 0.01) - emf_mv(temp_c - 0.01)) / 0.02

    assert float(seebeck_mv_per_k(temp_c)) == pytest.approx(slope, abs=5e-6)
    assert float(seebeck_mv_per_k(temp_c)) == pytest.approx(step, rel=1e-6)


@pytest.mark.parametrize(
    ("temp_c", "tolerance_class", "expected"),
    # from memory: IEC 60584-1:2013
    [(20, 1, 1.5), (700, 1, 2.8), (700, 2, 5.25), (-30, 2, 2.5), (1100, 1, np.nan), (1100, 2, 8.25)],
)
def test_the_tolerance_classes(temp_c, tolerance_class, expected):
    """A new thermocouple may err by the larger of a fixed part and a share, as far as its class goes."""
    assert float(tolerance_k(temp_c, tolerance_class)) == pytest.approx(expected, nan_ok=True)


def test_arrays_keep_their_shape():
    """A column of voltages with a column of cold junctions gives a column of temperatures."""
    mv = np.linspace(0.0, 30.0, 6).reshape(2, 3)

    assert temperature_c(mv, np.full((2, 3), 20.0)).shape == (2, 3)
    assert np.all(np.diff(temperature_c(mv.ravel(), 20.0)) > 0)
