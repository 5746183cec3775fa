"""A bike's pulls, before and after a change; and the best mixture over several jets."""

import asyncio
import re
from collections.abc import Sequence
from urllib.parse import quote, unquote

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from bridge.errors import BadValue, SootlineError
from bridge.pulls.best import Best
from bridge.pulls.compare import Comparison
from bridge.pulls.words import correction_words, spread_words
from dashboard import ids
from dashboard.components import pull_figures, pull_parts
from dashboard.components.fields import as_number
from dashboard.components.parts import aria, as_sentence, caution, moment, refused
from dashboard.data import Source
from dashboard.pulls_data import Day
from dashboard.shell import Query, Route

READING = "Looking for pulls in the sessions\N{HORIZONTAL ELLIPSIS}"
CHOOSE = (
    "Choose the sessions before the change and those after it. It takes three pulls a side for any claim; going back"
    " to the old state for three more tells the day's own course from the change."
)


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callbacks into an app."""

    async def layout(match: "re.Match[str]", query: Query) -> Component:
        return _page(unquote(match["bike"]), query)

    @app.callback(Output(ids.PULLS_CHOICE, "children"), Input(ids.PULLS_BIKE, "data"))
    async def opened(about: dict[str, str]) -> object:
        try:
            days = await asyncio.to_thread(source.pull_days, about["bike"])
        except SootlineError as error:
            return refused(error)
        return choice(days, about)

    @app.callback(
        Output(ids.PULLS_GAIN, "children"),
        Input(ids.PULLS_BEFORE, "value"),
        Input(ids.PULLS_AFTER, "value"),
        Input(ids.PULLS_CORRECT, "value"),
        State(ids.PULLS_BIKE, "data"),
    )
    async def compared(
        before: Sequence[str] | None, after: Sequence[str] | None, correct: str, about: dict[str, str]
    ) -> object:
        one, two = (sorted(int(number) for number in side or ()) for side in (before, after))
        if not one or not two:
            return html.P(CHOOSE, className="lede")
        try:
            made = await asyncio.to_thread(source.compare_pulls, about["bike"], one, two, correct)
        except SootlineError as error:
            return refused(error)
        return comparison(made, about["bike"], (one, two), correct)

    @app.callback(
        Output(ids.BEST_BODY, "children"),
        Input(ids.BEST_OF, "value"),
        Input(ids.BEST_RPM, "value"),
        Input(ids.PULLS_CORRECT, "value"),
        State(ids.PULLS_BIKE, "data"),
    )
    async def sought(
        chosen: Sequence[str] | None, rpm: str | None, correct: str, about: dict[str, str]
    ) -> object:
        numbers = sorted(int(one) for one in chosen or ())
        try:
            speed = _speed(rpm)
            if speed is None or not numbers:
                return html.P(
                    "Give an engine speed, and the sessions in which different jets were tried.",
                    className="lede",
                )
            made, left = await asyncio.to_thread(source.best_mixture, about["bike"], numbers, speed, correct)
        except SootlineError as error:
            return refused(error)
        return best_mixture(made, left, about["bike"], numbers, correct)

    return Route(re.compile(r"/bike/(?P<bike>[^/]+)/pulls/?"), layout)


def _speed(text: str | None) -> float | None:
    """Read an engine speed.

    Raises:
        BadValue: it is none that an engine has.
    """
    speed = as_number(text, "the engine speed")
    if speed is not None and not 200.0 <= speed <= 30_000.0:
        raise BadValue(f"{speed:g} is no engine speed to compare at; give 200 to 30000 rpm, such as 9000")
    return speed


def _page(bike: str, query: Query) -> Component:
    about = {"bike": bike} | {key: query.get(key, "")[:200] for key in ("before", "after", "of", "rpm")}
    return html.Article(
        [
            dcc.Store(id=ids.PULLS_BIKE, data=about),
            html.Nav(
                [
                    dcc.Link("All sessions", href="/"),
                    dcc.Link("Season", href=f"/bike/{quote(bike, safe='')}/season"),
                ],
                className="crumbs",
                **aria(label="Way back"),
            ),
            html.H1(["What a change was worth", html.Span(f"pulls of {bike}", className="under")]),
            pull_parts.asked_row(ids.PULLS_CORRECT, query.get("correct")),
            html.Div(
                html.P(READING, className="lede"), id=ids.PULLS_CHOICE, role="status", **aria(live="polite")
            ),
        ],
        className="sheet pulls-sheet",
    )


def choice(days: Sequence[Day], about: dict[str, str]) -> list[Component | None]:
    """Return what can be compared, and the places for the answers.

    Args:
        days: the bike's finished sessions.
        about: what the address asked for.
    """
    with_pulls = [day for day in days if day.pulls]
    without = [
        f"session {day.session.id}: {day.why_not or 'no pull was found'}"
        for day in days
        if not day.pulls or day.why_not
    ]
    left_out = html.Details(
        [html.Summary(f"Sessions without pulls, or without power: {len(without)}"), pull_parts.notes(without)]
    )
    if not with_pulls:
        return [
            html.P("No session of this bike has a pull to compare.", className="lede"),
            left_out if without else None,
        ]
    options = [
        {
            "value": str(day.session.id),
            "label": f"{day.session.id}, {moment(day.session.started)}: {_pulls(day.pulls)}",
        }
        for day in with_pulls
    ]
    known = {option["value"] for option in options}
    builds = [day.session.build for day in with_pulls if day.session.build is not None]
    newest = [str(day.session.id) for day in with_pulls if not builds or day.session.build == max(builds)]
    return [
        html.Div(
            [
                _sessions(ids.PULLS_BEFORE, "Before the change", options, _told(about["before"], known)),
                _sessions(ids.PULLS_AFTER, "After the change", options, _told(about["after"], known)),
            ],
            className="pull-sides",
        ),
        html.Div(id=ids.PULLS_GAIN, role="status", **aria(live="polite")),
        html.Section(
            [
                html.H2("Best mixture"),
                html.P(
                    "Power against measured lambda at one engine speed, over sessions with different jets.",
                    className="quiet explain",
                ),
                html.Div(
                    [
                        dmc.TextInput(
                            id=ids.BEST_RPM,
                            label="At an engine speed, 1/min",
                            value=about["rpm"],
                            debounce=700,
                            size="md",
                            autoComplete="off",
                            inputProps={"inputMode": "decimal"},
                        ),
                        _sessions(ids.BEST_OF, "Over sessions", options, _told(about["of"], known) or newest),
                    ],
                    className="pull-sides",
                ),
                html.Div(id=ids.BEST_BODY, role="status", **aria(live="polite")),
            ],
            className="part",
        ),
        left_out if without else None,
    ]


def _pulls(number: int | None) -> str:
    return "1 pull" if number == 1 else f"{number} pulls"


def _told(text: str, known: set[str]) -> list[str]:
    """Return the sessions that the address named, those that there are."""
    return [word for word in text.split(",") if word in known]


def _sessions(key: str, label: str, options: list[dict[str, str]], chosen: list[str]) -> Component:
    field: Component = dmc.MultiSelect(
        id=key, label=label, data=options, value=chosen, size="md", searchable=True, hidePickedOptions=True
    )
    return field


def comparison(
    found: Comparison, bike: str, sides: Sequence[Sequence[int]], correct: str
) -> list[Component | None]:
    """Return what a change was worth, in words first."""
    before, after = (",".join(map(str, side)) for side in sides)
    said = [*spread_words(found), *found.notes]
    return [
        html.Div(
            [
                html.Div(
                    [
                        html.P(as_sentence(found.statement), className="statement"),
                        html.P(correction_words(found.corrected_by)),
                        html.P(pull_parts.not_for_mixture(), className="quiet"),
                    ]
                ),
                caution(pull_parts.cautions(found.stops)),
            ],
            className="season-head",
        ),
        html.Section(
            [
                html.H2("On one rpm axis"),
                pull_figures.overlay(found),
                pull_parts.notes(said),
                html.Details([html.Summary("The runs"), pull_parts.run_table(found.entries)], open=True),
                pull_parts.download(
                    "/_pulls/compare.csv",
                    "These curves as a file (CSV)",
                    bike=bike,
                    before=before,
                    after=after,
                    correct=correct,
                ),
            ],
            className="part",
        ),
    ]


def best_mixture(
    found: Best, left: Sequence[str], bike: str, numbers: Sequence[int], correct: str
) -> list[Component | None]:
    """Return the best mixture, with the warning where it lies at the edge."""
    statement = as_sentence(found.statement)
    return [
        html.P(statement, className="statement caution-line" if found.at_edge else "statement"),
        pull_figures.best_curve(found),
        pull_parts.notes([*found.notes, *left]),
        caution(pull_parts.cautions(found.stops)[: len(found.stops) + 1]),
        pull_parts.download(
            "/_pulls/best.csv",
            "Runs and curve as a file (CSV)",
            bike=bike,
            sessions=",".join(map(str, numbers)),
            rpm=f"{found.rpm:g}",
            correct=correct,
        ),
    ]
