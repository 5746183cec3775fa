"""What fools an oxygen sensor: by how much, and which way.

A sensor tells the balance of oxygen in the gas that reaches it, not what burned in the cylinder. The formulas are
that balance in closed form; how much of each there is in an engine is common practice without a source, and stands
as a range. All take floats or arrays; shares are 0 to under 1.
"""

from dataclasses import dataclass
from math import isfinite
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bridge.physics.mixed import analysis_in_collector, mean_lambda, sensor_in_collector
from bridge.physics.pump_cell import corrected_lambda, lambda_on_fuel

Floats = NDArray[np.float64]
Direction = Literal["lean", "rich", "either"]

# Usual ranges, each common practice without a source.
_SHORT_CIRCUIT = (0.10, 0.30)  # share of a two-stroke's charge; more off the pipe's best speed
_OVERLAP = (0.01, 0.05)  # share of a four-stroke's charge, with sharp cams below their speed
_MISFIRES = (0.02, 0.10)  # share of the cycles
_LEAK = (0.01, 0.05)  # of the engine's air
_SEEN = (
    0.55,
    0.0,
)  # share of the unburnt fuel that counts; the first by the model of diffusion with heavy molecules
_SPREAD = 0.05  # of lambda, either cylinder from their mean
_BACK_PRESSURE = (1.02, 1.15)  # absolute, over that of calibration
_AGED_GAIN = (0.97, 0.90)
_WORTH_SAYING = 0.0005  # lambda

USUAL = "oxygen balance; the usual range is common practice, no source"
"""Status of the sizes that closed forms give."""
TWO_STROKE_READS = "reads lean by an unknown amount unless calibrated"
"""The mark of every wideband value of a two-stroke."""


@dataclass(frozen=True)
class Fooled:
    """One thing that can fool the sensor of this bike.

    Attributes:
        cause: what it is.
        direction: which way the reading goes against the mixture that burned.
        size_low: least of the usual range, reading less truth [lambda].
        size_high: most of it [lambda].
        sentence: all this in words, with what to do or not to do.
        status: where the size comes from.
    """

    cause: str
    direction: Direction
    size_low: float
    size_high: float
    sentence: str
    status: str


def with_air_leak(lambda_: float | Floats, leak: float | Floats) -> Floats:
    """Return the reading when air leaks in between cylinder and sensor.

    Args:
        lambda_: of the charge [1].
        leak: the air that leaks in, over the air that the engine draws [1].
    """
    return np.asarray(lambda_, dtype=np.float64) * (1.0 + leak)


def without_air_leak(reading: float | Floats, leak: float | Floats) -> Floats:
    """Return the charge's lambda behind a reading with a leak: the inverse of ``with_air_leak``."""
    return np.asarray(reading, dtype=np.float64) / (1.0 + leak)


def with_lost_charge(lambda_: float | Floats, lost: float | Floats, seen: float | Floats = 0.0) -> Floats:
    """Return the reading when part of the charge reaches the sensor unburnt.

    A two-stroke's short-circuited charge and a misfire are the same to the sensor: the oxygen arrives, of the fuel
    only as much as the sensor can burn.

    Args:
        lambda_: of the charge [1].
        lost: share of the charge that stayed unburnt [1].
        seen: share of its fuel that the sensor burns and so counts [1]; 1 does away with the error. Heavy
            molecules reach the cell slowly, so about a half (assumed).
    """
    return np.asarray(lambda_, dtype=np.float64) / (1.0 - lost * (1.0 - np.asarray(seen, dtype=np.float64)))


def without_lost_charge(reading: float | Floats, lost: float | Floats, seen: float | Floats = 0.0) -> Floats:
    """Return the charge's lambda behind a reading: the inverse of ``with_lost_charge``."""
    return np.asarray(reading, dtype=np.float64) * (1.0 - lost * (1.0 - np.asarray(seen, dtype=np.float64)))


def with_air_scavenging(trapped: float | Floats, lost: float | Floats) -> Floats:
    """Return the reading when air without fuel passes through the cylinder.

    Args:
        trapped: lambda of what stayed in the cylinder [1].
        lost: share of all air that passed through [1].
    """
    return np.asarray(trapped, dtype=np.float64) / (1.0 - np.asarray(lost, dtype=np.float64))


def without_air_scavenging(reading: float | Floats, lost: float | Floats) -> Floats:
    """Return the trapped lambda behind a reading: the inverse of ``with_air_scavenging``."""
    return np.asarray(reading, dtype=np.float64) * (1.0 - np.asarray(lost, dtype=np.float64))


