"""The lambda axis that stands beside a nose, at the heights that the plug's own ring scale gives it."""

from dataclasses import dataclass
from math import ceil, floor

from dashboard.figures.plug_shape import Shape
from dashboard.figures.svg import line, path, polygon, rect, tag, text
from dashboard.theme import mixture_colour


@dataclass(frozen=True)
class Mark:
    """A lambda with its 95 % interval; an end that is None has none (one-sided facts).

    Attributes:
        mean: [1]; None where only one side is known.
        low: [1].
        high: [1].
    """

    mean: float | None
    low: float | None
    high: float | None

    def in_words(self) -> str:
        """Return it in words."""
        if self.mean is None:
            if self.low is not None:
                return f"leaner than {self.low:.3f}"
            return f"richer than {self.high:.3f}" if self.high is not None else "unknown"
        if self.low is None or self.high is None:
            return f"{self.mean:.3f}"
        return f"{self.mean:.3f}, {self.low:.3f} to {self.high:.3f} at 95 %"


@dataclass(frozen=True)
class Axis:
    """A linear ring scale: the lambda of a ring at the tip, and how it rises towards the seat.

    Attributes:
        lambda_at_tip: [1].
        lambda_per_mm: rise for each millimetre of depth, over 0 [1/mm].
        nose_mm: length that the axis covers at least [mm].
    """

    lambda_at_tip: float
    lambda_per_mm: float
    nose_mm: float

    @property
    def lowest_mm(self) -> float:
        """Depth where the axis ends [mm]: just past the seat, or past lambda 1 if that is not far below."""
        stoich = self.depth(1.0) + 0.9
        return stoich if self.nose_mm < stoich <= self.nose_mm * 1.4 else self.nose_mm + 0.4

    @property
    def highest_mm(self) -> float:
        """Depth where the axis begins, above the tip [mm]."""
        return -0.9

    def depth(self, lambda_: float) -> float:
        """Return the depth that a lambda stands at [mm], off the axis too."""
        return (lambda_ - self.lambda_at_tip) / self.lambda_per_mm

    def at(self, depth_mm: float) -> float:
        """Return the lambda of a depth [1]."""
        return self.lambda_at_tip + depth_mm * self.lambda_per_mm


STRIP = 7.0
_SENSOR_X, _GAS_X, _RING_X, _SPREAD = 24.0, 64.0, 88.0, 36.0
REACH = 104.0
"""How far the axis and what stands on it reach to the right [px]."""


def axis_svg(  # noqa: PLR0913  # each argument is one thing drawn
    axis: Axis,
    shape: Shape,
    *,
    left: float,
    line_from: float,
    ring: Mark | None,
    measured: Mark | None,
    gas: Mark | None,
    spread: tuple[tuple[float, float], ...],
    target: float | None,
    counts: bool,
) -> str:
    """Return the axis with what stands on it.

    Args:
        axis: the scale.
        shape: places depths on the drawing.
        left: x of the axis [px].
        line_from: x where the stoichiometric line begins [px].
        ring: what the ring stands for.
        measured: what the sensor said.
        gas: what an exhaust-gas analysis came to.
        spread: the measured distribution as (lambda, share of the largest).
        target: the tuner's own target, or None.
        counts: the reading is valid.
    """
    stops = _strip(axis, shape, left)
    return tag(
        "g",
        *stops,
        *_ticks(axis, shape, left),
        _stoich(axis, shape, left, line_from),
        _spread(axis, shape, left + _SENSOR_X, spread),
        _mark(axis, shape, left + _SENSOR_X, measured, "sensor", counts=True) if measured else "",
        _mark(axis, shape, left + _GAS_X, gas, "gas", counts=True) if gas else "",
        _mark(axis, shape, left + _RING_X, ring, "ring", counts=counts) if ring else "",
        _target(axis, shape, left, target),
    )


def _strip(axis: Axis, shape: Shape, left: float) -> list[str]:
    """The axis itself: a strip of the plug's own colours, soot above, chalk below."""
    top, bottom = axis.highest_mm, axis.lowest_mm
    count = 28
    step = (bottom - top) / count
    cells = [
        rect(
            left,
            shape.y(top + n * step),
            STRIP,
            shape.px(step) + 0.6,
            fill=mixture_colour(axis.at(top + (n + 0.5) * step)),
        )
        for n in range(count)
    ]
    frame = rect(
        left,
        shape.y(top),
        STRIP,
        shape.px(bottom - top),
        fill="none",
        stroke="var(--quiet)",
        stroke_width=0.7,
    )
    return [*cells, frame]


def _step(axis: Axis) -> float:
    """Return the finest step whose labels do not touch [1]."""
    for step in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5):
        if step / axis.lambda_per_mm * 15.0 >= 15.0:
            return step
    return 1.0


