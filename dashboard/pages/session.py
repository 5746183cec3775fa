"""A session's page, as a printed sheet: what was found in words first, then the drawings that show it."""

import asyncio
import re

from dash import Dash, Input, Output, Patch, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from dashboard import ids
from dashboard.components import bandmaps, findings, remarks, window
from dashboard.components.facts import facts, title
from dashboard.components.parts import GRAPH_CONFIG, aria
from dashboard.data import Picture, Source
from dashboard.figures.traces import Figure, traces_figure
from dashboard.shell import Query, Route
from dashboard.theme import Scheme


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callbacks into an app."""

    async def layout(match: "re.Match[str]", _query: Query) -> Component:
        return _page(await asyncio.to_thread(source.picture, int(match["number"])))

    @app.callback(
        Output(ids.WINDOW, "data"),
        Input(ids.TRACES, "relayoutData"),
        *(Input(button, "n_clicks") for button in window.BUTTONS),
        State(ids.WINDOW, "data"),
        State(ids.SESSION, "data"),
        prevent_initial_call=True,
    )
    async def look(*given: object) -> object:
        relayout, shown, about = given[0], given[-2], given[-1]
        # the graph tells of its own size at any moment, so that a button may come together with it
        button = next((name for name in window.BUTTONS if name in ctx.triggered_prop_ids.values()), None)
        if button is None:
            found = window.zoomed(relayout, about["seconds"])  # type: ignore[index]  # the store's dictionary
        else:
            found = window.pressed(button, shown, about["seconds"])  # type: ignore[index,arg-type]  # as above
        return no_update if found is window.SAME or found == shown else found

    @app.callback(
        Output(ids.TRACES, "figure"),
        Input(ids.WINDOW, "data"),
        Input(ids.SCHEME, "data"),
        State(ids.SESSION, "data"),
    )
    async def draw(shown: list[float] | None, scheme: Scheme, about: dict[str, float]) -> "Figure | Patch":
        number = int(about["number"])
        part = (shown[0], shown[1]) if shown else None
        if ctx.triggered_id == ids.WINDOW and part is not None:
            return _zoom(await asyncio.to_thread(_figure, source, number, part, scheme))
        return await asyncio.to_thread(_figure, source, number, part, scheme)

    return Route(re.compile(r"/session/(?P<number>\d{1,9})/?"), layout)


def _figure(source: Source, number: int, part: tuple[float, float] | None, scheme: Scheme) -> Figure:
    return traces_figure(source.series(number, part), source.marks(number), scheme, part)


def _zoom(figure: Figure) -> Patch:
    """Return only what a new window changes: the points and the time axis."""
    patch = Patch()
    patch["data"] = figure["data"]
    patch["layout"]["xaxis"]["range"] = figure["layout"]["xaxis"]["range"]
    patch["layout"]["xaxis"]["autorange"] = False
    return patch


def _page(picture: Picture) -> Component:
    run = picture.run
    number = run.session.id
    return html.Article(
        [
            dcc.Store(id=ids.SESSION, data={"number": number, "seconds": run.session.seconds}),
            dcc.Store(id=ids.WINDOW, data=None),
            html.Nav(dcc.Link("All sessions", href="/"), className="crumbs", **aria(label="Way back")),
            html.Header(
                [html.H1(title(run)), *facts(run, picture.comparison)],
                className="sheet-head",
            ),
            findings.section(picture),
            bandmaps.section(picture),
            _traces(),
            remarks.section(picture),
        ],
        className="sheet",
    )


def _traces() -> Component:
    graph = dcc.Graph(id=ids.TRACES, figure={"data": [], "layout": {"height": 400}}, config=GRAPH_CONFIG)
    return html.Section(
        [
            html.H2("Over time"),
            html.P(
                "As the log has it, lambda not yet shifted by the sensor's delay, from 0.6 to 1.3"
                " at most. Draw across a stretch to look closer.",
                className="quiet",
            ),
            window.toolbar(),
            html.Div(graph, className="traces"),
        ],
        className="part part-traces",
    )
