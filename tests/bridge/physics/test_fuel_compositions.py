"""Fuels by formula, by mass, by the supplier's word, with pump fuels in a blend; lambda, AFR and phi."""

import math

import numpy as np
import polars as pl
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bridge.errors import BadValue, UnknownThing
from bridge.physics.fuel import (
    AIR_CIPM,
    AIR_SIMPLE,
    afr_from_lambda,
    convert_afr,
    fuel_by_name,
    fuel_of_formula,
    fuel_of_mass,
    lambda_from_afr,
    lambda_from_phi,
    parse_blend,
    parse_formula,
    phi_from_lambda,
    same_jet_factor,
    stated_afr,
    stoich_afr,
    with_density,
    with_stated_afr,
)

WEIGHTS = {"C": 12.011, "H": 1.008, "O": 15.999, "N": 14.007}


@pytest.mark.parametrize(
    ("formula", "simple", "cipm"),
    [
        # closed form by IUPAC abridged weights; those of pure substances agree with Cantera to 1e-6
        ("C8H18", 15.02760, 15.13724),
        ("C7H16", 15.07547, 15.18545),
        ("C7H8", 13.41396, 13.51183),
        ("C12H26", 14.91497, 15.0238),
        ("C6H6", 13.18560, 13.28166),
        ("C3H8", 15.57143, 15.685),
        ("CH4", 17.12032, 17.245),
        ("CH1.87", 14.50297, 14.60878),
        ("CH1.85", 14.4746, 14.5802),
        ("CH2.05", 14.7550, 14.8627),
        ("C2H5OH", 8.94293, 9.00818),
        ("CH3OH", 6.42894, 6.47584),
        ("CH3NO2", 1.68738, 1.69970),
        ("C5H12O", 11.6844, 11.770),
        ("C6H14O", 12.0964, 12.185),
    ],
)
def test_fuels_by_formula(formula, simple, cipm):
    """Each formula has its closed form's ratio, in textbook air and in ours."""
    fuel = fuel_of_formula(formula)

    assert fuel.stoich_afr * AIR_SIMPLE / AIR_CIPM == pytest.approx(simple, abs=6e-5)
    assert fuel.stoich_afr == pytest.approx(cipm, abs=6e-4)


@pytest.mark.parametrize(
    ("blend", "density", "simple", "cipm"),
    [
        # closed form, mass-weighted mean; densities as the components have them
        ("methanol=0.90,nitromethane=0.10", 830.10, 5.77948, 5.82164),
        ("isooctane=0.60,toluene=0.25,n-heptane=0.15", 738.80, 14.55815, 14.66436),
        ("petrol=0.85,methanol=0.15", 752.65, 13.22211, 13.31858),
    ],
)
def test_race_blends(blend, density, simple, cipm):
    """Blends by volume have the density and ratio of their closed form."""
    fuel = parse_blend(blend)

    assert fuel.density_kg_m3 == pytest.approx(density, abs=1e-6)
    assert fuel.stoich_afr == pytest.approx(cipm, abs=2e-5)
    assert fuel.stoich_afr * AIR_SIMPLE / AIR_CIPM == pytest.approx(simple, abs=2e-5)


def test_a_formula_may_be_written_in_several_ways():
    """Structure, sums and small figures under the line say the same atoms."""
    ethanol = fuel_of_formula("C2H6O")

    assert fuel_of_formula("C2H5OH").stoich_afr == pytest.approx(ethanol.stoich_afr)
    assert fuel_of_formula("CH3CH2OH").stoich_afr == pytest.approx(ethanol.stoich_afr)
    assert fuel_of_formula("C₂H₆O").stoich_afr == pytest.approx(ethanol.stoich_afr)
    assert (ethanol.h_to_c, ethanol.o_to_c, ethanol.n_to_c) == (3.0, 0.5, 0.0)
    assert fuel_of_formula("C4H12O2").stoich_afr == pytest.approx(ethanol.stoich_afr)


