"""What is known of a bike's oxygen sensors by date, and what the exhaust-gas analyses of a session come to."""

from dataclasses import replace

from dash import html
from dash.development.base_component import Component

from bridge.agreement.witness import GasFound
from bridge.channels.sensor import SensorEvent
from bridge.channels.sensor_state import SensorState
from dashboard.components.parts import SENSOR_PAGE, as_sentence, moment
from dashboard.pictures import Witnesses

_WHATS = {
    "free air": "held in free air",
    "replaced": "replaced",
    "offset": "offset known",
    "trapped": "lost charge known",
}


def known(found: Witnesses) -> list[Component]:
    """Return all that is on record."""
    return [
        html.H2("The sensor, as of this session"),
        *_states(found.states),
        html.H3("Its history"),
        _history(found.events),
        html.H2("Exhaust gas of this session"),
        _gas(found.comparison.gas, found.comparison.fuel.name),
    ]


def _states(states: tuple[SensorState, ...]) -> list[Component]:
    """Return what is known of each sensor, once where the same is known of all."""
    if len({replace(state, cylinder=None) for state in states}) == 1:
        return [_state(states[0], "Each sensor: g" if len(states) > 1 else "G")]
    return [_state(state, f"Cylinder {state.cylinder}: g") for state in states]


def _state(state: SensorState, whose: str) -> Component:
    checked = (
        "never checked, so far as anybody wrote down"
        if state.checked_days is None
        else (f"last checked {state.checked_days:.0f} days before")
    )
    lean = [html.P("Reads lean by an unknown amount unless calibrated.", className="caution-line")]
    return html.Div(
        [
            html.P(f"{whose}ive or take {state.sd:.3f} lambda; {checked}."),
            *([] if state.calibrated else lean),
            # the notes name this very page
            html.Ul(
                [html.Li(as_sentence(note).replace(SENSOR_PAGE, "below")) for note in state.notes],
                className="notes",
            ),
        ]
    )


def _history(events: tuple[SensorEvent, ...]) -> Component:
    if not events:
        return html.P("Nothing was written down yet.", className="quiet")
    head = html.Tr(
        [html.Th(word, scope="col") for word in ("When", "Sensor", "What", "Value", "Give or take")]
    )
    rows = [
        html.Tr(
            [
                html.Td(moment(event.at)),
                html.Td("all" if event.cylinder is None else str(event.cylinder)),
                html.Td(_WHATS[event.what]),
                html.Td(_value(event, event.value)),
                html.Td(_value(event, event.sd)),
            ]
        )
        for event in reversed(events)
    ]
    table = html.Table([html.Thead(head), html.Tbody(rows)], className="table")
    return html.Div(table, className="wide", tabIndex="0")


def _value(event: SensorEvent, value: float | None) -> str:
    if value is None:
        return "—"
    return f"{100.0 * value:.2f} % O₂" if event.what == "free air" else f"{value:.3f}"


def _gas(found: tuple[GasFound, ...], fuel: str) -> Component:
    if not found:
        return html.P("None was written down yet.", className="quiet")
    head = ("From", "CO₂ %", "CO %", "O₂ %", "HC ppm", "NO ppm", "Lambda", "Give or take", "By Spindt")
    rows = []
    notes: dict[str, None] = {}
    for one in found:
        gas, value = one.analysis, one.value
        rows.append(
            (
                "all together" if gas.cylinder is None else f"cylinder {gas.cylinder}",
                f"{gas.co2_percent:g}",
                f"{gas.co_percent:g}",
                f"{gas.o2_percent:g}",
                f"{gas.hc_ppm:g}",
                "—" if gas.no_ppm is None else f"{gas.no_ppm:g}",
                "—" if value is None else f"{value.brettschneider:.3f}",
                "—" if value is None else f"{value.sd:.3f}",
                "—" if value is None or value.spindt is None else f"{value.spindt:.3f}",
            )
        )
        notes |= dict.fromkeys(one.notes)
    table = html.Table(
        [
            html.Thead(html.Tr([html.Th(word, scope="col") for word in head])),
            html.Tbody([html.Tr([html.Td(cell) for cell in row]) for row in rows]),
        ],
        className="table",
    )
    return html.Div(
        [
            html.Div(table, className="wide", tabIndex="0"),
            html.P(
                f"Lambda by Brettschneider, and by Spindt, with the composition of {fuel}.",
                className="quiet hint",
            ),
            html.Ul([html.Li(as_sentence(note)) for note in notes], className="notes"),
        ]
    )
