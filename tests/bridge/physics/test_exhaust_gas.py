"""Lambda from the gases of the exhaust: the worked table, both ways round, directions, and what is refused."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bridge.errors import BadValue
from bridge.physics.fuel import fuel_by_name, fuel_of_formula, stated_afr
from bridge.physics.gas import (
    brettschneider,
    dry_exhaust,
    gas_lambda,
    hc_c1_percent,
    ppm_hexane,
    spindt_afr,
    spindt_bias,
    spindt_lambda,
)

PETROL = fuel_by_name("petrol")
# closed form: element balance of CH1.87 with O2 + 3.76 N2, K = 3.5, solved independently
# (lambda, CO2, CO, H2, O2, N2 in dry percent, AFR by Spindt)
WORKED = (
    (0.75, 9.0421, 9.6270, 4.0714, 0.0, 77.2594, 10.9382),
    (0.80, 10.3222, 7.6089, 2.9167, 0.0, 79.1522, 11.6675),
    (0.85, 11.6043, 5.6255, 1.9599, 0.0, 80.8102, 12.3967),
    (0.90, 12.8754, 3.6897, 1.1722, 0.0, 82.2627, 13.1259),
    (0.95, 14.1245, 1.8119, 0.5268, 0.0, 83.5369, 13.8550),
    (1.00, 15.3426, 0.0, 0.0, 0.0, 84.6574, 14.5841),
    (1.10, 13.8575, 0.0, 0.0, 2.0336, 84.1090, 16.0418),
    (1.20, 12.6345, 0.0, 0.0, 3.7082, 83.6573, 17.4995),
)


@pytest.mark.parametrize(("lam", "co2", "co", "h2", "o2", "n2", "afr"), WORKED)
def test_the_worked_table(lam, co2, co, h2, o2, n2, afr):  # noqa: PLR0917  # the columns of the table
    """The gases of each worked mixture are those of its closed form, and give it back both ways."""
    gas = dry_exhaust(lam, 1.87)

    assert (gas.co2, gas.co, gas.h2, gas.o2, gas.n2) == pytest.approx((co2, co, h2, o2, n2), abs=6e-5)
    assert float(brettschneider(co2, co, o2, 0, 0, 1.87)) == pytest.approx(lam, abs=2e-5)
    assert float(spindt_afr(co2, co, o2, 0, 1.87)) == pytest.approx(afr, abs=1e-3)


def test_spindts_own_stoichiometric_ratio():
    """His formula has 14.58415 at lambda 1 for CH1.87, which his lambda is taken over."""
    # published formula (SAE 650507), evaluated by hand
    assert float(spindt_afr(1, 0, 0, 0, 1.87)) == pytest.approx(14.58415, abs=2e-5)
    assert float(spindt_lambda(11.6043, 5.6255, 0, 0, 1.87)) == pytest.approx(0.85, abs=1e-4)


@pytest.mark.parametrize(
    ("h_to_c", "o_to_c", "co2", "co", "hc"),
    [
        # closed form, element balance at lambda 0.85: 2 % of the fuel unburnt, and E10
        (1.87, 0.0, 12.005517, 4.930857, 0.34564),
        (1.94534, 0.03334, 11.629843, 5.569658, 0.0),
    ],
)
def test_unburnt_fuel_and_oxygen_in_the_fuel(h_to_c, o_to_c, co2, co, hc):
    """With 2 % of the fuel unburnt, and with the fuel's own oxygen, 0.85 comes back."""
    assert float(brettschneider(co2, co, 0, hc, 0, h_to_c, o_to_c)) == pytest.approx(0.85, abs=2e-5)


@given(
    st.floats(0.6, 1.8), st.floats(1.0, 4.0), st.floats(0.0, 0.9), st.floats(1.5, 6.0), st.floats(0.0, 0.15)
)
def test_there_and_back(lam, h_to_c, o_to_c, k, unburnt):
    """Lambda to gases and back is lambda, for any fuel, water-gas constant and share left unburnt."""
    gas = dry_exhaust(lam, h_to_c, o_to_c, k, unburnt)
    assume(not np.isnan(gas.co2))  # too little oxygen for carbon monoxide
    back = brettschneider(gas.co2, gas.co, gas.o2, gas.hc_c1, 0, h_to_c, o_to_c, k=k)

    assert float(back) == pytest.approx(lam, rel=1e-9)
    assert gas.co2 + gas.co + gas.h2 + gas.o2 + gas.n2 + gas.hc_c1 == pytest.approx(100.0)


