"""The sensor's model and what falsifies it against Cantera, Brettschneider and worked values."""

import cantera as ct
import numpy as np
import psychrolib
import pytest

from bridge.physics.fooled import with_air_leak, with_air_scavenging, with_lost_charge
from bridge.physics.gas import brettschneider
from bridge.physics.mixed import analysis_in_collector, sensor_in_collector
from bridge.physics.pump_cell import (
    _CO_OVER_O2,
    _H2_OVER_O2,
    corrected_lambda,
    free_air_oxygen,
    pressure_effect,
    reading_on_fuel,
    relative_current,
)
from bridge.physics.water_gas import burnt


# closed form (element balance of CH1.87 in O2 + 3.76 N2, K = 3.5), solved by hand: dry gas [%]
@pytest.mark.parametrize(
    ("lambda_", "co2", "co", "h2", "o2"),
    [
        (0.75, 9.0421, 9.6270, 4.0714, 0.0),
        (0.80, 10.3222, 7.6089, 2.9167, 0.0),
        (0.85, 11.6043, 5.6255, 1.9599, 0.0),
        (0.90, 12.8754, 3.6897, 1.1722, 0.0),
        (0.95, 14.1245, 1.8119, 0.5268, 0.0),
        (1.00, 15.3426, 0.0, 0.0, 0.0),
        (1.10, 13.8575, 0.0, 0.0, 2.0336),
        (1.20, 12.6345, 0.0, 0.0, 3.7082),
    ],
)
def test_exhaust_of_petrol(lambda_, co2, co, h2, o2):
    """The dry exhaust of CH1.87 by lambda."""
    gas = burnt(lambda_, 1.87)
    found = [100 * float(part / gas.dry) for part in (gas.co2, gas.co, gas.h2, gas.o2)]

    assert found == pytest.approx([co2, co, h2, o2], abs=1e-4)


def test_exhaust_of_e10():
    """The same of E10 at 0.85: the fuel's own oxygen takes its place in the balance (closed form)."""
    gas = burnt(0.85, 1.94534, 0.03334)

    assert 100 * gas.co2 / gas.dry == pytest.approx(11.6298, abs=1e-4)
    assert 100 * gas.co / gas.dry == pytest.approx(5.5697, abs=1e-4)


def test_exhaust_frozen_in_equilibrium():
    """At 1720 K Cantera's equilibrium has the same CO and H2 as K = 3.5 gives (computed with Cantera, gri30)."""
    gas = ct.Solution("gri30.yaml")
    gas.set_equivalence_ratio(1 / 0.85, "CH4:1", "O2:1, N2:3.76")
    gas.TP = 1720.3, ct.one_atm
    gas.equilibrate("TP")
    ours = burnt(0.85, 4.0)

    assert float(ours.co / ours.wet) == pytest.approx(gas["CO"].X[0], rel=0.01)
    assert float(ours.h2 / ours.wet) == pytest.approx(gas["H2"].X[0], rel=0.01)


def test_diffusion_of_hydrogen_and_carbon_monoxide():
    """Their diffusivities over oxygen's at 1050 K in rich exhaust are Cantera's, mixture-averaged (gri30)."""
    gas, exhaust = ct.Solution("gri30.yaml"), burnt(0.88, 1.87)
    gas.TPX = (
        1050.0,
        ct.one_atm,
        {
            "CO2": float(exhaust.co2),
            "CO": float(exhaust.co),
            "H2O": float(exhaust.h2o),
            "H2": float(exhaust.h2),
            "N2": float(exhaust.inert),
            "O2": 1e-6,
        },
    )
    of = dict(zip(gas.species_names, gas.mix_diff_coeffs, strict=True))

    assert of["H2"] / of["O2"] == pytest.approx(_H2_OVER_O2, rel=0.03)
    assert of["CO"] / of["O2"] == pytest.approx(_CO_OVER_O2, rel=0.03)


# closed form with those diffusivities; the table divides by 0.2095 of oxygen, the model by the 0.2101 of its own air
CURRENTS = {
    0.70: -0.6624, 0.75: -0.5107, 0.80: -0.3791, 0.85: -0.2647, 0.90: -0.1648, 0.95: -0.0772, 1.00: 0.0,
    1.05: 0.0449, 1.10: 0.0859, 1.20: 0.1583, 1.50: 0.3200, 2.0: 0.4852, 3.0: 0.6539,
}  # fmt: skip


@pytest.mark.parametrize(("lambda_", "current"), CURRENTS.items())
def test_current_table(lambda_, current):
    """The pumped current over that in dry air, by lambda."""
    assert relative_current(lambda_) == pytest.approx(current, rel=3.2e-3, abs=1e-12)


