"""The label sheet: one label with a code to scan for each plug, to print on A4."""

import asyncio
import re
from ipaddress import ip_address
from urllib.parse import urlsplit

from dash import Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from bridge.model import PlugStory
from dashboard import ids
from dashboard.components import story
from dashboard.components.parts import aria, drawing
from dashboard.data import Source
from dashboard.figures.code import code_svg
from dashboard.shell import Query, Route

ONLY_HERE = (
    "These codes lead to this machine alone, since the page was opened by an address that only it knows. For a"
    " phone, start the dashboard for the network ('sootline serve --host 0.0.0.0'), open this page by that address,"
    " and print then."
)
_WHICH = (("in use", "in the engines and the box"), ("all", "every plug, the scrapped ones too"))


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callback into an app."""

    async def layout(_match: "re.Match[str]", _query: Query) -> Component:
        return _page()

    @app.callback(
        Output(ids.SHEET, "children"),
        Output(ids.LABELS_HOST, "children"),
        Input(ids.WHICH_LABELS, "value"),
        State("location", "href"),
    )
    async def draw(which: str, href: str | None) -> tuple[object, object]:
        plugs = await asyncio.to_thread(source.plugs)
        chosen = [plug for plug in plugs if which == "all" or plug.state != "scrapped"]
        here = urlsplit(href or "")
        base = f"{here.scheme}://{here.netloc}"
        warning = html.P(ONLY_HERE, className="caution-line") if _only_here(here.hostname or "") else None
        if not chosen:
            return html.P("There is no plug to print a label for yet."), None
        return [_label(plug, base) for plug in chosen], warning

    return Route(re.compile(r"/labels/?"), layout)


def _page() -> Component:
    return html.Article(
        [
            html.Nav(dcc.Link("All plugs", href="/plugs"), className="crumbs", **aria(label="Way back")),
            html.H1("Labels"),
            html.P(
                "Print on A4 at full size, cut along the lines, and stick each to its plug's tube or its place in the"
                " tray. A phone that scans the code opens the plug's reading form.",
                className="quiet screen-only",
            ),
            html.Div(
                dcc.RadioItems(
                    [{"value": value, "label": words} for value, words in _WHICH],
                    "in use",
                    id=ids.WHICH_LABELS,
                    className="which-labels",
                ),
                className="screen-only",
            ),
            html.Div(id=ids.LABELS_HOST, className="screen-only"),
            html.Div(id=ids.SHEET, className="labels"),
        ],
        className="sheet label-sheet",
    )


def _only_here(host: str) -> bool:
    """Return whether an address leads to this machine alone."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _label(plug: PlugStory, base: str) -> Component:
    address = f"{base}{story.page_of(plug.label)}"
    kind = ", ".join(
        part for part in (plug.type, f"nose {plug.nose_mm:g} mm" if plug.nose_mm else None) if part
    )
    return html.Div(
        [
            drawing(code_svg(address)),
            html.Div([html.Strong(plug.label), html.Span(kind, className="quiet")], className="label-words"),
        ],
        className="plug-label",
    )
