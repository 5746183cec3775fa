"""Two-stroke premix: the worked table, which way oil goes, and what is said of it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import BadValue
from bridge.physics.fuel import AIR_CIPM, AIR_SIMPLE, fuel_by_name, premix, stated_afr

PETROL = fuel_by_name("petrol")
# closed form: petrol 745, oil 870 kg/m3, viscosities 0.60 and 60 mm2/s (assumed) mixed by logarithm, discharge by
# Lichtarowicz et al. 1965 (published) at 1.10 mm and 4 kPa
# (ratio, oil % by volume, oil over petrol by mass, whole flow, petrol flow, lambda factor if the oil is inert)
WORKED = (
    (20, 4.762, 0.05839, 0.99789, 0.94284, 1.06062),
    (32, 3.030, 0.03649, 0.99880, 0.96363, 1.03774),
    (40, 2.439, 0.02919, 0.99907, 0.97073, 1.03015),
    (50, 1.961, 0.02336, 0.99928, 0.97647, 1.02409),
)


@pytest.mark.parametrize(("ratio", "percent", "by_mass", "whole", "petrol", "factor"), WORKED)
def test_the_worked_table(ratio, percent, by_mass, whole, petrol, factor):  # noqa: PLR0917  # the table
    """Shares, flows and the factor of lambda are those of the closed form."""
    found = premix(PETROL, ratio, burns=False)

    assert 100 * found.oil_share == pytest.approx(percent, abs=6e-4)
    assert found.oil_to_fuel == pytest.approx(by_mass, abs=6e-6)
    assert found.jet_flow == pytest.approx(whole, abs=2e-5)
    assert found.fuel_flow == pytest.approx(petrol, abs=2e-5)
    assert found.lambda_factor == pytest.approx(factor, abs=3e-5)


def test_oil_that_burns_leaves_the_ratio_nearly_as_it_is():
    """At 32:1 fuel and oil together have 14.507 in textbook air where petrol has 14.503, and lambda hardly moves."""
    # closed form; the oil as CH1.95 is assumed
    found = premix(PETROL, 32, burns=True)

    assert found.fuel.stoich_afr * AIR_SIMPLE / AIR_CIPM == pytest.approx(14.5070, abs=1e-4)
    assert found.lambda_factor == pytest.approx(1.0, abs=2e-3)
    assert found.fuel.name == "petrol with oil 32:1"
    assert found.fuel.h_to_c > PETROL.h_to_c


def test_oil_that_does_not_burn_leaves_the_fuel_as_it_is():
    """AFR is then that of the petrol alone, under its own name."""
    assert premix(PETROL, 32, burns=False).fuel == PETROL


@given(st.floats(5, 199), st.floats(1.01, 2.0))
def test_more_oil_is_leaner(ratio, more):
    """More oil that does not burn always takes petrol away and makes the mixture leaner."""
    fat, thin = premix(PETROL, ratio, burns=False), premix(PETROL, min(ratio * more, 200), burns=False)

    assert 1.0 < thin.lambda_factor < fat.lambda_factor
    assert fat.fuel_flow < thin.fuel_flow < 1.0


def test_heavier_oil_takes_more_of_the_mass():
    """At one ratio a heavier oil is more of the mass."""
    light, heavy = (premix(PETROL, 32, oil_density_kg_m3=d) for d in (860, 960))

    assert heavy.oil_to_fuel > light.oil_to_fuel
    assert heavy.lambda_factor > light.lambda_factor


def test_nobody_said_whether_it_burns():
    """Without a word the oil is taken not to burn, and the other way is a doubt about the AFR: large in methanol."""
    methanol = fuel_by_name("methanol")
    unsaid, said = premix(methanol, 20), premix(methanol, 20, burns=False)

    assert unsaid.fuel.stoich_afr == said.fuel.stoich_afr
    assert said.fuel.afr_sd == methanol.afr_sd
    burning = premix(methanol, 20, burns=True).fuel.stoich_afr
    assert unsaid.fuel.afr_sd == pytest.approx((burning - methanol.stoich_afr) / 3**0.5)


def test_the_oil_in_methanol_asks_for_more_air_than_the_methanol():
    """A twentieth of oil by volume moves methanol's ratio by several percent where it burns."""
    # closed form, by hand: (6.47584 + 0.054648 * 14.7225) / 1.054648
    found = premix(fuel_by_name("methanol"), 20, burns=True)

    assert found.fuel.stoich_afr == pytest.approx(6.9032, abs=2e-3)


@pytest.mark.parametrize("ratio", [0.03, 4.9, 201, -32, float("nan")])
def test_a_ratio_the_other_way_round_is_refused(ratio):
    """A ratio that no engine runs on is refused with the way to write it."""
    with pytest.raises(BadValue, match="32 for 32:1"):
        premix(PETROL, ratio)


def test_what_is_said_names_direction_and_size():
    """The sentence says whether the oil burns, by how much the same jets are leaner, and what AFR speaks of."""
    inert, burning = premix(PETROL, 32, burns=False).sentence, premix(PETROL, 32, burns=True).sentence

    assert "not to burn" in inert
    assert "3.6 % less" in inert
    assert "3.8 % leaner" in inert
    assert "taken to burn" in burning
    assert "14.61" in burning


def test_a_fuel_known_by_its_ratio_alone_can_have_oil_too():
    """With a stated AFR alone, petrol's density stands in, and there is still no H/C."""
    found = premix(stated_afr(14.1), 32, burns=True)

    assert found.fuel.h_to_c is None
    assert 14.1 < found.fuel.stoich_afr < 14.2