@given(st.floats(0.6, 1.8), st.floats(1.0, 2.6))
def test_spindt_agrees_where_the_fuel_has_no_oxygen(lam, h_to_c):
    """Both formulas give the same lambda of the same gases, within 0.001."""
    gas = dry_exhaust(lam, h_to_c)

    assert float(spindt_lambda(gas.co2, gas.co, gas.o2, 0, h_to_c)) == pytest.approx(lam, abs=1e-3)


@given(st.floats(0.7, 1.3), st.sampled_from(["e5", "e10", "e20", "e85", "ethanol"]))
def test_spindts_bias_is_what_he_is_off(lam, name):
    """On an oxygenated fuel Spindt is off by what the closed form says, towards 1."""
    fuel = fuel_by_name(name)
    gas = dry_exhaust(lam, fuel.h_to_c, fuel.o_to_c)
    read = float(spindt_lambda(gas.co2, gas.co, gas.o2, 0, fuel.h_to_c))

    assert read - lam == pytest.approx(spindt_bias(lam, fuel.h_to_c, fuel.o_to_c), abs=5e-4)
    assert abs(read - 1.0) <= abs(lam - 1.0) + 5e-4


@pytest.mark.parametrize(("k", "read"), [(2.5, 0.8620), (3.8, 0.8472), (5.0, 0.8385)])
def test_another_water_gas_balance_misleads(k, read):
    """Gas that froze at another constant reads the closed form's amount off."""
    # closed form, true 0.85
    gas = dry_exhaust(0.85, 1.87, k=k)

    assert float(brettschneider(gas.co2, gas.co, gas.o2, 0, 0, 1.87)) == pytest.approx(read, abs=1e-4)


@pytest.mark.parametrize(("name", "read"), [("e10", 0.8513), ("ethanol", 0.8670)])
def test_petrols_constants_on_another_fuel_mislead(name, read):
    """Petrol's H/C and O/C on an oxygenated fuel's gas read lean."""
    # closed form, true 0.85
    fuel = fuel_by_name(name)
    gas = dry_exhaust(0.85, fuel.h_to_c, fuel.o_to_c)

    assert float(brettschneider(gas.co2, gas.co, gas.o2, 0, 0, 1.87)) == pytest.approx(read, abs=1e-4)


@pytest.mark.parametrize(("humidity", "dry"), [(0.0063, 0.8525), (0.0099, 0.8538), (0.0216, 0.8580)])
def test_moist_intake_air(humidity, dry):
    """What moist air makes of 0.85 in the dry formula, the humidity ratio puts right."""
    # closed form: water of the air in the water-gas balance, true 0.85
    co2, co = _gas_of_moist_air(0.85, 1.87, humidity)

    assert float(brettschneider(co2, co, 0, 0, 0, 1.87)) == pytest.approx(dry, abs=1e-4)
    right = float(brettschneider(co2, co, 0, 0, 0, 1.87, humidity_ratio=humidity))
    assert right == pytest.approx(0.85, abs=1e-4)


def _gas_of_moist_air(lam, h_to_c, humidity):
    """Solve the balance with the air's water by halving, for one atom of carbon: CO2 and CO in dry percent."""
    need = 1.0 + h_to_c / 4.0
    water = humidity * lam * need * 138.33 / 18.015
    low, high = 0.0, 1.0
    for _ in range(60):
        co = (low + high) / 2.0
        hydrogen = h_to_c / 2.0 + water
        as_water = hydrogen * 3.5 * (1.0 - co) / (3.5 * (1.0 - co) + co)
        low, high = (co, high) if 2.0 * (1.0 - co) + co + as_water > 2.0 * lam * need + water else (low, co)
    dry = 1.0 + (hydrogen - as_water) + 3.76 * need * lam
    return 100.0 * (1.0 - co) / dry, 100.0 * co / dry


@pytest.mark.parametrize("share", [0.1, 0.2, 0.3])
def test_hydrocarbons_left_out_read_lean(share):
    """A share of charge that left unburnt reads 1/(1 - share) lean without its hydrocarbons, and right with them."""
    # closed form, oxygen balance: the charge that went through brings its own oxygen and fuel
    burned = dry_exhaust(0.88, 1.87)
    carbon = float(burned.co2 + burned.co)
    through = share / (1.0 - share)
    need = 1.0 + 1.87 / 4.0
    o2, hc = carbon * through * 0.88 * need, carbon * through

    assert float(brettschneider(burned.co2, burned.co, o2, 0, 0, 1.87)) == pytest.approx(0.88 / (1 - share))
    assert float(brettschneider(burned.co2, burned.co, o2, hc, 0, 1.87)) == pytest.approx(0.88)


