"""Writing down what a plug shows: a form that lives in the browser, with the nose and the strap drawn to be set.

assets/reading_form.js sends it, keeps a draft of it, and follows the finger; dashboard.plug_routes takes it.
"""

import json
from typing import Any

from dash.development.base_component import Component

from bridge.errors import BadValue
from bridge.model import Reading
from bridge.model.plug import RING_SD_MM
from bridge.plug.scale import RingScale
from dashboard.components import meanings, photo_form
from dashboard.components.fields import NOT_LOOKED, YES_NO, as_number, as_words, as_yes_no, from_yes_no
from dashboard.components.markup import choice_field, element, note_field, number_field, said, words_field
from dashboard.components.parts import drawing
from dashboard.components.verdicts import axis_of
from dashboard.figures import choices
from dashboard.figures.nose import Nose
from dashboard.figures.nose_setting import setting_svg
from dashboard.figures.strap import strap_svg
from dashboard.pictures import AtHand
from dashboard.theme import DEPOSITS

RINGS = (("seen", "seen"), ("none", "none"), ("all-dark", "all dark"), ("not-seen", "not seen"))
VIEWS = (("magnifier", "magnifier"), ("cut", "shell cut away"))
SPECKS = ((NOT_LOOKED, "not looked"), ("none", "none"), ("soot", "soot"), ("aluminium", "aluminium"))
EDGES = ((NOT_LOOKED, "not looked"), ("sharp", "sharp"), ("rounded", "rounded"))
HOT = (
    "Let the engine cool: head and plugs burn. Keep the ignition off while a lead is off its plug, a live one gives"
    " a dangerous shock. Fuel vapour from an open plug hole or a wet plug catches fire from a spark."
)
"""What stands on every form that has a plug in the hand."""
_GUESS_WORDS = {"guess": "a starting guess, wide on purpose", "stated": "your own word"}


def form(hand: AtHand, tells: str) -> Component:
    """Return the form for a plug in the hand, filled with its last reading where there is one.

    Args:
        hand: the plug.
        tells: id of the store that gets the reading's number when it is written down.
    """
    return drawing(markup(hand), **{"className": "reading-host", "data-tells": tells})


def markup(hand: AtHand) -> str:
    """Return the form as HTML."""
    life, had = hand.life, hand.life.reading
    label = life.fitting.plug
    ring = element("div", *_ring(hand), class_="reading")
    specks = choice_field(
        "specks",
        "Specks on the nose",
        SPECKS,
        had.specks if had else NOT_LOOKED,
        drawings=choices.drawn("specks", ("not-looked", "none", "soot", "aluminium")),
        after=meanings.of("specks"),
    )
    button = "Write a corrected reading" if had else "Write it down"
    last = element(
        "div",
        said("button", button, type="submit", class_="save"),
        element("div", class_="said", role="status", aria_live="polite", data_part="answer"),
        class_="save-bar",
    )
    return element(
        "form",
        said("p", HOT, class_="caution-line hot"),
        element("div", class_="draft", hidden="", role="status", data_part="draft"),
        ring,
        specks,
        element("p", class_="stop", role="alert", hidden="", data_part="stop"),
        _rest(had),
        photo_form.markup(hand),
        last,
        said("p", "The earlier reading stays on record.", class_="quiet hint") if had else "",
        class_="form reading-form",
        novalidate="",
        data_label=label,
        data_session=hand.session,
        data_reading=had.id if had else 0,
        data_fitting=life.fitting.id,
        data_nose=life.nose_mm,
        data_who=f"Cylinder {life.fitting.cylinder}, plug {label}"
        if not life.fitting.order_lost
        else f"Plug {label}",
        data_sd=json.dumps(RING_SD_MM),
        data_scale=json.dumps(_table(hand.scale, life.nose_mm)),
        data_stop=meanings.STOP,
    )


