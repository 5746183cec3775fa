"""The signature drawing: places, directions, and what it says in words."""

import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.figures.lambda_axis import Axis, Mark
from dashboard.figures.nose import Nose, in_words, nose_svg, thumbnail
from dashboard.figures.plug_shape import PX_PER_MM, Shape

SVG = "{http://www.w3.org/2000/svg}"
AXIS = Axis(lambda_at_tip=0.74, lambda_per_mm=0.02, nose_mm=14.0)
READ = Nose(
    1,
    "B1",
    14.0,
    "seen",
    6.8,
    0.4,
    cut=True,
    axis=AXIS,
    ring_mark=Mark(0.876, 0.80, 0.95),
    measured=Mark(0.874, 0.866, 0.882),
    spread=((0.86, 0.0), (0.875, 1.0), (0.89, 0.0)),
)


def drawn(nose):
    """Return the drawing as a tree; it has to be well formed for that."""
    return ET.fromstring(nose_svg(nose))  # our own markup


def square(root):
    """Return the middle of the ring's square on the axis [px]."""
    squares = [e for e in root.iter(f"{SVG}rect") if e.get("width") == "9.6"]
    return float(squares[0].get("y")) + 4.8 if squares else None


def dot(root):
    """Return the height of the sensor's circle [px]."""
    return float(next(root.iter(f"{SVG}circle")).get("cy"))


def darkest(root):
    """Return where on the nose the soot is darkest, as a share from tip to seat."""
    soot = next(e for e in root.iter(f"{SVG}linearGradient") if e.get("id").endswith("-soot"))
    return float(max(soot, key=lambda stop: float(stop.get("stop-opacity"))).get("offset"))


def test_depths_are_to_scale():
    """A millimetre is the same length everywhere on the nose and on every nose."""
    for length in (8.0, 14.0, 20.0):
        shape = Shape(length, known=True, centre=100.0)

        assert shape.y(length) - shape.y(0.0) == pytest.approx(length * PX_PER_MM)


def test_the_ring_stands_where_it_was_read():
    """The soot is darkest at the depth that was read."""
    assert darkest(drawn(READ)) == pytest.approx(6.8 / 14.0, abs=0.001)


def test_ring_and_its_lambda_stand_at_one_height():
    """By the ring scale the square on the axis is level with the ring on the nose."""
    shape = Shape(14.0, known=True, centre=0.0)

    assert square(drawn(READ)) == pytest.approx(shape.y(6.8), abs=0.05)


def test_equal_lambdas_line_up():
    """Where both methods say the same, circle and square stand at the same height."""
    root = drawn(replace(READ, measured=Mark(0.876, 0.87, 0.88)))

    assert dot(root) == pytest.approx(square(root), abs=0.05)


def test_richer_is_nearer_the_tip():
    """A richer ring and a richer measurement both stand higher, towards the tip."""
    rich = drawn(
        replace(READ, depth_mm=4.0, ring_mark=Mark(0.82, 0.8, 0.84), measured=Mark(0.80, 0.79, 0.81))
    )
    lean = drawn(READ)

    assert darkest(rich) < darkest(lean)
    assert square(rich) < square(lean)
    assert dot(rich) < dot(lean)


def test_less_sure_is_softer():
    """A reading that is less sure spreads its soot over more of the nose and makes it fainter."""

    def spread(sd):
        soot = next(
            e
            for e in drawn(replace(READ, sd_mm=sd)).iter(f"{SVG}linearGradient")
            if e.get("id").endswith("-soot")
        )
        offsets = [float(s.get("offset")) for s in soot if float(s.get("stop-opacity")) > 0.1]
        return max(offsets) - min(offsets), max(float(s.get("stop-opacity")) for s in soot)

    (narrow, dark), (wide, faint) = spread(0.2), spread(1.5)

    assert wide > narrow
    assert faint < dark


