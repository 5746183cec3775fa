"""Writing down what a plug shows, with the nose drawn to scale beside the number."""

from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from bridge.agreement import CylinderResult
from bridge.errors import BadValue
from bridge.model import Reading
from bridge.model.rules import RING_SD_MM
from dashboard import ids
from dashboard.components.fields import (
    NOT_LOOKED,
    YES_NO,
    as_number,
    as_words,
    as_yes_no,
    choice,
    from_yes_no,
    note,
    number,
    words,
)
from dashboard.components.parts import aria
from dashboard.components.tray import state_words
from dashboard.components.verdicts import axis_of
from dashboard.figures.lambda_axis import Axis, Mark
from dashboard.figures.nose import Nose, nose_svg

RINGS = (("seen", "seen"), ("none", "none"), ("all-dark", "all dark"), ("not-seen", "not seen"))
VIEWS = (("magnifier", "magnifier"), ("cut", "shell cut away"))
SPECKS = ((NOT_LOOKED, "not looked"), ("none", "none"), ("soot", "soot"), ("aluminium", "aluminium"))
EDGES = ((NOT_LOOKED, "not looked"), ("sharp", "sharp"), ("rounded", "rounded"))


def form(place: CylinderResult) -> Component:
    """Return the form for the plug of one place, filled with its last reading where there is one."""
    life = place.life
    assert life is not None  # an empty place gets the fitting form
    had = life.reading
    return html.Div(
        [
            dcc.Store(id=ids.PLUG, data=_about(place)),
            html.H2(f"Plug {life.fitting.plug}, cylinder {place.cylinder}"),
            html.P(state_words(place, full=True) + ".", className="quiet sentence"),
            html.Div(
                [
                    html.Div(
                        [
                            html.Div(id=ids.NOSE_PREVIEW, className="preview"),
                            html.P(
                                "Tap the nose where the ring sits, or give its depth.", className="quiet hint"
                            ),
                        ]
                    ),
                    html.Div(_ring(had), className="ring-fields"),
                ],
                className="reading",
            ),
            choice(
                ids.field("specks"),
                "Specks on the nose",
                SPECKS,
                had.specks if had else NOT_LOOKED,
                "Shiny specks of aluminium may mean detonation: stop, and look inside before it runs again.",
            ),
            _rest(had),
            dmc.Button(
                "Write a corrected reading" if had else "Write it down",
                id=ids.READ,
                size="xl",
                fullWidth=True,
            ),
            html.P("The earlier reading stays on record.", className="quiet hint") if had else None,
        ],
        className="form",
    )


def _ring(had: Reading | None) -> list[Component]:
    return [
        choice(ids.field("ring"), "The ring", RINGS, had.ring if had else "seen"),
        html.Div(
            [
                html.Div(
                    [
                        html.Button(
                            "−", id=ids.DEPTH_DOWN, type="button", **aria(label="Half a millimetre less")
                        ),
                        number(
                            ids.field("ring_mm"),
                            "Middle of the ring, from the tip",
                            had.ring_mm if had else None,
                            "mm",
                        ),
                        html.Button(
                            "+", id=ids.DEPTH_UP, type="button", **aria(label="Half a millimetre more")
                        ),
                    ],
                    className="stepper",
                ),
                number(
                    ids.field("ring_sd_mm"),
                    "Give or take",
                    had.ring_sd_mm if had else None,
                    "mm",
                    "How far it may well be off, two times in three. Left empty: 0.4 mm with the shell cut away,"
                    " 1.0 mm through its mouth",
                ),
            ],
            id=ids.DEPTH_FIELDS,
        ),
        choice(ids.field("view"), "Seen by", VIEWS, had.view if had else "magnifier"),
    ]


def _rest(had: Reading | None) -> Component:
    return html.Details(
        [
            html.Summary("Everything else that was seen"),
            words(ids.field("nose_colour"), "Colour of the nose", had.nose_colour if had else None),
            words(
                ids.field("base_ring"),
                "Base ring",
                had.base_ring if had else None,
                "Colour round the shell's face",
            ),
            number(
                ids.field("strap_mark"),
                "Heat mark on the ground strap, 0 at its tip to 1 at the weld",
                had.strap_mark if had else None,
                "",
            ),
            choice(ids.field("edge"), "Edge of the centre electrode", EDGES, had.edge if had else None),
            choice(ids.field("glaze"), "Glazed", YES_NO, from_yes_no(had.glaze if had else None)),
            choice(ids.field("blisters"), "Blisters", YES_NO, from_yes_no(had.blisters if had else None)),
            choice(ids.field("wet"), "Wet", YES_NO, from_yes_no(had.wet if had else None)),
            number(ids.field("gap_mm"), "Gap", had.gap_mm if had else None, "mm"),
            words(ids.field("piston_wash"), "Wash on the piston crown", had.piston_wash if had else None),
            note(ids.field("note"), "Note", had.note if had else None),
        ],
        open=had is not None and _more_was_seen(had),
    )


