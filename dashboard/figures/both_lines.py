"""Both methods over the sessions, around the stoichiometric value: what the ring says and what the sensor says."""

from collections.abc import Sequence
from dataclasses import dataclass

from dashboard.figures.chart import Frame, mixture_strip, trace, upwards, whose
from dashboard.figures.svg import figure, line, rect, tag, text

WIDTH = 430.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 44.0, 420.0, 26.0, 272.0
HEIGHT = 318.0


@dataclass(frozen=True)
class Both:
    """One session of a cylinder.

    Attributes:
        session: its number.
        measured: lambda by the sensor [1].
        measured_sd: its standard uncertainty by what changes from session to session [1].
        ring: lambda by the ring [1].
        ring_sd: its standard uncertainty by reading and scatter [1].
    """

    session: int
    measured: float
    measured_sd: float
    ring: float
    ring_sd: float


def both_lines_svg(cylinder: int, seen: Sequence[Both]) -> str:
    """Return the chart of one cylinder.

    Args:
        cylinder: its number; 0 where one sensor stands for all.
        seen: its sessions in order of time, one at least.
    """
    values = [
        mean + sign * 1.96 * sd
        for one in seen
        for mean, sd in ((one.measured, one.measured_sd), (one.ring, one.ring_sd))
        for sign in (-1.0, 1.0)
    ]
    low, high = min([*values, 0.86]) - 0.02, max([*values, 1.0]) + 0.02
    frame = Frame(_LEFT, _RIGHT, _TOP, _BOTTOM, (-0.6, len(seen) - 0.4), (low, high))
    at = [float(n) for n in range(len(seen))]
    parts = [
        *mixture_strip((_LEFT - 2.0, _TOP, 5.0, _BOTTOM - _TOP), low, high, 24, upright=True),
        *upwards(frame, 2, 5),
        line(_LEFT, frame.y(1.0), _RIGHT, frame.y(1.0), stroke="var(--ink)", stroke_dasharray="7 4"),
        text(_RIGHT - 2.0, frame.y(1.0) - 6.0, "stoichiometric", class_="small", text_anchor="end"),
        text(_LEFT - 6.0, _TOP - 10.0, "\N{GREEK SMALL LETTER LAMDA}", class_="strong", text_anchor="end"),
        text(_RIGHT - 2.0, _TOP - 10.0, "lean above, rich below", class_="quiet small", text_anchor="end"),
        trace(frame, at, [one.measured for one in seen], stroke="var(--sensor)", stroke_width=1.6),
        trace(frame, at, [one.ring for one in seen], stroke="var(--ring)", stroke_width=1.6),
    ]
    for n, one in enumerate(seen):
        parts += _session(frame, float(n), one)
    middle = (_LEFT + _RIGHT) / 2.0
    parts.append(text(middle, _BOTTOM + 38.0, "session", class_="quiet small", text_anchor="middle"))
    words = (
        f"{whose(cylinder).capitalize()}, ring and measured lambda of {len(seen)} sessions in order of time."
    )
    return figure(WIDTH, HEIGHT, words, *parts, class_="chart both-lines")


def _session(frame: Frame, n: float, one: Both) -> list[str]:
    x = frame.x(n)
    return [
        _bar(frame, x - 4.0, one.measured, one.measured_sd, "var(--sensor)"),
        _bar(frame, x + 4.0, one.ring, one.ring_sd, "var(--ring)"),
        tag("circle", cx=x - 4.0, cy=frame.y(one.measured), r=4.4, fill="var(--sensor)"),
        rect(x - 0.6, frame.y(one.ring) - 4.6, 9.2, 9.2, fill="var(--ring)"),
        text(x, _BOTTOM + 19.0, str(one.session), class_="quiet small", text_anchor="middle"),
    ]


def _bar(frame: Frame, x: float, mean: float, sd: float, colour: str) -> str:
    return line(
        x,
        frame.y(mean - 1.96 * sd),
        x,
        frame.y(mean + 1.96 * sd),
        stroke=colour,
        stroke_width=2.0,
        opacity=0.6,
    )
