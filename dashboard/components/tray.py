"""The tray: plugs in cylinder order, number one first, as they lie on the bench."""

from dash import html
from dash.development.base_component import Component

from bridge.agreement import CylinderResult
from dashboard import ids
from dashboard.components.parts import aria, drawing
from dashboard.components.verdicts import nose_of
from dashboard.figures.nose import thumbnail
from dashboard.pictures import Tray


def rail(tray: Tray, chosen: int) -> Component:
    """Return the row of places to choose from.

    Args:
        tray: the session's plugs.
        chosen: the cylinder that is looked at.
    """
    places = tray.comparison.cylinders
    return html.Div(
        [_place(place, chosen) for place in places],
        className="tray",
        role="group",
        style={"--places": str(len(places))},
        **aria(label="Plugs in cylinder order"),
    )


def place_class(cylinder: int, chosen: int) -> str:
    """Return the classes of a place."""
    return "place chosen" if cylinder == chosen else "place"


def _place(place: CylinderResult, chosen: int) -> Component:
    nose = nose_of(place)
    life = place.life
    return html.Button(
        [
            html.Span(str(place.cylinder), className="place-number"),
            drawing(thumbnail(nose), className="place-nose")
            if nose
            else html.Div("empty", className="place-empty"),
            html.Span(life.fitting.plug if life else "no plug", className="place-label"),
            html.Span(state_words(place, full=False), className="quiet place-state"),
        ],
        id=ids.slot(place.cylinder),
        type="button",
        className=place_class(place.cylinder, chosen),
        **aria(pressed="true" if place.cylinder == chosen else "false"),
    )


def state_words(place: CylinderResult, *, full: bool) -> str:
    """Return where a plug is and whether it has been read."""
    if place.life is None:
        return "nothing fitted"
    fitting, reading = place.life.fitting, place.life.reading
    read = "read" if reading else "not read"
    if fitting.order_lost:
        return f"order lost, {read}"
    if not full:
        return f"pulled, {read}" if fitting.pulled is not None else f"in, {read}"
    where = f"pulled after session {fitting.pulled}" if fitting.pulled is not None else "still in"
    return f"fitted {fitting.state} for session {fitting.fitted}, {where}, {read}"
