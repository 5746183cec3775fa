"""From a picture and two taps to a measured dip: all steps in their order, no verdict yet."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bridge.plug.photo.arc import Arc, find_arc
from bridge.plug.photo.edges import Edges, find_edges
from bridge.plug.photo.profile import Profile, Unrolled, profile_of, unroll
from bridge.plug.photo.ring import Dip, find_dip
from bridge.plug.photo.strip import Point, Strip, cut_strip

USUAL_HALF_WIDTH = 0.15
"""Of a nose whose sides cannot be made out, as a share of its length (common practice, no source)."""
WORTH_FOLLOWING = 8.0
"""Strength from which on a dip's course over the width is looked at."""
AN_END = 6.0
"""Step of lightness that shows where the nose ends [L*]."""
END_SD = 0.005
"""How well such a step is placed, as a share of the nose's length (from rendered pictures)."""
LEANS = 0.6, 0.4
"""How much of a ring's bow is the nose's lean, before the seat's end is looked at, and its standard deviation."""


@dataclass(frozen=True)
class Measured:
    """What a picture shows between two taps; lengths are shares of the nose."""

    strip: Strip
    edges: Edges
    sides_seen: bool
    nose: Unrolled
    profile: Profile
    dip: Dip | None
    arc: Arc | None
    middle: float | None
    """The ring's middle, freed from what the lean to the camera does to it."""
    middle_sd: float | None
    """From the picture alone: its scatter and its lean."""


def measure(
    pixels: NDArray[Any],
    tip: Point,
    seat: Point,
    *,
    visible: tuple[float, float] = (0.0, 1.0),
    outline: bool = False,
) -> Measured:
    """Unroll the nose between two points and look for a dip along it.

    Args:
        pixels: (h, w) or (h, w, 3), see ``light.luminance``.
        tip: of the nose [px].
        seat: of the nose [px].
        visible: the part of the nose that can be seen.
        outline: the points are where the nose's outline ends, as a proposal has them; else they are taps.
    """
    strip = cut_strip(pixels, tip, seat)
    found = find_edges(strip)
    edges = found or Edges(-USUAL_HALF_WIDTH, -USUAL_HALF_WIDTH, USUAL_HALF_WIDTH, USUAL_HALF_WIDTH, 0.0)
    nose = unroll(strip, edges)
    profile = profile_of(nose)
    dip = find_dip(profile, visible=visible)
    if dip is None or dip.strength < WORTH_FOLLOWING:
        return Measured(strip, edges, found is not None, nose, profile, dip, None, *_plain(dip))
    arc = find_arc(nose, dip)
    if arc.seen_to < 0.85:  # the ring itself shows that the nose is narrower
        edges = edges.scaled(arc.seen_to)
        nose = unroll(strip, edges)
        dip = find_dip(profile_of(nose), visible=visible) or dip
        arc = find_arc(nose, dip)
    profile = profile_of(nose, arc.shift(nose.around))
    dip = find_dip(profile, visible=visible) or dip
    freed = _from_outline if outline else _freed_from_lean
    middle, sd = freed(nose, edges, dip, arc)
    return Measured(strip, edges, found is not None, nose, profile, dip, arc, middle, sd)


def _plain(dip: Dip | None) -> tuple[float | None, float | None]:
    return (None, None) if dip is None else (dip.middle, dip.sd)


def _freed_from_lean(nose: Unrolled, edges: Edges, dip: Dip, arc: Arc) -> tuple[float, float]:
    """Return the middle as a depth along the axis, and its standard error.

    A ring on the side that faces the camera is shifted by the lean; tip and seat are shifted alike on that side,
    so nothing is to be done where the taps are there, and all of it where they are on the axis. Where the nose
    really ends on the middle line tells which.
    """
    share, share_sd = _taps_on_axis(nose, edges, dip, arc)
    middle = dip.middle - share * arc.bow
    return middle, float(np.sqrt(dip.sd**2 + (share_sd * arc.bow) ** 2 + (share * arc.bow_sd) ** 2))