# closed form, the same model with each fuel's own gases
@pytest.mark.parametrize(
    ("h_to_c", "o_to_c", "true", "reading"),
    [
        (1.94534, 0.03334, 0.85, 0.8493),
        (2.75664, 0.39232, 0.85, 0.8433),
        (3.0, 0.5, 0.85, 0.8421),
        (4.0, 1.0, 0.85, 0.8400),
        (3.0, 0.5, 1.20, 1.1872),
        (4.0, 1.0, 1.20, 1.1763),
    ],
)
def test_reading_on_other_fuels(h_to_c, o_to_c, true, reading):
    """What a sensor with a table for petrol reads on E10, E85, ethanol and methanol."""
    assert reading_on_fuel(true, h_to_c, o_to_c) == pytest.approx(reading, abs=1.1e-4)


@pytest.mark.parametrize(("k", "reading"), [(2.5, 0.839), (3.5, 0.850), (5.0, 0.860)])
def test_reading_by_the_balance_that_froze(k, reading):
    """More hydrogen in the gas reads richer (closed form)."""
    assert reading_on_fuel(0.85, 1.87, k=k) == pytest.approx(reading, abs=6e-4)


@pytest.mark.parametrize(("ratio", "effect"), [(1.10, 1.03125), (0.80, 0.92308), (1.0, 1.0)])
def test_pressure_table(ratio, effect):
    """A barrier with a = 0.5 (closed form of Bosanquet's mix)."""
    assert pressure_effect(ratio, 0.5) == pytest.approx(effect, abs=1e-5)
    assert pressure_effect(ratio, 0.0) == pytest.approx(1.0)


def test_free_air_of_humid_days():
    """Free air has 0.20618 of oxygen at 25 Cel and 50 %, 0.20248 at 35 Cel and 60 % (psychrolib 2.5)."""
    assert free_air_oxygen(25.0, 1013.25, 50.0) == pytest.approx(0.20618428, abs=2e-5)
    assert free_air_oxygen(35.0, 1013.25, 60.0) == pytest.approx(0.20248, abs=2e-5)
    before = psychrolib.GetUnitSystem()
    psychrolib.SetUnitSystem(psychrolib.SI)
    wet = psychrolib.GetVapPresFromRelHum(30.0, 0.8) / 95_000
    if before is not None:
        psychrolib.SetUnitSystem(before)
    assert free_air_oxygen(30.0, 950.0, 80.0) == pytest.approx(0.20946 * (1 - wet), abs=1e-6)


@pytest.mark.parametrize(("lost", "reading"), [(0.1, 0.978), (0.2, 1.100), (0.3, 1.257)])
def test_lost_charge_is_what_an_analysis_without_unburnt_fuel_says(lost, reading):
    """Lost charge that the sensor does not burn reads as Brettschneider does with the unburnt fuel left out."""
    gas = burnt(0.88, 1.87)
    fresh = lost / (1 - lost)  # for each mole of carbon that burned
    oxygen = gas.o2 + fresh * 0.88 * (1 + 1.87 / 4)
    blind = brettschneider(gas.co2, gas.co, oxygen, 0.0, 0.0, 1.87)
    seeing = brettschneider(gas.co2, gas.co, oxygen, fresh, 0.0, 1.87)

    assert with_lost_charge(0.88, lost, 0.0) == pytest.approx(reading, abs=6e-4)
    assert blind == pytest.approx(with_lost_charge(0.88, lost, 0.0), abs=1e-9)
    assert seeing == pytest.approx(0.88, abs=1e-9)
    assert with_lost_charge(0.88, lost, 1.0) == pytest.approx(0.88)


def test_air_leak_is_what_an_analysis_says():
    """0.88 with 5 % of false air reads 0.924, as Brettschneider does on the diluted gas."""
    gas = burnt(0.88, 1.87)
    leak = 0.05 * 0.88 * (1 + 1.87 / 4)

    assert with_air_leak(0.88, 0.05) == pytest.approx(0.924, abs=1e-6)
    assert brettschneider(gas.co2, gas.co, gas.o2 + leak, 0, 0, 1.87) == pytest.approx(0.924, abs=1e-9)
    assert with_air_scavenging(0.88, 0.2) == pytest.approx(1.1, abs=1e-9)


# closed form: two cylinders with equal fuel, their Brettschneider lambda in one pipe
@pytest.mark.parametrize(
    ("pair", "analysis"), [((0.8, 1.0), 0.9050), ((0.7, 1.0), 0.8630), ((0.7, 1.1), 0.9130)]
)
def test_unequal_cylinders_in_one_pipe(pair, analysis):
    """A gas analysis of the mixed gas is lean of the mean, a sensor by the model rich of it."""
    assert analysis_in_collector(pair) == pytest.approx(analysis, abs=6e-5)
    assert analysis_in_collector(pair) > np.mean(pair) > sensor_in_collector(pair)


def test_free_air_check_takes_an_aged_sensor_back():
    """A sensor that told 0.196 in air of 0.20618 has a gain of 0.951: its 0.88 was 0.8747 (closed form)."""
    gain = 0.196 / free_air_oxygen(25.0, 1013.25, 50.0)
    wanted = relative_current(0.88) / gain
    found = corrected_lambda(0.88, gain)

    assert relative_current(found) == pytest.approx(wanted, abs=1e-6)
    assert found == pytest.approx(0.8747, abs=1e-4)
