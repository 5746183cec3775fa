"""Stoichiometric air-fuel ratios against Cantera, and by closed form.

Source of all values against Cantera: its own thermodynamic species data (nasa_gas.yaml, shipped with it), an
independent program. Status: computed while the test runs, so no figure is typed in.
"""

import cantera
import pytest

from bridge.physics.fuel import (
    AIR_CIPM,
    AIR_SIMPLE,
    COMPONENTS,
    fuel_by_name,
    fuel_of_formula,
    fuel_of_mass,
    parse_blend,
    stoich_afr,
)

# our component -> its species in nasa_gas.yaml
PUBLISHED = {
    "isooctane": "C8H18,isooctane",
    "n-heptane": "C7H16,n-heptane",
    "toluene": "C7H8",
    "benzene": "C6H6",
    "ethanol": "C2H5OH",
    "methanol": "CH3OH",
}
# not in that file: the formula is ours (petrol's is common practice), the balance Cantera's
OURS = {
    "petrol": {"C": 1, "H": 1.87},
    "alkylate": {"C": 1, "H": 2.05},
    "mtbe": {"C": 5, "H": 12, "O": 1},
    "etbe": {"C": 6, "H": 14, "O": 1},
    "nitromethane": {"C": 1, "H": 3, "O": 2, "N": 1},
}
SPECIES = PUBLISHED | {name: name for name in OURS}
BLENDS = (
    "ethanol=0.10,petrol=0.90",
    "methanol=0.90,nitromethane=0.10",
    "ethanol=0.10,isooctane=0.90",
    "ethanol=0.85,n-heptane=0.15",
    "methanol=0.15,toluene=0.25,isooctane=0.60",
    "isooctane=0.60,toluene=0.25,n-heptane=0.15",
    "petrol=0.70,mtbe=0.10,etbe=0.05,nitromethane=0.15",
)


@pytest.fixture(scope="module")
def gas():
    """Every species that we burn, with what air is made of."""
    wanted = {*PUBLISHED.values(), "O2", "N2", "Ar", "CO2", "CH4", "C3H8"}
    species = [s for s in cantera.Species.list_from_file("nasa_gas.yaml") if s.name in wanted]
    for name, formula in OURS.items():
        own = cantera.Species(name, formula)
        own.thermo = cantera.ConstantCp(200, 3000, cantera.one_atm, [298.15, 0.0, 0.0, 1e5])
        species.append(own)
    return cantera.Solution(thermo="ideal-gas", species=species)


@pytest.mark.parametrize("name", SPECIES)
def test_pure_fuels_match_cantera_in_textbook_air(gas, name):
    """Each pure fuel's ratio in O2 + 3.76 N2 is what Cantera's element balance gives."""
    part = COMPONENTS[name]
    ours = stoich_afr(part.c, part.h, part.o, part.n, air=AIR_SIMPLE)

    assert ours == pytest.approx(gas.stoich_air_fuel_ratio({SPECIES[name]: 1}, "O2:1,N2:3.76"), rel=2e-5)


@pytest.mark.parametrize(("formula", "species"), [((1, 4), "CH4"), ((3, 8), "C3H8")])
def test_gases_match_cantera(gas, formula, species):
    """Methane and propane, which no motorcycle tank holds, come out right too."""
    theirs = gas.stoich_air_fuel_ratio({species: 1}, "O2:1,N2:3.76")

    assert stoich_afr(*formula, air=AIR_SIMPLE) == pytest.approx(theirs, rel=2e-5)


@pytest.mark.parametrize("name", SPECIES)
def test_pure_fuels_match_cantera_in_our_air(gas, name):
    """In dry air of CIPM-2007 (N2, O2, Ar, CO2 by its table, from memory) it agrees within 0.01 %."""
    air = "N2:0.780848,O2:0.20939,Ar:0.009332,CO2:0.0004"

    assert fuel_by_name(name).stoich_afr == pytest.approx(
        gas.stoich_air_fuel_ratio({SPECIES[name]: 1}, air), rel=1e-4
    )