def _from_outline(nose: Unrolled, edges: Edges, dip: Dip, arc: Arc) -> tuple[float, float]:
    """Return the middle as a depth along the axis where the points are on the outline, and its standard error.

    The outline was taken at seven tenths of the half width. There the tip's end reaches out whichever way the
    nose leans (its face, or its near side), and the seat's runs as the ring does. Where the seat's end runs
    straight, the nose does not lean: the ring is bowed by itself, and its middle is where it is seen.
    """
    half = edges.half_width(np.array([0.0, dip.middle, 1.0]))
    out = float(np.sqrt(1.0 - 0.7**2))
    tip = out * abs(arc.bow) * float(half[0] / half[1])
    seat = 1.0 + out * arc.bow * float(half[2] / half[1])
    leaning = (dip.middle - arc.bow - tip) / (seat - tip)
    share, share_sd = _seat_bowed(nose, arc.bow * float(half[2] / half[1]))
    middle = dip.middle + share * (leaning - dip.middle)
    lean_sd = share_sd * (leaning - dip.middle)
    return middle, float(
        np.hypot(np.hypot(dip.sd, lean_sd), share * np.hypot(0.45 * arc.bow, 0.5 * arc.bow_sd))
    )


def _seat_bowed(nose: Unrolled, bow: float) -> tuple[float, float]:
    """Return how much the seat's end is bowed against what a lean would make of it, and how sure that is."""
    inner = _seat_end(nose, np.abs(nose.around) < 0.3, abs(bow))
    outer = _seat_end(nose, np.abs(np.abs(nose.around) - 0.75) < 0.1, abs(bow))
    if inner is None or outer is None:
        return LEANS
    expected = bow * (float(np.sqrt(1.0 - 0.15**2)) - float(np.sqrt(1.0 - 0.75**2)))
    if abs(expected) < 1e-4:
        return LEANS
    share, sd = (inner - outer) / expected, END_SD / abs(expected)
    weight = LEANS[1] ** 2 / (LEANS[1] ** 2 + sd**2)
    mean = LEANS[0] + weight * (float(np.clip(share, -0.5, 1.5)) - LEANS[0])
    return float(np.clip(mean, 0.0, 1.0)), float(LEANS[1] * np.sqrt(1.0 - weight))


def _seat_end(nose: Unrolled, columns: NDArray[np.bool_], reach: float) -> float | None:
    """Return where lightness steps at the seat over these columns, or None where that is not to be seen."""
    from scipy import ndimage  # noqa: PLC0415  # start-up

    values = nose.values[:, columns]
    values = values[:, np.isfinite(values).mean(axis=0) > 0.9]
    if values.shape[1] < 2:
        return None
    pitch = float(nose.along[1] - nose.along[0])
    light = np.median(np.nan_to_num(np.exp(values) - 16.0), axis=1)
    slope = np.abs(ndimage.gaussian_filter1d(light, max(0.008 / pitch, 0.8), order=1))
    slope = slope * 0.03 / pitch * (np.abs(nose.along - 1.0) < 0.03 + reach)
    best = int(slope.argmax())
    if slope[best] < AN_END or best in (0, slope.size - 1):
        return None
    # between rows by the slope's weight about its peak
    near = slice(max(best - 2, 0), best + 3)
    return float(np.average(nose.along[near], weights=slope[near]))


def _taps_on_axis(nose: Unrolled, edges: Edges, dip: Dip, arc: Arc) -> tuple[float, float]:
    """Return how far the taps are from the facing side (0) towards the axis (1), and how sure that is."""
    if abs(arc.bow) < 0.006:
        return 0.5, 0.4
    at_seat = arc.bow > 0
    end = 1.0 if at_seat else 0.0
    half = edges.half_width(np.array([dip.middle, end]))
    away = abs(arc.bow) * float(half[1] / half[0])
    ended = _end(nose, end, outward=1.0 if at_seat else -1.0, reach=away)
    if ended is None:
        return 0.5, 0.4
    return float(np.clip(ended / away, 0.0, 1.0)), 0.2


def _end(nose: Unrolled, end: float, outward: float, reach: float) -> float | None:
    """Return how far beyond a tap the nose ends on its middle line, or None where that is not to be seen."""
    from scipy import ndimage  # noqa: PLC0415  # start-up

    light = profile_of(nose, span=(-0.3, 0.3)).lightness
    pitch = float(nose.along[1] - nose.along[0])
    slope = np.abs(ndimage.gaussian_filter1d(light, max(0.006 / pitch, 0.8), order=1)) * 0.03 / pitch
    beyond = outward * (nose.along - end)
    window = (beyond > -0.02) & (beyond < reach + 0.02)
    if window.sum() < 3 or slope[window].max() < AN_END:
        return None
    strong = window & (slope > 0.4 * slope[window].max())
    peak = strong & (slope >= np.roll(slope, 1)) & (slope >= np.roll(slope, -1))
    if not peak.any():
        return None
    return float(np.max(beyond[peak]))
