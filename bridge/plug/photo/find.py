"""A proposal for the two taps: where the nose is, and which of its ends is the tip."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bridge.plug.photo.bodies import Body, light_bodies, strangeness
from bridge.plug.photo.edges import Edges, find_edges
from bridge.plug.photo.ends import Ends, find_ends
from bridge.plug.photo.light import Array, lightness, luminance
from bridge.plug.photo.strip import Point, cut_strip
from bridge.plug.photo.tip import SURE, tip_is_first

SMALL = 360
"""Longer side of the picture in which the nose is looked for [px]."""
ENOUGH = 1000
"""Longer side that is enough to find the ends in [px]: larger pictures are shrunk to less than twice that."""
SETTLED, UNSETTLED = 0.03, 0.08
"""How far the ends may still move in the last look to be well and poorly known, as a share of the nose."""
NEARLY = 0.012
"""From which on the next look is the last, and a fine one."""
MARGIN = 0.004
"""How near the picture's border the nose may end, as a share of the picture: nearer, it is cut off."""
UPRIGHT = 2.0
"""How much taller than wide a nose must lie in the picture for its upper end to be taken for the tip."""
LOOKS = 5
"""How often sides and ends are looked for, each time in a strip laid by the last look."""
CLEAR_ENOUGH = 10.0
"""Step of lightness over the sides past which more says no more [L*]."""
ENDS_SD = 0.028
"""Standard uncertainty of each end, as a share of the nose's length (from rendered pictures)."""
BLUNT_SD = 0.035
"""The same where its surface ends without a clear step."""


@dataclass(frozen=True)
class Proposal:
    """Where tip and seat seem to be, or why that cannot be told."""

    tip: Point | None
    seat: Point | None
    sd: float
    """Standard uncertainty of each, as a share of the nose's length."""
    because: str
    by_convention: bool = False
    """Both ends look alike; the upper one was taken for the tip."""


@dataclass(frozen=True)
class _Outline:
    start: Point
    end: Point
    edges: Edges
    ends: Ends
    settled: bool
    """The last look agreed with the one before."""


