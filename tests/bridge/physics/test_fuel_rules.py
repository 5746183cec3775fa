"""Fuels: what is refused, and in which direction things move."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bridge.errors import BadValue, UnknownThing
from bridge.physics.fuel import COMPONENTS, fuel_by_name, fuel_names, parse_blend, stated_afr, stoich_afr


@pytest.mark.parametrize(
    ("blend", "words"),
    [
        ("ethanol=0.10,petrol=0.80", "add up to 0.9"),
        ("ethanol=0.10,petrol=0.906", "add up to 1.006"),
        ("ethanol=-0.10,petrol=1.10", "'ethanol=-0.10'"),
        ("ethanol=0.5,ethanol=0.5", "twice"),
        ("ethanol,petrol", "share by volume"),
        ("ethanol=a,petrol=1", "share by volume"),
        ("ethanol=nan,petrol=1", "share by volume"),
        ("=1", "share by volume"),
        ("", "share by volume"),
    ],
)
def test_a_bad_blend_is_refused_in_words(blend, words):
    """A blend that is none says what is wrong with it."""
    with pytest.raises(BadValue, match=words):
        parse_blend(blend)


def test_an_unknown_component_names_the_nearest():
    """A misspelt component is answered with the one that was meant."""
    with pytest.raises(UnknownThing, match="did you mean 'ethanol'"):
        parse_blend("ethanl=0.1,petrol=0.9")


def test_an_unknown_fuel_names_the_nearest():
    """A misspelt fuel is answered with the one that was meant."""
    with pytest.raises(UnknownThing, match="did you mean 'methanol'"):
        fuel_by_name("metanol")


@pytest.mark.parametrize("afr", [0.5, 1.0, 40.0, float("nan")])
def test_a_stated_ratio_out_of_range_is_refused(afr):
    """No fuel has such a ratio."""
    with pytest.raises(BadValue, match="outside 1 to 40"):
        stated_afr(afr)


def test_water_and_carbon_dioxide_are_no_fuels():
    """What takes no oxygen is refused."""
    with pytest.raises(BadValue, match="takes no oxygen"):
        stoich_afr(1, 0, 2)
    with pytest.raises(BadValue, match="takes no oxygen"):
        stoich_afr(0, 2, 1)


def test_shares_within_half_a_percent_are_scaled():
    """A blend measured as 0.102 and 0.902 is the one of 0.102/1.004 and 0.902/1.004."""
    assert parse_blend("ethanol=0.102,petrol=0.902").stoich_afr == pytest.approx(
        parse_blend(f"ethanol={0.102 / 1.004!r},petrol={0.902 / 1.004!r}").stoich_afr
    )


@pytest.mark.parametrize("name", fuel_names())
def test_every_named_fuel_can_be_had(name):
    """Each name gives a fuel that burns, in any case of letters."""
    fuel = fuel_by_name(name.upper())

    assert fuel.name == name
    assert 1 < fuel.stoich_afr < 16
    assert fuel.afr_sd >= 0


def test_oxygen_in_the_fuel_asks_for_less_air():
    """The more ethanol, the lower the ratio: petrol, e5, e10, e20, e85, ethanol."""
    ratios = [fuel_by_name(n).stoich_afr for n in ("petrol", "e5", "e10", "e20", "e85", "ethanol")]

    assert ratios == sorted(ratios, reverse=True)


def test_hydrogen_asks_for_more_air():
    """A petrol with more hydrogen needs more air for each kilogram."""
    assert stoich_afr(1, 1.95) > stoich_afr(1, 1.87) > stoich_afr(1, 1.80)


def test_pump_fuel_is_less_sure_than_a_pure_one():
    """What a pump sells is known within its label; a pure substance is known, e85 by the season is not."""
    pure, petrol, e10, e85 = (fuel_by_name(n).afr_sd for n in ("ethanol", "petrol", "e10", "e85"))

    assert pure == 0 < petrol < e10 < e85


@given(st.sampled_from(sorted(COMPONENTS)), st.sampled_from(sorted(COMPONENTS)), st.floats(0.01, 0.99))
def test_a_blend_lies_between_its_parts(one, other, share):
    """Ratio and density of a blend lie between those of its parts, whichever they are."""
    assume(one != other)
    mixed = parse_blend(f"{one}={share!r},{other}={1 - share!r}")
    parts = [fuel_by_name(name) for name in (one, other)]

    for name in ("stoich_afr", "density_kg_m3"):
        ends = sorted(getattr(part, name) for part in parts)
        assert ends[0] - 1e-9 <= getattr(mixed, name) <= ends[1] + 1e-9
