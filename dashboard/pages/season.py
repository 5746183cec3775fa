"""A bike's season as a sheet: whether ring and sensor agree over its sessions, in words first."""

import asyncio
import re
from collections import Counter
from urllib.parse import quote, unquote

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from bridge.agreement.season import Filters, season_statement
from bridge.errors import SootlineError
from dashboard import ids
from dashboard.components import season_figures, season_row, todo
from dashboard.components.parts import aria, as_sentence, caution, refused
from dashboard.data import Source
from dashboard.season_data import SeasonPicture
from dashboard.shell import Query, Route

ALL_OF_THEM = "all"
FILTERS = {
    "plug_type": "Plug type",
    "fuel": "Fuel",
    "place": "Place",
    "build": "Engine build",
    "main_jet": "Main jet",
}


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callbacks into an app."""

    async def layout(match: "re.Match[str]", _query: Query) -> Component:
        return _page(unquote(match["bike"]))

    # the words and figures of a season take seconds the first time, so the page stands before them
    @app.callback(
        Output(ids.SEASON_BODY, "children"),
        Output(ids.SEASON_FILTERS, "children"),
        Input(ids.SEASON, "data"),
    )
    async def opened(bike: str) -> tuple[object, object]:
        try:
            found = await asyncio.to_thread(source.season, bike, Filters())
        except SootlineError as error:
            return refused(error), None
        return _body(found), _filters(found)

    @app.callback(
        Output(ids.SEASON_BODY, "children", allow_duplicate=True),
        Input({"type": ids.SEASON_FILTER, "name": ALL}, "value"),
        State({"type": ids.SEASON_FILTER, "name": ALL}, "id"),
        State(ids.SEASON, "data"),
        prevent_initial_call=True,
    )
    async def sifted(values: list[str], names: list[dict[str, str]], bike: str) -> object:
        asked = {one["name"]: value for one, value in zip(names, values, strict=True)}
        if not asked:
            return no_update
        try:
            return _body(await asyncio.to_thread(source.season, bike, _asked(asked)))
        except SootlineError as error:
            return refused(error)

    return Route(re.compile(r"/bike/(?P<bike>[^/]+)/season/?"), layout)


def _page(bike: str) -> Component:
    return html.Article(
        [
            dcc.Store(id=ids.SEASON, data=bike),
            dcc.Store(id=ids.TASKS_OF, data={"bike": bike, "session": None}),
            html.Nav(
                [
                    dcc.Link("All sessions", href="/"),
                    dcc.Link("Ring scale", href=f"/bike/{quote(bike, safe='')}/scale"),
                    dcc.Link("Pulls compared", href=f"/bike/{quote(bike, safe='')}/pulls"),
                ],
                className="crumbs",
                **aria(label="Way back"),
            ),
            html.H1(f"Season of {bike}"),
            html.Div(id=ids.SEASON_FILTERS, className="season-filters"),
            html.Div(
                html.P("Reading the sessions\N{HORIZONTAL ELLIPSIS}", className="lede"),
                id=ids.SEASON_BODY,
                role="status",
                **aria(live="polite"),
            ),
        ],
        className="sheet",
    )


def _filters(found: SeasonPicture) -> list[Component]:
    return [
        dmc.Select(
            id={"type": ids.SEASON_FILTER, "name": name},
            label=FILTERS[name],
            data=[{"value": ALL_OF_THEM, "label": "all"}]
            + [{"value": value, "label": value} for value in values],
            value=ALL_OF_THEM,
            allowDeselect=False,
            size="md",
        )
        for name, values in found.choices.items()
    ]


def _asked(given: dict[str, str]) -> Filters:
    chosen = {name: value for name, value in given.items() if value != ALL_OF_THEM}
    jet = chosen.get("main_jet")
    return Filters(
        plug_type=chosen.get("plug_type"),
        fuel=chosen.get("fuel"),
        place=chosen.get("place"),
        build=int(chosen["build"]) if "build" in chosen else None,
        setup=None if jet is None else ("main_jet", jet),
    )


def _body(found: SeasonPicture) -> list[Component | None]:
    season = found.season
    parts: list[Component | None] = [
        html.Div(
            [
                html.Div(
                    [html.P(as_sentence(words), className="statement") for words in season_statement(season)]
                ),
                caution(season.cautions),
            ],
            className="season-head",
        ),
    ]
    if found.seen:
        parts.append(
            _part(
                "Ring by ring",
                "Each nose as it was read, oldest first. The square is the ring, the circle where the measured"
                " mixture puts it by a scale that has not seen that session; below, ring minus measured lambda."
                " Pale noses count for nothing.",
                season_row.rows(found.seen, season.points),
            )
        )
    if season.points:
        parts += [
            _part(
                "Both methods, session by session",
                "Square and brown: the ring. Circle and blue: the sensor. Bars are 95 % of what changes from"
                " session to session.",
                season_figures.over_time(season.points),
            ),
            _part(
                "How far they lie apart",
                "Each pair with its 95 % interval; the number is the cylinder. Tinted: the margin that counts as"
                " agreement, and the bias. Dashed: the limits that 95 % of single differences lie within, each with"
                " a bar for how surely.",
                html.Div(
                    [season_figures.differences(season), season_figures.against(season)],
                    className="season-pair",
                ),
            ),
        ]
    parts += [_details(found), _promises(found)]
    return parts


def _part(heading: str, explain: str, body: Component) -> Component:
    return html.Section(
        [html.H2(heading), html.P(explain, className="quiet explain"), body], className="part"
    )


def _details(found: SeasonPicture) -> Component:
    """Every method in words, with what it cannot show, and what was left out."""
    season = found.season
    counted = Counter(one.why for one in season.left_out)
    out = [html.Li(f"{count} left out: {as_sentence(why)}") for why, count in counted.most_common()]
    return html.Section(
        [
            html.H2("In figures"),
            html.Div(
                [html.P(as_sentence(words)) for words in season.figures_in_words()], className="season-words"
            ),
            html.Details([html.Summary(f"Left out, and why: {len(season.left_out)}"), html.Ul(out)])
            if out
            else None,
        ],
        className="part",
    )


def _promises(found: SeasonPicture) -> Component:
    return html.Section(
        [
            html.H2("What was to do, and what came of it"),
            html.Div(todo.listed(found.tasks, found.promises), id=ids.TASKS),
            html.Div(id=ids.TASK_MESSAGE, className="said", role="status", **aria(live="polite")),
        ],
        className="part part-todo",
    )
