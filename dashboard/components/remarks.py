"""What was lost, left out or assumed: everything the stages have to say beside their figures."""

from dash import html
from dash.development.base_component import Component

from dashboard.components.parts import as_sentence
from dashboard.pictures import Picture


def section(picture: Picture) -> Component:
    """Return the part with the remarks; the log's own first."""
    groups = [
        ("In the log", picture.run.session.notes),
        ("Done to the channels", picture.run.notes),
        ("In the bands", picture.bands.notes if picture.bands else ()),
        ("In the comparison", _comparison(picture)),
        ("The ring scale rests on", _assumptions(picture)),
    ]
    shown, said = [], set[str]()
    for heading, notes in groups:
        fresh = [note for note in notes if note not in said]
        said.update(fresh)
        if fresh:
            shown.append((heading, fresh))
    body: list[Component] = [
        html.Div([html.H3(heading), html.Ul([html.Li(as_sentence(note)) for note in notes])])
        for heading, notes in shown
    ]
    if not body:
        body = [html.P("Nothing was lost, and nothing left out.")]
    return html.Section(
        [html.H2("Lost, left out, assumed"), html.Div(body, className="remarks")], className="part"
    )


def _comparison(picture: Picture) -> tuple[str, ...]:
    found = dict.fromkeys(picture.comparison.notes)
    several = len(picture.comparison.cylinders) > 1
    for result in picture.comparison.cylinders:
        for note in result.notes:
            found.setdefault(f"cylinder {result.cylinder}: {note}" if several else note)
    return tuple(found)


def _assumptions(picture: Picture) -> tuple[str, ...]:
    scales = [result.scale for result in picture.comparison.cylinders if result.scale is not None]
    return tuple(dict.fromkeys(words for scale in scales for words in scale.assumptions))
