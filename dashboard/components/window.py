"""Which part of a session the traces show, by drawing across it or by buttons that a keyboard reaches."""

import re
from collections.abc import Mapping
from typing import Final

from dash import html
from dash.development.base_component import Component

from dashboard import ids
from dashboard.components.parts import aria

Window = list[float] | None

BUTTONS: Final = (ids.EARLIER, ids.LATER, ids.CLOSER, ids.WIDER, ids.WHOLE)
_LABELS = ("Earlier", "Later", "Closer", "Wider", "Whole session")
SHORTEST_S = 1.0


class _Same:
    """Nothing to do."""


SAME: Final = _Same()


def toolbar() -> Component:
    """Return the buttons."""
    return html.Div(
        [html.Button(words, id=name, type="button") for name, words in zip(BUTTONS, _LABELS, strict=True)],
        className="toolbar",
        role="group",
        **aria(label="Part of the session that is shown"),
    )


def zoomed(relayout: object, seconds: float) -> "Window | _Same":
    """Return the window that the graph was zoomed to.

    Args:
        relayout: what the graph tells of the change.
        seconds: length of the session [s].
    """
    if not isinstance(relayout, Mapping):
        return SAME
    if any(re.fullmatch(r"xaxis\d*\.autorange", key) for key in relayout):
        return None
    ends = [
        relayout[key] for end in (0, 1) for key in relayout if re.fullmatch(rf"xaxis\d*\.range\[{end}\]", key)
    ]
    if len(ends) == 2:
        return _fitted(float(ends[0]), float(ends[1]), seconds)
    whole = next((relayout[key] for key in relayout if re.fullmatch(r"xaxis\d*\.range", key)), None)
    return _fitted(float(whole[0]), float(whole[1]), seconds) if whole else SAME


def pressed(button: str, shown: Window, seconds: float) -> Window:
    """Return the window after a button.

    Args:
        button: its id.
        shown: the window before [s].
        seconds: length of the session [s].
    """
    low, high = shown or [0.0, seconds]
    width, middle = high - low, (low + high) / 2.0
    moved = {
        ids.EARLIER: (max(low - width / 2.0, 0.0), max(low - width / 2.0, 0.0) + width),
        ids.LATER: (min(high + width / 2.0, seconds) - width, min(high + width / 2.0, seconds)),
        ids.CLOSER: (middle - width / 4.0, middle + width / 4.0),
        ids.WIDER: (middle - width, middle + width),
    }
    return _fitted(*moved[button], seconds) if button in moved else None


def _fitted(low: float, high: float, seconds: float) -> Window:
    """Return a window inside the session and not too short; None where it is all of it."""
    low, high = sorted((low, high))
    if high - low < SHORTEST_S:
        low, high = (low + high - SHORTEST_S) / 2.0, (low + high + SHORTEST_S) / 2.0
    low, high = max(low, 0.0), min(high, seconds)
    return None if high - low >= seconds or high <= low else [low, high]