@given(st.integers(1, 20), st.integers(0, 42), st.integers(0, 3), st.integers(0, 2))
def test_a_written_formula_is_read_as_written(c, h, o, n):
    """The atoms of a formula are those that were written."""
    assume(c + h / 4 - o / 2 > 0)
    atoms = parse_formula(f"C{c}H{h}O{o}N{n}")

    assert (atoms.c, atoms.h, atoms.o, atoms.n) == (c, h, o, n)
    assert fuel_of_formula(f"C{c}H{h}O{o}N{n}").stoich_afr == pytest.approx(stoich_afr(c, h, o, n))


@given(st.integers(1, 20), st.integers(0, 42), st.integers(0, 3), st.integers(0, 2))
def test_a_formula_and_its_mass_fractions_are_one_fuel(c, h, o, n):
    """A formula worked out to mass fractions and back has the same ratio and composition."""
    assume(c + h / 4 - o / 2 > 0)
    mass = {s: k * WEIGHTS[s] for s, k in zip("CHON", (c, h, o, n), strict=True)}
    text = ",".join(f"{s}={m / sum(mass.values())!r}" for s, m in mass.items())
    by_mass, by_formula = fuel_of_mass(text), fuel_of_formula(f"C{c}H{h}O{o}N{n}")

    assert by_mass.stoich_afr == pytest.approx(by_formula.stoich_afr)
    assert by_mass.h_to_c == pytest.approx(by_formula.h_to_c)
    assert by_mass.o_to_c == pytest.approx(by_formula.o_to_c)


def test_mass_fractions_of_a_petrol():
    """86 % carbon and 14 % hydrogen have H/C 1.94 and a ratio of 14.708; its last figure is not sure."""
    # closed form, by hand: 138.33259 (0.86 / 12.011 + 0.14 / 1.008 / 4)
    fuel = fuel_of_mass("C=0.86,H=0.14", 745)

    assert fuel.stoich_afr == pytest.approx(14.7078, abs=2e-4)
    assert fuel.h_to_c == pytest.approx(0.14 / 1.008 / (0.86 / 12.011))
    assert fuel.density_kg_m3 == 745
    assert fuel.afr_sd > 0


def test_mass_fractions_within_half_a_percent_are_scaled():
    """Fractions that add up to 0.996 are those over 0.996."""
    scaled = fuel_of_mass(f"C={0.856 / 0.996!r},H={0.14 / 0.996!r}")

    assert fuel_of_mass("C=0.856,H=0.14").stoich_afr == pytest.approx(scaled.stoich_afr)


@pytest.mark.parametrize(
    ("formula", "words"),
    [
        ("", "no formula"),
        ("C8H18Pb", "no formula"),
        ("(CH3)3COH", "without brackets"),
        ("c8h18", "no formula"),
        ("C8H-18", "no formula"),
        ("C.H4", "no formula"),
        ("C1.2.3H4", "no formula"),
        ("N2O", "no carbon and no hydrogen"),
        ("N2", "no carbon and no hydrogen"),
        ("O2", "no carbon and no hydrogen"),
        ("C0H0", "no carbon and no hydrogen"),
        ("CO2", "takes no oxygen"),
        ("H2O", "takes no oxygen"),
        ("C9999H18", "more than 1000"),
    ],
)
def test_impossible_formulas(formula, words):
    """What is no fuel is refused in a sentence."""
    with pytest.raises(BadValue, match=words):
        fuel_of_formula(formula)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("C=0.86,H=0.13", "add up to 0.99"),
        ("C=0.86,H=0.15", "add up to 1.01"),
        ("C=86,H=14", "from 0 to 1"),
        ("C=0.86,C=0.14", "twice"),
        ("C=0.86,S=0.14", "not C, H, O or N"),
        ("C=-0.1,H=1.1", "from 0 to 1"),
        ("C=nan,H=1", "from 0 to 1"),
        ("O=0.5,N=0.5", "no carbon and no hydrogen"),
        ("C=0.1,O=0.9", "takes no oxygen"),
        ("", "write it as"),
        ("C", "write it as"),
    ],
)
def test_impossible_mass_fractions(text, words):
    """Mass fractions that are none, or of nothing that burns, are refused in a sentence."""
    with pytest.raises(BadValue, match=words):
        fuel_of_mass(text)


