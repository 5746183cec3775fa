"""The fuel that a session's AFR speaks of."""

import pytest

from bridge.bands import session_fuel
from bridge.errors import UnknownThing
from bridge.model import Setup, StatedFuel


@pytest.mark.parametrize(
    ("fuel", "name", "afr"),
    [
        # closed form, dry air of CIPM-2007
        ("petrol", "petrol", 14.60878),
        (StatedFuel(formula="C7H8", density_kg_m3=872), "C7H8", 13.51183),
        (StatedFuel(mass="C=0.86,H=0.14"), "C=0.86,H=0.14", 14.7078),
        (StatedFuel(blend="e10=1", afr=14.1), "e10=1, stated AFR 14.1", 14.1),
        (StatedFuel(name="Hill mix", formula="CH3OH"), "Hill mix", 6.47584),
    ],
)
def test_each_way_to_state_it(fuel, name, afr):
    """Each way gives its fuel, without a note where nothing is to be known."""
    found, note = session_fuel(Setup(fuel=fuel))

    assert (found.name, note) == (name, None)
    assert found.stoich_afr == pytest.approx(afr, abs=2e-4)


def test_a_stated_afr_far_from_its_own_composition_is_questioned():
    """A stated AFR a tenth off its composition's is used and questioned; one within a twentieth is not."""
    found, note = session_fuel(Setup(fuel=StatedFuel(blend="ethanol=1", afr=14.7)))

    assert found.stoich_afr == 14.7
    assert "63 % above" in note
    assert "9.01" in note
    assert session_fuel(Setup(fuel=StatedFuel(blend="ethanol=1", afr=9.0)))[1] is None


def test_no_fuel_is_petrol():
    """Without a fuel AFR is that of petrol, and that is said."""
    found, note = session_fuel(Setup())

    assert found.name == "petrol"
    assert "names no fuel" in note


def test_oil_that_does_not_burn():
    """Oil leaves the AFR that of the fuel alone, with a note of what the same jets give."""
    found, note = session_fuel(Setup(fuel="petrol", oil_ratio=32, oil_burns=False))

    assert (found.name, found.stoich_afr) == ("petrol", pytest.approx(14.60878, abs=1e-4))
    assert "3.8 % leaner" in note


def test_oil_that_burns():
    """Oil that burns is part of the fuel that AFR speaks of."""
    # closed form: fuel and oil of CH1.95 (assumed) by mass
    found, note = session_fuel(Setup(fuel="petrol", oil_ratio=32, oil_burns=True))

    assert found.name == "petrol with oil 32:1"
    assert found.stoich_afr == pytest.approx(14.6128, abs=1e-4)
    assert "taken to burn" in note


def test_heavier_oil_is_more_of_the_mass():
    """The density of the oil is used."""
    light = session_fuel(Setup(fuel="methanol", oil_ratio=20, oil_burns=True))[0]
    heavy = session_fuel(Setup(fuel="methanol", oil_ratio=20, oil_burns=True, oil_density_kg_m3=960))[0]

    assert heavy.stoich_afr > light.stoich_afr


def test_no_oil_says_nothing():
    """A ratio of 0 is no oil and gives no note."""
    assert session_fuel(Setup(fuel="e5", oil_ratio=0)) == session_fuel(Setup(fuel="e5"))


def test_oil_without_a_fuel_says_both():
    """Both notes stand where no fuel was named and there is oil in it."""
    note = session_fuel(Setup(oil_ratio=32))[1]

    assert "names no fuel" in note
    assert "32:1" in note


def test_an_oil_ratio_in_percent_is_left_out_and_said():
    """3 where 32 was meant is left out of account with the way to write it."""
    found, note = session_fuel(Setup(fuel="petrol", oil_ratio=3))

    assert found.name == "petrol"
    assert "32 for 32:1" in note


def test_a_name_that_nobody_knows():
    """A name that the logbook could not resolve is told, with the nearest."""
    with pytest.raises(UnknownThing, match="did you mean 'methanol'"):
        session_fuel(Setup(fuel="metanol"))
