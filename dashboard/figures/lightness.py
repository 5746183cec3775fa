"""Lightness along the nose, as a photograph shows it, with the ring that was found."""

from collections.abc import Sequence

from dashboard.figures.chart import Frame, across, trace, upwards
from dashboard.figures.svg import figure, line, rect, text

WIDTH, HEIGHT = 340.0, 200.0


def lightness_svg(
    depth_mm: Sequence[float], lightness: Sequence[float], ring: tuple[float, float] | None
) -> str:
    """Return the profile as a chart.

    Args:
        depth_mm: from the tip, shape (n,) [mm].
        lightness: (n,) [L*].
        ring: depth of the ring's middle and its standard uncertainty [mm]; None where none is seen.
    """
    deepest = max(depth_mm, default=1.0)
    frame = Frame(34.0, WIDTH - 10.0, 14.0, HEIGHT - 44.0, (0.0, deepest), (0.0, 100.0))
    parts = [*upwards(frame, 0), *across(frame, "from the tip, mm")]
    words = "Lightness along the nose from tip to seat"
    if ring is not None:
        depth, sd = ring
        left, right = frame.x(depth - 1.96 * sd), frame.x(depth + 1.96 * sd)
        parts.append(
            rect(left, frame.top, right - left, frame.bottom - frame.top, fill="var(--ring)", opacity=0.18)
        )
        parts.append(line(frame.x(depth), frame.top, frame.x(depth), frame.bottom, stroke="var(--ring)"))
        parts.append(
            text(
                frame.x(depth) + 5.0, frame.top + 11.0, f"{depth:.1f} mm", class_="small", fill="var(--ring)"
            )
        )
        words += (
            f", with a ring at {depth:.1f} mm, {depth - 1.96 * sd:.1f} to {depth + 1.96 * sd:.1f} at 95 %"
        )
    parts.append(trace(frame, depth_mm, lightness, stroke="var(--ink)", stroke_width=1.6))
    parts.append(text(frame.left, frame.top - 4.0, "lightness, L*", class_="quiet small"))
    return figure(WIDTH, HEIGHT, f"{words}.", *parts, class_="chart")
