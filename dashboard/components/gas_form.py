"""Writing down what an exhaust-gas analyser showed."""

from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from bridge.errors import BadValue
from dashboard import ids
from dashboard.components.fields import as_number, choice, number

TOGETHER = "all"
_GAS_KILLS = (
    "The engine runs while you measure, and carbon monoxide kills unnoticed: outdoors only, or with the exhaust led"
    " outside by an extraction, and a carbon monoxide alarm beside you."
)
CAUTIONS = (
    _GAS_KILLS,
    "The probe and its hose get hot. Keep clear of chain, wheel and fan, and never lean over a running engine.",
)
PARTS = (
    ("co2_percent", "Carbon dioxide, CO₂", "%"),
    ("co_percent", "Carbon monoxide, CO", "%"),
    ("o2_percent", "Oxygen, O₂", "%"),
    ("hc_ppm", "Hydrocarbons, HC as hexane", "ppm"),
    ("no_ppm", "Nitrogen monoxide, NO", "ppm"),
)
"""Field, label and unit, in the order in which analysers show them."""


def form(cylinders: Sequence[int]) -> Component:
    """Return the form.

    Args:
        cylinders: of the bike.
    """
    which = [(TOGETHER, "all together"), *((str(n), str(n)) for n in cylinders)]
    return html.Div(
        [
            html.H2("Write down an exhaust-gas analysis"),
            html.P(
                "A third witness beside the plug and the sensor. Dry gas, from deep in the pipe so that no fresh air"
                " gets in, at the full throttle that the plugs were read from.",
                className="quiet hint",
            ),
            html.Aside([html.P(sentence) for sentence in CAUTIONS], className="caution"),
            choice(ids.gas_field("cylinder"), "From the exhaust of cylinder", which, which[0][0])
            if len(cylinders) > 1
            else None,
            html.Div(
                [
                    number(
                        ids.gas_field(name),
                        label,
                        None,
                        unit,
                        "Where the analyser shows it" if name == "no_ppm" else None,
                    )
                    for name, label, unit in PARTS
                ],
                className="gas-fields",
            ),
            dmc.Button("Write it down", id=ids.GAS, size="xl", fullWidth=True),
        ],
        className="form",
    )


def values(raw: dict[str, Any]) -> dict[str, Any]:
    """Return the arguments for ``Logbook.add_gas`` from what the form holds.

    Raises:
        BadValue: a number is none, or one of the four that are needed is missing.
    """
    told = {name: as_number(raw[name], label) for name, label, _ in PARTS}
    missing = [label for name, label, _ in PARTS if told[name] is None and name != "no_ppm"]
    if missing:
        raise BadValue(f"the analysis needs {', '.join(missing)} too; write 0 where the analyser shows 0")
    cylinder = raw.get("cylinder", TOGETHER)
    return {"cylinder": None if cylinder == TOGETHER else int(cylinder), **told}
