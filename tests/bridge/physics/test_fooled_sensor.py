"""What fools the sensor and how a reading is moved back: ways back, directions, what stands in words."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.physics.fooled import (
    TWO_STROKE_READS,
    what_fools,
    with_air_leak,
    with_air_scavenging,
    with_lost_charge,
    without_air_leak,
    without_air_scavenging,
    without_lost_charge,
)
from bridge.physics.mixed import analysis_in_collector, mean_lambda, sensor_in_collector
from bridge.physics.pump_cell import (
    corrected_lambda,
    correction_sd,
    free_air_oxygen,
    lambda_of_current,
    lambda_on_fuel,
    pressure_effect,
    pressure_ratio_of,
    reading_on_fuel,
    relative_current,
    uncorrected_lambda,
)
from bridge.physics.water_gas import burnt

LAMBDAS, SHARES = st.floats(0.6, 1.6), st.floats(0, 0.6)


@given(LAMBDAS, SHARES, SHARES)
def test_ways_back(lambda_, share, seen):
    """Each thing that fools the sensor can be taken out again, and none of them reads rich."""
    leak, lost, air = (
        with_air_leak(lambda_, share),
        with_lost_charge(lambda_, share, seen),
        with_air_scavenging(lambda_, share),
    )

    assert without_air_leak(leak, share) == pytest.approx(lambda_)
    assert without_lost_charge(lost, share, seen) == pytest.approx(lambda_)
    assert without_air_scavenging(air, share) == pytest.approx(lambda_)
    assert min(leak, lost, air) >= lambda_


@given(st.floats(0.5, 1.0), st.floats(0, 4), st.floats(0, 0.8), st.floats(1.5, 8))
def test_atoms_are_kept(lambda_, h_to_c, o_to_c, k):
    """Carbon, hydrogen, oxygen and the water-gas balance add up in whatever burns rich, where there is an answer."""
    gas = burnt(lambda_, h_to_c, o_to_c, k)
    need = 1 + h_to_c / 4 - o_to_c / 2
    if np.isnan(gas.co):
        # the oxygen that lacks is more than all carbon and hydrogen can go without
        assert 2 * need * (1 - lambda_) > min(1.0, 1.0 + h_to_c / 2) * 0.9
        return

    assert gas.co2 + gas.co == pytest.approx(1.0)
    assert 2 * (gas.h2 + gas.h2o) == pytest.approx(h_to_c)
    oxygen = 2 * gas.co2 + gas.co + gas.h2o + 2 * gas.o2
    assert oxygen == pytest.approx(2 * need * lambda_ + o_to_c)
    assert gas.co * gas.h2o == pytest.approx(k * gas.co2 * gas.h2, abs=1e-9)


@given(st.floats(0.55, 4.0), st.sampled_from([(1.87, 0.0), (1.95, 0.033), (3.0, 0.5), (4.0, 1.0)]))
def test_current_and_back(lambda_, fuel):
    """Lambda to pumped current to lambda, on petrol and on alcohols; 1 is 0 on each."""
    assert lambda_of_current(relative_current(lambda_, *fuel), *fuel) == pytest.approx(lambda_, rel=2e-5)
    assert relative_current(1.0, *fuel) == pytest.approx(0.0, abs=1e-12)
    if 0.6 <= lambda_ <= 3.0:
        assert lambda_on_fuel(reading_on_fuel(lambda_, *fuel), *fuel) == pytest.approx(lambda_, rel=1e-4)


def test_current_rises_with_lambda_to_free_air():
    """The current rises all the way from rich to free air, which has 1, and is unknown outside the model."""
    line = relative_current(np.concatenate((np.linspace(0.4, 10, 2000), [1e6, np.inf])))

    assert (np.diff(line) > 0).all()
    assert line[-1] == 1.0
    assert np.isnan(relative_current(0.39))
    assert np.isnan(lambda_of_current(-5.0))
    assert np.isinf(lambda_of_current(1.1))
    assert np.isnan(relative_current(np.nan))


@given(st.floats(0.65, 1.6), st.floats(0.85, 1.15), st.floats(0.8, 1.3), st.floats(0, 1))
def test_correction_and_back(lambda_, gain, ratio, share):
    """A reading that was corrected for gain and pressure and made wrong again is as it was."""
    true = corrected_lambda(lambda_, gain, ratio, share)

    assert uncorrected_lambda(true, gain, ratio, share) == pytest.approx(lambda_, rel=1e-4)


@given(st.floats(0.1, 9.0))
def test_nothing_to_correct_changes_nothing(lambda_):
    """With a gain of 1 at the pressure of calibration a reading comes back to the last digit."""
    assert corrected_lambda(lambda_) == lambda_
    assert corrected_lambda(lambda_, 1.0, 1.0, 0.3) == lambda_


def test_directions_of_gain_and_pressure():
    """A weak sensor reads too near to 1, back-pressure too far from it, and at 1 both are right."""
    assert corrected_lambda(0.85, gain=0.95) < 0.85
    assert corrected_lambda(1.15, gain=0.95) > 1.15
    assert corrected_lambda(0.85, pressure_ratio=1.1) > 0.85
    assert corrected_lambda(1.15, pressure_ratio=1.1) < 1.15
    assert corrected_lambda(1.0, gain=0.9, pressure_ratio=1.2) == pytest.approx(1.0, abs=1e-9)
    assert corrected_lambda(0.85, pressure_ratio=1.1, share=0.0) == 0.85


def test_correction_takes_arrays_and_keeps_what_is_unknown():
    """Readings one by one or together give the same; what is not known or outside the model stays unknown."""
    read = np.array([0.8, 0.9, np.nan, 0.39])
    ratios = np.array([1.0, 1.1, 1.0, 1.0])
    found = corrected_lambda(read, 0.97, ratios)

    assert found[:2] == pytest.approx(
        [float(corrected_lambda(0.8, 0.97)), float(corrected_lambda(0.9, 0.97, 1.1))]
    )
    assert np.isnan(found[2:]).all()
    assert np.isnan(corrected_lambda(0.9, 0.97, np.array([np.nan, -1.0]))).all()
    assert np.isposinf(corrected_lambda(20.0, 0.8))


@given(st.floats(0.4, 2.5), st.floats(0.05, 3))
def test_pressure_and_back(ratio, share):
    """Pressure to current and back; more pressure is always more current, never more than 1 + a times."""
    effect = pressure_effect(ratio, share)

    assert pressure_ratio_of(effect, share) == pytest.approx(ratio)
    assert pressure_effect(ratio * 1.01, share) > effect
    assert effect < 1 + share
    assert np.isnan(pressure_ratio_of(1 + share, share))


def test_doubt_of_a_correction():
    """The doubt grows with the gain's, is none where nothing is corrected, and covers the correction's own model."""
    assert correction_sd(0.85) == 0.0
    assert correction_sd(0.85, 1.0, 0.02) == pytest.approx(abs(corrected_lambda(0.85, 1.02) - 0.85))
    moved = abs(corrected_lambda(0.85, 0.9) - 0.85)
    assert correction_sd(0.85, 0.9) == pytest.approx(0.2 * moved)
    assert correction_sd(0.85, 0.9, 0.02) > correction_sd(0.85, 0.9, 0.01) > correction_sd(0.85, 0.9)
    assert correction_sd(0.85, 1.0, 0.0, 1.2, 0.5, 0.2) > correction_sd(0.85, 1.0, 0.0, 1.2, 0.5)


def test_humid_free_air_has_less_oxygen():
    """A free-air check on a humid, hot or high day finds less oxygen than dry air has."""
    assert free_air_oxygen(25.0, 1013.25, 0.0) == 0.20946  # from memory
    assert free_air_oxygen(25.0, 1013.25, 90.0) < free_air_oxygen(25.0, 1013.25, 30.0)
    assert free_air_oxygen(35.0, 1013.25, 50.0) < free_air_oxygen(15.0, 1013.25, 50.0)
    assert free_air_oxygen(25.0, 850.0, 50.0) < free_air_oxygen(25.0, 1013.25, 50.0)
    assert free_air_oxygen() == free_air_oxygen(20.0, 1013.25, 50.0)


@given(st.lists(st.floats(0.65, 1.2), min_size=1, max_size=4))
def test_a_collector_hides_its_cylinders(lambdas):
    """A sensor reads the mean or richer, a gas analysis the mean or leaner, and both are right on equal cylinders."""
    mean = mean_lambda(lambdas)

    assert sensor_in_collector(lambdas) <= mean + 2e-5
    assert analysis_in_collector(lambdas) >= mean - 1e-9
    assert sensor_in_collector([mean] * 3) == pytest.approx(mean, abs=2e-5)
    assert analysis_in_collector([mean] * 3) == pytest.approx(mean)


def test_a_cylinder_counts_by_its_fuel():
    """The mean goes to the cylinder that burns more."""
    assert mean_lambda([0.8, 1.0], [3, 1]) == pytest.approx(0.85)
    assert sensor_in_collector([0.8, 1.0], [3, 1]) < sensor_in_collector([0.8, 1.0], [1, 3])


def test_two_strokes_are_fooled_most():
    """A two-stroke's lost charge comes first and is far larger than anything that fools a four-stroke."""
    two, four = what_fools(2), what_fools(4)

    assert two[0].cause == "short-circuited charge"
    assert two[0].direction == "lean"
    assert two[0].size_high > 2 * max(f.size_high for f in four)
    assert "short-circuited charge" not in {f.cause for f in four}
    assert "unless calibrated" in TWO_STROKE_READS


