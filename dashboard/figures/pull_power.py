"""Power and torque along a pull, with the mixture as a ribbon on the power curve itself; correction named on it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from dashboard.figures.chart import Frame, across, round_steps, trace, upwards
from dashboard.figures.pull_chart import (
    LAMBDA,
    WIDE,
    Along,
    Floats,
    Lane,
    along,
    at_right,
    edge,
    head,
    ribbon,
    runs,
    scale_key,
)
from dashboard.figures.svg import figure, line, polygon, tag, text, title

_LEFT, _HALF_OF_ONE, _LANE_PX = 44.0, 7.0, 11.0
_EDGE_PX = 2.6
"""Of a lane's width each edge has so much for the ends of the interval [px]."""


@dataclass(frozen=True)
class Off:
    """A part of a pull off its target.

    Attributes:
        rpm_from: where it begins [1/min].
        rpm_to: where it ends [1/min].
        direction: ``leaner`` or ``richer``.
        surely: whether the interval is off it too.
        lane: whose, as the lane is named.
    """

    rpm_from: float
    rpm_to: float
    direction: str
    surely: bool
    lane: str


@dataclass(frozen=True)
class Curve:
    """One pull.

    Attributes:
        name: such as ``pull 3``.
        rpm: engine speeds, shape (m,) [1/min].
        kw: power, shape (m,) [kW]; nan where there is none.
        torque_nm: torque, shape (m,) [N m].
        sd_kw: what the filter leaves of the noise, shape (m,) [kW].
        lanes: its lambda channels in order of the cylinders.
        egt: exhaust temperatures by channel name, shape (m,) [Cel].
        off: where it leaves its target.
    """

    name: str
    rpm: Floats
    kw: Floats
    torque_nm: Floats
    sd_kw: Floats
    lanes: tuple[Lane, ...] = ()
    egt: Mapping[str, Floats] = field(default_factory=dict)
    off: tuple[Off, ...] = ()


def pull_power_svg(
    shown: Curve,
    others: Sequence[Curve],
    said: Sequence[str],
    *,
    held: Sequence[tuple[float, float]] = (),
    width: float = WIDE,
) -> str:
    """Return the chart.

    Args:
        shown: the pull with its ribbon; it has power at two speeds at least.
        others: the session's other pulls, thin.
        said: what has to stand on the figure: the correction, where the power is, noise and bias of the filter.
        held: engine speeds [1/min] that were held, with their power [kW].
        width: of the drawing's grid [px].
    """
    written, under = head(said, width)
    key = _key(shown, under + 4.0, width)
    top = under + (48.0 if shown.lanes else 26.0)
    bottom = top + 0.30 * width + 130.0
    right = width - 40.0
    every = [shown, *others]
    known = np.concatenate([*(one.rpm[np.isfinite(one.kw)] for one in every), [rpm for rpm, _ in held]])
    spans = (float(known.min()) - 100.0, float(known.max()) + 100.0)
    tops = [float(np.nanmax(one.kw)) for one in every if np.isfinite(one.kw).any()]
    most_kw = max(*tops, *(kw for _, kw in held), 0.0) * 1.16
    frame = Frame(_LEFT, right, top, bottom, spans, (0.0, most_kw))
    nm = shown.torque_nm[np.isfinite(shown.torque_nm)]
    nm_range = (0.0, float(nm.max()) * 1.5 if len(nm) else 1.0)
    torque = Frame(_LEFT, right, top, bottom, spans, nm_range)
    end = bottom + 40.0 + 17.0 * len(shown.egt)
    parts = [
        *written,
        *key,
        *upwards(frame, 0, 5),
        *at_right(frame, nm_range, 0),
        text(_LEFT - 6.0, top - 10.0, "kW", class_="strong", text_anchor="end"),
        text(right + 6.0, top - 10.0, "Nm", class_="quiet"),
        *(_thin(frame, one) for one in others),
        trace(
            torque,
            shown.rpm,
            shown.torque_nm,
            stroke="var(--quiet)",
            stroke_width=1.4,
            stroke_dasharray="6 4",
        ),
        *_on_curve(frame, shown, width),
        *(_held(frame, rpm, kw) for rpm, kw in held),
        *across(frame, "engine speed, 1/min", max(4, int(width / 120.0))),
        *_heat(frame, shown, bottom + 52.0, width),
    ]
    return figure(width, end + 8.0, _in_words(shown, said), *parts, class_="chart pull-power")


