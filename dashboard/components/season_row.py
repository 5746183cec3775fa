"""The signature across sessions: every nose that was read, in time order, one row a cylinder."""

from collections.abc import Sequence

from dash import dcc, html
from dash.development.base_component import Component

from bridge.agreement.kept import TOGETHER
from bridge.agreement.season import Point
from bridge.plug.evidence import stopping
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
    lost = [one for one in seen if one.life.fitting.order_lost]
    known = [one for one in seen if not one.life.fitting.order_lost]
    places = [
        _row(
            f"Cylinder {number}",
            [
                _place(one, by_place.get((one.session.id, number), shared.get(one.session.id)))
                for one in known
                if one.life.fitting.cylinder == number
            ],
        )
        for number in sorted({one.life.fitting.cylinder for one in known})
    ]
    if lost:
        places.append(_row("Order lost: of no known cylinder", [_place(one, None) for one in lost]))
    return html.Div(places)


def _row(heading: str, places: list[Component]) -> Component:
    return html.Section(
        [
            html.H3(heading),
            html.Ol(
                places,
                className="season-noses",
                tabIndex="0",
                **aria(label=f"Noses in order of time: {heading}"),
            ),
        ],
        className="season-row",
    )


def _place(one: Seen, point: Point | None) -> Component:
    svg = season_nose_svg(
        _nose(one, counts=point is not None or one.why_not is None),
        point.expected_mm if point and point.cylinder != TOGETHER else None,
        _doubt_mm(point) if point else 0.0,
    )
    number = one.session.id
    difference = f"{point.difference:+.3f}".replace("-", "\N{MINUS SIGN}") if point else "\N{EM DASH}"
    marks = [mark.key for mark in stopping(one.life.reading, one.life.ran_s)]
    day = f"{one.session.started:%d %b}".lstrip("0")
    return html.Li(
        dcc.Link(
            [
                html.Span(day, className="quiet season-day"),
                drawing(svg, className="season-nose-frame"),
                html.Span(difference, className="season-difference"),
                html.Span(f"session {number}", className="quiet season-session"),
                *(html.Strong(mark, className="season-stop") for mark in marks),
                html.Span(one.why_not, className="unseen") if one.why_not else None,
            ],
            href=f"/session/{number}",
        ),
        className="" if point else "does-not-count",
        title=one.why_not or "",
    )


def _nose(one: Seen, *, counts: bool) -> Nose:
    reading = one.life.reading
    assert reading is not None, "only what was read is shown"
    return Nose(
        cylinder=None if one.life.fitting.order_lost else one.life.fitting.cylinder,
        plug=one.life.fitting.plug,
        nose_mm=one.life.nose_mm,
        ring=reading.ring,
        depth_mm=reading.ring_mm,
        sd_mm=reading.depth_sd_mm,
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
