"""A bike's season as a sheet: whether ring and sensor agree over its sessions, in words first."""

import asyncio
import re
from collections import Counter
from datetime import UTC, datetime, timedelta
from urllib.parse import quote, unquote

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from bridge.agreement.pairs import LeftOut
from bridge.agreement.season import Filters, season_statement
from bridge.errors import BadValue, SootlineError
from dashboard import ids
from dashboard.components import season_figures, season_row
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
    "cut_after": "Plug cut after a",
}
DATES = {"from_date": "From", "to_date": "Up to and with"}


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callbacks into an app."""

    async def layout(match: "re.Match[str]", _query: Query) -> Component:
        return _page(unquote(match["bike"]))

    # the words and figures of a season take seconds the first time, so the page stands before them
    @app.callback(
        Output(ids.SEASON_BODY, "children"),
        Output(ids.SEASON_FILTERS, "children"),
        Output(ids.SEASON_SHOWN, "data"),
        Input(ids.SEASON, "data"),
    )
    async def opened(bike: str) -> tuple[object, object, object]:
        try:
            found = await asyncio.to_thread(source.season, bike, Filters())
        except SootlineError as error:
            return refused(error), None, {}
        return _body(found), _filters(found), {}

    @app.callback(
        Output(ids.SEASON_BODY, "children", allow_duplicate=True),
        Output(ids.SEASON_SHOWN, "data", allow_duplicate=True),
        Input({"type": ids.SEASON_FILTER, "name": ALL}, "value"),
        State({"type": ids.SEASON_FILTER, "name": ALL}, "id"),
        State(ids.SEASON, "data"),
        State(ids.SEASON_SHOWN, "data"),
        prevent_initial_call=True,
    )
    async def sifted(
        values: list[str | None], names: list[dict[str, str]], bike: str, shown: dict[str, str]
    ) -> tuple[object, object]:
        asked = {
            one["name"]: value
            for one, value in zip(names, values, strict=True)
            if value and value != ALL_OF_THEM
        }
        if asked == shown:  # the fields have just come, and ask for what is there
            return no_update, no_update
        try:
            found = await asyncio.to_thread(source.season, bike, _asked(asked))
        except SootlineError as error:
            return refused(error), asked
        return _body(found), asked

    return Route(re.compile(r"/bike/(?P<bike>[^/]+)/season/?"), layout)


def _page(bike: str) -> Component:
    return html.Article(
        [
            dcc.Store(id=ids.SEASON, data=bike),
            dcc.Store(id=ids.SEASON_SHOWN, data={}),
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
            html.Section(
                [
                    html.H2("What was to do, and what came of it"),
                    html.Div(id=ids.TASKS),
                    html.Div(id=ids.TASK_MESSAGE, className="said", role="status", **aria(live="polite")),
                ],
                className="part part-todo",
            ),
        ],
        className="sheet",
    )


def _filters(found: SeasonPicture) -> list[Component]:
    chosen = [_choice(name, FILTERS[name], values) for name, values in found.choices.items()]
    chosen += [_choice(_SETUP + key, key.replace("_", " "), values) for key, values in found.setups.items()]
    return [*chosen, *(_date(name, label) for name, label in DATES.items())] if found.seen else chosen


_SETUP = "setup:"
"""Before a key of the set-up in a field's name."""


def _choice(name: str, label: str, values: list[str]) -> Component:
    every = [{"value": ALL_OF_THEM, "label": "all"}]
    control: Component = dmc.Select(
        id={"type": ids.SEASON_FILTER, "name": name},
        label=label[:1].upper() + label[1:],
        data=every + [{"value": value, "label": value} for value in values],
        value=ALL_OF_THEM,
        allowDeselect=False,
        size="md",
    )
    return control


def _date(name: str, label: str) -> Component:
    control: Component = dmc.TextInput(
        id={"type": ids.SEASON_FILTER, "name": name},
        label=label,
        value="",
        placeholder="2026-05-31",
        debounce=600,
        size="md",
        autoComplete="off",
    )
    return control


def _asked(given: dict[str, str]) -> Filters:
    """Return the filters of what was chosen.

    Raises:
        BadValue: a date is none, or two keys of the set-up were asked at once.
    """
    chosen = {name: value for name, value in given.items() if value and value != ALL_OF_THEM}
    setups = [(name.removeprefix(_SETUP), value) for name, value in chosen.items() if name.startswith(_SETUP)]
    if len(setups) > 1:
        raise BadValue("one key of the set-up can be asked for at a time; set the other back to all")
    return Filters(
        plug_type=chosen.get("plug_type"),
        fuel=chosen.get("fuel"),
        place=chosen.get("place"),
        build=int(chosen["build"]) if "build" in chosen else None,
        from_date=_day(chosen.get("from_date")),
        to_date=_day(chosen.get("to_date"), end=True),
        cut_after="pull" if chosen.get("cut_after") == "pull" else "ride" if "cut_after" in chosen else None,
        setup=setups[0] if setups else None,
    )


def _day(text: str | None, *, end: bool = False) -> datetime | None:
    """Return the beginning of a day in UTC, or of the next one."""
    if text is None:
        return None
    try:
        day = datetime.strptime(text.strip(), "%Y-%m-%d").replace(tzinfo=UTC)
    except ValueError:
        raise BadValue(f"'{text}' is no date; write it as 2026-05-31") from None
    return day + timedelta(days=1) if end else day


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
    parts.append(_details(found))
    return parts


def _part(heading: str, explain: str, body: Component) -> Component:
    return html.Section(
        [html.H2(heading), html.P(explain, className="quiet explain"), body], className="part"
    )


def _details(found: SeasonPicture) -> Component:
    """Every method in words, with what it cannot show, and what was left out."""
    season = found.season
    counted = Counter(one.why for one in season.left_out)
    out = [
        html.Li(f"{', '.join(_where(one) for one in season.left_out if one.why == why)}: {as_sentence(why)}")
        for why, _ in counted.most_common()
    ]
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


def _where(one: LeftOut) -> str:
    plug = f", plug {one.plug}" if one.plug else ""
    return f"Session {one.session}{plug}"
