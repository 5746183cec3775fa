"""What is told of a tray later: swapped, mixed up, order lost, order found; each with its way back."""

from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from bridge.errors import BadValue
from bridge.model import Fitting
from dashboard import ids
from dashboard.components.fields import Id, as_words, choice, words
from dashboard.pictures import Tray

SWAP, MIXED, LOST, FOUND, CLEAN, SCRAP = "swap", "mixed", "lost", "found", "clean", "scrap"
_UNKNOWN = "?"
_STATES = (("used", "used"), ("cleaned", "cleaned"))


def forms(tray: Tray) -> Component:
    """Return all that can be told of this session's plugs; what cannot be is left out."""
    session = tray.run.session.id
    fittings = [place.life.fitting for place in tray.comparison.cylinders if place.life is not None]
    known = [f for f in fittings if not f.order_lost]
    out = [f for f in fittings if f.pulled == session]
    lost, in_order = [f for f in out if f.order_lost], [f for f in out if not f.order_lost]
    older = [f for f in known if f.fitted != session]
    done = [f for f in out if not f.order_lost]
    found = [
        _two(SWAP, f"Two plugs changed places for session {session}", older, session)
        if len(older) > 1
        else None,
        _two(MIXED, "Two plugs were mixed up when they were written down", known, session)
        if len(known) > 1
        else None,
        _lost(in_order) if len(in_order) > 1 else None,
        _found(lost, len(tray.comparison.cylinders)) if lost else None,
        _one(CLEAN, "A plug was cleaned", done, "How it was cleaned", "It goes in again as cleaned.")
        if done
        else None,
        _one(SCRAP, "A plug is scrapped", done, "Why", "It can be taken back on the plug's own page.")
        if done
        else None,
    ]
    shown = [part for part in found if part is not None]
    if not shown:
        return html.P(
            "Nothing has come out of the engine here that more could be told of.", className="quiet hint"
        )
    return html.Div(shown)


def _telling(what: str, summary: str, says: str, *fields: Component, button: str) -> Component:
    return html.Details(
        [
            html.Summary(summary),
            html.P(says, className="quiet hint"),
            *fields,
            dmc.Button(button, id=ids.amend(what), size="lg", variant="outline", fullWidth=True),
        ],
        className="telling",
    )


def _labels(what: str, name: str, question: str, fittings: Sequence[Fitting], at: int = 0) -> Component:
    choices = [(f.plug, f"{f.plug}, cylinder {f.cylinder}") for f in fittings]
    return choice(_id(what, name), question, choices, choices[min(at, len(choices) - 1)][0])


def _id(what: str, name: str) -> Id:
    return ids.amend_field(what, name)


def _two(what: str, summary: str, fittings: Sequence[Fitting], session: int) -> Component:
    both = [_labels(what, "one", "The one", fittings), _labels(what, "other", "The other", fittings, 1)]
    if what == SWAP:
        says = (
            f"From session {session} on each sits in the other's cylinder. Told by mistake: say below that the two were"
            " mixed up, and each is back."
        )
        state = choice(
            _id(what, "state"), "They went in", _STATES, "used", "A used plug keeps its old colour."
        )
        return _telling(what, summary, says, *both, state, button="They changed places")
    says = (
        "They sat in each other's cylinder all along. Readings stay with their plug, and what was first written stays"
        " on record. Told by mistake: tell it once more, and each is back."
    )
    return _telling(what, summary, says, *both, button="They were mixed up")


def _lost(fittings: Sequence[Fitting]) -> Component:
    says = (
        f"Nobody knows any more which cylinder {', '.join(f.plug for f in fittings)} came out of: what they show is"
        " kept, but counts for no cylinder until somebody knows the order again."
    )
    return _telling(LOST, "The tray was upset: their order is lost", says, button="Their order is lost")


def _found(fittings: Sequence[Fitting], cylinders: int) -> Component:
    places = [(_UNKNOWN, "not known"), *((str(n), f"cylinder {n}") for n in range(1, cylinders + 1))]
    rows = [choice(_id(FOUND, f.plug), f"Plug {f.plug} was in", places, _UNKNOWN) for f in fittings]
    says = "Their readings count again. Said again, it corrects what was said."
    return _telling(FOUND, "Their order is known again", says, *rows, button="This was their order")


def _one(what: str, summary: str, fittings: Sequence[Fitting], note: str, says: str) -> Component:
    fields = (_labels(what, "one", "Which", fittings), words(_id(what, "note"), note, None, "May stay empty"))
    return _telling(what, summary, says, *fields, button="Write it down")


def values(what: str, keys: Sequence[dict[str, str]], raw: Sequence[Any]) -> dict[str, Any]:
    """Return what one of the forms holds, by its fields' names."""
    return {key["name"]: value for key, value in zip(keys, raw, strict=True) if key["what"] == what}


def two(told: dict[str, Any]) -> tuple[str, str]:
    """Return the two labels of a form.

    Raises:
        BadValue: they are the same.
    """
    if told["one"] == told["other"]:
        raise BadValue(f"name two plugs: {told['one']} stands for both")
    return str(told["one"]), str(told["other"])


def places(told: dict[str, Any]) -> dict[str, int]:
    """Return the cylinder of each plug that somebody knows.

    Raises:
        BadValue: nobody knows any.
    """
    known = {label: int(place) for label, place in told.items() if place != _UNKNOWN}
    if not known:
        raise BadValue("say of one plug at least which cylinder it was in")
    return known


def note_of(told: dict[str, Any]) -> str | None:
    """Return the word that was added, None for nothing."""
    return as_words(told.get("note"))