def _ring(hand: AtHand) -> list[str]:
    life, had = hand.life, hand.life.reading
    scale = hand.scale
    # what the view alone gave is not shown as if it had been typed: it follows the view
    own = had.ring_sd_mm if had and had.ring_sd_mm != RING_SD_MM[had.view] else None
    stands = (
        f"By {_GUESS_WORDS.get(scale.name, 'the scale of your own pairs')}; the model behind the ring scale is"
        " unvalidated."
        if scale is not None
        else "Without a nose length, a depth stands for no lambda."
    )
    nose = Nose(
        cylinder=None if life.fitting.order_lost else life.fitting.cylinder,
        plug=life.fitting.plug,
        nose_mm=life.nose_mm,
        ring=had.ring if had else None,
        depth_mm=had.ring_mm if had else None,
        axis=axis_of(scale, life.nose_mm),
    )
    slider = element(
        "div",
        setting_svg(nose),
        id_="nose-preview",
        class_="setter nose-setter",
        tabindex=0,
        role="slider",
        aria_label="Middle of the ring on the drawing of the nose",
        aria_orientation="vertical",
        aria_valuemin=0,
        aria_valuemax=life.nose_mm or 40,
        data_step=0.1,
    )
    drawn = element(
        "div",
        slider,
        said("p", "", class_="stands", data_part="stands"),
        said("p", f"Drag the ring, or give its depth. {stands}", class_="quiet hint"),
    )
    depth = element(
        "div",
        said("button", "\N{MINUS SIGN}", type="button", data_nudge=-0.5, aria_label="Half a millimetre less"),
        number_field("ring_mm", "Middle of the ring, from the tip", had.ring_mm if had else None, "mm"),
        said("button", "+", type="button", data_nudge=0.5, aria_label="Half a millimetre more"),
        class_="stepper",
    )
    doubt = number_field(
        "ring_sd_mm",
        "Give or take",
        own,
        "mm",
        "How far it may well be off, two times in three. Left empty: 0.4 mm with the shell cut away, 1.0 mm through"
        " its mouth",
    )
    more = element(
        "details",
        said("summary", "How sure the depth is"),
        doubt,
        open="" if own is not None else None,
    )
    fields = element(
        "div",
        choice_field(
            "ring",
            "The ring",
            RINGS,
            had.ring if had else "seen",
            drawings=choices.drawn("ring", ("seen", "none", "all-dark", "not-seen")),
        ),
        element("div", depth, more, id_="depth-fields"),
        choice_field(
            "view",
            "Seen by",
            VIEWS,
            had.view if had else "magnifier",
            drawings=choices.drawn("view", ("magnifier", "cut")),
        ),
        class_="ring-fields",
    )
    return [drawn, fields]


def _table(scale: RingScale | None, nose_mm: float | None) -> dict[str, list[list[float]]]:
    """Return the ring scale as (depth [mm], lambda, its 95 % interval's ends) by view, for the browser to look up."""
    if scale is None or nose_mm is None:
        return {}
    depths = [min(n * 0.5, nose_mm) for n in range(int(nose_mm * 2) + 2)]
    table: dict[str, list[list[float]]] = {}
    for view, sd in RING_SD_MM.items():
        rows = []
        for depth in sorted(set(depths)):
            mean, budget = scale.lambda_at(depth, sd)
            low, high = budget.interval(0.95)
            rows.append([depth, round(mean, 4), round(mean + low, 4), round(mean + high, 4)])
        table[view] = rows
    return table


def _rest(had: Reading | None) -> str:
    """Return everything else that can be seen; what is left alone stays not looked at."""

    def asked(name: str, label: str, value: bool | None) -> str:
        return choice_field(
            name,
            label,
            YES_NO,
            from_yes_no(value),
            drawings=choices.drawn(name, (NOT_LOOKED, "no", "yes")),
            after=meanings.of(name),
        )

    return element(
        "details",
        said("summary", "Everything else that was seen"),
        _strap(had),
        choice_field(
            "edge",
            "Edge of the centre electrode",
            EDGES,
            (had.edge if had else None) or NOT_LOOKED,
            drawings=choices.drawn("edge", (NOT_LOOKED, "sharp", "rounded")),
            after=meanings.of("edge"),
        ),
        asked("glaze", "Glazed", had.glaze if had else None),
        asked("blisters", "Blisters", had.blisters if had else None),
        asked("wet", "Wet", had.wet if had else None),
        _coloured("base_ring", "Base ring", had.base_ring if had else None, "Colour round the shell's face"),
        _coloured("nose_colour", "Colour of the nose", had.nose_colour if had else None, None),
        number_field("gap_mm", "Gap", had.gap_mm if had else None, "mm"),
        words_field("piston_wash", "Wash on the piston crown", had.piston_wash if had else None),
        meanings.of("piston_wash"),
        note_field("note", "Note", had.note if had else None),
        class_="rest",
        data_part="rest",
        open="" if had is not None and _more_was_seen(had) else None,
    )