def _in_words(shown: Curve, said: Sequence[str]) -> str:
    top = int(np.nanargmax(shown.kw))
    words = [
        f"Power and torque of {shown.name} by engine speed: {shown.kw[top]:.1f} kW at {shown.rpm[top]:.0f}.",
        *(_lane_words(shown, lane) for lane in shown.lanes if np.isfinite(lane.mean).any()),
        *said,
    ]
    return " ".join(words)


def _lane_words(shown: Curve, lane: Lane) -> str:
    known = np.flatnonzero(np.isfinite(lane.mean))
    first, last = known[0], known[-1]
    return (
        f"Lambda of {lane.name}: {lane.mean[first]:.3f} at {shown.rpm[first]:.0f}, {lane.mean[last]:.3f} at"
        f" {shown.rpm[last]:.0f}."
    )


def _key(shown: Curve, top: float, width: float) -> list[str]:
    """What the ribbon's colours are, and which lane is whose."""
    if not shown.lanes:
        return []
    values = np.concatenate([lane.mean[np.isfinite(lane.mean)] for lane in shown.lanes])
    low, high = (0.8, 1.0) if len(values) == 0 else (float(values.min()), float(values.max()))
    low, high = min(low - 0.02, 0.82), max(high + 0.02, 1.0)
    words = f"ribbon: {LAMBDA}" + (f"; {shown.lanes[0].name} above" if len(shown.lanes) > 1 else "")
    where = 60.0 if width > 500.0 else 40.0
    return [
        text(2.0, top + 10.0, "rich", class_="quiet small"),
        *scale_key(where, top, 150.0, low, high),
        text(where + 158.0, top + 10.0, "lean", class_="quiet small"),
        *([text(where + 200.0, top + 10.0, words, class_="quiet small")] if width > 500.0 else []),
    ]


def _thin(frame: Frame, one: Curve) -> str:
    known = np.flatnonzero(np.isfinite(one.kw))
    if len(known) == 0:
        return ""
    return tag(
        "g",
        title(one.name),
        trace(frame, one.rpm, one.kw, stroke="var(--quiet)", stroke_width=1.0, opacity=0.55),
    )


def _held(frame: Frame, rpm: float, kw: float) -> str:
    """A speed that was held is a diamond: a point, not a curve."""
    x, y = frame.x(rpm), frame.y(kw)
    points = [(x, y - 7.0), (x + 7.0, y), (x, y + 7.0), (x - 7.0, y)]
    return tag(
        "g",
        title(f"held at {rpm:.0f}: {kw:.1f} kW"),
        polygon(points, fill="var(--ground)", stroke="var(--ink)", stroke_width=1.8),
    )


def _on_curve(frame: Frame, shown: Curve, width: float) -> list[str]:
    """Return the power curve with its ribbon, lambda in numbers along it, and where it is off its target."""
    parts = []
    for run in runs(np.isfinite(shown.kw)):
        rpm, curve = shown.rpm[run], along(frame, shown.rpm[run], shown.kw[run])
        if not shown.lanes:
            parts.append(edge(curve.beside(0.0), stroke="var(--ink)", stroke_width=2.4))
            continue
        half = _half(shown)
        parts.append(edge(curve.beside(0.0), stroke="var(--ink)", stroke_width=2.0 * half + 2.0))
        parts.append(edge(curve.beside(0.0), stroke="var(--ground)", stroke_width=2.0 * half))
        for n, lane in enumerate(shown.lanes):
            outer = half - n * 2.0 * half / len(shown.lanes)
            inner = outer - 2.0 * half / len(shown.lanes)
            parts += [
                ribbon(curve, lane.mean[run], inner, outer),
                ribbon(curve, lane.high[run], outer - _EDGE_PX, outer),
                ribbon(curve, lane.low[run], inner, inner + _EDGE_PX),
            ]
            if n:
                parts.append(edge(curve.beside(outer), stroke="var(--ground)", stroke_width=1.2))
        parts += _off(rpm, curve, shown, half)
        parts += _numbers(rpm, curve, shown, run, width)
    return [*parts, *_noise(frame, shown)]


