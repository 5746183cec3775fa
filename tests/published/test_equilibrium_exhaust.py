"""Exhaust of a chemical equilibrium, frozen and dried, put back through the formulas.

Source: Cantera 3.2 with its own gri30 mechanism, an independent program: published. The figures at 1740 K were
computed by it once and stand here as literals; the test computes them again.
"""

import cantera
import numpy as np
import pytest

from bridge.physics.fuel import fuel_by_name
from bridge.physics.gas import brettschneider, gas_lambda, spindt_lambda

H_TO_C = 1.87
# published: Cantera 3.2, gri30, equilibrate("TP") at 1740 K and one atmosphere
READ = {0.75: 0.74879, 0.85: 0.84928, 0.95: 0.94975, 1.05: 1.04967, 1.10: 1.09959, 1.20: 1.19949}


@pytest.fixture(scope="module")
def gas():
    """A gas with its equilibria."""
    return cantera.Solution("gri30.yaml")


def frozen(gas, lam, temp_k=1740.0, h_to_c=H_TO_C, o_to_c=0.0):
    """The dry exhaust of a mixture whose equilibrium froze at a temperature, in percent."""
    need = 1.0 + h_to_c / 4.0 - o_to_c / 2.0
    charge = {"C": 1.0, "H": h_to_c, "O": o_to_c, "O2": lam * need, "N2": 3.76 * lam * need}
    gas.TPX = temp_k, cantera.one_atm, charge
    gas.equilibrate("TP")
    dry = 1.0 - gas["H2O"].X[0]
    return {name: 100.0 * gas[name].X[0] / dry for name in ("CO2", "CO", "O2", "NO", "H2")} | {
        "K": gas["CO"].X[0] * gas["H2O"].X[0] / (gas["CO2"].X[0] * gas["H2"].X[0])
    }


@pytest.mark.parametrize(("lam", "read"), READ.items())
def test_brettschneider_gives_the_equilibriums_lambda_back(gas, lam, read):
    """Frozen at 1740 K the lambda that went in comes out within 0.0013."""
    found = frozen(gas, lam)
    back = float(brettschneider(found["CO2"], found["CO"], found["O2"], 0, found["NO"], H_TO_C))

    assert back == pytest.approx(read, abs=3e-5)
    assert back == pytest.approx(lam, abs=1.3e-3)


@pytest.mark.parametrize("lam", [0.75, 0.85, 0.95])
def test_spindt_gives_it_back(gas, lam):
    """Rich of 1, where there is hardly NO, Spindt's lambda is the equilibrium's within 0.002."""
    found = frozen(gas, lam)

    assert float(spindt_lambda(found["CO2"], found["CO"], found["O2"], 0, H_TO_C)) == pytest.approx(
        lam, abs=2e-3
    )


@pytest.mark.parametrize("name", ["e10", "e85", "methanol"])
@pytest.mark.parametrize("lam", [0.8, 0.9, 1.1])
def test_oxygenated_fuels_too(gas, name, lam):
    """A fuel's own oxygen is counted right against Cantera's balance."""
    fuel = fuel_by_name(name)
    found = frozen(gas, lam, h_to_c=fuel.h_to_c, o_to_c=fuel.o_to_c)
    back = brettschneider(
        found["CO2"], found["CO"], found["O2"], 0, found["NO"], fuel.h_to_c, fuel.o_to_c, k=found["K"]
    )

    assert float(back) == pytest.approx(lam, abs=1.3e-3)


def test_freezing_earlier_reads_rich(gas):
    """Gas that froze at 2200 K reads 0.836 for 0.85: the freezing temperature matters, and the doubt covers it."""
    found = frozen(gas, 0.85, 2200.0)
    back = float(brettschneider(found["CO2"], found["CO"], found["O2"], 0, found["NO"], H_TO_C))

    assert back == pytest.approx(0.8363, abs=2e-4)
    analysis = gas_lambda(
        found["CO2"], found["CO"], found["O2"], 0.0, 1e4 * found["NO"], fuel_by_name("petrol")
    )
    assert abs(analysis.brettschneider - 0.85) < 2.0 * analysis.sd


def test_where_the_water_gas_constant_is_reached(gas):
    """K = 3.5 belongs to 1721 K by this mechanism, and 1740 K to 3.58."""
    # published: Cantera 3.2, gri30
    temps = np.array([1700.0, 1720.97, 1740.0])
    constants = [frozen(gas, 0.85, float(t))["K"] for t in temps]

    assert constants[1] == pytest.approx(3.5, abs=0.01)
    assert constants[2] == pytest.approx(3.58, abs=0.01)
    assert constants == sorted(constants)
