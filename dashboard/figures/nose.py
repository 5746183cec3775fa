"""The signature: an insulator nose drawn to scale, and the lambda axis of its ring scale beside it.

The same drawing stands on the session's page, in the reading form and on paper. Depths are to scale, from the
tip; widths are those of a common plug and not measured.
"""

from dataclasses import dataclass
from typing import Literal

from dashboard.figures import plug_shape
from dashboard.figures.lambda_axis import REACH, Axis, Mark, axis_svg
from dashboard.figures.svg import figure, key_of, line, polygon, rect, tag, text

RingKind = Literal["seen", "none", "all-dark", "not-seen"]


@dataclass(frozen=True)
class Nose:
    """What the drawing needs to know of one plug.

    Attributes:
        cylinder: number, from 1; None in a tray whose order was lost.
        plug: its label.
        nose_mm: tip to seat [mm]; None where nobody told it (drawn as `plug_shape.USUAL_NOSE_MM`, dashed).
        ring: what was seen; None where nobody has read it yet.
        depth_mm: of the ring's middle, from the tip [mm].
        sd_mm: its standard uncertainty [mm].
        cut: the shell was cut away for the reading.
        counts: the reading is valid; drawn as a ghost where it is not.
        axis: the lambda axis by this plug's ring scale; None draws the nose alone.
        ring_mark: what the ring stands for on it.
        measured: what the sensor said.
        gas: what an exhaust-gas analysis of this cylinder came to, a third witness.
        spread: the measured mixture's distribution, as (lambda, share of the largest), rising in lambda.
        target: the tuner's own target [1], only where there is one.
    """

    cylinder: int | None
    plug: str
    nose_mm: float | None
    ring: RingKind | None = None
    depth_mm: float | None = None
    sd_mm: float | None = None
    cut: bool = False
    counts: bool = True
    axis: Axis | None = None
    ring_mark: Mark | None = None
    measured: Mark | None = None
    gas: Mark | None = None
    spread: tuple[tuple[float, float], ...] = ()
    target: float | None = None


RULER = 38.0
AXIS_LEFT = RULER + 2 * plug_shape.HALF_WIDTH + 44.0
WIDTH = AXIS_LEFT + REACH
NARROW = RULER + 2 * plug_shape.HALF_WIDTH + 30.0


def nose_svg(nose: Nose) -> str:
    """Return the drawing as SVG; colours are CSS variables of theme.py, user text is escaped."""
    key = key_of(nose)
    shape = plug_shape.Shape(
        length_mm=nose.nose_mm or plug_shape.USUAL_NOSE_MM,
        known=nose.nose_mm is not None,
        centre=RULER + plug_shape.HALF_WIDTH,
        lowest_mm=nose.axis.lowest_mm if nose.axis else None,
    )
    parts = [shape.defs(key, nose), shape.drawing(key, nose), ruler(shape, nose)]
    if nose.axis is not None:
        parts.append(
            axis_svg(
                nose.axis,
                shape,
                left=AXIS_LEFT,
                line_from=RULER,
                ring=nose.ring_mark,
                measured=nose.measured,
                gas=nose.gas,
                spread=nose.spread,
                target=nose.target,
                counts=nose.counts,
            )
        )
        parts.append(_leader(shape, nose))
    width = NARROW if nose.axis is None else WIDTH
    # where the tip is and how long a millimetre, so that a tap on the drawing can be read as a depth
    scale: dict[str, float] = {"data_tip": shape.y(0.0), "data_px_per_mm": plug_shape.PX_PER_MM}
    return figure(width, shape.height, in_words(nose), *parts, class_="nose", **scale)


def thumbnail(nose: Nose) -> str:
    """Return the nose alone, small, for the tray: no ruler and no axis."""
    key = key_of(("thumb", nose))
    shape = plug_shape.Shape(
        length_mm=nose.nose_mm or plug_shape.USUAL_NOSE_MM,
        known=nose.nose_mm is not None,
        centre=plug_shape.HALF_WIDTH + 2.0,
    )
    return figure(
        2 * plug_shape.HALF_WIDTH + 4.0,
        shape.height,
        in_words(nose),
        shape.defs(key, nose),
        shape.drawing(key, nose),
        class_="nose thumb",
    )


def ruler(shape: plug_shape.Shape, nose: Nose) -> str:
    """Return millimetres from the tip, and on them where the ring was read and how surely."""
    if nose.nose_mm is None:
        return text(RULER - 6.0, shape.y(0.0) + 4.0, "tip", class_="quiet small", text_anchor="end")
    right = RULER - 6.0
    marks = []
    for mm in range(int(nose.nose_mm) + 1):
        marks.append(
            line(right - (6.0 if mm % 2 == 0 else 3.0), shape.y(mm), right, shape.y(mm), stroke="var(--line)")
        )
        if mm % 2 == 0:
            label = f"{mm} mm" if mm == 0 else str(mm)
            x = right - 9.0 if mm else right
            y = shape.y(mm) + 4.0 if mm else shape.y(0) - 6.0
            marks.append(text(x, y, label, class_="quiet small", text_anchor="end"))
    if nose.ring == "seen" and nose.depth_mm is not None:
        y, sd = shape.y(nose.depth_mm), shape.px(nose.sd_mm or 0.0)
        marks.append(
            line(
                right + 3.0, y - sd, right + 3.0, y + sd, stroke="var(--ring)", stroke_width=3.0, opacity=0.55
            )
        )
        marks.append(polygon([(right + 9.0, y), (right, y - 4.5), (right, y + 4.5)], fill="var(--ring)"))
    return tag("g", *marks)


def _leader(shape: plug_shape.Shape, nose: Nose) -> str:
    """The line that carries the ring's height from the nose to the axis."""
    if nose.ring != "seen" or nose.depth_mm is None:
        return ""
    y = shape.y(nose.depth_mm)
    start = shape.centre + shape.half_width_at(nose.depth_mm)
    dash = None if nose.counts else "3 3"
    return tag(
        "g",
        line(start, y, AXIS_LEFT - 40.0, y, stroke="var(--ring)", stroke_width=1.2, stroke_dasharray=dash),
        rect(start + 3.0, y - 17.0, 44.0, 14.0, fill="var(--ground)", opacity=0.82, rx=2.0),
        text(start + 6.0, y - 6.0, f"{nose.depth_mm:g} mm", class_="small", fill="var(--ring)"),
        opacity=None if nose.counts else 0.6,
    )


def in_words(nose: Nose) -> str:
    """Return what the drawing shows, for those who do not see it."""
    where = "Plug" if nose.cylinder is None else f"Cylinder {nose.cylinder}, plug"
    seen = {
        "seen": f"ring {nose.depth_mm:g} mm from the tip" if nose.depth_mm is not None else "ring seen",
        "none": "no ring on the nose",
        "all-dark": "the whole nose dark",
        "not-seen": "the ring could not be seen",
        None: "not read yet",
    }[nose.ring]
    length = f" of a nose of {nose.nose_mm:g} mm" if nose.nose_mm and nose.ring == "seen" else ""
    parts = [f"{where} {nose.plug}: {seen}{length}"]
    if nose.ring_mark is not None:
        parts.append(f"which stands for lambda {nose.ring_mark.in_words()}")
    if not nose.counts and nose.ring is not None:
        parts.append("the reading does not count")
    if nose.measured is not None:
        parts.append(f"measured lambda {nose.measured.in_words()}")
    if nose.gas is not None:
        parts.append(f"lambda by exhaust-gas analysis {nose.gas.in_words()}")
    return "; ".join(parts) + "."
