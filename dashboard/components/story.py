"""A plug's life: where it is, how long it worked, all that happened to it, its photographs, and what to tell of it."""

from urllib.parse import quote

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from bridge.errors import BadValue
from bridge.model import PlugEvent, PlugStory
from bridge.plug.hours import Worked
from dashboard import ids
from dashboard.components.fields import words
from dashboard.components.parts import as_sentence, length, moment
from dashboard.components.photo_form import in_short
from dashboard.pictures import Story

_WHAT = {
    "new": "New",
    "fitted": "Fitted",
    "swapped": "Swapped",
    "mixed up": "Mixed up",
    "read": "Read",
    "pulled": "Pulled",
    "order lost": "Order lost",
    "order found": "Order found",
    "cleaned": "Cleaned",
    "scrapped": "Scrapped",
    "kept": "Kept",
}


def page_of(label: str) -> str:
    """Return the address of a plug's page."""
    return f"/plug/{quote(label, safe='')}"


def state_of(story: PlugStory) -> str:
    """Return where a plug is, for a person."""
    of = f" of {story.bike}" if story.bike and story.state.startswith("in cylinder") else ""
    return f"{story.state}{of}"


def worked(time: Worked) -> str:
    """Return how long an engine ran on a plug."""
    if time.running_s is None:
        return "no log tells how long an engine ran on it"
    full = "" if time.full_throttle_s is None else f", {time.full_throttle_s:.0f} s of it at full throttle"
    return f"{length(time.running_s)} of running on it{full}"


def life(found: Story) -> Component:
    """Return the plug's life as it stands."""
    story = found.story
    blind = found.time.blind
    return html.Div(
        [
            html.H2("Its life"),
            html.P(as_sentence(f"{state_of(story)}; {worked(found.time)}"), className="statement"),
            html.P(
                f"Session {', '.join(map(str, blind))}: its log has no engine speed or no throttle, so these figures"
                " are too small.",
                className="quiet hint",
            )
            if blind
            else None,
            html.Ol([_event(event) for event in story.events], className="life"),
            _photos(found),
        ]
    )


def _event(event: PlugEvent) -> Component:
    where = (
        dcc.Link(f"session {event.session}", href=f"/session/{event.session}")
        if event.session is not None
        else "before its first session"
    )
    return html.Li(
        [
            html.Span(_WHAT[event.what], className="life-what"),
            html.Span(as_sentence(event.words), className="life-words"),
            html.Span([where, ", ", moment(event.at)], className="quiet life-when"),
        ]
    )


def _photos(found: Story) -> Component | None:
    if not found.photos:
        return None
    shown = []
    for photo in found.photos:
        where = f"/_plug/photo/{photo.session}/{photo.file}"
        picture = html.Img(src=f"{where}?side=240", alt=f"Photograph {photo.id}, for session {photo.session}")
        shown.append(html.Li([html.A(picture, href=where, target="_blank"), html.Span(in_short(photo))]))
    return html.Div([html.H3("Photographs"), html.Ul(shown, className="kept-photos")])


def telling(story: PlugStory) -> Component:
    """Return what can be told of a plug that is out of the engine, each with its way back."""
    if story.state.startswith("in cylinder"):
        return html.P(
            "It is in the engine: pull it first, on the page of its session's plugs, then it can be told that it was"
            " cleaned or scrapped.",
            className="quiet hint",
        )
    note = words(
        ids.LIFE_NOTE, "A word on it", None, "How it was cleaned, or why it is scrapped; may stay empty"
    )
    if story.state == "scrapped":
        buttons = [dmc.Button("It was not scrapped after all", id=ids.KEEP, size="lg", variant="outline")]
    else:
        buttons = [
            dmc.Button("It was cleaned", id=ids.CLEAN, size="lg", variant="outline"),
            dmc.Button("Scrap it", id=ids.SCRAP, size="lg", variant="outline"),
        ]
    back = (
        "A cleaned plug goes in again as cleaned; if it was not cleaned after all, say used when you fit it. A scrapped"
        " one is never fitted again, keeps all its readings, and can be taken back."
    )
    return html.Div(
        [note, html.Div(buttons, className="side-by-side"), html.P(back, className="quiet hint")],
        className="form",
    )


def as_labels(typed: object) -> list[str]:
    """Return labels that were typed with commas or line ends between, each once.

    Raises:
        BadValue: there is none.
    """
    text = str(typed or "").replace(";", ",").replace("\n", ",")
    labels = list(dict.fromkeys(part.strip() for part in text.split(",") if part.strip()))
    if not labels:
        raise BadValue("give each plug a label, with commas between, such as D1, D2, D3")
    return labels
