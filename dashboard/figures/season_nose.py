"""A nose of a past session, small: where its ring was read, and where the measured mixture should have put it."""

from dashboard.figures import plug_shape
from dashboard.figures.nose import Nose, in_words
from dashboard.figures.svg import figure, key_of, line, polygon, rect, tag

_MARGIN = 62.0
"""Room beside the plug for the two marks [px]."""


def season_nose_svg(nose: Nose, expected_mm: float | None = None, doubt_mm: float = 0.0) -> str:
    """Return the drawing.

    Args:
        nose: the plug as it was read.
        expected_mm: where a ring of the measured lambda sits by a scale that has not seen this session [mm]; None
            where there is no such scale or no lambda.
        doubt_mm: half of the 95 % interval of ring against measured, as a depth [mm].
    """
    key = key_of(("season", nose, expected_mm))
    shape = plug_shape.Shape(
        length_mm=nose.nose_mm or plug_shape.USUAL_NOSE_MM,
        known=nose.nose_mm is not None,
        centre=plug_shape.HALF_WIDTH + 2.0,
    )
    parts = [shape.defs(key, nose), shape.drawing(key, nose, words=False)]
    words = in_words(nose)
    left = 2 * plug_shape.HALF_WIDTH + 6.0
    if nose.ring == "seen" and nose.depth_mm is not None:
        parts.append(_ring(shape, left + 14.0, nose.depth_mm, counts=nose.counts))
    if expected_mm is not None:
        parts.append(_measured(shape, left + 42.0, expected_mm, doubt_mm))
        words += f" By the measured mixture it should sit at {expected_mm:.1f} mm."
    return figure(left + _MARGIN, shape.height, words, *parts, class_="nose thumb season-nose")


def _ring(shape: plug_shape.Shape, x: float, depth_mm: float, *, counts: bool) -> str:
    y = shape.y(depth_mm)
    return rect(
        x - 11.0,
        y - 11.0,
        22.0,
        22.0,
        fill="var(--ring)" if counts else "var(--ground)",
        stroke="var(--ring)",
        stroke_width=4.0,
        opacity=None if counts else 0.6,
    )


def _measured(shape: plug_shape.Shape, x: float, depth_mm: float, doubt_mm: float) -> str:
    """A circle where the sensor puts the ring, or an arrow towards it where that is off the nose."""
    low, high = -1.5, shape.length_mm + 0.8
    held = min(max(depth_mm, low), high)
    y = shape.y(held)
    if held != depth_mm:
        way = 1.0 if depth_mm > held else -1.0
        points = [(x - 12.0, y - way * 10.0), (x + 12.0, y - way * 10.0), (x, y + way * 13.0)]
        return polygon(points, fill="var(--sensor)")
    upper, lower = (shape.y(min(max(depth_mm + way * doubt_mm, low), high)) for way in (-1.0, 1.0))
    return tag(
        "g",
        line(x, upper, x, lower, stroke="var(--sensor)", stroke_width=7.0, opacity=0.75),
        tag("circle", cx=x, cy=y, r=12.0, fill="var(--sensor)"),
    )
