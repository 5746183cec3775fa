"""Shares of the circuits: they add up, hand over where they should and move the right way."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.physics.jets import (
    CIRCUITS,
    HAND_OVER_PERCENT,
    NeedleGeometry,
    circuit_at,
    circuit_shares,
    governing,
    jet_for_density,
    jet_for_lambda,
    lambda_after_jet,
    mean_shares,
    shares_by_opening,
    shares_status,
)
from bridge.physics.orifice import annulus_mm2, jet_flow_g_s, series_mm2

GEOMETRY = NeedleGeometry(2.65, 2.511, 15.0, 1.5, 1.10, 34.0)
NAMES = [circuit.name for circuit in CIRCUITS]
needles = st.builds(
    NeedleGeometry,
    needle_jet_bore_mm=st.floats(2.5, 3.0),
    straight_mm=st.floats(2.0, 2.49),
    taper_start_mm=st.floats(0, 30),
    taper_deg=st.floats(0.5, 4),
    main_jet_bore_mm=st.floats(0.8, 2.0),
    slide_travel_mm=st.floats(20, 40),
)


@given(st.floats(-5, 105), st.none() | needles)
def test_shares_add_up(opening, geometry):
    """At every opening and with every needle the shares are 0 to 1 and add up to 1."""
    shares = circuit_shares(opening, geometry)

    assert list(shares) == NAMES
    assert sum(shares.values()) == pytest.approx(1.0)
    assert all(-1e-12 <= share <= 1.0 for share in shares.values())


@given(st.floats(0, 99.99), st.none() | needles)
def test_shares_are_continuous(opening, geometry):
    """A hundredth of a percent of opening moves no share by more than a hundredth."""
    here, there = circuit_shares(opening, geometry), circuit_shares(opening + 0.01, geometry)

    assert all(abs(here[name] - there[name]) < 0.01 for name in NAMES)


@given(st.floats(0, 100))
def test_the_governing_circuit_has_the_largest_share(opening):
    """By common practice the largest share is that of the circuit whose span the opening is in."""
    shares = circuit_shares(opening)

    assert shares[circuit_at(opening)] == pytest.approx(max(shares.values()))


@pytest.mark.parametrize("opening", HAND_OVER_PERCENT[1:-1])
def test_circuits_hand_over_as_equals(opening):
    """Where one hands over to the next both have the same share, and the next is named."""
    shares = circuit_shares(opening)
    first, second = sorted(shares.values())[-2:]

    assert first == pytest.approx(second)
    assert governing(shares) == circuit_at(opening)


def test_each_circuit_rises_and_falls_once():
    """Pilot only falls, main only rises, and the others have one top."""
    openings = np.linspace(0, 100, 401)
    shares = shares_by_opening(openings)

    assert (np.diff(shares["pilot"]) <= 1e-12).all()
    assert (np.diff(shares["main"]) >= -1e-12).all()
    for name in NAMES[1:-1]:
        top = int(np.argmax(shares[name]))
        assert (np.diff(shares[name])[:top] >= -1e-12).all()
        assert (np.diff(shares[name])[top:] <= 1e-12).all()


def test_main_jet_reaches_down_to_a_quarter():
    """By geometry the main jet has 26 % of the needle's and main's part at a quarter, 86 % at full (closed form)."""
    quarter, full = circuit_shares(25.0, GEOMETRY), circuit_shares(100.0, GEOMETRY)
    rest = 1 - quarter["pilot"] - quarter["cutaway"]

    assert quarter["main"] / rest == pytest.approx(0.260, abs=5e-4)
    assert quarter["needle (taper)"] == 0.0
    assert full["main"] == pytest.approx(0.857, abs=5e-4)


def test_a_leaner_needle_takes_over_from_the_main_jet():
    """A thicker needle, a lower clip and a larger main jet each give the needle more to say at half opening."""
    usual = circuit_shares(60.0, GEOMETRY)["main"]

    assert circuit_shares(60.0, replace(GEOMETRY, straight_mm=2.55))["main"] < usual
    assert circuit_shares(60.0, replace(GEOMETRY, taper_start_mm=16.0))["main"] < usual
    assert circuit_shares(60.0, replace(GEOMETRY, main_jet_bore_mm=1.3))["main"] < usual


def test_share_is_what_a_jet_change_does():
    """A 1 % larger main jet moves the flow by its share of the needle's and main's part (closed form)."""
    lift, main = 20.0, np.pi / 4 * 1.1**2
    before = series_mm2(GEOMETRY.annulus_mm2(lift), main)
    after = series_mm2(GEOMETRY.annulus_mm2(lift), 1.01 * main)

    assert np.log(after / before) / np.log(1.01) == pytest.approx(GEOMETRY.main_share(lift), abs=0.005)


def test_a_band_has_the_mean_of_its_openings():
    """Shares of a band are the mean over its openings; an opening that is not known does not count."""
    openings = np.array([60.0, 70.0, np.nan])
    at = [circuit_shares(60.0), circuit_shares(70.0)]

    assert mean_shares(openings) == pytest.approx({n: (at[0][n] + at[1][n]) / 2 for n in NAMES})
    assert np.isnan(shares_by_opening(openings)["main"][2])


def test_shares_say_where_they_come_from():
    """Both kinds say that common practice has a part in them, and the geometry says itself."""
    assert "common practice, no source" in shares_status(None)
    assert "geometry" in shares_status(GEOMETRY)
    assert "common practice" in shares_status(GEOMETRY)


@given(st.floats(40, 200), st.floats(0.6, 1.3), st.floats(0.6, 1.3), st.sampled_from(["bore", "flow"]))
def test_a_jet_gives_the_lambda_it_was_chosen_for(number, now, wanted, by):
    """The jet for a lambda, put in, gives that lambda; a leaner aim takes a smaller jet."""
    jet = jet_for_lambda(number, now, wanted, by)

    assert lambda_after_jet(now, number, jet, by) == pytest.approx(wanted)
    assert (jet < number) == (wanted > now) or jet == pytest.approx(number)


@given(st.floats(40, 200), st.floats(0.7, 1.2), st.sampled_from(["bore", "flow"]))
def test_a_jet_for_thin_air_and_back(number, ratio, by):
    """Thin air takes a smaller jet, and the way back ends where it began; lambda is then as it was."""
    jet = jet_for_density(number, ratio, by)

    assert jet_for_density(jet, 1 / ratio, by) == pytest.approx(number)
    assert (jet < number) == (ratio < 1) or jet == pytest.approx(number)
    assert lambda_after_jet(ratio**0.5, number, jet, by) == pytest.approx(1.0)


def test_a_shared_jet_moves_lambda_by_its_share():
    """With half a share a step moves lambda by the root of what it does alone."""
    alone, shared = lambda_after_jet(0.9, 150, 160, "flow"), lambda_after_jet(0.9, 150, 160, "flow", 0.5)

    assert shared / 0.9 == pytest.approx((alone / 0.9) ** 0.5)
    assert alone < shared < 0.9


@given(st.floats(0.01, 10), st.floats(0.01, 10))
def test_in_series_the_smaller_orifice_rules(first, second):
    """Two orifices in series are worth less than the smaller, and swapping them changes nothing."""
    both = series_mm2(first, second)

    assert both < min(first, second)
    assert both == series_mm2(second, first)
    assert 1 / both**2 == pytest.approx(1 / first**2 + 1 / second**2)


def test_closed_orifices_and_thick_needles_let_nothing_through():
    """A needle as thick as its jet leaves no annulus, and nothing flows through a closed orifice."""
    assert annulus_mm2(0.0, 2.6, 2.7, 10.0, 1.0) == 0.0
    assert series_mm2(0.0, 0.0) == 0.0
    assert series_mm2(0.0, 1.0) == 0.0
    # far out the needle has gone and the whole bore is left
    assert annulus_mm2(1e4, 2.6, 2.5, 10.0, 1.0) == pytest.approx(np.pi / 4 * 2.6**2)


def test_more_pull_and_thinner_fuel_flow_more():
    """A jet passes more with more depression and less with thicker fuel, and none it cannot tell."""
    usual = jet_flow_g_s(1.1, 4000)[0]

    assert jet_flow_g_s(1.1, 5000)[0] > usual
    assert jet_flow_g_s(1.1, 4000, viscosity_mm2_s=1.0)[0] < usual
    assert np.isnan(jet_flow_g_s(1.1, 400_000)[0])
