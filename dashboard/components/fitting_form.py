"""Putting a plug into an empty place."""

from typing import Any

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from bridge.errors import BadValue
from dashboard import ids
from dashboard.components import reading_form
from dashboard.components.fields import as_number, as_words, choice, number, words
from dashboard.pictures import Tray

STATES = (("new", "new"), ("cleaned", "cleaned"), ("used", "used"))


def form(tray: Tray, cylinder: int) -> Component:
    """Return the form for one place."""
    plug = tray.run.bike.plug if tray.run.bike else None
    length = f"{plug.nose_mm:g} mm by the bike's file" if plug and plug.nose_mm else "not told with the bike"
    kind = f"{plug.type} by the bike's file" if plug and plug.type else "not told with the bike"
    return html.Div(
        [
            html.H2(f"Fit a plug into cylinder {cylinder}"),
            html.P(reading_form.HOT, className="caution-line hot"),
            words(ids.fit_field("label"), "Label", None, "What stands on the plug or its place, such as B1"),
            choice(
                ids.fit_field("state"),
                "It is",
                STATES,
                "new",
                "A used plug keeps its old colour, so its readings never count.",
            ),
            html.Details(
                [
                    html.Summary("Where it differs from the bike's usual plug"),
                    words(ids.fit_field("type"), "Type", None, f"Left empty: {kind}"),
                    number(
                        ids.fit_field("nose_mm"),
                        "Nose length, tip to seat",
                        None,
                        "mm",
                        f"Left empty: {length}",
                    ),
                    number(
                        ids.fit_field("heat_range"),
                        "Heat range, steps from the usual",
                        None,
                        "",
                        "Plus is colder, minus is hotter",
                    ),
                ]
            ),
            dmc.Button("Fit it", id=ids.FIT, size="xl", fullWidth=True),
        ],
        className="form",
    )


def values(raw: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    """Return label and arguments for ``Logbook.fit`` from what the form holds.

    Raises:
        BadValue: the label is missing, or a number is none.
    """
    label = as_words(raw["label"])
    if label is None:
        raise BadValue("give the plug a label, such as B1, so that it can be told from the others")
    heat = as_number(raw["heat_range"], "the heat range")
    if heat is not None and heat != round(heat):
        raise BadValue(f"the heat range is counted in whole steps, not {heat:g}")
    return label, {
        "state": raw["state"],
        "type": as_words(raw["type"]),
        "nose_mm": as_number(raw["nose_mm"], "the nose length"),
        "heat_range": None if heat is None else int(heat),
    }