def test_a_stated_offset_takes_the_lost_charge_out():
    """Once the trapped offset is stated for an engine its lost charge is not named again; leaks and misfires are."""
    causes = {f.cause for f in what_fools(2, calibrated=True)}

    assert "short-circuited charge" not in causes
    assert {"air leak", "misfire"} <= causes


@given(st.floats(0.65, 1.4), st.sampled_from([2, 4]), st.sampled_from(["each", "collector"]))
def test_what_fools_is_sized_and_said(lambda_, strokes, sensor):
    """Each cause has its size the way its direction says, its status, and a sentence with its own numbers."""
    found = what_fools(strokes, sensor, cylinders=2, lambda_=lambda_, h_to_c=4.0, o_to_c=1.0)
    sizes = [max(abs(f.size_low), abs(f.size_high)) for f in found]

    assert sizes == sorted(sizes, reverse=True)
    assert len({f.cause for f in found}) == len(found) >= 5
    for fooled in found:
        assert fooled.size_low <= fooled.size_high
        assert {"lean": fooled.size_low >= 0, "rich": fooled.size_high <= 0, "either": True}[fooled.direction]
        assert f"{lambda_:.2f}" in fooled.sentence or f"{lambda_:.3f}" in fooled.sentence
        assert fooled.sentence[0].isupper()
        assert fooled.sentence.endswith(".")
        assert "no source" in fooled.status or "model" in fooled.status


