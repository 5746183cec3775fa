"""The signature across sessions: every nose that was read, in time order, one row a cylinder."""

from collections.abc import Sequence

from dash import dcc, html
from dash.development.base_component import Component

from bridge.agreement.kept import TOGETHER
from bridge.agreement.season import Point
from bridge.model.rules import RING_SD_MM
from bridge.plug.evidence import evidence_of
from dashboard.components.parts import aria, drawing
from dashboard.figures.nose import Nose
from dashboard.figures.season_nose import season_nose_svg
from dashboard.season_data import Seen


def rows(seen: Sequence[Seen], points: Sequence[Point]) -> Component:
    """Return the rows.

    Args:
        seen: every plug that was read, in order of time.
        points: the pairs that are looked at.
    """
    by_place = {(point.session, point.cylinder): point for point in points}
    # one sensor for all: the same difference stands under each nose, and no depth of its own
    shared = {point.session: point for point in points if point.cylinder == TOGETHER}
    cylinders = sorted({one.life.fitting.cylinder for one in seen})
    return html.Div(
        [
            html.Section(
                [
                    html.H3(f"Cylinder {number}"),
                    html.Ol(
                        [
                            _place(one, by_place.get((one.session.id, number), shared.get(one.session.id)))
                            for one in seen
                            if one.life.fitting.cylinder == number
                        ],
                        className="season-noses",
                        tabIndex="0",
                        **aria(label=f"Noses of cylinder {number} in order of time"),
                    ),
                ],
                className="season-row",
            )
            for number in cylinders
        ]
    )


def _place(one: Seen, point: Point | None) -> Component:
    svg = season_nose_svg(
        _nose(one, counts=point is not None or one.why_not is None),
        point.expected_mm if point and point.cylinder != TOGETHER else None,
        _doubt_mm(point) if point else 0.0,
    )
    number = one.session.id
    difference = f"{point.difference:+.3f}".replace("-", "\N{MINUS SIGN}") if point else "\N{EM DASH}"
    marks = [seen.evidence.key for seen in evidence_of(one.life.reading) if seen.evidence.direction == "stop"]
    day = f"{one.session.started:%d %b}".lstrip("0")
    return html.Li(
        dcc.Link(
            [
                html.Span(day, className="quiet season-day"),
                drawing(svg, className="season-nose-frame"),
                html.Span(difference, className="season-difference"),
                html.Span(f"session {number}", className="quiet season-session"),
                *(html.Strong(mark, className="season-stop") for mark in marks),
            ],
            href=f"/session/{number}",
        ),
        className="" if point else "does-not-count",
        title=one.why_not or "",
    )


def _nose(one: Seen, *, counts: bool) -> Nose:
    reading = one.life.reading
    assert reading is not None, "only what was read is shown"
    sd_mm = RING_SD_MM[reading.view] if reading.ring_sd_mm is None else reading.ring_sd_mm
    return Nose(
        cylinder=one.life.fitting.cylinder,
        plug=one.life.fitting.plug,
        nose_mm=one.life.nose_mm,
        ring=reading.ring,
        depth_mm=reading.ring_mm,
        sd_mm=sd_mm,
        cut=reading.view == "cut",
        counts=counts,
    )


def _doubt_mm(point: Point) -> float:
    """Return half the interval of the difference as a depth on this plug's scale [mm]."""
    apart = point.ring - point.measured
    if abs(apart) < 1e-6:
        return 0.0
    slope_mm = abs((point.depth_mm - point.expected_mm) / apart)
    return (point.high - point.low) / 2.0 * slope_mm