def test_stoichiometric_crosses_both():
    """The line at lambda 1 goes from the nose's ruler past the axis, at the height that the scale gives it."""
    y = f"{Shape(14.0, known=True, centre=0.0).y(13.0):.2f}".rstrip("0").rstrip(".")
    lines = [e for e in drawn(READ).iter(f"{SVG}line") if e.get("stroke-dasharray") == "7 4"]

    assert {line.get("y1") for line in lines} == {y}
    assert min(float(line.get("x1")) for line in lines) < 40.0
    assert max(float(line.get("x2")) for line in lines) > 300.0


def test_no_target_no_marker():
    """The target's marker is drawn only where the tuner set one."""
    assert (
        len(drawn(replace(READ, target=0.87)).findall(f".//{SVG}path"))
        == len(drawn(READ).findall(f".//{SVG}path")) + 1
    )


@pytest.mark.parametrize(
    ("ring", "mark", "words"),
    [
        ("none", Mark(None, 0.92, None), "no ring on the nose; which stands for lambda leaner than 0.920"),
        (
            "all-dark",
            Mark(None, None, 0.82),
            "the whole nose dark; which stands for lambda richer than 0.820",
        ),
        ("not-seen", None, "the ring could not be seen"),
        (None, None, "not read yet"),
    ],
)
def test_what_is_no_depth_is_drawn_as_what_it_is(ring, mark, words):
    """No ring, all dark, not seen and not read are said as such, with no square on the axis."""
    nose = replace(READ, ring=ring, depth_mm=None, sd_mm=None, ring_mark=mark)

    assert words in in_words(nose)
    assert square(drawn(nose)) is None


def test_all_dark_is_dark_from_tip_to_seat():
    """A nose that is dark all over has soot at its tip and at its seat."""
    soot = next(
        e
        for e in drawn(replace(READ, ring="all-dark")).iter(f"{SVG}linearGradient")
        if e.get("id").endswith("-soot")
    )

    assert min(float(stop.get("stop-opacity")) for stop in soot) > 0.5


def test_a_reading_that_does_not_count_is_a_ghost():
    """An invalid reading is drawn hollow and said not to count."""
    ghost = replace(READ, counts=False)
    hollow = [e for e in drawn(ghost).iter(f"{SVG}rect") if e.get("width") == "9.6"]

    assert hollow[0].get("fill") == "var(--ground)"
    assert "does not count" in in_words(ghost)
    assert "does not count" not in in_words(READ)


def test_off_the_nose_is_an_arrow_with_its_number():
    """A measured lambda that this nose has no depth for is drawn as an arrow that says the number."""
    root = drawn(replace(READ, measured=Mark(1.21, 1.2, 1.22)))

    assert "1.210" in "".join(root.itertext())
    assert not list(root.iter(f"{SVG}circle"))


def test_an_unknown_nose_is_dashed_and_has_no_millimetres():
    """Where nobody told the nose length there is no ruler, and the outline is dashed."""
    root = drawn(Nose(1, "B1", None, "seen", 6.0, 1.0))

    assert "mm" not in [e.text for e in root.iter(f"{SVG}text")]
    assert any(e.get("stroke-dasharray") == "5 4" for e in root.iter(f"{SVG}path"))


@given(st.text(max_size=40))
def test_a_label_stays_a_label(label):
    """Whatever a person writes on a plug comes out as words and never as markup."""
    hostile = f"<script>alert(1)</script><img src=x onerror=y>\"'&{label}"
    printable = re.sub("[^ -~]", "", hostile)
    markup = nose_svg(replace(READ, plug=printable)) + thumbnail(replace(READ, plug=printable))

    assert "<script" not in markup
    assert "<img" not in markup
    assert printable in ET.fromstring(nose_svg(replace(READ, plug=printable))).get("aria-label")  # ours


def test_two_drawings_on_a_page_share_no_ids():
    """Gradients of different drawings have different names, so one never colours the other."""
    ids = [set(re.findall(r'id="([^"]+)"', nose_svg(nose))) for nose in (READ, replace(READ, cylinder=2))]

    assert ids[0]
    assert ids[0].isdisjoint(ids[1])
