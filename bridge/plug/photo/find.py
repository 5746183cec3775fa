"""A proposal for the two taps: where the nose is, and which of its ends is the tip."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bridge.plug.photo.edges import Edges, find_edges
from bridge.plug.photo.ends import Ends, find_ends
from bridge.plug.photo.light import Array, lightness, luminance
from bridge.plug.photo.strip import Point, cut_strip

SMALL = 360
"""Longer side of the picture in which the nose is looked for [px]."""
STANDS_OUT = 3.0
"""Deviations from the background at which something stands on it."""
TAPER, SHOULDER, SURE = 6.0, 3.0, 0.5
"""Weights of what speaks for an end being the tip, and the sum from which it is said (from rendered pictures)."""
AT_ODDS = 0.12
"""How far the ends of the light body and the ends of its sides may lie apart, as a share of the nose: two ways to
see the same ends, which do not err alike."""
ENDS_SD = 0.028
"""Standard uncertainty of each end, as a share of the nose's length (from rendered pictures)."""
BLUNT_SD = 0.035
"""The same where its surface ends without a clear step."""
SLENDER = 1.25
"""Least length over width of a light body that may be a nose."""


@dataclass(frozen=True)
class Proposal:
    """Where tip and seat seem to be, or why that cannot be told."""

    tip: Point | None
    seat: Point | None
    sd: float
    """Standard uncertainty of each, as a share of the nose's length."""
    because: str


def propose(pixels: NDArray[Any]) -> Proposal:
    """Look for a nose: a light, slender body that stands on the picture's background.

    Args:
        pixels: (h, w) or (h, w, 3), see ``light.luminance``.
    """
    from scipy import ndimage  # noqa: PLC0415  # start-up

    step = max(1, int(np.ceil(max(pixels.shape[:2]) / SMALL)))
    small = _shrunk(pixels, step)
    light = ndimage.gaussian_filter(lightness(luminance(small)), 1.0)
    strange = _strangeness(small, light)
    axis = _light_body(light, strange)
    if axis is None:
        return _cannot("no light, slender body stands out from the background")
    start, end = (tuple((np.array(p) * step + (step - 1) / 2.0).tolist()) for p in axis)
    ends: Ends | None = None
    # the first guess is coarse: lay the strip by the sides, and look again
    for off_line, rows, at_odds in ((0.1, 160, AT_ODDS), (0.06, 160, AT_ODDS / 2), (0.03, 320, AT_ODDS / 2)):
        strip = cut_strip(pixels, start, end, rows=rows)
        edges = find_edges(strip, off_line=off_line, either_way=True)
        if edges is None or edges.clear < 1.0:
            return _cannot("its sides cannot be made out against the background")
        ends = find_ends(strip, edges)
        if ends is None or max(abs(ends.first), abs(ends.last - 1.0)) > at_odds:
            return _cannot("it cannot be seen where it ends")
        start, end = _moved(start, end, edges, ends)
    sd = ENDS_SD if ends is not None and ends.sharp else BLUNT_SD
    tip_first = _tip_is_first(start, end, pixels, strange, step)
    if tip_first is None:
        return _cannot("both ends look alike, so which is the tip cannot be told")
    tip, seat = (start, end) if tip_first else (end, start)
    return Proposal(tip, seat, sd, "a light body with straight sides")


def _cannot(because: str) -> Proposal:
    return Proposal(None, None, 1.0, because)