def test_air_let_in_reads_lean():
    """Five parts of false air in a hundred of intake air make 0.924 of 0.88."""
    # closed form: lambda (1 + a)
    gas = dry_exhaust(0.88, 1.87)
    need = 1.0 + 1.87 / 4.0
    o2 = 0.05 * 0.88 * need * (gas.co2 + gas.co)

    assert float(brettschneider(gas.co2, gas.co, o2, 0, 0, 1.87)) == pytest.approx(0.924)


def test_richer_is_more_monoxide_and_less_dioxide():
    """Rich of 1 CO rises and CO2 falls as the mixture gets richer, lean of 1 oxygen rises."""
    rich, lean = dry_exhaust(np.linspace(0.6, 0.99, 40), 1.87), dry_exhaust(np.linspace(1.01, 1.6, 40), 1.87)

    assert np.all(np.diff(rich.co) < 0)
    assert np.all(np.diff(rich.co2) > 0)
    assert np.all(np.diff(lean.o2) > 0)
    assert np.all(rich.o2 == 0)
    assert np.all(lean.co == 0)


def test_lean_oxygen_by_its_closed_form():
    """Lean of 1 the dry oxygen is what the closed form of complete burning says."""
    need = 1.0 + 1.87 / 4.0
    for lam in (1.05, 1.3, 1.8):
        expected = 100 * need * (lam - 1) / (1 + need * (lam - 1) + 3.76 * need * lam)
        assert float(dry_exhaust(lam, 1.87).o2) == pytest.approx(expected)


@given(st.floats(0, 20_000), st.floats(0.5, 3.0))
def test_hexane_and_carbon_there_and_back(ppm, factor):
    """What an analyser shows as hexane is six atoms of carbon each, there and back."""
    assert float(ppm_hexane(hc_c1_percent(ppm, factor), factor)) == pytest.approx(ppm)


def test_nine_hundred_ppm_of_hexane():
    """900 ppm of hexane are 0.54 % for each atom of carbon; seen by half they are 1.08 %."""
    # closed form, by hand
    assert float(hc_c1_percent(900)) == pytest.approx(0.54)
    assert float(hc_c1_percent(900, 2.0)) == pytest.approx(1.08)


def test_no_carbon_gives_no_number():
    """Without CO2 and CO there is no lambda by either formula."""
    assert np.isnan(brettschneider(0.0, 0.0, 20.9, 0.0, 0.0, 1.87))
    assert np.isnan(spindt_afr(0.0, 0.0, 20.9, 0.0, 1.87))


def test_an_analysis_gives_both_lambdas_and_its_doubts():
    """A clean analysis of 0.85 gives 0.85 by both, with a budget whose parts make its uncertainty."""
    found = gas_lambda(11.60431, 5.625543, 0.0, 0.0, 0.0, PETROL)

    assert found.brettschneider == pytest.approx(0.85, abs=1e-5)
    assert found.spindt == pytest.approx(0.85, abs=1e-3)
    assert found.sd == pytest.approx(math.hypot(*(part.sd for part in found.budget.components)))
    assert 0.004 < found.sd < 0.02
    assert found.notes == ()


def test_moist_air_is_counted_and_the_published_formula_kept():
    """With the air's humidity lambda comes out richer than by the published formula, which stands beside it."""
    dry = gas_lambda(11.60431, 5.625543, 0.0, 0.0, 0.0, PETROL)
    moist = gas_lambda(11.60431, 5.625543, 0.0, 0.0, 0.0, PETROL, humidity_ratio=0.0099)

    assert dry.dry_air == dry.brettschneider == moist.dry_air
    # closed form: that gas from air of 9.9 g/kg was burnt 0.0038 richer
    assert moist.brettschneider == pytest.approx(0.85 - 0.0038, abs=2e-4)


def test_the_budgets_readings_are_what_moves_lambda():
    """The doubt from CO is what lambda moves by when CO moves by its own standard uncertainty."""
    # common practice: 5 % of the reading, uniform
    sd = 0.05 * 5.625543 / math.sqrt(3)
    moved = brettschneider(11.60431, 5.625543 + sd, 0, 0, 0, 1.87)
    budget = gas_lambda(11.60431, 5.625543, 0.0, 0.0, 0.0, PETROL).budget
    of_co = next(part for part in budget.components if part.name == "reading of CO")

    assert of_co.sd == pytest.approx(abs(float(moved) - 0.85), rel=1e-3)