def propose(pixels: NDArray[Any]) -> Proposal:
    """Look for a nose: a light, slender body that stands on the picture's background.

    Args:
        pixels: (h, w) or (h, w, 3), see ``light.luminance``.
    """
    from scipy import ndimage  # noqa: PLC0415  # start-up

    shrunk = max(1, max(pixels.shape[:2]) // ENOUGH)
    if shrunk > 1:
        smaller = propose(np.rint(_shrunk(pixels, shrunk) * 255.0).astype(np.uint8))
        tip, seat = (
            None if p is None else (p[0] * shrunk + (shrunk - 1) / 2.0, p[1] * shrunk + (shrunk - 1) / 2.0)
            for p in (smaller.tip, smaller.seat)
        )
        return replace(smaller, tip=tip, seat=seat)
    step = max(1, int(np.ceil(max(pixels.shape[:2]) / SMALL)))
    small = _shrunk(pixels, step)
    light = ndimage.gaussian_filter(lightness(luminance(small)), 1.0)
    strange = strangeness(small, light)
    bodies = light_bodies(light, strange)
    if not bodies:
        return _cannot("no light, slender body stands out from the background")
    best: _Outline | None = None
    because = ""
    for body in bodies:
        start, end = (tuple((np.array(p) * step + (step - 1) / 2.0).tolist()) for p in (body.start, body.end))
        if best is not None and Body(start, end, 0.0).near(Body(best.start, best.end, 0.0)):
            continue
        outline = _outlined(pixels, start, end)
        if isinstance(outline, str):
            because = because or outline
        elif best is None or _better(outline, best):
            best = outline
    if best is None:
        return _cannot(because)
    hint = tip_is_first(best.start, best.end, pixels, strange=strange, light=light, step=step)
    sd = ENDS_SD if best.ends.sharp and best.settled else BLUNT_SD
    forth = np.subtract(best.end, best.start)
    alike = abs(hint) < SURE
    if alike and abs(forth[1]) < UPRIGHT * abs(forth[0]):
        return _cannot("both ends look alike, so which is the tip cannot be told")
    first = bool(forth[1] > 0) if alike else hint > 0
    tip, seat = (best.start, best.end) if first else (best.end, best.start)
    return Proposal(tip, seat, sd, "a light body with straight sides", alike)


def _cannot(because: str) -> Proposal:
    return Proposal(None, None, 1.0, because)


def _outlined(pixels: NDArray[Any], start: Point, end: Point) -> _Outline | str:
    """Return the nose's outline from a coarse first guess on, or why there is none."""
    moved = 1.0
    outline: _Outline | None = None
    for look in range(LOOKS):
        last = look == LOOKS - 1 or moved < NEARLY
        off_line = max(0.03, 0.12 / (look + 1))
        strip = cut_strip(pixels, start, end, rows=320 if last else 120)
        edges = find_edges(strip, off_line=off_line, either_way=True)
        if edges is None or edges.clear < 1.0:
            return "its sides cannot be made out against the background"
        ends = find_ends(strip, edges)
        if ends is None:
            return "it cannot be seen where it ends"
        moved = max(abs(ends.first), abs(ends.last - 1.0))
        if last and moved > UNSETTLED and outline is not None:
            outline = replace(outline, settled=False)  # the coarse looks agreed, the fine one does not
            break
        start, end = _moved(start, end, edges, ends)
        outline = _Outline(start, end, edges, ends, moved < SETTLED) if moved < UNSETTLED else None
        if last:
            break
    if outline is None or not (_inside(pixels, outline.start) and _inside(pixels, outline.end)):
        return "it cannot be seen where it ends"
    return outline


def _inside(pixels: NDArray[Any], point: Point) -> bool:
    height, width = pixels.shape[:2]
    margin = MARGIN * max(height, width)
    return bool(margin <= point[0] <= width - 1 - margin and margin <= point[1] <= height - 1 - margin)


def _better(new: _Outline, old: _Outline) -> bool:
    """Return whether a new outline is more likely the nose: the whole of it rather than a part, or clearer."""
    if _whole_of(new, old):
        return True
    return not _whole_of(old, new) and _clear(new) > _clear(old)


def _whole_of(whole: _Outline, part: _Outline) -> bool:
    """Return whether one outline goes straight on over a dark ring at which the other one ends."""
    start, along = np.array(whole.start), np.subtract(whole.end, whole.start)
    long = float(np.hypot(*along))
    places = np.array([np.subtract(p, start) for p in (part.start, part.end)])
    s, t = places @ along / long**2, (places @ np.array([-along[1], along[0]])) / long**2
    if s.min() < -NEARLY or s.max() > 1.0 + NEARLY or np.ptp(s) > 0.9 or np.abs(t).max() > 0.04:
        return False
    ends = whole.ends
    return bool(
        ends.light_ends
        and ends.light > 0.6
        and ends.sided > 0.6
        and ends.level > part.ends.level - 4.0
        and _width(whole) > 0.8 * _width(part)
        and _width(whole) < 1.25 * _width(part)
    )


def _width(outline: _Outline) -> float:
    long = float(np.hypot(*np.subtract(outline.end, outline.start)))
    return long * float(outline.edges.half_width(np.array(0.5)))


def _clear(outline: _Outline) -> float:
    """Return how much an outline is a nose's: clear to see, light, and whole rather than a part of one."""
    long = float(np.hypot(*np.subtract(outline.end, outline.start)))
    wide = float(outline.edges.half_width(np.array(0.5)))
    sharp = (2.0 if outline.ends.sharp else 1.0) * (3.0 if outline.ends.light_ends else 1.0)
    alike = (outline.ends.sided * outline.ends.light) ** 2
    level = (outline.ends.level + 16.0) ** 3  # metal is darker than porcelain
    return float(level * min(outline.edges.clear, CLEAR_ENOUGH) * sharp * alike * long * wide**0.5)


def _shrunk(pixels: NDArray[Any], step: int) -> Array:
    """Return the means of blocks of pixels as (h, w, 3), 0 to 1."""
    scale = {np.dtype(np.uint8): 255.0, np.dtype(np.uint16): 65535.0}.get(pixels.dtype, 1.0)
    rows, columns = (n // step * step for n in pixels.shape[:2])
    cut = pixels[:rows, :columns]
    if cut.ndim == 2:
        cut = cut[..., None]
    total = np.zeros((rows // step, columns // step, cut.shape[2]))
    for i in range(step):
        for j in range(step):
            total += cut[i::step, j::step]
    means = total / (scale * step * step)
    return np.repeat(means, 3, axis=2) if means.shape[2] == 1 else means[..., :3]


def _moved(start: Point, end: Point, edges: Edges, ends: Ends) -> tuple[Point, Point]:
    """Return the ends of the nose's middle line, from sides and ends in the strip between two points."""
    a, b = np.array(start), np.array(end)
    forth = b - a
    aside = np.array([-forth[1], forth[0]])
    places = np.array([ends.first, ends.last])
    off = edges.middle(places)
    new = a + places[:, None] * forth + off[:, None] * aside
    return (float(new[0, 0]), float(new[0, 1])), (float(new[1, 0]), float(new[1, 1]))
