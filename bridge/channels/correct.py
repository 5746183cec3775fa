"""What is taken off an oxygen sensor's reading: its gain, the exhaust's pressure, and stated offsets."""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from bridge.channels.points import Array
from bridge.channels.sensor_state import SensorState
from bridge.physics.pump_cell import RICHEST, lambda_of_current, pressure_effect, relative_current

CALIBRATION_KPA = 101.325
"""Absolute pressure at which a sensor's table holds: one standard atmosphere; common practice, no source [kPa]."""


@dataclass(frozen=True)
class Correction:
    """What is done to one sensor's readings.

    Attributes:
        gain: the current is this many times what it should be [1].
        offset: taken off the corrected lambda [1].
        pressure_share: of the cell's barrier (``bridge.physics.pump_cell``) [1]; None for no correction.
        because: one sentence for each thing that gain and offset came from.
    """

    gain: float = 1.0
    offset: float = 0.0
    pressure_share: float | None = None
    because: tuple[str, ...] = ()

    def pressure_of(self, column: str | None) -> str | None:
        """Return the column of exhaust pressure that is corrected for, of the one that was recorded."""
        return column if self.pressure_share else None

    def notes(self, column: str | None) -> list[str]:
        """Return what is done and why, given the recorded column of exhaust pressure; without what was assumed."""
        told = list(self.because)
        if column is not None and self.pressure_share is None:
            told.append(
                f"{column} was recorded but corrects nothing, since the bike's file does not say pressure_share under"
                " [sensor_cell]; the reading exaggerates rich and lean where that pressure is high"
            )
        elif self.pressure_of(column) is not None:
            told.append(
                f"corrected for {column} over {CALIBRATION_KPA:g} kPa with a pressure share of"
                f" {self.pressure_share:g}; good to about a fifth of the correction"
            )
        return told


UNCORRECTED = Correction()
_LEANEST = 10.0


def correction_of(state: SensorState, pressure_share: float | None) -> Correction:
    """Return what a sensor's state and its cell ask for."""
    return Correction(state.gain, state.offset, pressure_share, state.changes)


def changes_reading(change: Correction, exhaust_pressure: str | None) -> bool:
    """Return whether a correction does anything to a recorded lambda."""
    return change.gain != 1.0 or change.offset != 0.0 or change.pressure_of(exhaust_pressure) is not None


def corrected_current(current: Array, change: Correction, exhaust_kpa: Array | None) -> Array:
    """Return a pump current as a sensor of gain 1 at the pressure of its table would give it.

    Args:
        current: [mA].
        change: of that sensor.
        exhaust_kpa: absolute pressure at it [kPa]; None for no correction, nan where it is not known, and then
            not corrected for.

    Returns:
        The current [mA]; for the pressure's validity see ``bridge.physics.pump_cell.pressure_effect``.
    """
    corrected: Array = current / (change.gain * _effect(change, exhaust_kpa))
    return corrected


def _effect(change: Correction, exhaust_kpa: Array | None) -> float | Array:
    """Return by how much the exhaust's pressure swells the current; 1 where it is not known."""
    if exhaust_kpa is None or not change.pressure_share:
        return 1.0
    effect = pressure_effect(exhaust_kpa / CALIBRATION_KPA, change.pressure_share)
    return np.where(np.isnan(effect), 1.0, effect)


def corrected_reading(lambda_read: Array, change: Correction, exhaust_kpa: Array | None) -> Array:
    """Return a lambda that was read, corrected.

    Args:
        lambda_read: [1]; nan for no reading.
        change: of its sensor.
        exhaust_kpa: absolute pressure at it [kPa]; None for no correction, nan where it is not known, and then
            not corrected for.

    Returns:
        Lambda, first moved through the cell's own curve for gain and pressure (the model of
        ``bridge.physics.pump_cell.corrected_lambda``, with its validity), then less the offset [1]; nan where the
        reading is, and past the model's ends.
    """
    effect = _effect(change, exhaust_kpa)
    if change.gain == 1.0 and isinstance(effect, float):
        return lambda_read - change.offset
    lambdas, phis = _curves()
    current = lambdas.at(lambda_read) / (change.gain * effect)
    with np.errstate(divide="ignore"):
        corrected: Array = 1.0 / phis.at(current) - change.offset
    return corrected


@dataclass(frozen=True)
class _Even:
    """A curve by its values at even steps: five times as fast as a search for each sample."""

    low: float
    step: float
    value: Array

    def at(self, x: Array) -> Array:
        """Return the curve's values by straight lines; nan outside its ends, and for nan."""
        place = (x - self.low) / self.step
        inside = (place >= 0.0) & (place <= len(self.value) - 1)
        node = np.where(inside, place, 0.0).astype(np.int32)
        np.minimum(node, len(self.value) - 2, out=node)
        before = self.value[node]
        value: Array = before + (place - node) * (self.value[node + 1] - before)
        return np.where(inside, value, np.nan)


@lru_cache(maxsize=1)
def _curves() -> tuple[_Even, _Even]:
    """Return the cell's current by lambda, and 1/lambda by its current, within 1e-6 of the model up to lambda 1.3.

    Both have the end of a step at lambda 1, where the model has its kink.
    """
    by_lambda = _even_steps(RICHEST, _LEANEST, 1e-3, knot=1.0)
    lambdas = _Even(float(by_lambda[0]), 1e-3, relative_current(by_lambda))
    by_current = _even_steps(float(lambdas.value[0]), 1.0, 1e-4, knot=0.0)
    return lambdas, _Even(float(by_current[0]), 1e-4, 1.0 / lambda_of_current(by_current))


def _even_steps(low: float, high: float, step: float, knot: float) -> Array:
    """Return even steps inside two ends, one of them at the knot."""
    first, last = math.ceil((low - knot) / step), math.floor((high - knot) / step)
    steps: Array = knot + np.arange(first, last + 1, dtype=np.float64) * step
    return steps
