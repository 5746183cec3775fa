"""A bike's ring scale: the guess, the tuner's word and what its own pairs make of them, each to be seen.

What is known at once stands at once; the pairs come after it.
"""

import asyncio
import re
from urllib.parse import unquote

from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from bridge.agreement.scales import Curve, Layers
from bridge.errors import SootlineError
from dashboard import ids
from dashboard.components.parts import aria, as_sentence, drawing, refused
from dashboard.data import Source
from dashboard.figures.ring_scale import WORDS, ring_scale_svg
from dashboard.pictures import ScalePicture
from dashboard.shell import Query, Route

UNVALIDATED = (
    "The model behind the curve's shape has not been validated on any engine; values without a source are"
    " assumed and say so."
)


READING_SESSIONS = "Reading the sessions for the bike's own pairs ..."


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callback into an app."""

    async def layout(match: "re.Match[str]", _query: Query) -> Component:
        name = unquote(match["bike"])
        return _page(await asyncio.to_thread(lambda: source.ring_scale(name, pairs=False)))

    @app.callback(Output(ids.SCALE, "children"), Input(ids.SCALE_BIKE, "data"))
    async def with_pairs(name: str) -> object:
        # by itself: sessions that were never compared take seconds each, the first time
        try:
            found = await asyncio.to_thread(source.ring_scale, name)
        except SootlineError as error:
            return refused(error)
        return _scale(found)

    return Route(re.compile(r"/bike/(?P<bike>[^/]+)/scale/?"), layout)


def _page(found: ScalePicture) -> Component:
    return html.Article(
        [
            dcc.Store(id=ids.SCALE_BIKE, data=found.bike),
            html.Nav(
                [dcc.Link("All sessions", href="/"), dcc.Link("All plugs", href="/plugs")],
                className="crumbs",
                **aria(label="Way back"),
            ),
            html.H1(f"Ring scale of {found.bike}"),
            html.Div(_scale(found, waiting=True), id=ids.SCALE, **aria(live="polite")),
        ],
        className="sheet narrow",
    )


def _scale(found: ScalePicture, *, waiting: bool = False) -> list[Component | None]:
    """Return the scale as far as it is known.

    Args:
        found: the scale.
        waiting: the bike's pairs are still to come.
    """
    made = found.layers
    if made is None:
        return [
            html.P(
                "The bike's file gives no length of its plug's nose, so a depth stands for nothing yet; add nose_mm"
                " under [plug].",
                className="statement",
            )
        ]
    plug = made.plug_type or "the bike's plug"
    return [
        html.P(
            f"For {plug}, a nose of {made.nose_mm:g} mm, engine build {made.build or 1}.", className="quiet"
        ),
        *([html.P(READING_SESSIONS, className="statement")] if waiting else _of_pairs(made)),
        html.P(UNVALIDATED, className="caution-line"),
        html.Figure(drawing(ring_scale_svg(made.nose_mm, made.curves, made.pairs)), className="scale-figure"),
        _key(made),
        html.Details([html.Summary("The same as a table"), _table(made)]),
        html.Details(
            [
                html.Summary("What each rests on"),
                *(
                    html.Div([html.H3(_name(c)), *(html.P(as_sentence(words)) for words in c.assumptions)])
                    for c in made.curves
                ),
            ]
        ),
        _left_out(found),
    ]


def _of_pairs(made: Layers) -> list[Component]:
    """Return what the pairs make of the scale: the sentence that counts, then what has to be known of it."""
    first, stop, rest = made.of_pairs().partition(". ")
    return [
        html.P(as_sentence(first), className="statement"),
        *([html.P(rest, className="quiet")] if stop else []),
        *(html.P(words) for words in made.off_in_words()),
    ]


def _name(curve: Curve) -> str:
    words = WORDS[curve.name]
    return words[:1].upper() + words[1:]


def _key(made: Layers) -> Component:
    curves = [
        html.Li([html.Span(className=f"scale-key scale-{c.name}"), f"{_name(c)}, with its 95 % band"])
        for c in made.curves
    ]
    pairs = [
        html.Li([html.Span(className="mark mark-sensor"), "A pair: ring read, lambda measured, bars of 95 %"])
    ]
    return html.Ul(
        curves + (pairs if made.pairs else []), className="key", **aria(label="Key to the drawing")
    )


def _table(made: Layers) -> Component:
    """Return what a ring at whole depths stands for, by each layer."""
    head = [html.Th("mm", scope="col"), *(html.Th(_name(c), scope="col") for c in made.curves)]
    first = made.curves[0]
    rows = [
        html.Tr(
            [
                html.Th(f"{depth:g}", scope="row"),
                *(html.Td(f"{c.mean[n]:.2f} ({c.low[n]:.2f} to {c.high[n]:.2f})") for c in made.curves),
            ]
        )
        for n, depth in enumerate(first.depth_mm)
        if depth % 2.0 == 0.0
    ]
    table = html.Table([html.Thead(html.Tr(head)), html.Tbody(rows)], className="table wordy")
    return html.Div(table, className="wide")


def _left_out(found: ScalePicture) -> Component | None:
    if not found.left_out:
        return None
    rows = [
        html.Li(
            [dcc.Link(f"Session {one.session}", href=f"/session/{one.session}"), f": {as_sentence(one.why)}"]
        )
        for one in found.left_out
    ]
    return html.Details([html.Summary(f"Left out, and why: {len(rows)}"), html.Ul(rows, className="plain")])