def what_fools(  # noqa: PLR0913  # what is known of the bike, each with its default
    strokes: int,
    sensor: str = "each",
    *,
    cylinders: int = 1,
    calibrated: bool = False,
    lambda_: float = 0.88,
    h_to_c: float | None = None,
    o_to_c: float | None = None,
    pressure_corrected: bool = False,
) -> tuple[Fooled, ...]:
    """Return what can fool the sensor of a bike, the largest first.

    Args:
        strokes: 2 or 4.
        sensor: ``each`` or ``collector``, as the bike's file says.
        cylinders: of the bike.
        calibrated: whether the offset of apparent to trapped lambda was stated for this engine.
        lambda_: the reading beside which the sentences stand [1]; 0.6 to 1.5.
        h_to_c: of the session's fuel [1]; None where it is not known.
        o_to_c: of the session's fuel [1].
        pressure_corrected: whether the exhaust's pressure was measured and taken out.

    Returns:
        One for each cause that the models can size at this reading. Sizes are usual ranges, not limits: a bad leak
        reads leaner than any of them.
    """
    found = [_misfire(lambda_), _leak(lambda_), _aged(lambda_, strokes)]
    if strokes == 4:
        found.append(_overlap(lambda_))
    elif not calibrated:
        found.append(_short_circuit(lambda_))
    if sensor == "collector" and cylinders > 1:
        found.append(_collector(lambda_))
    if not pressure_corrected:
        found.append(_pressure(lambda_))
    if h_to_c is not None and o_to_c:
        found += _fuel(lambda_, h_to_c, o_to_c)
    sized = (fooled for fooled in found if isfinite(fooled.size_low) and isfinite(fooled.size_high))
    return tuple(sorted(sized, key=lambda fooled: -max(abs(fooled.size_low), abs(fooled.size_high))))


def _short_circuit(reading: float) -> Fooled:
    true = _without_lost(reading, _SHORT_CIRCUIT)
    return _sized(
        "short-circuited charge",
        reading,
        true,
        "A two-stroke loses fresh charge into its exhaust, which reads lean: with 10 to 30 % of it lost this"
        f" {reading:.2f} stands for a true {_span(true)}. Do not jet by the number alone.",
    )


def _overlap(reading: float) -> Fooled:
    true = _without_lost(reading, _OVERLAP)
    return _sized(
        "charge lost in the valve overlap",
        reading,
        true,
        "Fresh charge that passes through the valve overlap, most of it below the cams' speed, reads lean: with 1 to"
        f" 5 % of it lost this {reading:.2f} stands for a true {_span(true)}.",
    )


def _misfire(reading: float) -> Fooled:
    true = _without_lost(reading, _MISFIRES)
    return _sized(
        "misfire",
        reading,
        true,
        "A misfire reads lean, also where the mixture is so rich that it fouls the plug: with 2 to 10 % of the cycles"
        f" missed this {reading:.2f} stands for a true {_span(true)}. Look at the spark before a bigger jet.",
    )


def _leak(reading: float) -> Fooled:
    true = [float(without_air_leak(reading, leak)) for leak in _LEAK]
    return _sized(
        "air leak",
        reading,
        true,
        "Air that leaks into the exhaust before the sensor reads lean: with 1 to 5 % of the engine's air this"
        f" {reading:.2f} stands for a true {_span(true)}. It is worst at idle and with the throttle shut, where an open"
        " pipe also draws air back.",
    )


def _aged(reading: float, strokes: int) -> Fooled:
    true = [float(corrected_lambda(reading, gain)) for gain in _AGED_GAIN]
    return _sized(
        "aged sensor",
        reading,
        true,
        f"A sensor worn by {'oil ash, ' if strokes == 2 else ''}silicone or lead reads too near to 1: with 3 to 10 % of"
        f" its gain lost this {reading:.2f} stands for a true {_span(true)}. A check in free air tells.",
        "model of the current; the usual range is common practice, no source",
    )


def _collector(reading: float) -> Fooled:
    unequal = (reading - _SPREAD, reading + _SPREAD)
    mean = mean_lambda(unequal)
    return _sized(
        "unequal cylinders in one pipe",
        reading,
        [2.0 * mean - sensor_in_collector(unequal), 2.0 * mean - analysis_in_collector(unequal)],
        f"Where the pipes have met one number stands for all cylinders: with {_SPREAD:.2f} between each and their mean,"
        f" this {reading:.2f} hides one at {reading + _SPREAD:.2f}, and the mean itself may read a little rich by the"
        " sensor and a little lean by an exhaust-gas analysis. Read each plug.",
        "model of diffusion and of the water-gas balance; the spread is assumed",
    )


def _pressure(reading: float) -> Fooled:
    true = [float(corrected_lambda(reading, 1.0, ratio)) for ratio in _BACK_PRESSURE]
    return _sized(
        "exhaust pressure",
        reading,
        true,
        "Pressure in the exhaust takes the reading away from 1: with 2 to 15 % more than at calibration this"
        f" {reading:.2f} stands for a true {_span(true)}.",
        "model of the current and of the barrier; the usual range is common practice, no source",
    )


def _fuel(reading: float, h_to_c: float, o_to_c: float) -> list[Fooled]:
    true = float(lambda_on_fuel(reading, h_to_c, o_to_c))
    if abs(reading - true) < _WORTH_SAYING:
        return []
    sentence = (
        f"With a table for petrol a sensor reads {reading:.3f} on this fuel where the truth is {true:.3f}."
    )
    return [_sized("oxygen in the fuel", reading, [true], sentence, "model of the current")]


def _without_lost(reading: float, lost: tuple[float, float]) -> list[float]:
    return [float(without_lost_charge(reading, share, seen)) for share, seen in zip(lost, _SEEN, strict=True)]


def _sized(cause: str, reading: float, true: list[float], sentence: str, status: str = USUAL) -> Fooled:
    sizes = [reading - value for value in true]
    low, high = min(sizes), max(sizes)
    direction: Direction = "lean" if low >= 0 else "rich" if high <= 0 else "either"
    return Fooled(cause, direction, low, high, sentence, status)


def _span(values: list[float]) -> str:
    return f"{min(values):.3f} to {max(values):.3f}"
