"""A session's pulls as a sheet: what was found, on its own trace; power, torque and mixture on one rpm axis."""

import asyncio
import re
from urllib.parse import quote

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from bridge.errors import SootlineError
from bridge.model import Run
from bridge.pulls import words
from dashboard import ids
from dashboard.components import pull_figures, pull_parts
from dashboard.components.facts import title
from dashboard.components.fields import as_number
from dashboard.components.parts import aria, as_sentence, caution, refused
from dashboard.data import Source
from dashboard.pulls_data import Asked, PullsPicture
from dashboard.shell import Query, Route

LOOKING = "Looking for pulls, and asking the ride how late the sensor is\N{HORIZONTAL ELLIPSIS}"
ON_THE_CURVE = (
    "The mixture lies on the power curve itself, dark where it is rich, light where it is lean, its edges the ends of"
    " the 95 % interval; of several cylinders the first lies above. Numbers along it are lambda. Dashed: torque. Thin:"
    " the session's other pulls."
)
ALONE = (
    "No power is known, so lambda stands by itself, with its 95 % interval; what is missing is said below."
)
KEEP = "pull => pull"
"""What a person chose stays in the browser, where the body that is drawn anew does not take it along."""


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callbacks into an app."""

    async def layout(match: "re.Match[str]", query: Query) -> Component:
        return _page(await asyncio.to_thread(source.run, int(match["number"])), query)

    # the delay of a ride takes seconds the first time, so the page stands before its pulls
    @app.callback(
        Output(ids.PULLS_BODY, "children"),
        Input(ids.PULLS, "data"),
        Input(ids.PULLS_CORRECT, "value"),
        Input(ids.PULLS_TARGET, "value"),
        State(ids.PULL_KEPT, "data"),
    )
    async def found(
        about: dict[str, int | None], correct: str, target: str | None, kept: str | None
    ) -> object:
        try:
            number = about["number"] or 0
            picture = await asyncio.to_thread(source.pulls, number, _asked(correct, target))
        except SootlineError as error:
            return refused(error)
        return body(picture, int(kept) if kept else about.get("pull"), correct)

    @app.callback(
        Output(ids.PULL_FIGURE, "children"),
        Input(ids.PULL_CHOSEN, "value"),
        State(ids.PULLS, "data"),
        State(ids.PULLS_CORRECT, "value"),
        State(ids.PULLS_TARGET, "value"),
        prevent_initial_call=True,
    )
    async def chosen(pull: str, about: dict[str, int | None], correct: str, target: str | None) -> object:
        try:
            number = about["number"] or 0
            picture = await asyncio.to_thread(source.pulls, number, _asked(correct, target))
        except SootlineError as error:
            return refused(error)
        return one_pull(picture, int(pull))

    app.clientside_callback(  # type: ignore[no-untyped-call]  # Dash's own, without annotations
        KEEP,
        Output(ids.PULL_KEPT, "data"),
        Input(ids.PULL_CHOSEN, "value"),
        prevent_initial_call=True,
    )
    return Route(re.compile(r"/session/(?P<number>\d{1,9})/pulls/?"), layout)


def _asked(correct: str, target: str | None) -> Asked:
    """Read what was chosen.

    Raises:
        BadValue: the target is no number.
    """
    return Asked(correct, as_number(target, "the target"))


def _page(run: Run, query: Query) -> Component:
    number = run.session.id
    pull = query.get("pull", "")
    about = {"number": number, "pull": int(pull) if re.fullmatch(r"[0-9]{1,4}", pull) else None}
    ways: list[Component] = [dcc.Link(f"Back to session {number}", href=f"/session/{number}")]
    if run.bike is not None:
        name = quote(run.bike.name, safe="")
        ways.append(dcc.Link(f"Compare pulls of {run.bike.name}", href=f"/bike/{name}/pulls"))
    return html.Article(
        [
            dcc.Store(id=ids.PULLS, data=about),
            dcc.Store(id=ids.PULL_KEPT),
            html.Nav(ways, className="crumbs", **aria(label="Way back")),
            html.H1(["Pulls", html.Span(title(run), className="under")]),
            pull_parts.asked_row(
                ids.PULLS_CORRECT,
                query.get("correct"),
                dmc.TextInput(
                    id=ids.PULLS_TARGET,
                    label="Lambda wanted at full throttle",
                    placeholder="none told",
                    value=query.get("target", "")[:8],
                    debounce=700,
                    size="md",
                    autoComplete="off",
                    inputProps={"inputMode": "decimal"},
                ),
            ),
            html.Div(
                html.P(LOOKING, className="lede"), id=ids.PULLS_BODY, role="status", **aria(live="polite")
            ),
        ],
        className="sheet pulls-sheet",
    )


def body(picture: PullsPicture, wanted: int | None, correct: str) -> list[Component | None]:
    """Return everything that was found.

    Args:
        picture: the session's pulls.
        wanted: number of the pull to look at first; None for the usual one.
        correct: short name of the correction, for the file.
    """
    found = picture.found
    numbers = [pull.number for pull in found.pulls]
    number = wanted if wanted in numbers else pull_figures.shown_first(found.pulls)
    strongest = words.strongest(found)
    statement = [words.counted(found), *([strongest] if strongest else [])]
    return [
        html.Div(
            [
                html.Div([html.P(as_sentence(one), className="statement") for one in statement]),
                caution(pull_parts.cautions(found.stops)),
            ],
            className="season-head",
        ),
        _on_trace(picture),
        _along(picture, number) if number is not None else None,
        _figures(picture, correct),
    ]


def _on_trace(picture: PullsPicture) -> Component:
    return html.Section(
        [
            html.H2("Found on the trace"),
            html.P(
                "Solid ground: a pull, with its number. Dashed frames: full throttle that was no pull, by its name.",
                className="quiet explain",
            ),
            pull_figures.on_trace(picture),
            pull_parts.none_of_them(picture.found),
        ],
        className="part",
    )


def _along(picture: PullsPicture, number: int) -> Component:
    pulls = picture.found.pulls
    choice = dmc.RadioGroup(
        id=ids.PULL_CHOSEN,
        label="Look at",
        value=str(number),
        size="md",
        className="pull-choice",
        children=dmc.Group(
            [dmc.Radio(label=f"pull {one.number}", value=str(one.number), size="md") for one in pulls],
            gap="lg",
        ),
    )
    power = any(one.peak is not None for one in pulls)
    return html.Section(
        [
            html.H2("Power, torque and mixture" if power else "Mixture along the pull"),
            html.P(ON_THE_CURVE if power else ALONE, className="quiet explain"),
            choice if len(pulls) > 1 else None,
            html.Div(one_pull(picture, number), id=ids.PULL_FIGURE, **aria(live="polite")),
        ],
        className="part",
    )


def one_pull(picture: PullsPicture, number: int) -> list[Component | None]:
    """Return one pull's drawing and what is said of it."""
    found = picture.found
    pull = next((one for one in found.pulls if one.number == number), None)
    if pull is None:
        return [html.P(f"There is no pull {number} in this session.", className="refused")]
    return [
        pull_figures.along_pull(found, number),
        html.Div(
            [html.P(as_sentence(one)) for one in pull_parts.of_pull(pull)],
            className="season-words",
        ),
    ]


def _figures(picture: PullsPicture, correct: str) -> Component:
    found = picture.found
    number = found.run.session.id
    file = pull_parts.download(
        f"/_pulls/session/{number}/curves.csv", "All curves as a file (CSV)", correct=correct
    )
    return html.Section(
        [
            html.H2("In figures"),
            pull_parts.pull_table(found),
            pull_parts.hold_table(found),
            html.Div(
                [html.P(as_sentence(one)) for one in (*words.came_about(found), *words.of_pulls(found))],
                className="season-words",
            ),
            pull_parts.notes(found.notes),
            file if found.pulls else None,
        ],
        className="part part-figures",
    )