def _shrunk(pixels: NDArray[Any], step: int) -> Array:
    scale = {np.dtype(np.uint8): 255.0, np.dtype(np.uint16): 65535.0}.get(pixels.dtype, 1.0)
    rows, columns = (n // step * step for n in pixels.shape[:2])
    cut = pixels[:rows, :columns]
    if cut.ndim == 2:
        cut = cut[..., None]
    blocks = cut.reshape(rows // step, step, columns // step, step, cut.shape[2])
    means = blocks.mean(axis=(1, 3), dtype=np.float64) / scale
    return np.repeat(means, 3, axis=2) if means.shape[2] == 1 else means[..., :3]


def _strangeness(small: Array, light: Array) -> Array:
    """Return how many deviations each pixel lies off a smooth background that the borders show."""
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


def _light_body(light: Array, strange: Array) -> tuple[Point, Point] | None:
    """Return the ends of the long axis of the lightest thing on the background."""
    from scipy import ndimage  # noqa: PLC0415  # start-up

    thing = ndimage.binary_opening(strange > STANDS_OUT, iterations=1)
    if thing.sum() < 0.004 * thing.size:
        return None
    best = None
    bright = float(np.quantile(light[thing], 0.97))
    for below in (10.0, 18.0, 28.0):
        bare = ndimage.binary_opening(thing & (light > bright - below), iterations=1)
        for gap in (0, 5, 12):  # a dark ring may part the nose
            found = _axis(_closed(bare, gap))
            if found is not None and (best is None or found[0] > 1.1 * best[0]):
                best = found
    return None if best is None else (best[1], best[2])


def _closed(body: NDArray[np.bool_], gap: int) -> NDArray[np.bool_]:
    from scipy import ndimage  # noqa: PLC0415  # start-up

    if gap == 0:
        return body
    near = ndimage.distance_transform_edt(~body) <= gap
    return np.asarray(ndimage.distance_transform_edt(near) > gap)


def _axis(body: NDArray[np.bool_]) -> tuple[float, Point, Point] | None:
    """Return weight and long axis of the biggest piece, or None where it is not slender."""
    from scipy import ndimage  # noqa: PLC0415  # start-up

    labels, count = ndimage.label(body)
    if count == 0:
        return None
    sizes = np.bincount(labels.ravel())[1:]
    main = int(sizes.argmax()) + 1
    if sizes[main - 1] < 0.003 * body.size:
        return None
    points = np.argwhere(labels == main)[:, ::-1].astype(np.float64)
    slender, filled = _slender(points), _filled(points)
    if slender < SLENDER or filled < 0.45:
        return None
    middle, along, _ = _moments(points)
    s = (points - middle) @ along
    first, last = np.quantile(s, 0.01), np.quantile(s, 0.99)
    start, end = middle + first * along, middle + last * along
    return len(points) * filled**2, (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))


def _moments(points: Array) -> tuple[Array, Array, Array]:
    middle = points.mean(axis=0)
    values, vectors = np.linalg.eigh(np.cov((points - middle).T))
    return middle, vectors[:, 1], np.sqrt(np.maximum(values, 1e-9))


def _slender(points: Array) -> float:
    _, _, spread = _moments(points)
    return float(spread[1] / spread[0])


def _filled(points: Array) -> float:
    """Return how much of a box about the points they fill."""
    middle, along, _ = _moments(points)
    s, t = (points - middle) @ along, (points - middle) @ np.array([-along[1], along[0]])
    return float(len(points) / max(np.ptp(s) * np.ptp(t), 1.0))


def _moved(start: Point, end: Point, edges: Edges, ends: Ends) -> tuple[Point, Point]:
    """Return the ends of the nose's middle line, from sides and ends in the strip between two points."""
    a, b = np.array(start), np.array(end)
    forth = b - a
    aside = np.array([-forth[1], forth[0]])
    places = np.array([ends.first, ends.last])
    off = edges.middle(places)
    new = a + places[:, None] * forth + off[:, None] * aside
    return (float(new[0, 0]), float(new[0, 1])), (float(new[1, 0]), float(new[1, 1]))


def _tip_is_first(start: Point, end: Point, pixels: NDArray[Any], strange: Array, step: int) -> bool | None:
    """Return whether the first end is the tip, from the taper and from what stands beyond both ends."""
    from scipy import ndimage  # noqa: PLC0415  # start-up

    edges = find_edges(cut_strip(pixels, start, end, rows=160), either_way=True)
    if edges is None:
        return None
    half = edges.half_width(np.array([0.0, 1.0]))
    hint = TAPER * float(np.log(half[1] / half[0]))  # narrower at the tip
    a, b = np.array(start), np.array(end)
    forth = b - a
    aside = np.array([-forth[1], forth[0]])
    shoulders = []
    for place, beyond, width in ((a, -1.0, half[0]), (b, 1.0, half[1])):
        off = np.array([0.05, 0.08, 0.12])[:, None, None] * beyond * forth
        outer = np.array([-1.7, -1.5, -1.35, 1.35, 1.5, 1.7])[None, :, None] * width * aside
        where = ((place + off + outer) - (step - 1) / 2.0) / step
        values = ndimage.map_coordinates(strange, where.reshape(-1, 2).T[::-1], order=1, mode="nearest")
        shoulders.append(float(np.median(np.minimum(values, 10.0))))
    # metal wider than the nose stands beyond the seat
    hint += SHOULDER * (shoulders[1] - shoulders[0]) / (sum(shoulders) + 4.0)
    return None if abs(hint) < SURE else bool(hint > 0)
