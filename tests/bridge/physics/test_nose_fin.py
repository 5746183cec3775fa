"""The nose as a fin: its temperature, the ring's balance, and the directions that the trade knows."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_bvp

from bridge.physics.nose import (
    Nose,
    alumina_conductivity,
    balance_temp_c,
    bent_depth_mm,
    depth_of_temp_mm,
    ring_depth_mm,
    temp_along_c,
)

WORKED = Nose(12.0)
"""12 mm by 5 mm, 350 W/(m2 K), 9 W/(m K), gas 1400 K, seat 200 Cel."""


def test_the_temperature_is_that_of_the_fin_solved_by_hand():
    """Six places along a worked nose agree with the closed form.

    Published: Incropera and DeWitt, fin with an adiabatic tip, table 3.4; figures computed by hand.
    """
    from_seat = np.array([0.0, 2.4, 4.8, 7.2, 9.6, 12.0])

    found = temp_along_c(12.0 - from_seat, WORKED)

    assert found == pytest.approx([200.0, 508.3, 704.2, 823.1, 886.8, 906.78], abs=0.06)


def test_the_fin_agrees_with_its_differential_equation_solved_by_a_library():
    """SciPy's boundary-value solver gives the same curve (published: scipy.integrate.solve_bvp)."""
    m, length = WORKED.fin_parameter_mm, WORKED.length_mm
    gas_c = WORKED.gas_k - 273.15

    def slope(_x, y):
        return np.vstack((y[1], m**2 * (y[0] - gas_c)))

    def ends(tip, seat):
        return np.array([tip[1], seat[0] - WORKED.seat_c])

    x = np.linspace(0.0, length, 50)
    solved = solve_bvp(slope, ends, x, np.vstack((np.linspace(900, 200, 50), np.zeros(50))), tol=1e-8)

    assert temp_along_c(x, WORKED) == pytest.approx(solved.sol(x)[0], abs=0.01)


@pytest.mark.parametrize(("length_mm", "tip_c"), [(8.0, 700.1), (10.0, 818.2), (15.0, 996.0), (18.0, 1049.5)])
def test_a_longer_nose_has_a_hotter_tip(length_mm, tip_c):
    """Tip temperatures of four lengths (closed form, computed by hand); longer is hotter, as heat range goes."""
    assert float(temp_along_c(0.0, Nose(length_mm))) == pytest.approx(tip_c, abs=0.1)


@pytest.mark.parametrize(
    ("temp_c", "wanted"), [(20, 37.80), (100, 30.30), (500, 12.126), (800, 7.96), (1000, 6.77)]
)
def test_alumina_conducts_as_its_fit_says(temp_c, wanted):
    """Conductivity of dense alumina (Auerkari 1996; the formula from memory)."""
    assert float(alumina_conductivity(float(temp_c))) == pytest.approx(wanted, abs=0.006)


@pytest.mark.parametrize(
    ("lambda_", "from_seat_mm"),
    [(0.78, 3.74), (0.82, 3.07), (0.85, 2.66), (0.88, 2.32), (0.91, 2.02), (0.94, 1.76)],
)
def test_the_ring_sits_where_the_worked_balance_puts_it(lambda_, from_seat_mm):
    """Six worked places of the ring (closed form, computed by hand; the model is unvalidated)."""
    assert 12.0 - float(ring_depth_mm(lambda_, WORKED)) == pytest.approx(from_seat_mm, abs=0.006)


def test_richer_sits_nearer_the_tip():
    """The depth rises with lambda all the way (common practice)."""
    depths = ring_depth_mm(np.linspace(0.75, 1.0, 40), WORKED)

    assert (np.diff(depths) > 0).all()


def test_a_hotter_nose_burns_further_down():
    """More heat, by gas, transfer, a warmer seat or a hotter plug, drives the ring towards the seat."""
    base = 12.0 - float(ring_depth_mm(0.88, WORKED))
    hotter = {
        "transfer": Nose(12.0, heat_transfer_w_m2k=385.0),
        "gas": Nose(12.0, gas_k=1450.0),
        "seat": Nose(12.0, seat_c=220.0),
    }
    moved = {name: 12.0 - float(ring_depth_mm(0.88, nose)) - base for name, nose in hotter.items()}

    assert moved["transfer"] == pytest.approx(-0.127, abs=0.006)
    assert moved["gas"] == pytest.approx(-0.146, abs=0.006)
    assert moved["seat"] == pytest.approx(-0.132, abs=0.006)
    hot = WORKED.hotter_range(1)
    assert float(ring_depth_mm(0.88, hot)) > float(ring_depth_mm(0.88, WORKED))


def test_doubling_the_deposit_moves_the_balance_by_its_worked_temperature():
    """At 500 Cel and 150 kJ/mol twice the deposit needs 22.97 K more (closed form, computed by hand)."""
    twice = 0.88 - 0.03 * np.log(2.0)

    # the worked figure is the derivative times ln 2; the step itself is a little longer
    assert float(balance_temp_c(twice, 0.88, 500.0)) - 500.0 == pytest.approx(22.97, abs=0.8)


@given(st.floats(0.0, 14.0), st.floats(8.0, 20.0))
def test_depth_and_temperature_are_inverses(share, length_mm):
    """Going to a temperature and back gives the same depth."""
    nose = Nose(length_mm)
    depth = 0.02 * length_mm + share / 14.0 * 0.96 * length_mm

    assert float(depth_of_temp_mm(temp_along_c(depth, nose), nose)) == pytest.approx(depth, abs=1e-5)


def test_a_balance_hotter_than_the_tip_has_no_place():
    """Outside the nose there is no ring: not a number on the rich side, deeper than the seat on the lean one."""
    assert np.isnan(float(ring_depth_mm(np.array([0.3]), WORKED)[0]))
    assert float(ring_depth_mm(np.array([1.6]), WORKED)[0]) > WORKED.length_mm


@given(st.floats(1.0, 13.0), st.floats(3.0, 11.0))
def test_the_bent_axis_is_straight_in_lambda_by_the_model(depth, about):
    """Lambda by the balance is a straight line on the bent axis, through the place where the axes touch."""
    nose = Nose(14.0)
    lambdas = np.array([0.88, 0.90, 0.92])  # leaner only: the tip may be too cool for richer ones
    at_temp = float(temp_along_c(about, nose))
    depths = ring_depth_mm(lambdas, nose, 0.88, at_temp)
    bent = bent_depth_mm(depths, about, nose)

    assert bent[2] - bent[1] == pytest.approx(bent[1] - bent[0], rel=1e-6)
    assert float(bent_depth_mm(about, about, nose)) == pytest.approx(0.0, abs=1e-9)
    step = 1e-4
    slope = (bent_depth_mm(about + step, about, nose) - bent_depth_mm(about - step, about, nose)) / (2 * step)
    assert float(slope) == pytest.approx(1.0, rel=1e-4)
    assert float(bent_depth_mm(depth + 0.5, about, nose)) > float(bent_depth_mm(depth, about, nose))
