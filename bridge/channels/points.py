"""Calibration points: straight lines from a sensor's reading to the value that it stands for."""

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bridge.errors import BadValue

Array = NDArray[np.float64]
Points = tuple[tuple[float, float], ...]
"""(reading, value), the readings rising."""


def ordered(points: Sequence[tuple[float, float]]) -> Points:
    """Return calibration points with their readings rising.

    Args:
        points: two or more of (reading, value), in an order that rises or falls.

    Raises:
        BadValue: they are too few, one is not finite, or readings or values turn back on the way; the two points
            between which they do are named.
    """
    if len(points) < 2:
        raise BadValue("at least two points [reading, value] are needed")
    for point in points:
        if not all(map(math.isfinite, point)):
            raise BadValue(f"the point {_said(point)} is no pair of plain numbers; mend it or leave it out")
    for axis, word in enumerate(("readings", "values")):
        rises = points[-1][axis] > points[0][axis]
        for one, two in pairwise(points):
            if one[axis] == two[axis] or (two[axis] > one[axis]) != rises:
                raise BadValue(
                    f"from point {_said(one)} to {_said(two)} the {word} turn back or stand still; they must rise"
                    " all the way or fall all the way, so mend one of the two or leave it out"
                )
    return tuple(sorted(points))


def _said(point: tuple[float, float]) -> str:
    return f"[{point[0]:g}, {point[1]:g}]"


def value_at(points: Points, reading: Array, beyond: float = math.inf) -> Array:
    """Return what readings stand for, by straight lines through points.

    Args:
        points: as ``ordered`` gives them.
        reading: what a sensor gave, of any shape, in the unit of the points; nan for none.
        beyond: how far outside the points the outer lines go on, as a share of the readings' span [1]; for ever
            by default.

    Returns:
        Values in the unit of the points; nan where there is no reading, or one too far outside.
    """
    x, y = (np.array(axis, dtype=np.float64) for axis in zip(*points, strict=True))
    value: Array = np.interp(reading, x, y)
    for outside, end, to in ((reading < x[0], 0, 1), (reading > x[-1], -1, -2)):
        if outside.any():
            slope = (y[end] - y[to]) / (x[end] - x[to])
            value = np.where(outside, y[end] + slope * (reading - x[end]), value)
    if math.isfinite(beyond):
        room = beyond * (x[-1] - x[0])
        value = np.where((reading < x[0] - room) | (reading > x[-1] + room), np.nan, value)
    return value
