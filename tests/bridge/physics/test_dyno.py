"""What turns and what rolls, against values computed by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.physics import dyno

POSITIVE = st.floats(0.5, 500.0)


def test_drums():
    """A solid drum of 300 kg and 0.25 m has 9.375 kg m2, a hollow steel one of 0.25 and 0.21 m has 16.93022."""
    # closed form, computed by hand: m r2 / 2; m (ro2 + ri2) / 2 with 317.640 kg
    assert dyno.solid_drum_kg_m2(300.0, 0.25) == pytest.approx(9.375, abs=1e-9)
    mass = dyno.drum_mass_kg(0.25, 0.21, 0.70, 7850.0)
    assert mass == pytest.approx(317.640, abs=5e-4)
    assert dyno.hollow_drum_kg_m2(mass, 0.25, 0.21) == pytest.approx(16.93022, abs=5e-6)


def test_a_hollow_drum_without_a_hole_is_solid():
    """With an inner radius of nothing both forms say the same, and a hole of the same mass adds inertia."""
    assert dyno.hollow_drum_kg_m2(300.0, 0.25, 0.0) == dyno.solid_drum_kg_m2(300.0, 0.25)
    assert dyno.hollow_drum_kg_m2(300.0, 0.25, 0.20) > dyno.solid_drum_kg_m2(300.0, 0.25)


def test_an_inertia_through_a_ratio():
    """A shaft that turns three times as fast counts nine times."""
    assert dyno.seen_from(0.02, 3.0) == pytest.approx(0.18)


@given(POSITIVE, POSITIVE, st.floats(0.1, 60.0))
def test_mean_power_is_the_energy_over_the_time(slow, faster, seconds):
    """What a roller gains in energy is the mean power times its time, whichever way it goes."""
    gained = dyno.stored_j(12.0, faster) - dyno.stored_j(12.0, slow)
    mean = dyno.mean_inertia_power_w(12.0, slow, faster, seconds)

    assert mean * seconds == pytest.approx(gained, rel=1e-9, abs=1e-6)


@given(st.floats(0.1, 400.0), st.floats(500.0, 18_000.0))
def test_torque_and_power_go_both_ways(power, rpm):
    """Torque of a power is that power again, and kW are N m times rpm over 9549.297."""
    torque = dyno.torque_nm(power, rpm)

    assert dyno.power_kw(torque, rpm) == pytest.approx(power, rel=1e-12)
    assert torque * rpm / 9549.297 == pytest.approx(power, rel=1e-7)


def test_mean_pressure_of_two_and_four_strokes():
    """The same torque is half the mean pressure on a two-stroke, which works at every turn."""
    assert dyno.bmep_bar(40.0, 400.0, 2) == pytest.approx(dyno.bmep_bar(40.0, 400.0, 4) / 2.0)


def test_the_road_resists():
    """More mass, more air, a rougher road, a hill and more speed all take more power; downhill takes less."""
    usual = (250.0, 8.0, 40.0, 1.2, 1.164, 0.45, 0.015)
    power = dyno.road_load_w(*usual)

    for place, more in enumerate((260.0, 20.0, 45.0, 1.5, 1.25, 0.55, 0.02)):
        changed = [*usual]
        changed[place] = more
        assert dyno.road_load_w(*changed) > power
    assert dyno.road_load_w(*usual, slope=0.02) > power > dyno.road_load_w(*usual, slope=-0.02)


def test_coasting_slows_down_and_stops():
    """A coasting bike gets slower, ever more slowly while the air holds it, and then stands."""
    t = np.linspace(0.0, 600.0, 601)
    speed = dyno.coast_speed(40.0, t, 0.14254, 0.0010151)

    assert speed[0] == pytest.approx(40.0)
    moving = speed[speed > 0.0]
    assert 100 < len(moving) < 200
    assert (np.diff(moving) < 0.0).all()
    assert speed[-1] == 0.0
    assert dyno.coast_speed(40.0, 10.0, 0.14254, 0.002) < speed[10]
    assert dyno.coast_speed(40.0, 10.0, 0.3, 0.0010151) < speed[10]


def test_the_closed_form_is_what_a_solver_finds():
    """The closed form of coasting is the solution of dv/dt = -(A + B v2) (published: scipy's initial-value solver)."""
    from scipy.integrate import solve_ivp  # noqa: PLC0415  # beside its only use

    found = solve_ivp(
        lambda _, v: -(0.14254 + 0.0010151 * v**2),
        (0.0, 60.0),
        [40.0],
        rtol=1e-10,
        atol=1e-10,
        dense_output=True,
    )
    t = np.linspace(0.0, 60.0, 61)

    assert dyno.coast_speed(40.0, t, 0.14254, 0.0010151) == pytest.approx(found.sol(t)[0], abs=1e-6)


def test_a_coast_down_gives_its_numbers_back():
    """The fit of a coast-down finds drag area and rolling resistance within three of its own standard deviations."""
    # closed form with noise of 0.05 m/s, seeded
    rng = np.random.default_rng(3)
    t = np.arange(0.0, 30.0, 0.1)
    found = dyno.fit_coast(t, dyno.coast_speed(40.0, t, 0.14254, 0.0010151) + rng.normal(0.0, 0.05, len(t)))

    drag = dyno.drag_area_m2(found.square, 250.0, 8.0, 1.164)
    rolling = dyno.rolling_resistance(found.constant, 250.0, 8.0)
    assert drag == pytest.approx(0.45, abs=3.0 * dyno.drag_area_m2(found.square_sd, 250.0, 8.0, 1.164))
    assert rolling == pytest.approx(0.015, abs=3.0 * dyno.rolling_resistance(found.constant_sd, 250.0, 8.0))
    assert found.speed_sd == pytest.approx(0.05, rel=0.15)


def test_a_coast_downs_doubt_is_true():
    """Over 300 coast-downs 95 % intervals by the fit's own standard deviations hold the truth in 91 to 98 %."""
    rng = np.random.default_rng(4)
    t = np.arange(0.0, 25.0, 0.2)
    true = dyno.coast_speed(40.0, t, 0.14254, 0.0010151)
    inside = 0
    for _ in range(300):
        found = dyno.fit_coast(t, true + rng.normal(0.0, 0.1, len(t)))
        inside += abs(found.square - 0.0010151) < 1.98 * found.square_sd
    assert 0.91 <= inside / 300 <= 0.98


def test_a_slope_is_not_rolling_resistance():
    """On a hill of one percent the rolling resistance is less by as much."""
    assert dyno.rolling_resistance(0.14254, 250.0, 8.0, 0.01) == pytest.approx(0.005, abs=1e-4)
