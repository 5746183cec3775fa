"""A season's figures: both methods over time, the difference plot, ring against sensor."""

from collections.abc import Sequence

from dash import html
from dash.development.base_component import Component

from bridge.agreement.methods import Limit
from bridge.agreement.season import Point, Season
from dashboard.components.parts import drawing
from dashboard.figures.against import Met, against_svg
from dashboard.figures.both_lines import Both, both_lines_svg
from dashboard.figures.chart import whose
from dashboard.figures.differences import Level, Pair, differences_svg


def over_time(points: Sequence[Point]) -> Component:
    """Return both methods over the sessions, a chart a cylinder."""
    cylinders = sorted({point.cylinder for point in points})
    return html.Div(
        [
            html.Figure(
                [
                    html.Figcaption(whose(number).capitalize()),
                    drawing(
                        both_lines_svg(
                            number,
                            [
                                Both(p.session, p.measured, p.measured_sd, p.ring, p.ring_sd)
                                for p in points
                                if p.cylinder == number
                            ],
                        )
                    ),
                ]
            )
            for number in cylinders
        ],
        className="season-charts",
    )


def differences(found: Season) -> Component:
    """Return the difference plot with its limits."""
    limits = found.bland_altman
    low, high = found.bias_interval
    bias = None if limits.bias is None else Level("bias", limits.bias, low, high)
    levels = [
        Level(f"{name} limit", limit.value, limit.low, limit.high)
        for name, limit in (("upper", limits.upper), ("lower", limits.lower))
        if isinstance(limit, Limit)
    ]
    pairs = [Pair(p.session, p.cylinder, p.average, p.difference, p.low, p.high) for p in found.points]
    return html.Figure(drawing(differences_svg(pairs, bias, levels, found.margin)))


def against(found: Season) -> Component:
    """Return ring against sensor with the line that has error in both."""
    line = found.deming
    fitted = (line.intercept, line.slope) if line.intercept is not None and line.slope is not None else None
    met = [Met(p.session, p.cylinder, p.measured, p.ring) for p in found.points]
    return html.Figure(drawing(against_svg(met, fitted)))
