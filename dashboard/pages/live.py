"""The live page: a host that assets/live.js fills, and the cautions, which need no script."""

import json
import re
from typing import Any

from dash import Dash, html
from dash.development.base_component import Component

from bridge.bands import SteadyLimits
from bridge.bands.edges import FULL_PERCENT, NOT_FULL_PERCENT
from dashboard.components.parts import caution
from dashboard.shell import Query, Route
from dashboard.theme import SCHEMES, trace_colour

CAUTIONS = (
    "Not to be watched while riding: it is for the pits, a second person or the dynamometer.",
    "Run engines in the open, or with the exhaust led outside. The gas kills unnoticed.",
    "Exhaust, sensors and plugs burn skin for long after the engine stands.",
    "A number is no leave to go on: a lean engine can seize or hole a piston in seconds.",
)


def register(_app: Dash, _source: object) -> Route:
    """Return the page; it has no callbacks, since what moves comes by its own websocket."""

    async def layout(match: "re.Match[str]", _query: Query) -> Component:
        return _page(match["number"] or "")

    return Route(re.compile(r"/live(?:/(?P<number>\d{1,9}))?/?"), layout)


def _page(number: str) -> Component:
    colours = {
        scheme: {
            role: [trace_colour(scheme, role, line) for line in range(4)]
            for role in ("mixture", "heat", "other")
        }
        for scheme in SCHEMES
    }
    limits = SteadyLimits()
    host: dict[str, Any] = {
        "data-session": number,
        "data-colours": json.dumps(colours),
        "data-fires": json.dumps([limits.lambda_low, limits.lambda_high]),
        "data-full": json.dumps({"full": FULL_PERCENT, "notFull": NOT_FULL_PERCENT}),
    }
    return html.Article(
        [
            html.H1("Live"),
            html.P(CAUTIONS[0], className="live-warning"),
            html.Div(id="live", className="live", **host),
            caution(CAUTIONS[1:]),
        ],
        className="sheet live-sheet",
    )
