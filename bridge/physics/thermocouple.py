"""Thermocouples of type K: voltage from temperature and back, with the cold junction where it belongs.

Source: the reference functions of the ITS-90, NIST Monograph 175 and IEC 60584-1:2013; published (the
coefficients were typed from memory and agree with an independent copy of the tables, see the tests).

What is measured is the bead, not the gas: it loses heat to the cooler pipe by radiation, tens of kelvins where
the exhaust is hot (from memory), and lags by its own mass, seconds for a thick sheath. Compare the same probe
at the same place, and tune to no published figure.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

COLDEST_C, HOTTEST_C = -270.0, 1372.0
"""Where the reference functions of type K end [Cel]."""

# Coefficients of t**0, t**1, ... [mV]; t in Cel.
_BELOW_ZERO = (
    0.0,
    0.394501280250e-01,
    0.236223735980e-04,
    -0.328589067840e-06,
    -0.499048287770e-08,
    -0.675090591730e-10,
    -0.574103274280e-12,
    -0.310888728940e-14,
    -0.104516093650e-16,
    -0.198892668780e-19,
    -0.163226974860e-22,
)
_ABOVE_ZERO = (
    -0.176004136860e-01,
    0.389212049750e-01,
    0.185587700320e-04,
    -0.994575928740e-07,
    0.318409457190e-09,
    -0.560728448890e-12,
    0.560750590590e-15,
    -0.320207200030e-18,
    0.971511471520e-22,
    -0.121047212750e-25,
)
# The bump above zero: A exp(B (t - C)**2) [mV].
_A, _B, _C = 0.118597600000, -0.118343200000e-03, 0.126968600000e03

# Where Newton's steps start: the forward function every half kelvin, read backwards. From there two steps are
# exact to 1e-9 K; just above -270, where the slope goes to nothing, to a thousandth.
_GRID_C = np.linspace(COLDEST_C, HOTTEST_C, 3285)
_STEPS = 2
# Rounding at the ends is not outside; the reference function itself gives 2e-9 at 0 Cel [mV].
_ROUNDING_MV = 1e-8


def emf_mv(temp_c: ArrayLike) -> Array:
    """Return the voltage of a type K thermocouple whose cold junction is at 0 Cel.

    Args:
        temp_c: temperature of the hot junction, any shape [Cel]; -270 to 1372.

    Returns:
        The same shape [mV], rising with temperature; nan outside, where no reference function is.
    """
    return _forward(temp_c)


def seebeck_mv_per_k(temp_c: ArrayLike) -> Array:
    """Return how much a kelvin more adds to the voltage.

    Args:
        temp_c: temperature of the hot junction, any shape [Cel]; -270 to 1372.

    Returns:
        The same shape [mV/K], over 0; nan outside.
    """
    t = np.asarray(temp_c, dtype=float)
    return np.where((t >= COLDEST_C) & (t <= HOTTEST_C), _slope(t), np.nan)


def temperature_c(emf_mv: ArrayLike, cold_junction_c: ArrayLike = 0.0) -> Array:
    """Return the temperature of the hot junction from the voltage measured.

    The cold junction counts as voltage: ``t = E^-1(emf + E(t_cold))``, never as degrees added.

    Args:
        emf_mv: measured between the legs at the cold junction, any shape [mV].
        cold_junction_c: temperature there, the same shape or one number [Cel].

    Returns:
        The temperature, of their common shape [Cel]; nan where a reading is nan, and where it or the cold
        junction is outside -270 to 1372 Cel. A voltage under 0 gives a temperature below the cold junction, and
        far under 0 nan: on a hot engine the legs are then the wrong way round.
    """
    wanted = np.asarray(emf_mv, dtype=float) + _forward(cold_junction_c)
    grid_mv = _emf(_GRID_C)
    t = np.interp(wanted, grid_mv, _GRID_C)
    for _ in range(_STEPS):
        t = np.clip(t - (_emf(t) - wanted) / _slope(t), COLDEST_C, HOTTEST_C)
    inside = (wanted >= grid_mv[0] - _ROUNDING_MV) & (wanted <= grid_mv[-1] + _ROUNDING_MV)
    return np.where(inside, t, np.nan)


def tolerance_k(temp_c: ArrayLike, tolerance_class: int = 1) -> Array:
    """Return how far a new type K thermocouple may be from the reference function.

    Class 1: 1.5 K or 0.4 % of the Celsius temperature, -40 to 1000 Cel; class 2: 2.5 K or 0.75 %, -40 to 1200;
    the larger counts. Source: IEC 60584-1:2013, from memory.

    Args:
        temp_c: temperature of the hot junction, any shape [Cel].
        tolerance_class: 1 or 2.

    Returns:
        The half width of a uniform doubt, whose standard uncertainty is this over the root of 3 [K]; nan where
        the class says nothing.
    """
    t = np.asarray(temp_c, dtype=float)
    least, share, hottest = {1: (1.5, 0.004, 1000.0), 2: (2.5, 0.0075, 1200.0)}[tolerance_class]
    return np.where((t >= -40.0) & (t <= hottest), np.maximum(least, share * np.abs(t)), np.nan)


def _forward(temp_c: ArrayLike) -> Array:
    t = np.asarray(temp_c, dtype=float)
    return np.where((t >= COLDEST_C) & (t <= HOTTEST_C), _emf(t), np.nan)


def _emf(t: Array) -> Array:
    below = np.polynomial.polynomial.polyval(np.minimum(t, 0.0), _BELOW_ZERO)
    above = np.polynomial.polynomial.polyval(np.maximum(t, 0.0), _ABOVE_ZERO) + _A * np.exp(
        _B * (t - _C) ** 2
    )
    return np.where(t < 0.0, below, above)


def _slope(t: Array) -> Array:
    below = np.polynomial.polynomial.polyval(np.minimum(t, 0.0), _derived(_BELOW_ZERO))
    above = np.polynomial.polynomial.polyval(np.maximum(t, 0.0), _derived(_ABOVE_ZERO))
    bump = 2.0 * _A * _B * (t - _C) * np.exp(_B * (t - _C) ** 2)
    return np.where(t < 0.0, below, above + bump)


def _derived(coefficients: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(power * factor for power, factor in enumerate(coefficients))[1:]