def _half(shown: Curve) -> float:
    """Half of the ribbon's width [px]."""
    return _HALF_OF_ONE if len(shown.lanes) < 2 else _LANE_PX * len(shown.lanes) / 2.0


def _numbers(rpm: Floats, curve: Along, shown: Curve, run: slice, width: float) -> list[str]:
    """Return lambda in numbers over the ribbon, at round speeds with room between them."""
    half = _half(shown)
    parts = []
    for value in round_steps(float(rpm[0]), float(rpm[-1]), max(3, int(width / 130.0))):
        n = int(np.argmin(np.abs(rpm - value)))
        known = [lane.mean[run][n] for lane in shown.lanes]
        if not all(np.isfinite(known)):
            continue
        words = " | ".join(f"{one:.3f}" for one in known)
        if width > 500.0 and len(known) == 1:
            reach = (shown.lanes[0].high[run][n] - shown.lanes[0].low[run][n]) / 2.0
            words += f" \N{PLUS-MINUS SIGN}{reach:.3f}" if np.isfinite(reach) else ""
        x, y = curve.beside(half + 9.0)[n]
        # to the left where the curve rises and to the right where it falls, so that the words stand clear of it
        lean = float(curve.across[n, 0])
        anchor = "end" if lean < -0.2 else "start" if lean > 0.2 else "middle"
        parts.append(text(x, y, words, class_="small halo", text_anchor=anchor))
    return parts


def _off(rpm: Floats, curve: Along, shown: Curve, half: float) -> list[str]:
    parts = []
    for one in shown.off:
        held = np.flatnonzero((rpm >= one.rpm_from - 1.0) & (rpm <= one.rpm_to + 1.0))
        if len(held) < 2:
            continue
        place = next((n for n, lane in enumerate(shown.lanes) if lane.name == one.lane), 0)
        points = curve.beside(-half - 6.0 - 6.0 * place)
        where = [points[n] for n in held]
        parts.append(
            edge(
                where,
                stroke="var(--caution)",
                stroke_width=3.4,
                stroke_dasharray=None if one.surely else "5 4",
            )
        )
        middle = len(where) // 2
        x, y = where[middle]
        falls = float(curve.across[held[middle], 0]) > 0.0
        whose = f", {one.lane}" if len(shown.lanes) > 1 else ""
        parts.append(
            text(
                x + (-6.0 if falls else 6.0),
                y + 18.0 + 14.0 * place,
                f"{one.direction}{whose}",
                class_="small halo caution",
                text_anchor="end" if falls else "start",
            )
        )
    return parts


def _noise(frame: Frame, shown: Curve) -> list[str]:
    """Return the noise that the filter left at the top, as a bar through it (95 %)."""
    top = int(np.nanargmax(shown.kw))
    sd = shown.sd_kw[top]
    if not np.isfinite(sd):
        return []
    x, reach = frame.x(shown.rpm[top]), 1.96 * sd
    ends = [frame.y(shown.kw[top] + sign * reach) for sign in (1.0, -1.0)]
    return [
        line(x, ends[0], x, ends[1], stroke="var(--sensor)", stroke_width=2.0),
        *(line(x - 4.0, y, x + 4.0, y, stroke="var(--sensor)", stroke_width=2.0) for y in ends),
    ]


def _heat(frame: Frame, shown: Curve, top: float, width: float) -> list[str]:
    """Return the exhaust temperatures as numbers under the axis, at the same speeds."""
    parts = []
    for row, (name, values) in enumerate(shown.egt.items()):
        y = top + 17.0 * row
        parts.append(text(2.0, y, f"{name}, \N{DEGREE SIGN}C", class_="quiet small"))
        for value in round_steps(*frame.x_range, max(3, int(width / 120.0))):
            n = int(np.argmin(np.abs(shown.rpm - value)))
            if np.isfinite(values[n]) and frame.x(value) > 90.0:
                parts.append(
                    text(frame.x(value), y, f"{values[n]:.0f}", class_="small", text_anchor="middle"),
                )
    return parts
