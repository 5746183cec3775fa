"""Sensor and exhaust gas of a session: what is known of the sensor, and the forms to write more down."""

import asyncio
import re
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from dash import ALL, Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from bridge.channels.sensor import SensorEvent
from bridge.errors import SootlineError
from dashboard import ids
from dashboard.components import gas_form, sensor_form, witnesses
from dashboard.components.facts import title
from dashboard.components.fields import by_name
from dashboard.components.parts import aria, refused, said
from dashboard.data import Source
from dashboard.pictures import Witnesses
from dashboard.shell import Query, Route


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callbacks into an app."""

    async def layout(match: "re.Match[str]", _query: Query) -> Component:
        return _page(await asyncio.to_thread(source.witnesses, int(match["number"])))

    @app.callback(
        Output(ids.EVENT_FIELDS, "children"),
        Input(ids.event_field("what"), "value"),
        prevent_initial_call=True,
    )
    async def needed(what: str) -> list[Component]:
        return sensor_form.fields(what)

    def on(button: str, message: str, kind: str, do: Callable[[Source, int, dict[str, Any]], str]) -> None:
        """Let a button write down what its form holds."""

        @app.callback(
            Output(message, "children"),
            Output(ids.KNOWN, "children", allow_duplicate=True),
            Input(button, "n_clicks"),
            State(ids.SESSION, "data"),
            State({"type": kind, "name": ALL}, "id"),
            State({"type": kind, "name": ALL}, "value"),
            prevent_initial_call=True,
            running=[(Output(button, "disabled"), True, False)],  # one press writes once
        )
        async def act(
            clicks: int | None, about: dict[str, int], keys: list[dict[str, str]], raw: list[Any]
        ) -> tuple[object, object]:
            if not clicks:
                return no_update, no_update
            try:
                words = await asyncio.to_thread(do, source, about["number"], by_name(keys, raw))
                found = await asyncio.to_thread(source.witnesses, about["number"])
            except SootlineError as error:  # nothing was written, and the form is left as it is
                return refused(error), no_update
            return said(words), witnesses.known(found)

    on(ids.EVENT, ids.EVENT_MESSAGE, ids.EVENT_FIELD, _write_event)
    on(ids.GAS, ids.GAS_MESSAGE, ids.GAS_FIELD, _write_gas)
    return Route(re.compile(r"/session/(?P<number>\d{1,9})/sensor/?"), layout)


def _page(found: Witnesses) -> Component:
    run = found.run
    number = run.session.id
    forms = (
        html.P("Say first which bike this was; a sensor's history belongs to its bike.", className="lede")
        if run.bike is None
        else html.Div(
            [
                sensor_form.form([state.cylinder for state in found.states], run.bike.strokes),
                html.Div(id=ids.EVENT_MESSAGE, className="said", role="status", **aria(live="polite")),
                gas_form.form(range(1, run.bike.cylinders + 1)),
                html.Div(id=ids.GAS_MESSAGE, className="said", role="status", **aria(live="polite")),
            ]
        )
    )
    return html.Article(
        [
            dcc.Store(id=ids.SESSION, data={"number": number, "seconds": run.session.seconds}),
            html.Nav(
                dcc.Link(f"Back to session {number}", href=f"/session/{number}"),
                className="crumbs",
                **aria(label="Way back"),
            ),
            html.H1(["Sensor and exhaust gas", html.Span(title(run), className="under")]),
            html.Div(witnesses.known(found), id=ids.KNOWN, className="known"),
            forms,
        ],
        className="sheet narrow plugs",
    )


def _write_event(source: Source, number: int, raw: dict[str, Any]) -> str:
    done = source.add_sensor_event(number, sensor_form.event(raw, datetime.now(UTC)))
    return f"Written down: {_event_words(done)}. Every session from then on is reckoned with it."


def _event_words(done: SensorEvent) -> str:
    whose = "all sensors" if done.cylinder is None else f"the sensor of cylinder {done.cylinder}"
    if done.what == "replaced":
        return f"{whose} replaced"
    assert done.value is not None  # the form asks for it
    if done.what == "free air":
        return f"{whose} told {100.0 * done.value:.2f} % of oxygen in free air"
    return f"{done.value:+.3f} lambda is taken off what {whose} said".replace("-", "−")


def _write_gas(source: Source, number: int, raw: dict[str, Any]) -> str:
    done = source.add_gas(number, **gas_form.values(raw))
    whose = "all cylinders together" if done.cylinder is None else f"cylinder {done.cylinder}"
    return f"The exhaust gas of {whose} is written down; the session's page has it beside ring and sensor."