def test_sizes_are_those_of_the_formulas():
    """A reading of 0.88 with a tenth to three tenths of the charge lost stands for 0.616 to 0.840 (closed form)."""
    lost = next(f for f in what_fools(2, lambda_=0.88) if f.cause == "short-circuited charge")
    leak = next(f for f in what_fools(2, lambda_=0.924) if f.cause == "air leak")

    assert lost.size_high == pytest.approx(0.88 - 0.616)
    assert lost.size_low == pytest.approx(0.88 - 0.88 * (1 - 0.1 * 0.45))
    assert "0.616 to 0.840" in lost.sentence
    assert leak.size_high == pytest.approx(0.924 - 0.88)


def test_only_what_this_bike_has_is_named():
    """One pipe for all is named only with a collector, the fuel only with oxygen in it, pressure only uncorrected."""
    plain = {f.cause for f in what_fools(4, "each", cylinders=2)}
    single = {f.cause for f in what_fools(4, "collector", cylinders=1)}
    collector = {f.cause for f in what_fools(4, "collector", cylinders=2)}
    petrol = {f.cause for f in what_fools(4, h_to_c=1.87, o_to_c=0.0)}
    methanol = {f.cause for f in what_fools(4, h_to_c=4.0, o_to_c=1.0)}

    assert collector - plain == {"unequal cylinders in one pipe"}
    assert single == plain == petrol
    assert methanol - plain == {"oxygen in the fuel"}
    assert plain - {f.cause for f in what_fools(4, pressure_corrected=True)} == {"exhaust pressure"}


def test_readings_outside_the_model_name_what_can_be_sized():
    """At a reading of 0.42 the causes that the models cannot size are left out, with no nan in any sentence."""
    found = what_fools(2, "collector", cylinders=2, lambda_=0.42)

    assert {"misfire", "air leak"} <= {f.cause for f in found}
    assert not any("nan" in f.sentence or "inf" in f.sentence for f in found)
