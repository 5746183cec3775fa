"""How the delay was found: the misfit over the delay, and a stretch of the ride seen and explained."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dashboard.figures.chart import Floats, Frame, across, trace, upwards
from dashboard.figures.svg import figure, line, polygon, rect, text

WIDTH, HEIGHT = 420.0, 232.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 406.0, 38.0, 186.0
_POINTS = 900
"""More points than that are not drawn; a screen has not so many columns."""


@dataclass(frozen=True)
class Profile:
    """How well throttle and speed explain lambda, by the delay that is tried.

    Attributes:
        delay_s: delays, rising (n,) [s].
        misfit: what is left unexplained at each, over the least of them (n,) [1].
        best_s: the delay that explains most [s]; None where the fit was refused.
        low_s: lower end of its 95 % interval [s].
        high_s: upper end of it [s].
        geometry_s: what pipe and sensor come to [s]; None where the bike's file does not say.
    """

    delay_s: Floats
    misfit: Floats
    best_s: float | None
    low_s: float | None
    high_s: float | None
    geometry_s: float | None


@dataclass(frozen=True)
class Stretch:
    """A short piece of the ride.

    Attributes:
        t_s: rising (n,) [s].
        seen: lambda as the sensor said it (n,) [1].
        explained: lambda as throttle and speed, so much earlier, explain it (n,) [1].
    """

    t_s: Floats
    seen: Floats
    explained: Floats


def profile_svg(found: Profile) -> str:
    """Return the misfit over the delay, its least place marked with the interval, the geometry's beside it."""
    frame = _frame(found.delay_s, [found.misfit])
    parts = []
    if found.low_s is not None and found.high_s is not None:
        left, right = frame.x(found.low_s), frame.x(found.high_s)
        parts.append(
            rect(left, TOP, max(right - left, 2.0), BOTTOM - TOP, fill="var(--sensor)", opacity=0.16)
        )
    parts += across(frame, "delay, seconds")
    parts += [
        text(LEFT - 6.0, TOP + 10.0, "fits", class_="quiet small", text_anchor="end"),
        text(LEFT - 6.0, TOP + 23.0, "worse", class_="quiet small", text_anchor="end"),
        text(LEFT - 6.0, BOTTOM - 15.0, "fits", class_="quiet small", text_anchor="end"),
        text(LEFT - 6.0, BOTTOM - 2.0, "best", class_="quiet small", text_anchor="end"),
        trace(frame, found.delay_s, found.misfit, stroke="var(--ink)", stroke_width=1.8),
    ]
    if found.geometry_s is not None:
        x = frame.x(found.geometry_s)
        parts += [
            line(x, TOP, x, BOTTOM, stroke="var(--ring)", stroke_width=1.4, stroke_dasharray="5 4"),
            polygon([(x, BOTTOM), (x - 5.0, BOTTOM + 8.0), (x + 5.0, BOTTOM + 8.0)], fill="var(--ring)"),
            _label(x, TOP - 8.0, f"geometry {found.geometry_s:.2f} s", "var(--ring)"),
        ]
    if found.best_s is not None:
        x = frame.x(found.best_s)
        parts += [
            line(x, TOP - 14.0, x, BOTTOM, stroke="var(--sensor)", stroke_width=2.0),
            _label(x, TOP - 24.0, f"the ride {found.best_s:.2f} s", "var(--sensor)"),
        ]
    return figure(WIDTH, HEIGHT, profile_in_words(found), *parts, class_="chart")


def _label(x: float, y: float, words: str, colour: str) -> str:
    """Words beside a mark, on the side where there is room."""
    right = x < (LEFT + RIGHT) / 2.0
    style = {"class_": "small", "style": f"fill:{colour}"}
    return text(x + (3.0 if right else -3.0), y, words, text_anchor="start" if right else "end", **style)


def profile_in_words(found: Profile) -> str:
    """Return what the profile shows, for those who do not see it."""
    words = f"Misfit over delays from {found.delay_s[0]:.2f} to {found.delay_s[-1]:.2f} s"
    if found.best_s is None:
        return f"{words}: no delay fits clearly best."
    parts = [f"{words}: the least at {found.best_s:.3f} s"]
    if found.low_s is not None and found.high_s is not None:
        parts.append(f"95 % interval {found.low_s:.3f} to {found.high_s:.3f} s")
    if found.geometry_s is not None:
        parts.append(f"the pipe's geometry says {found.geometry_s:.3f} s")
    return ", ".join(parts) + "."


def stretch_svg(shown: Stretch) -> str:
    """Return lambda over a short stretch as the sensor said it and as the ride explains it."""
    shown = _thinned(shown)
    frame = _frame(shown.t_s, [shown.seen, shown.explained])
    parts = [
        *upwards(frame, 2),
        *across(frame, "seconds of the session"),
        text(LEFT - 6.0, TOP - 8.0, "lean", class_="quiet small", text_anchor="end"),
        text(LEFT - 6.0, BOTTOM + 14.0, "rich", class_="quiet small", text_anchor="end"),
        trace(frame, shown.t_s, shown.seen, stroke="var(--sensor)", stroke_width=2.2, opacity=0.55),
        trace(
            frame, shown.t_s, shown.explained, stroke="var(--ink)", stroke_width=1.6, stroke_dasharray="6 3"
        ),
    ]
    return figure(WIDTH, HEIGHT, stretch_in_words(shown), *parts, class_="chart")


def stretch_in_words(shown: Stretch) -> str:
    """Return what the stretch shows, for those who do not see it."""
    apart = shown.seen - shown.explained
    apart = apart[np.isfinite(apart)]
    typical = f"{float(np.sqrt(np.mean(apart**2))):.3f}" if len(apart) else "not known"
    return (
        f"Lambda from {shown.t_s[0]:.0f} to {shown.t_s[-1]:.0f} s as the sensor said it and as throttle and"
        f" speed explain it; typically {typical} apart."
    )


def _thinned(shown: Stretch) -> Stretch:
    every = -(-len(shown.t_s) // _POINTS)
    return Stretch(shown.t_s[::every], shown.seen[::every], shown.explained[::every])


def _frame(x: Floats, values: Sequence[Floats]) -> Frame:
    joined = np.concatenate(values)
    joined = joined[np.isfinite(joined)]
    low, high = (float(joined.min()), float(joined.max())) if len(joined) else (0.0, 1.0)
    room = 0.06 * ((high - low) or 0.1)
    return Frame(LEFT, RIGHT, TOP, BOTTOM, (float(x[0]), float(x[-1])), (low - room, high + room))