@pytest.mark.parametrize("blend", BLENDS)
def test_blends_by_volume_match_cantera(gas, blend):
    """A blend by volume has the ratio of the same masses in one Cantera mixture."""
    shares = [part.split("=") for part in blend.split(",")]
    moles = {
        SPECIES[name]: float(share)
        * COMPONENTS[name].density_kg_m3
        / gas.molecular_weights[gas.species_index(SPECIES[name])]
        for name, share in shares
    }
    theirs = gas.stoich_air_fuel_ratio(moles, "O2:1,N2:3.76")
    # both airs weigh the same oxygen, so the fuel's share of the ratio is what is left
    ours = parse_blend(blend).stoich_afr * AIR_SIMPLE / (28.96546 / 0.20939)

    assert ours == pytest.approx(theirs, rel=2e-5)


def test_a_pump_fuel_in_a_blend_matches_cantera(gas):
    """e10 with toluene and nitromethane has the ratio of the same masses of its parts in Cantera."""
    volumes = {"ethanol": 0.07, "petrol": 0.63, "toluene": 0.20, "nitromethane": 0.10}
    moles = {
        SPECIES[name]: share
        * COMPONENTS[name].density_kg_m3
        / gas.molecular_weights[gas.species_index(SPECIES[name])]
        for name, share in volumes.items()
    }
    ours = parse_blend("e10=0.70,toluene=0.20,nitromethane=0.10").stoich_afr * AIR_SIMPLE / AIR_CIPM

    assert ours == pytest.approx(gas.stoich_air_fuel_ratio(moles, "O2:1,N2:3.76"), rel=2e-5)


def test_formula_and_mass_match_cantera():
    """A fuel by formula and one by its mass fractions have the ratio of Cantera's balance: n-dodecane."""
    gas = cantera.Solution("nDodecane_Reitz.yaml")
    theirs = gas.stoich_air_fuel_ratio("c12h26", "o2:1,n2:3.76")
    mass = {"C": 12 * 12.011, "H": 26 * 1.008}
    fractions = ",".join(f"{element}={m / sum(mass.values())!r}" for element, m in mass.items())

    for fuel in (fuel_of_formula("C12H26"), fuel_of_mass(fractions)):
        assert fuel.stoich_afr * AIR_SIMPLE / AIR_CIPM == pytest.approx(theirs, rel=2e-5)


@pytest.mark.parametrize(
    ("h_to_c", "air", "expected"),
    [
        # closed form by IUPAC abridged atomic weights; the composition is common practice
        (1.87, AIR_SIMPLE, 14.50297),
        (1.85, AIR_SIMPLE, 14.4746),
        (1.87, 28.96546 / 0.20939, 14.60878),
    ],
)
def test_petrol_by_closed_form(h_to_c, air, expected):
    """Petrol as CH1.87 has 14.503 in textbook air and 14.609 in ours."""
    assert stoich_afr(1, h_to_c, air=air) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(
    ("name", "expected", "h_to_c", "o_to_c", "density"),
    [
        # closed form, mass-weighted mean (exact: air per kg of fuel is additive); computed by hand
        ("e5", 14.31131, 1.90699, 0.01637, 747.45),
        ("e10", 14.01579, 1.94534, 0.03334, 749.90),
        ("e20", 13.43049, 2.02648, 0.06924, 754.80),
        ("e85", 9.80379, 2.75664, 0.39232, 786.65),
        ("methanol=0.15,petrol=0.85", 13.31858, 2.03101, 0.07559, 752.65),
    ],
)
def test_blends_by_closed_form(name, expected, h_to_c, o_to_c, density):
    """Pump fuels and a blend have the ratio, formula and density of their closed form."""
    fuel = parse_blend(name) if "=" in name else fuel_by_name(name)

    assert fuel.stoich_afr == pytest.approx(expected, abs=2e-5)
    assert fuel.h_to_c == pytest.approx(h_to_c, abs=1e-5)
    assert fuel.o_to_c == pytest.approx(o_to_c, abs=1e-5)
    assert fuel.density_kg_m3 == pytest.approx(density, abs=1e-6)