def test_what_is_not_known_widens_the_doubt():
    """No NO, much unburnt fuel or a fuel of unknown composition each make the uncertainty larger."""
    sure = gas_lambda(12.1, 4.2, 0.6, 100, 300, PETROL, humidity_ratio=0.008).sd

    assert gas_lambda(12.1, 4.2, 0.6, 100, None, PETROL, humidity_ratio=0.008).sd > sure
    assert gas_lambda(12.1, 4.2, 0.6, 100, 300, PETROL).sd > sure
    assert gas_lambda(12.1, 4.2, 0.6, 2000, 300, PETROL, humidity_ratio=0.008).sd > sure
    assert gas_lambda(12.1, 4.2, 0.6, 100, 300, stated_afr(14.1), humidity_ratio=0.008).sd > sure


def test_a_fuel_known_by_its_ratio_alone():
    """Petrol's composition stands in for a fuel of which only the AFR is stated, and that is said."""
    found = gas_lambda(12.1, 4.2, 0.6, 0, 300, stated_afr(14.1))

    assert found.brettschneider == gas_lambda(12.1, 4.2, 0.6, 0, 300, PETROL).brettschneider
    assert "stands in" in found.notes[0]
    assert "stated AFR 14.1" in found.notes[0]


@pytest.mark.parametrize(
    ("name", "said"), [("petrol", True), ("e10", True), ("e20", True), ("e85", False), ("methanol", False)]
)
def test_spindt_is_silent_on_strongly_oxygenated_fuels(name, said):
    """Where more than a twentieth of the oxygen comes with the fuel there is no lambda by Spindt, and a note why."""
    found = gas_lambda(12.1, 4.2, 0.6, 0, 300, fuel_by_name(name))

    assert (found.spindt is not None) == said
    assert any("Spindt" in note for note in found.notes) != said


def test_oxygen_beside_monoxide_is_named():
    """Much O2 beside much CO is said not to be one even burning, with lambda were the oxygen false air."""
    clean = gas_lambda(11.60431, 5.625543, 0.0, 0.0, 0.0, PETROL)
    # diluted by a quarter with air
    found = gas_lambda(0.8 * 11.60431, 0.8 * 5.625543, 0.2 * 20.9, 0.0, 0.0, PETROL)

    assert found.brettschneider > clean.brettschneider + 0.1
    assert any("0.850" in note and "air" in note for note in found.notes)


def test_half_seen_hydrocarbons_are_named():
    """With much unburnt fuel it is said what lambda would be if the analyser saw half of it: richer."""
    found = gas_lambda(12.1, 4.2, 0.6, 900, 300, PETROL)
    doubled = gas_lambda(12.1, 4.2, 0.6, 900, 300, PETROL, instrument_factor=2.0)

    assert doubled.brettschneider < found.brettschneider
    assert any(f"{doubled.brettschneider:.3f}" in note for note in found.notes)


def test_more_dioxide_than_the_fuel_has():
    """CO2 over what the fuel gives at most is questioned."""
    assert any("17 % CO2" in note for note in gas_lambda(17.0, 0.1, 0.2, 0, 100, PETROL).notes)


def test_a_mixture_that_no_engine_runs_on_is_questioned():
    """A lambda over 1.6 is questioned: mostly air at the probe."""
    assert any("outside" in note for note in gas_lambda(5.0, 0.1, 14.0, 0, 50, PETROL).notes)


@pytest.mark.parametrize(
    ("gases", "words"),
    [
        ((90.0, 15.0, 0.6, 0, 0), "add up to 105.6"),
        ((0.0, 0.0, 0.0, 0, 0), "neither CO2 nor CO"),
        ((0.0, 0.0, 20.9, 10, 0), "neither CO2 nor CO"),
        ((12.0, -0.1, 0.6, 0, 0), "CO must be"),
        ((math.nan, 4.0, 0.6, 0, 0), "CO2 must be"),
        ((12.0, 4.0, 0.6, -5, 0), "HC must be"),
        ((12.0, 4.0, 0.6, 1e6, 0), "over 100"),
    ],
)
def test_impossible_analyses_are_refused(gases, words):
    """An analysis that cannot be is refused in a sentence with its mend."""
    with pytest.raises(BadValue, match=words):
        gas_lambda(*gases, PETROL)


def test_nitromethane_counts_its_oxygen():
    """A fuel with nitrogen and oxygen comes back too."""
    fuel = fuel_of_formula("CH3NO2")
    gas = dry_exhaust(0.9, fuel.h_to_c, fuel.o_to_c)

    back = brettschneider(gas.co2, gas.co, gas.o2, 0, 0, fuel.h_to_c, fuel.o_to_c)
    assert float(back) == pytest.approx(0.9)
