"""The plug tray of a session: fit, pull and read, for one hand on a phone."""

import asyncio
import re
from collections.abc import Callable
from functools import partial
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from bridge.errors import SootlineError, UnknownThing
from dashboard import ids
from dashboard.components import amends_form, finding, fitting_form, judged, reading_form, tray
from dashboard.components.facts import title
from dashboard.components.fields import by_name
from dashboard.components.parts import aria, caution, refused, said
from dashboard.components.tray import state_words
from dashboard.data import Source
from dashboard.pictures import Tray
from dashboard.shell import Query, Route


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callbacks into an app."""

    async def layout(match: "re.Match[str]", query: Query) -> Component:
        found = await asyncio.to_thread(source.tray, int(match["number"]))
        return _page(found, _asked(found, query))

    _register_looking(app, source)
    _register_doing(app, source)
    return Route(re.compile(r"/session/(?P<number>\d{1,9})/plugs/?"), layout)


def _asked(found: Tray, query: Query) -> int:
    """Return the cylinder that the address asks for, else the first; anything else is ignored."""
    asked = query.get("cylinder", "")
    cylinders = [place.cylinder for place in found.comparison.cylinders]
    return int(asked) if asked.isascii() and asked.isdigit() and int(asked) in cylinders else cylinders[0]


def _page(found: Tray, chosen: int) -> Component:
    number = found.run.session.id
    return html.Article(
        [
            dcc.Store(id=ids.SESSION, data={"number": number, "seconds": found.run.session.seconds}),
            dcc.Store(id=ids.CHOSEN, data=chosen),
            dcc.Store(id=ids.TRAY_SAVED, data=None),
            html.Nav(
                [
                    dcc.Link(f"Back to session {number}", href=f"/session/{number}"),
                    dcc.Link("All plugs", href="/plugs"),
                ],
                className="crumbs",
                **aria(label="Way back"),
            ),
            html.H1(["Plugs", html.Span(title(found.run), className="under")]),
            html.Div(tray.rail(found, chosen), id=ids.TRAY),
            html.Div(id=ids.PANEL),
            html.Div(id=ids.MESSAGE, className="said", role="status", **aria(live="polite")),
            html.Div(id=ids.TRAY_JUDGED),
            _whole_tray(found),
            caution(found.comparison.cautions),
        ],
        className="sheet narrow plugs",
    )


def _whole_tray(found: Tray) -> Component:
    return html.Section(
        [
            html.Div(
                [
                    html.H2("The whole tray"),
                    html.P(reading_form.HOT, className="caution-line hot"),
                    dmc.Checkbox(
                        id=ids.ORDER_LOST,
                        label="The order was lost: nobody knows any more which cylinder each plug was in",
                        size="lg",
                        checked=False,
                    ),
                    dmc.Button(
                        "Pull all of them", id=ids.PULL_ALL, size="lg", variant="outline", fullWidth=True
                    ),
                ],
                id=ids.WHOLE_TRAY,
                className="form",
                hidden=_nothing_in(found),
            ),
            html.Section(
                [html.H2("Told later"), html.Div(amends_form.forms(found), id=ids.AMENDS)], className="form"
            ),
            html.Div(id=ids.TRAY_MESSAGE, className="said", role="status", **aria(live="polite")),
            finding.field(),
        ],
        className="whole-tray",
    )


def _nothing_in(found: Tray) -> bool:
    """Whether there is no plug to pull."""
    lives = [place.life for place in found.comparison.cylinders]
    return not any(life is not None and life.fitting.pulled is None for life in lives)


def _panel(found: Tray, chosen: int) -> Component | None:
    """Return the form that the chosen place needs."""
    place = found.place(chosen)
    if place is None:
        return None
    if place.life is None:
        return fitting_form.form(found, chosen)
    hand = found.at_hand(chosen)
    assert hand is not None  # the place has a plug
    title = html.Div(
        [
            html.H2(f"Plug {place.life.fitting.plug}, cylinder {place.cylinder}"),
            html.P(state_words(place, full=True) + ".", className="quiet sentence"),
        ],
        className="form",
    )
    parts = [title, reading_form.form(hand, ids.TRAY_SAVED)]
    if place.life.fitting.pulled is None:
        parts.insert(
            0,
            dmc.Button(
                f"Pull plug {place.life.fitting.plug} after this session",
                id=ids.PULL,
                size="lg",
                variant="outline",
                fullWidth=True,
            ),
        )
    return html.Div(parts)


def _register_looking(app: Dash, source: Source) -> None:
    @app.callback(
        Output(ids.CHOSEN, "data"),
        Input({"type": ids.SLOT, "cylinder": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )
    async def choose(clicks: list[int | None]) -> object:
        # the buttons are new, and not pressed, each time the tray is drawn
        return ctx.triggered_id["cylinder"] if any(clicks) and ctx.triggered_id else no_update

    @app.callback(
        Output({"type": ids.SLOT, "cylinder": ALL}, "className"),
        Output({"type": ids.SLOT, "cylinder": ALL}, "aria-pressed"),
        Input(ids.CHOSEN, "data"),
        State({"type": ids.SLOT, "cylinder": ALL}, "id"),
        prevent_initial_call=True,
    )
    async def press(chosen: int, places: list[dict[str, int]]) -> tuple[list[str], list[str]]:
        numbers = [place["cylinder"] for place in places]
        return (
            [tray.place_class(number, chosen) for number in numbers],
            ["true" if number == chosen else "false" for number in numbers],
        )

    @app.callback(
        Output(ids.PANEL, "children"),
        Output(ids.MESSAGE, "children"),
        Input(ids.CHOSEN, "data"),
        State(ids.SESSION, "data"),
    )
    async def panel(chosen: int, about: dict[str, int]) -> tuple[Component | None, None]:
        return _panel(await asyncio.to_thread(source.tray, about["number"]), chosen), None

    @app.callback(
        Output(ids.TRAY, "children"),
        Input(ids.TRAY_SAVED, "data"),
        State(ids.SESSION, "data"),
        State(ids.CHOSEN, "data"),
        prevent_initial_call=True,
    )
    async def read_now(saved: object, about: dict[str, int], chosen: int) -> object:
        if not saved:
            return no_update
        return tray.rail(await asyncio.to_thread(source.tray, about["number"]), chosen)

    @app.callback(
        Output(ids.TRAY_JUDGED, "children"),
        Input(ids.PANEL, "children"),
        Input(ids.TRAY_SAVED, "data"),
        State(ids.SESSION, "data"),
        State(ids.CHOSEN, "data"),
        prevent_initial_call=True,
    )
    async def judge(_panel: object, _saved: object, about: dict[str, int], chosen: int) -> object:
        found = await asyncio.to_thread(source.tray, about["number"])
        return judged.at_reading(found.place(chosen), about["number"])


def _register_doing(app: Dash, source: Source) -> None:
    def on(button: str | dict[str, str], output: str, do: Callable[..., str], *states: State) -> None:
        """Let a button do something with the session, the chosen cylinder and what the form holds."""

        @app.callback(
            Output(ids.TRAY, "children", allow_duplicate=True),
            Output(ids.PANEL, "children", allow_duplicate=True),
            Output(output, "children", allow_duplicate=True),
            Output(ids.WHOLE_TRAY, "hidden", allow_duplicate=True),
            Output(ids.AMENDS, "children", allow_duplicate=True),
            Input(button, "n_clicks"),
            State(ids.SESSION, "data"),
            State(ids.CHOSEN, "data"),
            *states,
            prevent_initial_call=True,
            # a press while another one is under way would be lost when the form is drawn anew
            running=[(Output(ids.PANEL, "className"), "busy", "")],
        )
        async def act(
            clicks: int | None, about: dict[str, int], chosen: int, *form: object
        ) -> tuple[object, ...]:
            if not clicks:
                return (no_update,) * 5
            try:
                words = await asyncio.to_thread(do, source, about["number"], chosen, *form)
                found = await asyncio.to_thread(source.tray, about["number"])
            except SootlineError as error:  # nothing was written, and the form is left as it is
                return no_update, no_update, refused(error), no_update, no_update
            return _drawn_anew(found, chosen, words)

    fitting = {"type": ids.FIT_FIELD, "name": ALL}
    on(ids.FIT, ids.MESSAGE, _fit, State(fitting, "id"), State(fitting, "value"))
    on(ids.PULL, ids.MESSAGE, _pull)
    on(ids.PULL_ALL, ids.TRAY_MESSAGE, _pull_all, State(ids.ORDER_LOST, "checked"))
    told = {"type": ids.AMEND_FIELD, "what": ALL, "name": ALL}
    for what, tell in _AMENDS.items():
        on(
            ids.amend(what),
            ids.TRAY_MESSAGE,
            partial(_amend, what, tell),
            State(told, "id"),
            State(told, "value"),
        )


def _drawn_anew(found: Tray, chosen: int, words: str) -> tuple[object, ...]:
    return (
        tray.rail(found, chosen),
        _panel(found, chosen),
        said(words),
        _nothing_in(found),
        amends_form.forms(found),
    )


def _fit(source: Source, number: int, chosen: int, keys: list[dict[str, str]], raw: list[Any]) -> str:
    label, told = fitting_form.values(by_name(keys, raw))
    done = source.fit(label, cylinder=chosen, session=number, **told)
    used = " It keeps the colour it has, so its readings will not count." if done.state == "used" else ""
    return f"Plug {done.plug} is in cylinder {done.cylinder} from session {done.fitted} on.{used}"


def _pull(source: Source, number: int, chosen: int) -> str:
    place = source.tray(number).place(chosen)
    if place is None or place.life is None:
        raise UnknownThing(f"there is no plug in cylinder {chosen} to pull")
    done = source.pull(place.life.fitting.plug, number)
    return f"Plug {done.plug} is out of cylinder {done.cylinder}."


def _pull_all(source: Source, number: int, _chosen: int, order_lost: bool | None) -> str:
    out = source.pull_all(number, order_lost=bool(order_lost))
    order = " The order is lost: what they show is kept, but counts for no cylinder." if order_lost else ""
    return f"Out now: {', '.join(fitting.plug for fitting in out)}.{order}"


def _amend(
    what: str,
    tell: "Callable[[Source, int, dict[str, Any]], str]",
    source: Source,
    number: int,
    _chosen: int,
    *form: list[Any],
) -> str:
    return tell(source, number, amends_form.values(what, *form))


def _swap(source: Source, number: int, told: dict[str, Any]) -> str:
    one, other = source.swap(*amends_form.two(told), number, str(told["state"]))
    used = " They keep the colour they have, so their readings will not count." if one.state == "used" else ""
    return (
        f"From session {number} on plug {one.plug} is in cylinder {one.cylinder} and plug {other.plug} in cylinder"
        f" {other.cylinder}.{used}"
    )


def _mixed_up(source: Source, number: int, told: dict[str, Any]) -> str:
    one, other = source.mixed_up(*amends_form.two(told), number)
    return (
        f"Plug {one.plug} was in cylinder {one.cylinder} and plug {other.plug} in cylinder {other.cylinder}, from"
        f" session {one.fitted} on. What was first written stays on record."
    )


def _order_lost(source: Source, number: int, _told: dict[str, Any]) -> str:
    out = ", ".join(fitting.plug for fitting in source.order_lost(number))
    return f"The order of {out} is lost; their readings are kept."


def _order_found(source: Source, number: int, told: dict[str, Any]) -> str:
    known = source.order_found(number, amends_form.places(told))
    return " ".join(f"Plug {f.plug} came out of cylinder {f.cylinder}." for f in known)


def _clean(source: Source, _number: int, told: dict[str, Any]) -> str:
    done = source.clean(str(told["one"]), amends_form.note_of(told))
    return f"Plug {done.label} is cleaned."


def _scrap(source: Source, _number: int, told: dict[str, Any]) -> str:
    done = source.scrap(str(told["one"]), amends_form.note_of(told))
    return f"Plug {done.label} is scrapped; what was read on it stays. It can be taken back on its own page."


_AMENDS: dict[str, Callable[[Source, int, dict[str, Any]], str]] = {
    amends_form.SWAP: _swap,
    amends_form.MIXED: _mixed_up,
    amends_form.LOST: _order_lost,
    amends_form.FOUND: _order_found,
    amends_form.CLEAN: _clean,
    amends_form.SCRAP: _scrap,
}
