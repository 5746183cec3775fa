"""What turns and what rolls: inertia, power of a roller and on the road, coasting, torque and mean pressure.

Closed forms of mechanics. Everything takes floats or numpy arrays. Slip between tyre and roller, windage and the
bearings are in none of them: they belong to the loss that a coast-down measures.
"""

from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Number = TypeVar("Number", float, Array)

GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall [m/s2], by definition (CGPM 1901)."""
STEEL_KG_M3 = 7850.0
"""Density of plain steel [kg/m3]; common practice."""
RAD_S_PER_RPM = 2.0 * np.pi / 60.0


def solid_drum_kg_m2(mass_kg: float, radius_m: float) -> float:
    """Return the moment of inertia of a solid drum about its axle, m r2 / 2 [kg m2]."""
    return mass_kg * radius_m**2 / 2.0


def hollow_drum_kg_m2(mass_kg: float, outer_m: float, inner_m: float) -> float:
    """Return the moment of inertia of a hollow drum about its axle, m (ro2 + ri2) / 2 [kg m2].

    Args:
        mass_kg: of the shell alone; ends, spokes and shaft are not in it [kg].
        outer_m: outer radius [m].
        inner_m: inner radius, below the outer one [m].
    """
    return mass_kg * (outer_m**2 + inner_m**2) / 2.0


def drum_mass_kg(
    outer_m: float, inner_m: float, length_m: float, density_kg_m3: float = STEEL_KG_M3
) -> float:
    """Return the mass of a drum's shell [kg]; with an inner radius of 0 that of a solid drum."""
    return float(np.pi * (outer_m**2 - inner_m**2) * length_m * density_kg_m3)


def seen_from(inertia_kg_m2: Number, turns: Number) -> Number:
    """Return an inertia as another shaft feels it, by the square of the ratio.

    Args:
        inertia_kg_m2: about its own axle [kg m2].
        turns: of its own axle for each turn of the other shaft [1].
    """
    return inertia_kg_m2 * turns**2


def inertia_power_w(inertia_kg_m2: float, rad_s: Number, rad_s2: Number) -> Number:
    """Return the power that speeds an inertia up [W]; below zero it is given back.

    Args:
        inertia_kg_m2: all that turns with the shaft, as it feels it [kg m2].
        rad_s: speed of the shaft [rad/s].
        rad_s2: its acceleration [rad/s2].
    """
    return inertia_kg_m2 * rad_s * rad_s2


def mean_inertia_power_w(inertia_kg_m2: float, from_rad_s: float, to_rad_s: float, seconds: float) -> float:
    """Return the mean power between two speeds, from the energy that was stored [W]."""
    return (stored_j(inertia_kg_m2, to_rad_s) - stored_j(inertia_kg_m2, from_rad_s)) / seconds


def stored_j(inertia_kg_m2: float, rad_s: float) -> float:
    """Return the energy that a turning inertia holds [J]."""
    return inertia_kg_m2 * rad_s**2 / 2.0


def road_load_w(  # noqa: PLR0913, PLR0917  # what resists on a road
    mass_kg: float,
    rotating_kg: float,
    speed_m_s: Number,
    acceleration_m_s2: Number,
    air_density_kg_m3: float,
    drag_area_m2: float,
    rolling: float,
    slope: float = 0.0,
) -> Number:
    """Return the power at the wheel that drives a bike along a road [W].

    Args:
        mass_kg: of bike and rider [kg].
        rotating_kg: what the turning parts add, as mass at the tyre [kg].
        speed_m_s: through still air and over the ground [m/s]; wind is not in it.
        acceleration_m_s2: along the road [m/s2].
        air_density_kg_m3: [kg/m3].
        drag_area_m2: drag coefficient times frontal area [m2].
        rolling: rolling resistance over weight [1].
        slope: rise over run, uphill above 0 [1].
    """
    angle = np.arctan(slope)
    inertia = (mass_kg + rotating_kg) * acceleration_m_s2 * speed_m_s
    drag = 0.5 * air_density_kg_m3 * drag_area_m2 * speed_m_s**3
    weight = mass_kg * GRAVITY_M_S2 * float(rolling * np.cos(angle) + np.sin(angle)) * speed_m_s
    return inertia + drag + weight


def overall_ratio(rpm: Number, speed_m_s: Number, wheel_radius_m: float) -> Number:
    """Return the engine's turns for each turn of the wheel, slip in it [1]."""
    return rpm / 60.0 * 2.0 * np.pi * wheel_radius_m / speed_m_s


