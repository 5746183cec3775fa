"""Small pieces that more than one page uses."""

import re
from datetime import datetime
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from bridge.errors import SootlineError

GRAPH_CONFIG: Any = {
    "showSendToCloud": False,
    "plotlyServerURL": "",
    "topojsonURL": "",
    "displaylogo": False,
    "displayModeBar": False,
    "responsive": True,
    "doubleClick": "reset",
}
"""Every graph has it: plotly offers to send charts to the web unless it is told not to."""


SENSOR_PAGE = "on the page Sensor check, exhaust gas"
_PAGES = (("plug", "on the page Plugs"), ("sensor", SENSOR_PAGE), ("gas", SENSOR_PAGE))
"""Where the browser has what a sentence of the bridge names as a command."""


_NAMES = {
    "ring_mm": ("the ring's depth", " mm"),
    "ring_sd_mm": ("how far the depth may be off", " mm"),
    "strap_mark": ("the heat mark", ""),
    "gap_mm": ("the gap", " mm"),
    "nose_mm": ("the nose's length", " mm"),
    "heat_range": ("the heat range", " steps"),
}
"""What the forms call the values that the bridge holds to a range."""


def aria(**attributes: str) -> dict[str, Any]:
    """Return attributes for those who do not see the page: ``aria(label="Way back")``."""
    return {f"aria-{name}": value for name, value in attributes.items()}


def drawing(svg: str, **more: str) -> Component:
    """Return an element that assets/inline_svg.js fills with a drawing of ours.

    Args:
        svg: markup from dashboard.figures, where all user text has been escaped.
        more: further attributes, such as className.
    """
    attributes: dict[str, Any] = {"data-svg": svg, **more}
    return html.Div(**attributes)


def not_there(sentence: str, heading: str = "Not in this logbook") -> Component:
    """Return a page that says what cannot be shown, with the way back."""
    return html.Section(
        [
            html.H1(heading),
            html.P(as_sentence(sentence), className="lede"),
            html.P(dcc.Link("Back to the sessions", href="/")),
        ],
        className="sheet narrow",
    )


def said(sentence: str) -> Component:
    """Return what was done, as it stands beside the button."""
    return html.P(sentence, className="done")


def refused(error: SootlineError) -> Component:
    """Return the bridge's own sentence on what could not be done."""
    return html.P(as_sentence(str(error)), className="refused")


def as_sentence(words: str) -> str:
    """Return words as a sentence: a capital, a full stop, the minus as printers set it, a page for a command."""
    text = re.sub(r"(?<![\w.])-(?=\d)", "\N{MINUS SIGN}", words.strip())
    for command, page in _PAGES:
        text = re.sub(rf"\b(?:by|with) '?sootline {command}\b[^']*'", page, text)
    for name, (called, unit) in _NAMES.items():
        text = re.sub(rf"\b{name} = (\S+) must", rf"{called}, \g<1>{unit}, must", text)
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def moment(when: datetime) -> str:
    """Return a time as this machine's clock on the wall shows it, such as ``14 May 2026, 11:20``."""
    local = when.astimezone()
    return f"{local.day} {local:%B %Y, %H:%M}"


def length(seconds: float) -> str:
    """Return a length of time for a person, such as ``6 min 12 s``."""
    minutes, rest = divmod(round(seconds), 60)
    if minutes >= 60:
        return f"{minutes // 60} h {minutes % 60:02d} min"
    return f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"


def caution(sentences: tuple[str, ...] | list[str]) -> Component | None:
    """Return the cautions as they stand beside a verdict; None where there are none."""
    if not sentences:
        return None
    return html.Aside(
        [html.H3("Caution"), *(html.P(sentence) for sentence in sentences)],
        className="caution",
        **aria(label="Cautions"),
    )
