"""The pulls on the session's own trace: what was found, and what full throttle was besides, each by its name."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dashboard.figures.chart import Frame, round_steps, trace
from dashboard.figures.pull_chart import WIDE, Floats
from dashboard.figures.svg import figure, line, rect, tag, text, title

_LEFT, _RPM_PX, _THROTTLE_PX = 44.0, 96.0, 26.0
_LETTER_PX = 6.4


@dataclass(frozen=True)
class Part:
    """A stretch of full throttle.

    Attributes:
        number: of the pull; None where it was none.
        words: what it was.
        start_s: its first moment [s].
        end_s: its last one [s].
    """

    number: int | None
    words: str
    start_s: float
    end_s: float


def pull_trace_svg(
    rpm: tuple[Floats, Floats],
    throttle: tuple[Floats, Floats] | None,
    parts: Sequence[Part],
    *,
    width: float = WIDE,
) -> str:
    """Return the strip.

    Args:
        rpm: times [s] and engine speeds [1/min], thinned.
        throttle: times [s] and openings [%]; None where it was not recorded.
        parts: what was found, in order of time.
        width: of the drawing's grid [px].
    """
    top = 40.0
    low, high = float(np.nanmin(rpm[0])), float(np.nanmax(rpm[0]))
    most = max(float(np.nanmax(rpm[1])), 1.0) * 1.04
    bottom = top + _RPM_PX
    right = width - 8.0
    frame = Frame(_LEFT, right, top, bottom, (low, high), (0.0, most))
    end = bottom + (0.0 if throttle is None else _THROTTLE_PX + 10.0)
    shown = [_part(frame, part, end) for part in parts]
    grid = []
    for value in round_steps(0.0, most, 3):
        y = frame.y(value)
        grid.append(line(_LEFT, y, right, y, stroke="var(--hair)"))
        grid.append(text(_LEFT - 6.0, y + 4.0, f"{value:g}", class_="quiet small", text_anchor="end"))
    lines = [trace(frame, *rpm, stroke="var(--ink)", stroke_width=1.2)]
    if throttle is not None:
        own = Frame(_LEFT, right, bottom + 10.0, end, (low, high), (0.0, 100.0))
        lines += [
            line(_LEFT, end, right, end, stroke="var(--hair)"),
            text(_LEFT - 6.0, end - 8.0, "throttle", class_="quiet tiny", text_anchor="end"),
            trace(own, *throttle, stroke="var(--quiet)", stroke_width=1.1),
        ]
    axis = [line(_LEFT, end + 2.0, right, end + 2.0, stroke="var(--quiet)")]
    for value in round_steps(low, high, max(3, int(width / 110.0))):
        x = frame.x(value)
        axis.append(line(x, end + 2.0, x, end + 6.0, stroke="var(--quiet)"))
        axis.append(text(x, end + 19.0, f"{value:g}", class_="quiet small", text_anchor="middle"))
    axis.append(
        text((_LEFT + right) / 2.0, end + 35.0, "seconds", class_="quiet small", text_anchor="middle")
    )
    axis.append(text(2.0, 12.0, "1/min", class_="quiet small"))
    found = sum(part.number is not None for part in parts)
    words = (
        f"Engine speed over time with {found} pull{'' if found == 1 else 's'}"
        f" and {len(parts) - found} other stretches of full throttle: "
        + "; ".join(f"{_name(part)} from {part.start_s:.1f} to {part.end_s:.1f} s" for part in parts)
        + "."
    )
    return figure(
        width, end + 40.0, words, *shown, *grid, *lines, *_labels(frame, parts), *axis, class_="chart"
    )


def _name(part: Part) -> str:
    return part.words if part.number is None else f"pull {part.number}"


def _part(frame: Frame, part: Part, end: float) -> str:
    """A pull is a solid ground, what was none an empty frame: not told by colour alone."""
    x, far = frame.x(part.start_s), frame.x(part.end_s)
    wide = max(far - x, 2.0)
    if part.number is not None:
        shape = rect(x, frame.top - 4.0, wide, end - frame.top + 4.0, fill="var(--tone-2)", opacity=0.55)
    else:
        shape = rect(
            x,
            frame.top,
            wide,
            end - frame.top,
            fill="none",
            stroke="var(--quiet)",
            stroke_width=1.0,
            stroke_dasharray="3 3",
        )
    return tag("g", title(f"{_name(part)}, {part.start_s:.1f} to {part.end_s:.1f} s"), shape)


def _labels(frame: Frame, parts: Sequence[Part]) -> list[str]:
    """Names over the parts, pulls in the lower row and the rest in the upper; where there is no room, none."""
    written, ends = [], {True: -1e9, False: -1e9}
    for part in parts:
        pull = part.number is not None
        words = str(part.number) if pull else part.words
        x = min(max((frame.x(part.start_s) + frame.x(part.end_s)) / 2.0, _LEFT), frame.right)
        half = _LETTER_PX * len(words) / 2.0
        x = min(x, frame.right - half)
        if x - half < ends[pull]:
            continue
        ends[pull] = x + half + 4.0
        y, look = (frame.top - 9.0, "strong") if pull else (frame.top - 24.0, "quiet small")
        written.append(text(x, y, words, class_=look, text_anchor="middle"))
    return written