@given(st.text(alphabet="CHONchon0123456789.=, ()-", max_size=24))
def test_any_text_is_a_fuel_or_a_sentence(text):
    """Whatever is written is a fuel with a ratio, or is refused by an error of ours."""
    for read in (fuel_of_formula, fuel_of_mass, parse_blend):
        try:
            fuel = read(text)
        except (BadValue, UnknownThing):
            continue  # refused in a sentence; anything else would come out of here
        assert 0 < fuel.stoich_afr < 40


@pytest.mark.parametrize("density", [0.745, 399, 2001, -1, math.nan])
def test_an_impossible_density(density):
    """A density that no liquid fuel has, such as one in kg/l, is refused."""
    with pytest.raises(BadValue, match="density"):
        fuel_of_formula("C8H18", density)
    with pytest.raises(BadValue, match="density"):
        with_density(fuel_by_name("petrol"), density)


def test_hydrogen_alone_burns_but_has_no_carbon_to_count_by():
    """Hydrogen has a ratio, and no H/C."""
    # closed form, by hand: 0.5 * 138.33259 / 2.016
    fuel = fuel_of_formula("H2")

    assert fuel.stoich_afr == pytest.approx(34.309, abs=1e-3)
    assert fuel.h_to_c is None


def test_the_suppliers_ratio_goes_before_the_reckoned_one():
    """A stated AFR replaces the ratio and its doubt, says so in the name, and leaves the composition."""
    e5 = fuel_by_name("e5")
    fuel = with_stated_afr(e5, 14.1)

    assert (fuel.stoich_afr, fuel.afr_sd) == (14.1, 0.03)
    assert (fuel.h_to_c, fuel.o_to_c, fuel.density_kg_m3) == (e5.h_to_c, e5.o_to_c, e5.density_kg_m3)
    assert fuel.name == "e5, stated AFR 14.1"
    with pytest.raises(BadValue, match="outside 1 to 40"):
        with_stated_afr(e5, 141)


def test_a_pump_fuel_in_a_blend_is_its_parts():
    """e10 in a blend is a tenth ethanol and nine tenths petrol of its share."""
    mixed = parse_blend("e10=0.80,toluene=0.20")
    parts = parse_blend("ethanol=0.08,petrol=0.72,toluene=0.20")

    assert mixed.stoich_afr == pytest.approx(parts.stoich_afr)
    assert mixed.density_kg_m3 == pytest.approx(parts.density_kg_m3)
    assert (mixed.h_to_c, mixed.o_to_c) == pytest.approx((parts.h_to_c, parts.o_to_c))
    assert mixed.afr_sd > parts.afr_sd  # the pump's label is not sure


def test_a_pump_fuel_alone_in_a_blend_is_the_pump_fuel():
    """A blend of e10 alone is e10, its doubt too."""
    mixed, e10 = parse_blend("e10=1"), fuel_by_name("e10")

    assert (mixed.stoich_afr, mixed.afr_sd) == pytest.approx((e10.stoich_afr, e10.afr_sd))


def test_nitrogen_of_nitromethane_is_counted():
    """A blend with nitromethane has nitrogen for each carbon, petrol has none."""
    # closed form, by hand: equal volumes weigh 1137 and 796; kmol 18.627 and 24.843 of one carbon each
    mixed = parse_blend("nitromethane=0.5,methanol=0.5")

    assert mixed.n_to_c == pytest.approx(18.627 / (18.627 + 24.843), abs=1e-4)
    assert parse_blend("petrol=1").n_to_c == 0.0


