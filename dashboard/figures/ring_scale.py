"""The ring scale: from the depth of a ring to lambda, with the guess, the tuner's word and the bike's own pairs."""

from collections.abc import Sequence

from bridge.agreement.scales import Curve
from bridge.plug.ring_fit import RingPair
from dashboard.figures.chart import Frame, across, round_steps
from dashboard.figures.svg import figure, line, path, polygon, tag, text, title

WIDTH, HEIGHT = 420.0, 430.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 48.0, 408.0, 30.0, 372.0
_RANGE = (0.65, 1.10)
# colour, dashes of the line, how dense the band is
_STYLES: dict[str, tuple[str, str | None, float]] = {
    "guess": ("var(--quiet)", "2 5", 0.07),
    "stated": ("var(--ring)", "7 4", 0.10),
    "pairs": ("var(--ink)", None, 0.16),
}
WORDS = {
    "guess": "the starting guess",
    "stated": "your own word",
    "pairs": "fitted on this bike's pairs",
}


def ring_scale_svg(nose_mm: float, curves: Sequence[Curve], pairs: Sequence[RingPair]) -> str:
    """Return the scale as a chart: the nose's depth downwards, as it is held, lambda across.

    Args:
        nose_mm: length of the nose [mm].
        curves: the widest first, so that the narrower ones lie on top.
        pairs: of ring and measured lambda.
    """
    frame = Frame(_LEFT, _RIGHT, _TOP, _BOTTOM, _range(pairs), (nose_mm, 0.0))
    parts = [
        *_depths(frame, nose_mm),
        *across(frame, "lambda: rich on the left, lean on the right"),
        line(
            frame.x(1.0),
            _TOP,
            frame.x(1.0),
            _BOTTOM,
            stroke="var(--ink)",
            stroke_dasharray="4 4",
            opacity=0.6,
        ),
        text(frame.x(1.0), _TOP - 6.0, "stoichiometric", class_="quiet small", text_anchor="middle"),
    ]
    for curve in curves:
        parts += _band(frame, curve)
    parts += [mark for pair in pairs for mark in _pair(frame, pair)]
    known = ", ".join(WORDS.get(curve.name, curve.name) for curve in curves)
    words = f"Ring scale of a nose of {nose_mm:g} mm: {known}; {len(pairs)} pairs. The model is unvalidated."
    return figure(WIDTH, HEIGHT, words, *parts, class_="chart ring-scale")


def _range(pairs: Sequence[RingPair]) -> tuple[float, float]:
    """Return which lambdas are drawn: the usual ones, and every pair with its interval."""
    ends = [one.lambda_ + sign * (1.96 * one.lambda_sd + 0.01) for one in pairs for sign in (-1.0, 1.0)]
    return min([_RANGE[0], *ends]), max([_RANGE[1], *ends])


def _depths(frame: Frame, nose_mm: float) -> list[str]:
    parts = [text(_LEFT - 8.0, _TOP - 6.0, "mm from the tip", class_="quiet small")]
    for depth in round_steps(0.0, nose_mm, 8):
        y = frame.y(depth)
        parts.append(line(_LEFT, y, _RIGHT, y, stroke="var(--hair)"))
        parts.append(text(_LEFT - 8.0, y + 4.0, f"{depth:g}", class_="quiet small", text_anchor="end"))
    parts.append(text(_RIGHT - 4.0, _TOP + 13.0, "hot tip", class_="quiet small", text_anchor="end"))
    parts.append(text(_RIGHT - 4.0, _BOTTOM - 6.0, "cool seat", class_="quiet small", text_anchor="end"))
    return parts


def _band(frame: Frame, band: Curve) -> list[str]:
    colour, dash, dense = _STYLES.get(band.name, _STYLES["pairs"])
    left = [(frame.x(value), frame.y(depth)) for value, depth in zip(band.low, band.depth_mm, strict=True)]
    right = [(frame.x(value), frame.y(depth)) for value, depth in zip(band.high, band.depth_mm, strict=True)]
    inside = [
        (value, depth)
        for value, depth in zip(band.mean, band.depth_mm, strict=True)
        if frame.x_range[0] <= value <= frame.x_range[1]
    ]
    middle = "L".join(f"{frame.x(value):.1f},{frame.y(depth):.1f}" for value, depth in inside)
    return [
        polygon([*left, *reversed(right)], fill=colour, opacity=dense),
        path(f"M{middle}", fill="none", stroke=colour, stroke_width=2.0, stroke_dasharray=dash)
        if middle
        else "",
    ]


def _pair(frame: Frame, point: RingPair) -> list[str]:
    x, y = frame.x(point.lambda_), frame.y(point.depth_mm)
    cut = ", cut at a pull's end" if point.pull_share > 0.0 else ""
    name = title(f"Session {point.session}, cylinder {point.cylinder}{cut}")
    if point.one_sided is not None:
        # no ring: deeper than the seat; all dark: beyond the tip
        way = 1.0 if point.one_sided == "leaner" else -1.0
        tip = y + way * 14.0
        arrow = polygon([(x - 6.0, y + way * 4.0), (x + 6.0, y + way * 4.0), (x, tip)], fill="var(--sensor)")
        return [tag("g", name, arrow)]
    half_y = abs(frame.y(point.depth_mm + 1.96 * point.depth_sd_mm) - frame.y(point.depth_mm))
    half_x = abs(frame.x(point.lambda_ + 1.96 * point.lambda_sd) - x)
    return [
        tag(
            "g",
            name,
            line(x, y - half_y, x, y + half_y, stroke="var(--sensor)", stroke_width=1.2, opacity=0.7),
            line(x - half_x, y, x + half_x, y, stroke="var(--sensor)", stroke_width=1.2, opacity=0.7),
            tag("circle", cx=x, cy=y, r=4.5, fill="var(--sensor)"),
        )
    ]
