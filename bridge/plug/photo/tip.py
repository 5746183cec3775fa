"""Which end of a nose is its tip."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from bridge.plug.photo.edges import find_edges
from bridge.plug.photo.light import Array
from bridge.plug.photo.strip import Point, cut_strip

TAPER, SHOULDER, ELECTRODE, SURE = 6.0, 3.0, 1.5, 0.5
"""Weights of what speaks for an end being the tip, and the sum from which it is said (from rendered pictures)."""
FULL = 10.0
"""Deviations from the background past which more says no more."""


def tip_is_first(  # noqa: PLR0913  # two ends, and what of the picture was worked out before
    start: Point, end: Point, pixels: NDArray[Any], *, strange: Array, light: Array, step: int
) -> float:
    """Return how much speaks for the first end being the tip, less what speaks for the second.

    A nose is narrower at its tip; metal wider than the nose stands at its seat, and a narrow electrode at most
    stands beyond its tip.

    Args:
        start: one end [px].
        end: the other end [px].
        pixels: the picture.
        strange: how far the small picture is off its background [deviations].
        light: of the small picture [L*].
        step: pixels of the picture for one of the small one.
    """
    edges = find_edges(cut_strip(pixels, start, end, rows=160), either_way=True)
    if edges is None:
        return 0.0
    half = edges.half_width(np.array([0.0, 1.0]))
    hint = TAPER * float(np.log(half[1] / half[0]))
    a, b = np.array(start), np.array(end)
    forth = b - a
    aside = np.array([-forth[1], forth[0]])

    def values(layer: Array, place: Array, offs: list[float], outers: list[float], width: float) -> Array:
        from scipy import ndimage  # noqa: PLC0415  # start-up

        where = place + np.array(offs)[:, None, None] * forth + np.array(outers)[:, None] * width * aside
        at = (where.reshape(-1, 2).T[::-1] - (step - 1) / 2.0) / step
        return np.asarray(ndimage.map_coordinates(layer, at, order=1, mode="nearest"))

    shoulders, steps, stubs = [], [], []
    for place, out, width in ((a, -1.0, float(half[0])), (b, 1.0, float(half[1]))):
        beyond, within = [0.05 * out, 0.08 * out, 0.12 * out], [-0.05 * out, -0.08 * out, -0.12 * out]
        beside = [-1.7, -1.5, -1.35, 1.35, 1.5, 1.7]
        shoulder = float(np.median(np.minimum(values(strange, place, beyond, beside, width), FULL)))
        off = values(light, place, beyond, beside, width) - values(light, place, within, beside, width)
        steps.append(float(np.median(np.minimum(np.abs(off), FULL))))
        stub = float(np.median(np.minimum(values(strange, place, beyond[:2], [-0.2, 0.0, 0.2], width), FULL)))
        shoulders.append(shoulder)
        stubs.append(max(0.0, stub - shoulder))
    hint += SHOULDER * (shoulders[1] - shoulders[0]) / (sum(shoulders) + 4.0)
    hint += SHOULDER * (steps[1] - steps[0]) / (sum(steps) + 6.0)
    return hint + ELECTRODE * (stubs[0] - stubs[1]) / (sum(stubs) + 4.0)
