"""A plug's own page, which its printed code opens: the reading form of its last session, then its life."""

import asyncio
import re
from collections.abc import Callable
from urllib.parse import unquote

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from bridge.errors import SootlineError
from dashboard import ids
from dashboard.components import finding, judged, reading_form, story
from dashboard.components.fields import as_words
from dashboard.components.parts import aria, as_sentence, moment, refused, said
from dashboard.data import Source
from dashboard.pictures import AtHand, Story
from dashboard.shell import Query, Route


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callbacks into an app."""

    async def layout(match: "re.Match[str]", _query: Query) -> Component:
        asked = unquote(match["label"])
        label = await asyncio.to_thread(source.label, asked)
        return _page(await asyncio.to_thread(source.story, label))

    @app.callback(
        Output(ids.STORY, "children"),
        Input(ids.STORY_SAVED, "data"),
        State(ids.LABEL, "data"),
        prevent_initial_call=True,
    )
    async def read_now(saved: object, label: str) -> object:
        return story.life(await asyncio.to_thread(source.story, label)) if saved else no_update

    def on(button: str, tell: Callable[[str, str | None], str]) -> None:
        @app.callback(
            Output(ids.STORY, "children", allow_duplicate=True),
            Output(ids.TELLING, "children", allow_duplicate=True),
            Output(ids.STORY_MESSAGE, "children", allow_duplicate=True),
            Input(button, "n_clicks"),
            State(ids.LABEL, "data"),
            State(ids.LIFE_NOTE, "value"),
            prevent_initial_call=True,
        )
        async def act(clicks: int | None, label: str, note: object) -> tuple[object, object, object]:
            if not clicks:
                return no_update, no_update, no_update
            try:
                told = await asyncio.to_thread(tell, label, as_words(note))
            except SootlineError as error:
                return no_update, no_update, refused(error)
            found = await asyncio.to_thread(source.story, label)
            return story.life(found), story.telling(found.story), said(told)

    def clean(label: str, note: str | None) -> str:
        source.clean(label, note)
        return f"Plug {label} is cleaned; it goes in again as cleaned."

    def scrap(label: str, note: str | None) -> str:
        source.scrap(label, note)
        return f"Plug {label} is scrapped; what was read on it stays."

    def keep(label: str, note: str | None) -> str:
        source.scrap(label, note, take_back=True)
        return f"Plug {label} is back in the box."

    _register_judging(app, source)
    on(ids.CLEAN, clean)
    on(ids.SCRAP, scrap)
    on(ids.KEEP, keep)
    return Route(re.compile(r"/plug/(?P<label>[^/]+)/?"), layout)


def _register_judging(app: Dash, source: Source) -> None:
    @app.callback(
        Output(ids.JUDGED, "children"),
        Input(ids.STORY_SAVED, "data"),
        State(ids.LABEL, "data"),
        State(ids.JUDGED_SESSION, "data"),
    )
    async def judge(_saved: object, label: str, number: int) -> object:
        # by itself, since comparing takes seconds the first time and the form must not wait for it
        try:
            found = await asyncio.to_thread(source.judgement, label, number)
        except SootlineError as error:
            return refused(error)
        return judged.at_reading(found, number)


def _page(found: Story) -> Component:
    plug, hand = found.story, found.hand
    kind = ", ".join(
        part for part in (plug.type, f"nose {plug.nose_mm:g} mm" if plug.nose_mm else None) if part
    )
    return html.Article(
        [
            dcc.Store(id=ids.LABEL, data=plug.label),
            dcc.Store(id=ids.STORY_SAVED, data=None),
            html.Nav(
                [
                    dcc.Link("All plugs", href="/plugs"),
                    dcc.Link(f"Tray of session {hand.session}", href=_tray(hand)) if hand else None,
                ],
                className="crumbs",
                **aria(label="Way back"),
            ),
            html.H1([f"Plug {plug.label}", html.Span(_under(found, kind), className="under")]),
            *(_in_hand(hand) if hand else [_not_in_hand(found)]),
            html.Section(story.life(found), id=ids.STORY, className="whole-tray"),
            html.Div(story.telling(plug), id=ids.TELLING),
            html.Div(id=ids.STORY_MESSAGE, className="said", role="status", **aria(live="polite")),
            finding.field(),
        ],
        className="sheet narrow plugs",
    )


def _in_hand(hand: AtHand) -> list[Component]:
    waiting = html.P("Reading the log ...", className="quiet")
    return [
        dcc.Store(id=ids.JUDGED_SESSION, data=hand.session),
        reading_form.form(hand, ids.STORY_SAVED),
        html.Div(waiting, id=ids.JUDGED, role="status"),
    ]


def _tray(hand: AtHand) -> str:
    return f"/session/{hand.session}/plugs?cylinder={hand.life.fitting.cylinder}"


def _under(found: Story, kind: str) -> str:
    hand = found.hand
    if hand is None:
        return as_sentence(f"{story.state_of(found.story)}{f', {kind}' if kind else ''}")
    fitting = hand.life.fitting
    where = "order lost" if fitting.order_lost else f"cylinder {fitting.cylinder}"
    place = f", {hand.place}" if hand.place else ""
    return f"{where}, session {hand.session}{place}, {moment(hand.started)}"


def _not_in_hand(found: Story) -> Component:
    return html.Section(
        [
            html.P(as_sentence(found.why_not or "it cannot be read"), className="statement"),
            html.P("Fit it on the plugs page of the session that it goes in for."),
            dcc.Link("Choose the session", href="/", className="action"),
        ]
    )
