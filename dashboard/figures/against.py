"""Ring against measured lambda, with the line that has error in both and the line of equality."""

from collections.abc import Sequence
from dataclasses import dataclass

from dashboard.figures.chart import Frame, across, trace, upwards, whose
from dashboard.figures.svg import figure, line, tag, text, title

SIZE = 420.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 52.0, 404.0, 26.0, 372.0


@dataclass(frozen=True)
class Met:
    """One pair.

    Attributes:
        session: its number.
        cylinder: from 1; 0 where one sensor stands for all.
        measured: lambda by the sensor [1].
        ring: lambda by the ring [1].
    """

    session: int
    cylinder: int
    measured: float
    ring: float


def against_svg(pairs: Sequence[Met], fitted: tuple[float, float] | None) -> str:
    """Return the chart.

    Args:
        pairs: one at least.
        fitted: intercept and slope of the line, ``ring = intercept + slope * measured``; None where there is none.
    """
    values = [v for pair in pairs for v in (pair.measured, pair.ring)]
    middle, half = (min(values) + max(values)) / 2.0, max((max(values) - min(values)) * 0.6, 0.03)
    ends = (middle - half, middle + half)
    frame = Frame(_LEFT, _RIGHT, _TOP, _BOTTOM, ends, ends)
    parts = [
        *upwards(frame, 2, 5),
        *across(frame, "measured lambda", 5),
        text(_LEFT, _TOP - 10.0, "lambda by the ring", class_="quiet small"),
        trace(frame, ends, ends, stroke="var(--quiet)", stroke_width=1.2, stroke_dasharray="2 4"),
        text(
            frame.x(ends[1]) - 4.0, frame.y(ends[1]) + 18.0, "equal", class_="quiet small", text_anchor="end"
        ),
    ]
    if ends[0] < 1.0 < ends[1]:
        one_x, one_y = frame.x(1.0), frame.y(1.0)
        style: dict[str, str | float] = {"stroke": "var(--ink)", "stroke_dasharray": "7 4", "opacity": 0.5}
        parts += [line(one_x, _TOP, one_x, _BOTTOM, **style), line(_LEFT, one_y, _RIGHT, one_y, **style)]
    if fitted is not None:
        parts.append(_line(frame, *fitted))
    parts += [_pair(frame, pair) for pair in pairs]
    words = f"Ring against measured lambda, {len(pairs)} pairs."
    if fitted is not None:
        words += f" Line with error in both: ring = {fitted[0]:.3f} + {fitted[1]:.3f} measured."
    return figure(SIZE, SIZE, words, *parts, class_="chart against")


def _line(frame: Frame, intercept: float, slope: float) -> str:
    """The line as far as it lies inside the frame."""
    low, high = frame.x_range
    steps = [low + (high - low) * n / 200.0 for n in range(201)]
    inside = [(x, intercept + slope * x) for x in steps]
    inside = [(x, y) for x, y in inside if frame.y_range[0] <= y <= frame.y_range[1]]
    return trace(
        frame, [x for x, _ in inside], [y for _, y in inside], stroke="var(--ring)", stroke_width=2.0
    )


def _pair(frame: Frame, pair: Met) -> str:
    x, y = frame.x(pair.measured), frame.y(pair.ring)
    return tag(
        "g",
        title(f"Session {pair.session}, {whose(pair.cylinder)}"),
        tag("circle", cx=x, cy=y, r=8.5, fill="var(--ground)", stroke="var(--sensor)", stroke_width=1.6),
        text(x, y + 4.0, str(pair.cylinder or ""), class_="small", text_anchor="middle"),
    )