def _ticks(axis: Axis, shape: Shape, left: float) -> list[str]:
    step = _step(axis)
    first, last = ceil(axis.at(axis.highest_mm) / step), floor(axis.at(axis.lowest_mm) / step)
    marks = [
        text(left - 4.0, shape.y(axis.highest_mm) - 9.0, "λ", class_="strong", text_anchor="middle"),
        text(left + 10.0, shape.y(axis.highest_mm) - 8.0, "rich", class_="quiet small"),
        text(left + 10.0, shape.y(axis.lowest_mm) + 13.0, "lean", class_="quiet small"),
    ]
    for n in range(first, last + 1):
        value = n * step
        y = shape.y(axis.depth(value))
        one = abs(value - 1.0) < step / 10.0
        marks.append(line(left - 4.0, y, left, y, stroke="var(--quiet)"))
        marks.append(
            text(
                left - 7.0,
                y + 4.0,
                f"{value:.2f}",
                class_="small strong" if one else "small",
                text_anchor="end",
            )
        )
    return marks


def _on_axis(axis: Axis, lambda_: float) -> bool:
    return axis.highest_mm <= axis.depth(lambda_) <= axis.lowest_mm


def _stoich(axis: Axis, shape: Shape, left: float, line_from: float) -> str:
    if not _on_axis(axis, 1.0):
        return ""
    y = shape.y(axis.depth(1.0))
    style: dict[str, str | float] = {"stroke": "var(--ink)", "stroke_width": 1.0, "stroke_dasharray": "7 4"}
    # the line is broken round the number on the axis, which says where it stands
    return tag(
        "g",
        line(line_from, y, left - 36.0, y, **style),
        line(left, y, left + REACH, y, **style),
    )


def _spread(axis: Axis, shape: Shape, x: float, spread: tuple[tuple[float, float], ...]) -> str:
    inside = [(lam, share) for lam, share in spread if _on_axis(axis, lam)]
    if len(inside) < 2:
        return ""
    points = [(x + share * _SPREAD, shape.y(axis.depth(lam))) for lam, share in inside]
    ends = [(x, points[-1][1]), (x, points[0][1])]
    return polygon([*points, *ends], fill="var(--sensor)", opacity=0.2)


def _mark(  # noqa: PLR0913  # as above
    axis: Axis, shape: Shape, x: float, mark: Mark, role: str, *, counts: bool
) -> str:
    """One mean with its interval: circle for the sensor, square for the ring, diamond for gas."""
    colour = f"var(--{role})"
    if mark.mean is not None and not _on_axis(axis, mark.mean):
        return _beyond(axis, shape, x, mark.mean, colour)

    def y(lambda_: float) -> float:
        return shape.y(min(max(axis.depth(lambda_), axis.highest_mm), axis.lowest_mm))

    upper = y(mark.low) if mark.low is not None else shape.y(axis.highest_mm)
    lower = y(mark.high) if mark.high is not None else shape.y(axis.lowest_mm)
    parts = [
        line(
            x,
            upper,
            x,
            lower,
            stroke=colour,
            stroke_width=3.0,
            stroke_dasharray=None if counts else "3 3",
            opacity=0.85,
        )
    ]
    if mark.low is None or not _on_axis(axis, mark.low):
        parts.append(polygon([(x, upper - 7), (x - 5, upper + 2), (x + 5, upper + 2)], fill=colour))
    if mark.high is None or not _on_axis(axis, mark.high):
        parts.append(polygon([(x, lower + 7), (x - 5, lower - 2), (x + 5, lower - 2)], fill=colour))
    if mark.mean is None:
        bound = mark.low if mark.low is not None else mark.high
        if bound is not None:
            parts.append(line(x - 7, y(bound), x + 7, y(bound), stroke=colour, stroke_width=2.0))
    else:
        fill = colour if counts else "var(--ground)"
        middle = y(mark.mean)
        style: dict[str, str | float] = {"fill": fill, "stroke": colour, "stroke_width": 1.6}
        if role == "sensor":
            parts.append(tag("circle", cx=x, cy=middle, r=4.4, **style))
        elif role == "gas":
            parts.append(
                polygon([(x, middle - 6.4), (x + 5.6, middle), (x, middle + 6.4), (x - 5.6, middle)], **style)
            )
        else:
            parts.append(rect(x - 4.8, middle - 4.8, 9.6, 9.6, **style))
    return tag("g", *parts, opacity=None if counts else 0.55)


def _beyond(axis: Axis, shape: Shape, x: float, mean: float, colour: str) -> str:
    """An arrow with the number, for a lambda that this nose has no depth for."""
    lean = axis.depth(mean) > axis.lowest_mm
    y, way = (shape.y(axis.lowest_mm), -1) if lean else (shape.y(axis.highest_mm), 1)
    return tag(
        "g",
        line(x, y + way * 14.0, x, y + way * 4.0, stroke=colour, stroke_width=3.0),
        polygon([(x, y - way * 4.0), (x - 5.5, y + way * 5.0), (x + 5.5, y + way * 5.0)], fill=colour),
        text(x, y + (-20.0 if lean else 28.0), f"{mean:.3f}", class_="small", text_anchor="middle"),
    )


def _target(axis: Axis, shape: Shape, left: float, target: float | None) -> str:
    if target is None or not _on_axis(axis, target):
        return ""
    y = shape.y(axis.depth(target))
    return path(f"M{left - 1.0:.1f},{y:.1f} l-8,-4.5 v9 z", fill="var(--ink)")
