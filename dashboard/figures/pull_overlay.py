"""Two groups of pulls on one rpm axis, before and after a change, and under them what the change was worth."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dashboard.figures.chart import Frame, across, round_steps, trace, upwards
from dashboard.figures.pull_chart import LAMBDA, WIDE, Floats, band, head
from dashboard.figures.svg import figure, line, rect, tag, text, title
from dashboard.theme import mixture_colour

_LEFT = 48.0
_LOOK: dict[str, dict[str, str]] = {
    "before": {"stroke": "var(--ring)", "dash": "8 5"},
    "after": {"stroke": "var(--sensor)", "dash": "none"},
}


@dataclass(frozen=True)
class Group:
    """The runs of one side.

    Attributes:
        side: ``before`` or ``after``.
        mean: power on the common speeds, shape (m,) [kW].
        low: lower ends of the mean's 95 % interval, shape (m,) [kW]; nan with a single run.
        high: upper ends, shape (m,) [kW].
        runs: (name, engine speeds [1/min], power [kW]) of each run that counts.
        mixture: mean lambda of its runs, shape (m,) [1]; nan where there is none.
    """

    side: str
    mean: Floats
    low: Floats
    high: Floats
    runs: tuple[tuple[str, Floats, Floats], ...]
    mixture: Floats


@dataclass(frozen=True)
class Gain:
    """What the change was worth at each speed by itself [%]; nan where there is no interval."""

    middle: Floats
    low: Floats
    high: Floats


def pull_overlay_svg(
    rpm: Floats, groups: Sequence[Group], gain: Gain, said: Sequence[str], *, width: float = WIDE
) -> str:
    """Return the chart.

    Args:
        rpm: speeds that all runs have in common, shape (m,) [1/min].
        groups: before and after.
        gain: of the one over the other.
        said: what has to stand on the figure, such as the correction.
        width: of the drawing's grid [px].
    """
    written, under = head(said, width)
    top = under + 46.0
    middle = top + 0.26 * width + 110.0
    right = width - (64.0 if width > 500.0 else 12.0)
    curves = [kw for group in groups for _, _, kw in group.runs] + [group.mean for group in groups]
    values = np.concatenate(curves)
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    room = max(high - low, 0.5)
    span = (float(rpm[0]), float(rpm[-1]))
    frame = Frame(_LEFT, right, top, middle, span, (max(low - 0.08 * room, 0.0), high + 0.1 * room))
    parts = [
        *written,
        *_key(groups, under + 14.0),
        *upwards(frame, 0 if room > 4.0 else 1, 5),
        text(_LEFT - 6.0, top - 8.0, "kW", class_="strong", text_anchor="end"),
        *(part for group in groups for part in _group(frame, rpm, group)),
    ]
    end = middle
    if np.isfinite(gain.middle).any():
        end = middle + 126.0
        parts += _gain(Frame(_LEFT, right, middle + 34.0, end, span, _reach(gain)), rpm, gain)
    axis = Frame(_LEFT, right, top, end, span, (0.0, 1.0))
    parts += across(axis, "engine speed, 1/min", max(4, int(width / 120.0)))
    mixed = [group for group in groups if np.isfinite(group.mixture).any()]
    parts += _mixtures(axis, rpm, mixed, end + 56.0, width)
    words = (
        f"Mean power {' and '.join(f'{group.side} the change ({len(group.runs)} runs)' for group in groups)} from"
        f" {span[0]:.0f} to {span[1]:.0f} revolutions a minute, each with its 95 % interval, and the gain in per"
        f" cent. {' '.join(said)}"
    )
    words += "".join(f" Mean lambda {one.side}: {np.nanmean(one.mixture):.3f}." for one in mixed)
    return figure(width, end + 42.0 + 20.0 * len(mixed), words, *parts, class_="chart pull-overlay")


def _mixtures(frame: Frame, rpm: Floats, groups: Sequence[Group], top: float, width: float) -> list[str]:
    """Return the mixture of both sides as numbers under the axis, each after a swatch of its colour."""
    parts = []
    for row, group in enumerate(groups):
        y = top + 18.0 * row
        parts.append(text(2.0, y, f"{LAMBDA} {group.side}", class_="quiet small"))
        for value in round_steps(*frame.x_range, max(4, int(width / 120.0))):
            n = int(np.argmin(np.abs(rpm - value)))
            x, lambda_ = frame.x(value), float(group.mixture[n])
            if np.isfinite(lambda_) and x > 92.0:
                colour = mixture_colour(lambda_)
                swatch = rect(
                    x - 25.0, y - 9.0, 9.0, 9.0, fill=colour, stroke="var(--quiet)", stroke_width=0.7
                )
                parts += [swatch, text(x - 12.0, y, f"{lambda_:.3f}", class_="small")]
    return parts


def _key(groups: Sequence[Group], y: float) -> list[str]:
    parts, x = [], 2.0
    for group in groups:
        look = _LOOK[group.side]
        dash = look["dash"]
        parts.append(
            line(
                x, y - 4.0, x + 34.0, y - 4.0, stroke=look["stroke"], stroke_width=3.0, stroke_dasharray=dash
            )
        )
        words = f"{group.side}, {len(group.runs)} run{'' if len(group.runs) == 1 else 's'}"
        parts.append(text(x + 40.0, y, words, class_="small"))
        x += 150.0
    return parts


def _group(frame: Frame, rpm: Floats, group: Group) -> list[str]:
    look = _LOOK[group.side]
    inside = []
    for name, speeds, kw in group.runs:
        held = (speeds >= rpm[0] - 1.0) & (speeds <= rpm[-1] + 1.0)
        own = trace(frame, speeds[held], kw[held], stroke=look["stroke"], stroke_width=0.9, opacity=0.5)
        inside.append(tag("g", title(name), own))
    return [
        band(frame, rpm, group.low, group.high, fill=look["stroke"], opacity=0.18),
        *inside,
        trace(frame, rpm, group.mean, stroke=look["stroke"], stroke_width=2.6, stroke_dasharray=look["dash"]),
    ]


def _reach(gain: Gain) -> tuple[float, float]:
    """Return a range with zero in it."""
    ends = np.concatenate([one[np.isfinite(one)] for one in (gain.middle, gain.low, gain.high)])
    low, high = min(float(ends.min()), 0.0), max(float(ends.max()), 0.0)
    room = max(high - low, 1.0)
    return low - 0.06 * room, high + 0.06 * room


def _gain(frame: Frame, rpm: Floats, gain: Gain) -> list[str]:
    zero = frame.y(0.0)
    decimals = 0 if frame.y_range[1] - frame.y_range[0] > 4.0 else 1
    return [
        text(frame.left - 6.0, frame.top - 10.0, "gain, %", class_="strong", text_anchor="start", dx=-38.0),
        *upwards(frame, decimals, 4),
        band(frame, rpm, gain.low, gain.high, fill="var(--tone-3)", opacity=0.34),
        line(frame.left, zero, frame.right, zero, stroke="var(--ink)", stroke_width=1.2),
        trace(frame, rpm, gain.middle, stroke="var(--ink)", stroke_width=1.8),
    ]
