"""Exhaust of unequal cylinders in one pipe: what a sensor and a gas analysis make of it.

The balance of oxygen in the mixed gas is that of the mean mixture, but neither witness weighs it so: hydrogen
reaches a sensor's cell faster than oxygen does, and an analysis takes one water-gas balance for the whole. Model of
bulk diffusion; the gases do not react after they meet. Where they do, in a hot pipe, both biases go to zero.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bridge.physics.gas import brettschneider
from bridge.physics.pump_cell import PETROL_H_TO_C, lambda_of_current, relative_current
from bridge.physics.water_gas import burnt

Floats = NDArray[np.float64]


def mean_lambda(lambdas: ArrayLike, fuel: ArrayLike = 1.0) -> float:
    """Return the lambda of all the mixture together.

    Args:
        lambdas: of each cylinder, shape (n,) [1].
        fuel: what each burns, in any one unit; equal where not given.
    """
    given, weights = _both(lambdas, fuel)
    return float(np.average(given, weights=weights))


def sensor_in_collector(lambdas: ArrayLike, fuel: ArrayLike = 1.0, h_to_c: float = PETROL_H_TO_C) -> float:
    """Return what a wideband sensor reads where the pipes have met.

    Args:
        lambdas: of each cylinder, shape (n,) [1]; 0.5 and over.
        fuel: what each burns, in any one unit; equal where not given.
        h_to_c: of a fuel without oxygen [1].

    Returns:
        The reading [1]: the mean's or richer, since the rich cylinder's hydrogen counts most.
    """
    given, weights = _both(lambdas, fuel)
    moles = weights * burnt(given, h_to_c).wet
    return float(lambda_of_current(np.average(relative_current(given, h_to_c), weights=moles), h_to_c))


def analysis_in_collector(lambdas: ArrayLike, fuel: ArrayLike = 1.0, h_to_c: float = PETROL_H_TO_C) -> float:
    """Return what an exhaust-gas analysis gives where the pipes have met.

    Args:
        lambdas: of each cylinder, shape (n,) [1]; 0.5 and over.
        fuel: what each burns, in any one unit; equal where not given.
        h_to_c: of a fuel without oxygen [1].

    Returns:
        Lambda by Brettschneider [1]: the mean's or leaner.
    """
    given, weights = _both(lambdas, fuel)
    gas = burnt(given, h_to_c)
    co2, co, o2 = (float(np.sum(weights * part)) for part in (gas.co2, gas.co, gas.o2))
    return float(brettschneider(co2, co, o2, 0.0, 0.0, h_to_c))


def _both(lambdas: ArrayLike, fuel: ArrayLike) -> tuple[Floats, Floats]:
    given = np.asarray(lambdas, dtype=np.float64)
    return given, np.broadcast_to(np.asarray(fuel, dtype=np.float64), given.shape)