def torque_nm(power_kw: Number, rpm: Number) -> Number:
    """Return the torque that a power is at a speed [N m]; the speed must be above 0."""
    return power_kw * 1000.0 / (rpm * RAD_S_PER_RPM)


def power_kw(torque_nm: Number, rpm: Number) -> Number:
    """Return the power that a torque is at a speed [kW]."""
    return torque_nm * rpm * RAD_S_PER_RPM / 1000.0


def bmep_bar(torque_nm: Number, displacement_cc: float, strokes: int) -> Number:
    """Return the brake mean effective pressure: the work of a cycle over the displacement [bar].

    Args:
        torque_nm: at the crankshaft [N m].
        displacement_cc: of all cylinders [cm3].
        strokes: 4, a cycle in two turns, or 2, a cycle in one.
    """
    turns = 2.0 if strokes == 4 else 1.0
    return torque_nm * (2.0 * np.pi * turns / (displacement_cc * 1e-6) * 1e-5)


class Coasting(NamedTuple):
    """A coast-down's deceleration, constant + square times speed squared."""

    constant: float
    """Rolling, slope, bearings [speed/s]."""
    square: float
    """Air [1/speed/s]."""
    constant_sd: float
    square_sd: float
    speed_sd: float
    """What is left between speeds and curve, root mean square [speed]."""


def coast_speed(start: float, t_s: Number, constant: float, square: float) -> Number:
    """Return the speed of what coasts, by dv/dt = -(A + B v2).

    Closed form: v = sqrt(A/B) tan(atan(v0 sqrt(B/A)) - t sqrt(A B)).

    Args:
        start: speed at 0 s, above 0.
        t_s: since then [s].
        constant: A, above 0 [speed/s].
        square: B, above 0 [1/speed/s].

    Returns:
        In the unit of ``start``; 0 from where it stands on.
    """
    turning = np.arctan(start * np.sqrt(square / constant)) - t_s * np.sqrt(constant * square)
    speed: Number = np.sqrt(constant / square) * np.tan(np.maximum(turning, 0.0))
    return speed


def fit_coast(t_s: Array, speed: Array) -> Coasting:
    """Return the deceleration that a coast-down shows, by least squares on the closed form.

    Args:
        t_s: rising, shape (n,) [s]; 8 points or more.
        speed: shape (n,), above 0, in any unit.

    Returns:
        With standard deviations that take the points' errors as independent. A coast-down that covers less than
        half of its first speed tells the two parts poorly apart, and its standard deviations show that.
    """
    from scipy.optimize import least_squares  # noqa: PLC0415  # start-up

    at, first = t_s - t_s[0], float(speed[0])
    lost = max(float(speed[0] - speed[-1]) / float(at[-1]), 1e-9)
    # in units of the start, so that steps of all three are alike
    begin = np.array([1.0, 0.5 * lost / first, 0.5 * lost / first])

    def left(x: Array) -> Array:
        off: Array = coast_speed(x[0] * first, at, x[1] * first, x[2] / first) - speed
        return off

    found = least_squares(left, begin, bounds=([0.5, 1e-9, 1e-9], [1.5, np.inf, np.inf]), x_scale=begin)
    spread = float(np.sqrt(2.0 * found.cost / max(len(at) - 3, 1)))
    covariance = np.linalg.pinv(found.jac.T @ found.jac) * spread**2
    sd = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    return Coasting(
        float(found.x[1] * first),
        float(found.x[2] / first),
        float(sd[1] * first),
        float(sd[2] / first),
        spread,
    )


def drag_area_m2(square: float, mass_kg: float, rotating_kg: float, air_density_kg_m3: float) -> float:
    """Return the drag area behind a coast-down's square part [m2]; ``square`` in 1/m."""
    return 2.0 * square * (mass_kg + rotating_kg) / air_density_kg_m3


def rolling_resistance(constant_m_s2: float, mass_kg: float, rotating_kg: float, slope: float = 0.0) -> float:
    """Return the rolling resistance behind a coast-down's constant part [1].

    Args:
        constant_m_s2: deceleration at no speed [m/s2].
        mass_kg: of bike and rider [kg].
        rotating_kg: what turns, as mass at the tyre [kg].
        slope: rise over run, uphill above 0 [1].
    """
    angle = np.arctan(slope)
    whole = constant_m_s2 * (mass_kg + rotating_kg) / (mass_kg * GRAVITY_M_S2)
    return float((whole - np.sin(angle)) / np.cos(angle))