def _strap(had: Reading | None) -> str:
    share = had.strap_mark if had else None
    slider = element(
        "div",
        strap_svg(share),
        class_="setter strap-setter",
        tabindex=0,
        role="slider",
        aria_label="Heat mark on the drawing of the ground strap",
        aria_orientation="horizontal",
        aria_valuemin=0,
        aria_valuemax=1,
        data_step=0.05,
    )
    typed = number_field(
        "strap_mark",
        "Heat mark on the ground strap",
        share,
        "0 at its tip to 1 at the weld",
        "Drag the mark to where the colour ends, or give its share; left empty, nobody looked",
    )
    clear = said("button", "Not looked at", type="button", class_="quiet-button", data_clear="strap_mark")
    return element("div", slider, typed, clear, meanings.of("strap_mark"), class_="strap-fields")


def _coloured(name: str, label: str, value: str | None, hint: str | None) -> str:
    """Return a field of words with a row of colours that fill it."""
    draw = choices.ring_swatch if name == "base_ring" else choices.swatch
    chips = [
        element("button", draw(colour), said("span", word), type="button", data_fill=name, data_words=word)
        for word, colour in DEPOSITS
    ]
    row = element("div", *chips, class_="chips", role="group", aria_label=f"{label}: colours to choose from")
    return element("div", words_field(name, label, value, hint), row, meanings.of(name), class_="coloured")


def _more_was_seen(had: Reading) -> bool:
    rest = (had.nose_colour, had.base_ring, had.strap_mark, had.edge, had.glaze, had.blisters, had.wet)
    return any(seen is not None for seen in (*rest, had.gap_mm, had.piston_wash, had.note))


def values(raw: dict[str, Any]) -> dict[str, Any]:
    """Return the arguments for ``Logbook.read`` from what the form holds.

    Raises:
        BadValue: a number is none, the ring was seen and has no depth, or what has to be said is missing.
    """
    ring = raw.get("ring")
    if not isinstance(ring, str) or not isinstance(raw.get("view"), str):
        raise BadValue("say of the ring whether it was seen, and by what; open the plug's page again")
    seen = ring == "seen"
    depth = as_number(raw.get("ring_mm"), "the ring's depth") if seen else None
    if seen and depth is None:
        raise BadValue(
            "give the depth of the ring, or say that there is none, all is dark, or it was not seen",
        )
    edge = raw.get("edge")
    return {
        "ring": ring,
        "ring_mm": depth,
        "ring_sd_mm": as_number(raw.get("ring_sd_mm"), "how sure the depth is") if seen else None,
        "view": raw.get("view"),
        "nose_colour": as_words(raw.get("nose_colour")),
        "base_ring": as_words(raw.get("base_ring")),
        "strap_mark": as_number(raw.get("strap_mark"), "the heat mark"),
        "specks": raw.get("specks", NOT_LOOKED),
        "edge": None if edge == NOT_LOOKED else edge,
        "glaze": as_yes_no(raw.get("glaze")),
        "blisters": as_yes_no(raw.get("blisters")),
        "wet": as_yes_no(raw.get("wet")),
        "gap_mm": as_number(raw.get("gap_mm"), "the gap"),
        "piston_wash": as_words(raw.get("piston_wash")),
        "note": as_words(raw.get("note")),
    }
