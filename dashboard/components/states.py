"""The seconds of each state as a small table, which is the key to the strip above the traces too."""

from collections.abc import Mapping

from dash import html
from dash.development.base_component import Component

from bridge.bands import Bands
from bridge.channels import find
from dashboard.components.parts import aria
from dashboard.figures.states import LOOKS, look_of


def key(bands: Bands | None) -> Component | None:
    """Return every state that came up, its texture, its seconds, and what becomes of it."""
    if bands is None:
        return None
    shown = [state for state in _order(bands.state_seconds) if bands.state_seconds[state] >= 0.05]
    if not shown:
        return None
    whole = sum(bands.state_seconds.values()) or 1.0
    channels = _apart(bands)
    head = ["", "State, and what becomes of it", "Seconds", "Share", *(f"by {name}" for name in channels)]
    rows = [
        html.Tr(
            [
                html.Td(html.Span(className=f"swatch swatch-{look_of(state).name}", **aria(hidden="true"))),
                html.Th([state, html.Span(f" {look_of(state).means}", className="quiet means")], scope="row"),
                html.Td(f"{bands.state_seconds[state]:.1f}"),
                html.Td(f"{100.0 * bands.state_seconds[state] / whole:.0f} %"),
                *(html.Td(f"{seconds.get(state, 0.0):.1f}") for seconds in channels.values()),
            ]
        )
        for state in shown
    ]
    table = html.Table(
        [
            html.Caption("Seconds in each state", className="unseen"),
            html.Thead(html.Tr([html.Th(word, scope="col") for word in head])),
            html.Tbody(rows),
        ],
        className="states",
    )
    return html.Div(table, className="wide", tabIndex="0")


def _order(seconds: Mapping[str, float]) -> list[str]:
    """Return the states in the legend's order, those that it does not name last."""
    return [
        *(state for state in LOOKS if state in seconds),
        *(state for state in seconds if state not in LOOKS),
    ]


def _apart(bands: Bands) -> dict[str, Mapping[str, float]]:
    """Return the seconds by each sensor, where they are not the same for all."""
    told = list(bands.channel_seconds.values())
    if len(told) < 2 or all(
        abs(one.get(state, 0.0) - told[0].get(state, 0.0)) < 0.1
        for one in told[1:]
        for state in {*one, *told[0]}
    ):
        return {}
    return {_sensor(name): seconds for name, seconds in bands.channel_seconds.items()}


def _sensor(channel: str) -> str:
    found = find(channel)
    return f"sensor {found[1]}" if found and found[1] else "the sensor"
