"""A session's page, as a printed sheet: what was found in words first, then the drawings that show it."""

import asyncio
import re
from typing import Any
from urllib.parse import quote

from dash import Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard import ids
from dashboard.components import bandmaps, delays, findings, remarks, states, todo, window
from dashboard.components.facts import facts, title
from dashboard.components.parts import GRAPH_CONFIG, aria
from dashboard.data import Source
from dashboard.figures.traces import Figure, traces_figure
from dashboard.pictures import Picture
from dashboard.shell import Query, Route
from dashboard.theme import Scheme


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callbacks into an app."""

    async def layout(match: "re.Match[str]", _query: Query) -> Component:
        return _page(await asyncio.to_thread(source.picture, int(match["number"])))

    # two callbacks, since the graph tells of its own size at any moment, and a callback that is called anew drops
    # the answer that was on its way: a button's tap would be lost
    @app.callback(
        Output(ids.WINDOW, "data", allow_duplicate=True),
        Input(ids.TRACES, "relayoutData"),
        State(ids.WINDOW, "data"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    async def drawn_across(relayout: object, shown: window.Window, about: dict[str, float]) -> object:
        return _changed(window.zoomed(relayout, about["seconds"]), shown)

    @app.callback(
        Output(ids.WINDOW, "data"),
        *(Input(button, "n_clicks") for button in window.BUTTONS),
        State(ids.WINDOW, "data"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    async def tapped(*given: Any) -> object:  # noqa: ANN401  # clicks by button, then the two states
        shown, about = given[-2:]
        return _changed(window.pressed(str(ctx.triggered_id), shown, about["seconds"]), shown)

    @app.callback(
        Output(ids.TRACES, "figure"),
        Input(ids.WINDOW, "data"),
        Input(ids.SCHEME, "data"),
        State(ids.SESSION, "data"),
    )
    async def draw(shown: window.Window, scheme: Scheme, about: dict[str, float]) -> Figure:
        # the whole figure each time: a patch would be lost on a figure that has not come yet
        part = (shown[0], shown[1]) if shown else None
        return await asyncio.to_thread(_figure, source, int(about["number"]), part, scheme)

    return Route(re.compile(r"/session/(?P<number>\d{1,9})/?"), layout)


def _figure(source: Source, number: int, part: tuple[float, float] | None, scheme: Scheme) -> Figure:
    return traces_figure(
        source.series(number, part), source.marks(number), scheme, part, source.states(number)
    )


def _changed(found: object, shown: window.Window) -> object:
    return no_update if found is window.SAME or found == shown else found


def _page(picture: Picture) -> Component:
    run = picture.run
    number = run.session.id
    return html.Article(
        [
            dcc.Store(id=ids.SESSION, data={"number": number, "seconds": run.session.seconds}),
            dcc.Store(id=ids.WINDOW, data=None),
            html.Nav(
                [
                    dcc.Link("All sessions", href="/"),
                    dcc.Link(
                        f"Season of {run.bike.name}", href=f"/bike/{quote(run.bike.name, safe='')}/season"
                    )
                    if run.bike
                    else None,
                ],
                className="crumbs",
                **aria(label="Way back"),
            ),
            html.Header(
                [html.H1(title(run)), *facts(run, picture.comparison, picture.air)],
                className="sheet-head",
            ),
            findings.section(picture),
            todo.section(number, len(picture.comparison.cylinders)),
            bandmaps.section(picture),
            _traces(picture),
            delays.section(picture),
            remarks.section(picture),
        ],
        className="sheet",
    )


_BLANK: Figure = {
    "data": [],
    "layout": {
        "height": 400,
        "xaxis": {"visible": False},
        "yaxis": {"visible": False},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
    },
}
"""Stands until the traces come."""


def _traces(picture: Picture) -> Component:
    graph = dcc.Graph(id=ids.TRACES, figure=_BLANK, config=GRAPH_CONFIG)
    return html.Section(
        [
            html.H2("Over time"),
            html.P(
                "Lambda not yet moved back by the sensor's delay, from 0.6 to 1.3 at most. Clear ground is steady"
                " running, which counts; the strip on top says what the rest was. Draw across a stretch to look"
                " closer.",
                className="quiet",
            ),
            states.key(picture.bands),
            window.toolbar(),
            html.Div(graph, className="traces"),
        ],
        className="part part-traces",
    )