def _more_was_seen(had: Reading) -> bool:
    rest = (had.nose_colour, had.base_ring, had.strap_mark, had.edge, had.glaze, had.blisters, had.wet)
    return any(seen is not None for seen in (*rest, had.gap_mm, had.piston_wash, had.note))


def _about(place: CylinderResult) -> dict[str, Any]:
    """What the drawing beside the form needs to know of the plug."""
    assert place.life is not None  # as in `form`
    axis = axis_of(place.scale, place.life.nose_mm)
    return {
        "plug": place.life.fitting.plug,
        "cylinder": place.cylinder,
        "nose_mm": place.life.nose_mm,
        "axis": None if axis is None else [axis.lambda_at_tip, axis.lambda_per_mm, axis.nose_mm],
    }


def preview(  # noqa: D417  # the rest are the form's fields
    about: dict[str, Any],
    ring: Any,  # noqa: ANN401  # a form's value
    depth: object,
    sd: object,
    view: Any,  # noqa: ANN401  # as above
) -> str:
    """Return the nose as the form says it so far.

    Args:
        about: what `form` stored of the plug.

    Returns:
        The drawing; a depth that is no number yet, or off the nose, is not drawn.
    """
    depth_mm, sd_mm = _or_none(depth), _or_none(sd)
    length = about["nose_mm"]
    if depth_mm is not None and (depth_mm < 0 or (length is not None and depth_mm > length)):
        depth_mm = None
    axis = Axis(*about["axis"]) if about["axis"] else None
    seen = ring == "seen" and depth_mm is not None
    lambda_ = axis.at(depth_mm) if axis and seen and depth_mm is not None else None
    return nose_svg(
        Nose(
            cylinder=about["cylinder"],
            plug=about["plug"],
            nose_mm=length,
            ring=("seen" if seen else None) if ring == "seen" else ring,
            depth_mm=depth_mm if seen else None,
            sd_mm=sd_mm if sd_mm is not None and 0 < sd_mm < 20 else RING_SD_MM.get(view, 1.0),
            cut=view == "cut",
            axis=axis,
            ring_mark=Mark(lambda_, lambda_, lambda_) if lambda_ is not None else None,
        )
    )


def _or_none(value: object) -> float | None:
    try:
        return as_number(value, "")
    except BadValue:
        return None


def stepped(value: object, step_mm: float, nose_mm: float | None) -> float:
    """Return a depth one step on, from the middle of the nose where none stands yet [mm]."""
    length = nose_mm or 14.0
    depth = _or_none(value)
    return round(min(max(depth + step_mm, 0.0), length), 2) if depth is not None else round(length / 2.0, 1)


def values(raw: dict[str, Any]) -> dict[str, Any]:
    """Return the arguments for ``Logbook.read`` from what the form holds.

    Raises:
        BadValue: a number is none, or the ring was seen and has no depth.
    """
    seen = raw["ring"] == "seen"
    depth = as_number(raw["ring_mm"], "the ring's depth") if seen else None
    if seen and depth is None:
        raise BadValue(
            "give the depth of the ring, or say that there is none, all is dark, or it was not seen",
        )
    return {
        "ring": raw["ring"],
        "ring_mm": depth,
        "ring_sd_mm": as_number(raw["ring_sd_mm"], "how sure the depth is") if seen else None,
        "view": raw["view"],
        "nose_colour": as_words(raw["nose_colour"]),
        "base_ring": as_words(raw["base_ring"]),
        "strap_mark": as_number(raw["strap_mark"], "the heat mark"),
        "specks": raw["specks"],
        "edge": None if raw["edge"] == NOT_LOOKED else raw["edge"],
        "glaze": as_yes_no(raw["glaze"]),
        "blisters": as_yes_no(raw["blisters"]),
        "wet": as_yes_no(raw["wet"]),
        "gap_mm": as_number(raw["gap_mm"], "the gap"),
        "piston_wash": as_words(raw["piston_wash"]),
        "note": as_words(raw["note"]),
    }
