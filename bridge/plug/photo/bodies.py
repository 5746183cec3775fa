"""Light, slender bodies in a picture: first guesses of where a nose may be."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.plug.photo.light import Array
from bridge.plug.photo.strip import Point

STANDS_OUT = 3.0
"""Deviations from the background at which something stands on it."""
BELOW = (10.0, 18.0, 28.0, 40.0)
"""How much darker than the lightest of them the parts of one body may be [L*]; each is tried."""
GAPS = (0, 5, 12, 24)
"""Gaps that are closed, as behind a dark ring that parts the nose [px]; each is tried."""
SLENDER = 1.2
"""Least length over width of a light body that may be a nose."""
MOST_BODIES = 6


@dataclass(frozen=True)
class Body:
    """The long axis of a light body."""

    start: Point
    end: Point
    weight: float
    """Its pixels, less where it fills its box badly."""

    def near(self, other: "Body") -> bool:
        """Return whether both are about the same first guess."""
        (a, b), (c, d) = (
            (np.array(self.start), np.array(self.end)),
            (np.array(other.start), np.array(other.end)),
        )
        off = min(np.abs(a - c).max() + np.abs(b - d).max(), np.abs(a - d).max() + np.abs(b - c).max())
        return bool(off < 0.08 * np.hypot(*(b - a)))


def light_bodies(light: Array, strange: Array) -> list[Body]:
    """Return light, slender bodies, the weightiest first.

    Args:
        light: (h, w) lightness of the small picture [L*].
        strange: (h, w) how far each pixel is off the background [deviations].
    """
    from scipy import ndimage  # noqa: PLC0415  # start-up
    from skimage import filters  # noqa: PLC0415  # start-up

    thing = ndimage.binary_opening(strange > STANDS_OUT, iterations=1)
    masks = [light > filters.threshold_otsu(light)]  # type: ignore[no-untyped-call]  # skimage has no types
    if thing.sum() > 0.004 * thing.size:
        bright = float(np.quantile(light[thing], 0.97))
        masks += [thing & (light > bright - below) for below in BELOW]
        masks.append(thing & (light > filters.threshold_otsu(light[thing])))  # type: ignore[no-untyped-call]  # as above
    found = [
        body
        for mask in masks
        for gap in GAPS
        if (body := _body(_closed(ndimage.binary_opening(mask, iterations=1), gap))) is not None
    ]
    kept: list[Body] = []
    for body in sorted(found, key=lambda b: b.weight, reverse=True):
        if not any(body.near(other) for other in kept):
            kept.append(body)
    return kept[:MOST_BODIES]


def strangeness(small: Array, light: Array) -> Array:
    """Return how many deviations each pixel lies off a smooth background that the borders show.

    Args:
        small: (h, w, 3) sRGB, 0 to 1.
        light: (h, w) its lightness, slightly blurred [L*].
    """
    from scipy import ndimage  # noqa: PLC0415  # start-up
    from skimage import color  # noqa: PLC0415  # start-up

    lab = color.rgb2lab(small)
    layers = np.stack([light, *(ndimage.gaussian_filter(lab[..., k], 1.5) for k in (1, 2))], axis=-1)
    height, width = light.shape
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j]
    table = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    rim = np.zeros((height, width), dtype=bool)
    deep = max(3, round(0.06 * min(height, width)))
    rim[:deep] = rim[-deep:] = True
    rim[:, :deep] = rim[:, -deep:] = True
    known, values = table[rim], layers[rim]
    kept = np.ones(len(known), dtype=bool)
    for _ in range(6):  # the shell may run over the border: what is far off is not the background
        weights, *_ = np.linalg.lstsq(known[kept], values[kept], rcond=None)
        off = values - known @ weights
        spread = 1.4826 * np.median(np.abs(off[kept]), axis=0) + np.array([0.8, 0.8, 0.8])
        far = np.sqrt(((off / spread) ** 2).sum(axis=1))
        kept = far < 3.5
        if kept.mean() < 0.3:
            kept = far <= np.quantile(far, 0.5)
    off = layers - table @ weights
    return np.asarray(np.sqrt(((off / spread) ** 2).sum(axis=-1)))


def _closed(body: NDArray[np.bool_], gap: int) -> NDArray[np.bool_]:
    from scipy import ndimage  # noqa: PLC0415  # start-up

    if gap == 0:
        return body
    near = ndimage.distance_transform_edt(~body) <= gap
    return np.asarray(ndimage.distance_transform_edt(near) > gap)


def _body(mask: NDArray[np.bool_]) -> Body | None:
    """Return the biggest piece that does not touch much of the border, or None where it is not slender."""
    from scipy import ndimage  # noqa: PLC0415  # start-up

    labels, count = ndimage.label(mask)
    if count == 0:
        return None
    sizes = np.bincount(labels.ravel())[1:]
    main = int(sizes.argmax()) + 1
    if sizes[main - 1] < 0.003 * mask.size:
        return None
    points = np.argwhere(labels == main)[:, ::-1].astype(np.float64)
    middle = points.mean(axis=0)
    values, vectors = np.linalg.eigh(np.cov((points - middle).T))
    along = vectors[:, 1]
    s, t = (points - middle) @ along, (points - middle) @ np.array([-along[1], along[0]])
    slender = float(np.sqrt(values[1] / max(values[0], 1e-9)))
    filled = float(len(points) / max(np.ptp(s) * np.ptp(t), 1.0))
    if slender < SLENDER or filled < 0.45:
        return None
    first, last = (middle + np.quantile(s, q) * along for q in (0.01, 0.99))
    return Body((float(first[0]), float(first[1])), (float(last[0]), float(last[1])), len(points) * filled**2)
