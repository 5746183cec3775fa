"""Mixture along pulls of which no power is known: lambda by engine speed with its interval, and the target."""

from collections.abc import Sequence

import numpy as np

from dashboard.figures.chart import Frame, across, mixture_strip, trace, upwards
from dashboard.figures.pull_chart import LAMBDA, WIDE, Floats, Lane, band
from dashboard.figures.svg import figure, line, text

_LEFT = 48.0
_LOOK = (("var(--sensor)", "none"), ("var(--ring)", "8 5"), ("var(--gas)", "3 3"), ("var(--ink)", "12 3 3 3"))


def pull_mixture_svg(
    name: str, rpm: Floats, lanes: Sequence[Lane], target: float | None = None, *, width: float = WIDE
) -> str:
    """Return the chart.

    Args:
        name: of the pull.
        rpm: engine speeds, shape (m,) [1/min].
        lanes: its lambda channels, one at least with a reading.
        target: lambda wanted [1]; None where none was told.
        width: of the drawing's grid [px].
    """
    every = np.concatenate([one for lane in lanes for one in (lane.mean, lane.low, lane.high)])
    every = every[np.isfinite(every)]
    ends = [float(every.min()), float(every.max()), *([] if target is None else [target])]
    top, bottom, right = 44.0, 44.0 + 0.2 * width + 110.0, width - 14.0
    frame = Frame(
        _LEFT, right, top, bottom, (float(rpm[0]), float(rpm[-1])), (min(ends) - 0.015, max(ends) + 0.015)
    )
    parts = [
        *mixture_strip((_LEFT - 2.0, top, 5.0, bottom - top), *frame.y_range, 24, upright=True),
        *upwards(frame, 2, 5),
    ]
    parts.append(text(_LEFT - 6.0, top - 10.0, LAMBDA, class_="strong", text_anchor="end"))
    if target is not None:
        y = frame.y(target)
        parts.append(line(_LEFT, y, right, y, stroke="var(--ink)", stroke_dasharray="2 4"))
        parts.append(text(right, y - 5.0, f"target {target:g}", class_="small halo", text_anchor="end"))
    for n, lane in enumerate(lanes):
        colour, dash = _LOOK[n % len(_LOOK)]
        parts += [
            band(frame, rpm, lane.low, lane.high, fill=colour, opacity=0.16),
            trace(frame, rpm, lane.mean, stroke=colour, stroke_width=2.2, stroke_dasharray=dash),
            line(
                2.0 + 160.0 * n,
                10.0,
                34.0 + 160.0 * n,
                10.0,
                stroke=colour,
                stroke_width=3.0,
                stroke_dasharray=dash,
            ),
            text(40.0 + 160.0 * n, 14.0, lane.name, class_="small"),
        ]
    parts += across(frame, "engine speed, 1/min", max(4, int(width / 120.0)))
    words = f"Lambda of {name} by engine speed, without power: " + "; ".join(
        f"{lane.name} from {np.nanmin(lane.mean):.3f} to {np.nanmax(lane.mean):.3f}"
        for lane in lanes
        if np.isfinite(lane.mean).any()
    )
    return figure(width, bottom + 42.0, f"{words}.", *parts, class_="chart pull-mixture")
