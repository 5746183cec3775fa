"""The nose of the reading form: the signature drawing with a ring that a finger moves.

All that hangs on the ring's depth stands in one layer at depth 0, which assets/nose_setting.js moves down; so the
drawing follows a finger without asking the server.
"""

from dataclasses import replace

from dashboard.figures import plug_shape
from dashboard.figures.lambda_axis import REACH, axis_svg
from dashboard.figures.nose import RULER, Nose, in_words, ruler
from dashboard.figures.svg import figure, key_of, line, polygon, rect, tag, text

GRIP = RULER + 2 * plug_shape.HALF_WIDTH + 27.0
"""x of the grip's middle [px]: beside the shell, so that a finger does not hide the ring."""
AXIS_LEFT = GRIP + 27.0 + 42.0
_SOOT_MM = 0.62
"""Standard deviation of the drawn band for a reading without doubt [mm]; as in the still drawing."""
_REACH_SD = 2.75


def setting_svg(nose: Nose) -> str:
    """Return the drawing with its movable ring.

    Args:
        nose: the plug; ring, depth and view are what stands in the form at first, and only its axis is drawn.
    """
    bare = replace(nose, ring="none", depth_mm=None)
    key = key_of(("setting", nose))
    shape = plug_shape.Shape(
        length_mm=nose.nose_mm or plug_shape.USUAL_NOSE_MM,
        known=nose.nose_mm is not None,
        centre=RULER + plug_shape.HALF_WIDTH,
        lowest_mm=nose.axis.lowest_mm if nose.axis else None,
    )
    top, length = shape.y(0.0), shape.px(shape.length_mm)
    inside = f"url(#{key}-nose)"
    parts = [
        tag("defs", _band(key)),
        shape.defs(key, bare),
        tag("g", shape.drawing(key, replace(bare, cut=False), words=False), data_view="magnifier"),
        tag("g", shape.drawing(key, replace(bare, cut=True), words=False), data_view="cut"),
        rect(
            0,
            top,
            2 * shape.centre,
            length,
            fill="var(--soot)",
            opacity=0.88,
            clip_path=inside,
            data_part="all-dark",
            visibility="hidden",
        ),
        tag("g", _soot(shape, key), clip_path=inside, data_part="soot-clip"),
        text(
            shape.centre,
            shape.y(shape.length_mm * 0.55),
            "",
            class_="on-nose",
            text_anchor="middle",
            data_part="on-nose",
        ),
        ruler(shape, bare),
    ]
    width = GRIP + 30.0
    if nose.axis is not None:
        axis = axis_svg(
            nose.axis,
            shape,
            left=AXIS_LEFT,
            line_from=RULER,
            ring=None,
            measured=None,
            gas=None,
            spread=(),
            target=None,
            counts=True,
        )
        parts.append(axis)
        width = AXIS_LEFT + REACH - 34.0
    parts.append(_moved(shape, with_axis=nose.axis is not None))
    parts.append(
        rect(
            RULER,
            top - 14.0,
            GRIP + 30.0 - RULER,
            length + 28.0,
            fill="transparent",
            class_="draggable",
            data_part="way",
        )
    )
    scale: dict[str, float] = {"data_tip": top, "data_px_per_mm": plug_shape.PX_PER_MM}
    return figure(width, shape.height, in_words(nose), *parts, class_="nose setting", **scale)


def _band(key: str) -> str:
    """Soot as a band with soft edges, densest in its middle."""
    steps = [n / 10.0 for n in range(-10, 11)]
    stops = [
        tag(
            "stop",
            offset=f"{(step + 1.0) / 2.0:.3f}",
            stop_color="var(--soot)",
            stop_opacity=f"{0.94 * 2.718281828 ** (-0.5 * (step * _REACH_SD) ** 2):.3f}",
        )
        for step in steps
    ]
    return tag("linearGradient", *stops, id_=f"{key}-band", x1=0, x2=0, y1=0, y2=1)


def _soot(shape: plug_shape.Shape, key: str) -> str:
    half = shape.px(_REACH_SD * _SOOT_MM)
    return rect(
        0,
        -half,
        2 * shape.centre,
        2 * half,
        fill=f"url(#{key}-band)",
        data_part="soot",
        data_half_mm=_SOOT_MM,
        visibility="hidden",
    )


def _moved(shape: plug_shape.Shape, *, with_axis: bool) -> str:
    """Return the layer that moves: the doubt on the ruler, the line across, the grip, the mark on the axis."""
    left = RULER - 6.0
    parts = [
        line(
            left + 3.0,
            -1.0,
            left + 3.0,
            1.0,
            stroke="var(--ring)",
            stroke_width=3.0,
            opacity=0.55,
            data_part="doubt",
        ),
        polygon([(left + 9.0, 0), (left, -4.5), (left, 4.5)], fill="var(--ring)"),
        line(shape.centre, 0, GRIP - 21.0, 0, stroke="var(--ring)", stroke_width=1.4),
    ]
    if with_axis:
        parts.append(line(GRIP + 21.0, 0, AXIS_LEFT - 38.0, 0, stroke="var(--ring)", stroke_width=1.2))
        parts.append(
            tag(
                "g",
                line(AXIS_LEFT + 7.0, 0, AXIS_LEFT + 34.0, 0, stroke="var(--ring)", stroke_width=1.2),
                rect(AXIS_LEFT + 34.0, -4.8, 9.6, 9.6, fill="var(--ring)"),
            )
        )
    parts.append(tag("circle", cx=GRIP, cy=0, r=21, class_="grip"))
    parts.append(text(GRIP, 4.5, "", class_="grip-words", text_anchor="middle", data_part="words"))
    return tag("g", *parts, data_part="moved", visibility="hidden")
