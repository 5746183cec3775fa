"""What stands round every page: the name at the top, the way back, light or dark."""

import re
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from urllib.parse import parse_qs

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from bridge.errors import SootlineError, UnknownThing
from dashboard import ids
from dashboard.components.parts import aria, not_there
from dashboard.theme import css_variables

Query = dict[str, str]
Layout = Callable[["re.Match[str]", Query], Awaitable[Component]]

INDEX = """<!DOCTYPE html>
<html lang="en">
  <head>
    {%metas%}
    <meta name="viewport" content="width=device-width, initial-scale=1">
    <title>{%title%}</title>
    <link rel="icon" type="image/svg+xml" href="/assets/icon.svg">
    <style>VARIABLES</style>
    {%css%}
  </head>
  <body>
    {%app_entry%}
    <footer>{%config%}{%scripts%}{%renderer%}</footer>
  </body>
</html>
""".replace("VARIABLES", css_variables())

MANTINE_THEME = {
    "fontFamily": "var(--serif)",
    "headings": {"fontFamily": "var(--serif)"},
    "primaryColor": "soot",
    "colors": {
        "soot": [
            "#f3efe6",
            "#e2dbcd",
            "#c9c0b0",
            "#a79e91",
            "#857b6e",
            "#6a6258",
            "#4d463e",
            "#38322c",
            "#26221e",
            "#15110f",
        ],
    },
    "primaryShade": {"light": 8, "dark": 2},
    "defaultRadius": 3,
    "autoContrast": True,
}


@dataclass(frozen=True)
class Route:
    """A page's place: the pattern of its path, and what makes its layout from path and query."""

    pattern: "re.Pattern[str]"
    layout: Layout


def layout() -> Component:
    """Return the shell; the page goes into its middle."""
    page: Component = dmc.MantineProvider(
        id=ids.PROVIDER,
        theme=MANTINE_THEME,
        forceColorScheme="light",
        children=[
            dcc.Location(id=ids.LOCATION, refresh=False),
            dcc.Store(id=ids.SCHEME, storage_type="local", data="light"),
            html.A("To the page", href="#page", className="skip"),
            html.Header(
                [
                    dcc.Link([_emblem(), "Sootline"], href="/", className="home"),
                    html.Nav(
                        [
                            dcc.Link("Plugs", href="/plugs", className="quiet-button"),
                            dcc.Link("Live", href="/live", className="quiet-button"),
                            # the door is no page of this app, so the browser has to ask for it anew
                            html.A("Devices", href="/door", className="quiet-button"),
                            html.Button(
                                "Dark", id=ids.SCHEME_BUTTON, className="quiet-button", type="button"
                            ),
                        ],
                        className="masthead-ways",
                        **aria(label="Ways"),
                    ),
                ],
                className="masthead",
            ),
            html.Main(html.Div(id=ids.CONTENT), id="page", tabIndex="-1"),
        ],
    )
    return page


def _emblem() -> Component:
    """A nose with its ring, as small as a letter."""
    return html.Span(className="emblem", **aria(hidden="true"))


async def _laid_out(route: Route, match: "re.Match[str]", query: Query) -> Component:
    """Return the page, or where the bridge has something against it, its sentence and the way back."""
    try:
        return await route.layout(match, query)
    except UnknownThing as error:
        return not_there(str(error))
    except SootlineError as error:
        return not_there(str(error), "This cannot be shown")


def register(app: Dash, routes: list[Route]) -> None:
    """Put the shell and the routing into an app.

    Args:
        app: the app.
        routes: the pages, tried in order.
    """
    app.layout = layout()

    @app.callback(
        Output(ids.CONTENT, "children"),
        Input(ids.LOCATION, "pathname"),
        State(ids.LOCATION, "search"),
    )
    async def show(pathname: str | None, search: str | None) -> Component:
        query = {key: values[-1] for key, values in parse_qs((search or "").lstrip("?")).items()}
        for route in routes:
            match = route.pattern.fullmatch(pathname or "/")
            if match:
                return await _laid_out(route, match, query)
        return not_there("There is no such page.")

    app.clientside_callback(  # type: ignore[no-untyped-call]  # Dash's own, without annotations
        """(clicks, scheme) => {
            if (!clicks) return window.dash_clientside.no_update;
            return scheme === "dark" ? "light" : "dark";
        }""",
        Output(ids.SCHEME, "data"),
        Input(ids.SCHEME_BUTTON, "n_clicks"),
        State(ids.SCHEME, "data"),
        prevent_initial_call=True,
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]  # Dash's own, without annotations
        """scheme => [scheme === "dark" ? "dark" : "light", scheme === "dark" ? "Light" : "Dark"]""",
        Output(ids.PROVIDER, "forceColorScheme"),
        Output(ids.SCHEME_BUTTON, "children"),
        Input(ids.SCHEME, "data"),
    )