def test_a_little_more_ethanol_moves_a_pump_fuel_by_its_doubt():
    """The doubt of e10 is petrol's and what a standard uncertainty more ethanol does, as squares."""
    sd = 0.05 / math.sqrt(12)
    more = parse_blend(f"ethanol={0.1 + sd / 100!r},petrol={0.9 - sd / 100!r}")
    moved = 100 * (more.stoich_afr - fuel_by_name("e10").stoich_afr)
    petrols = parse_blend("ethanol=0.1,petrol=0.9").afr_sd

    assert moved < 0
    assert fuel_by_name("e10").afr_sd == pytest.approx(math.hypot(moved, petrols), rel=1e-3)


@given(st.floats(0.4, 3.0), st.sampled_from(["petrol", "e10", "ethanol", "nitromethane"]))
def test_lambda_afr_and_phi_there_and_back(lam, name):
    """From lambda to AFR and to phi and back it is lambda."""
    fuel = fuel_by_name(name)

    assert lambda_from_afr(afr_from_lambda(lam, fuel), fuel.stoich_afr) == pytest.approx(lam)
    assert lambda_from_phi(phi_from_lambda(lam)) == pytest.approx(lam)


@given(
    st.floats(5.0, 25.0),
    st.sampled_from(["petrol", "e10", "ethanol"]),
    st.sampled_from(["e5", "e85", "methanol"]),
)
def test_an_afr_of_another_fuel_there_and_back(afr, one, other):
    """An AFR converted to another fuel and back is itself, and lambda stays what it was."""
    first, second = fuel_by_name(one), fuel_by_name(other)
    converted = convert_afr(afr, first, second)

    assert convert_afr(converted, second, first) == pytest.approx(afr)
    assert lambda_from_afr(converted, second.stoich_afr) == pytest.approx(afr / first.stoich_afr)


def test_a_column_written_for_147_on_ethanol():
    """12.5 in a column written for 14.7 is lambda 0.85, which on ethanol is AFR 7.66, not 12.5."""
    # closed form, by hand: 12.5 / 14.7 * 9.00818
    found = convert_afr(12.5, 14.7, fuel_by_name("ethanol"))

    assert found == pytest.approx(7.6600, abs=1e-3)
    assert convert_afr(12.5, 14.7, stated_afr(14.7)) == pytest.approx(12.5)


def test_conversions_take_arrays_and_expressions():
    """Numbers, arrays and polars expressions are converted alike."""
    fuel = fuel_by_name("e5")
    lam = np.array([0.8, 0.9, 1.0])
    frame = pl.DataFrame({"lambda": lam}).select(afr_from_lambda(pl.col("lambda"), fuel))

    assert afr_from_lambda(lam, fuel) == pytest.approx(lam * fuel.stoich_afr)
    assert frame.to_series().to_numpy() == pytest.approx(lam * fuel.stoich_afr)
    assert phi_from_lambda(lam) == pytest.approx(1 / lam)


@pytest.mark.parametrize(
    ("before", "after", "factor"),
    [
        # closed form, orifice law AFR0 sqrt(density0) / (AFR1 sqrt(density1))
        ("petrol", "e10", 1.03890),
        ("petrol", "e85", 1.4501),
        ("petrol", "ethanol", 1.5709),
        ("petrol", "methanol", 2.1824),
    ],
)
def test_another_fuel_on_the_same_jets(before, after, factor):
    """A fuel with oxygen in it is leaner on the same jets, by the orifice law; and the way back is the inverse."""
    one, other = fuel_by_name(before), fuel_by_name(after)

    assert same_jet_factor(one, other) == pytest.approx(factor, abs=6e-5)
    assert same_jet_factor(other, one) == pytest.approx(1 / factor, abs=6e-5)


def test_without_a_density_no_word_on_jets():
    """Of a fuel whose density is not known it is not said what it does on the same jets."""
    assert same_jet_factor(fuel_by_name("petrol"), stated_afr(14.1)) is None
