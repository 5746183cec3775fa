"""All plugs: the one in the hand by its label, those in the engines, the box and the bin."""

import asyncio
import re
from urllib.parse import quote

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from bridge.errors import SootlineError
from bridge.model import PlugStory
from dashboard import ids
from dashboard.components import finding, story
from dashboard.components.fields import words
from dashboard.components.parts import aria, refused, said
from dashboard.data import Source
from dashboard.shell import Query, Route


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callbacks into an app."""

    async def layout(_match: "re.Match[str]", _query: Query) -> Component:
        return _page(await asyncio.to_thread(source.plugs), await asyncio.to_thread(source.bikes))

    @app.callback(
        Output(ids.BOX, "children"),
        Output(ids.BOX_MESSAGE, "children"),
        Output(ids.NEW_LABELS, "value"),
        Input(ids.NEW_PLUGS, "n_clicks"),
        State(ids.NEW_LABELS, "value"),
        prevent_initial_call=True,
    )
    async def put_in(clicks: int | None, typed: object) -> tuple[object, object, object]:
        if not clicks:
            return no_update, no_update, no_update
        try:
            made = await asyncio.to_thread(lambda: source.new_plugs(story.as_labels(typed)))
            found = await asyncio.to_thread(source.plugs)
        except SootlineError as error:
            return no_update, refused(error), no_update
        names = ", ".join(one.label for one in made)
        return _rows(found), said(f"In the box now, new: {names}. Print their labels next."), ""

    return Route(re.compile(r"/plugs/?"), layout)


def _page(plugs: list[PlugStory], bikes: list[str]) -> Component:
    scales = [
        dcc.Link(f"Ring scale of {bike}", href=f"/bike/{quote(bike, safe='')}/scale", className="action")
        for bike in bikes
    ]
    return html.Article(
        [
            html.Nav(dcc.Link("All sessions", href="/"), className="crumbs", **aria(label="Way back")),
            html.H1("Plugs"),
            finding.field(),
            html.Div(_rows(plugs), id=ids.BOX),
            html.Section(
                [
                    dcc.Link("Print labels with codes to scan", href="/labels", className="action"),
                    *scales,
                ],
                className="ways-on",
            ),
            html.Section(
                [
                    html.H2("New plugs"),
                    words(ids.NEW_LABELS, "Their labels", None, "With commas between, such as D1, D2, D3"),
                    dmc.Button(
                        "Put them into the box",
                        id=ids.NEW_PLUGS,
                        size="lg",
                        variant="outline",
                        fullWidth=True,
                    ),
                    html.Div(id=ids.BOX_MESSAGE, className="said", role="status", **aria(live="polite")),
                ],
                className="form whole-tray",
            ),
        ],
        className="sheet narrow plugs",
    )


def _rows(plugs: list[PlugStory]) -> Component:
    if not plugs:
        return html.P(
            "No plug is known yet. Put new ones into the box here, or fit one on a session's plugs page.",
            className="lede",
        )
    return html.Ul([_row(plug) for plug in plugs], className="box")


def _row(plug: PlugStory) -> Component:
    count = f"{plug.readings} reading{'' if plug.readings == 1 else 's'}" if plug.readings else "not read yet"
    return html.Li(
        dcc.Link(
            [
                html.Span(plug.label, className="box-label"),
                html.Span(story.state_of(plug), className="box-state"),
                html.Span(count, className="quiet"),
            ],
            href=story.page_of(plug.label),
        )
    )
