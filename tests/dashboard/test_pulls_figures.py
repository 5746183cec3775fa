"""The drawings of pulls: places, directions, what is named on them and what they say to those who do not see them."""

import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest

from dashboard.figures.against import Met, against_svg
from dashboard.figures.chart import Frame, mixture_strip
from dashboard.figures.pull_best import Fitted, Tried, pull_best_svg
from dashboard.figures.pull_chart import NARROW, WIDE, Lane, along, band, head, ribbon, runs
from dashboard.figures.pull_mixture import pull_mixture_svg
from dashboard.figures.pull_overlay import Gain, Group, pull_overlay_svg
from dashboard.figures.pull_power import Curve, Off, pull_power_svg
from dashboard.figures.pull_trace import Part, pull_trace_svg
from dashboard.theme import mixture_colour

RPM = np.arange(4000.0, 9001.0, 100.0)
SAID = ["Corrected by ISO 1585, factor 0.99."]


def kinds(svg, name):
    """Return the elements of a kind."""
    return [one for one in ET.fromstring(svg).iter() if one.tag.endswith(f"}}{name}")]


def texts(svg):
    """Return all words that stand in a drawing."""
    return [one.text or "" for one in kinds(svg, "text")]


def lane(mean, name="cylinder 1", reach=0.02):
    """Return a lane whose interval is the same everywhere."""
    values = np.full(len(RPM), mean) if np.isscalar(mean) else np.asarray(mean, float)
    return Lane(name, values, values - reach, values + reach)


def curve(name="pull 1", *, top=35.0, lanes=(), off=(), egt=None, gaps=()):
    """Return a pull whose power is greatest at 7000."""
    kw = top * (1.0 - ((RPM - 7000.0) / 6000.0) ** 2)
    kw[list(gaps)] = np.nan
    torque = kw * 1000.0 / (RPM * 2.0 * np.pi / 60.0)
    return Curve(name, RPM, kw, torque, np.full(len(RPM), 0.2), tuple(lanes), egt or {}, tuple(off))


def fills(svg):
    """Return the colours of all ribbon pieces."""
    return [one.get("fill") for one in kinds(svg, "polygon")]


@pytest.mark.parametrize("width", [NARROW, WIDE])
def test_what_has_to_stand_on_the_figure_does_so_at_every_width(width):
    """Every word of the correction and of noise and bias is there, in lines that fit the grid."""
    said = [
        "Corrected by ISO 1585 (motorcycles: ISO 4106) to 25 Cel, 99 kPa of dry air, factor 0.9902.",
        "noise, bias",
    ]
    lines, end = head(said, width)
    svg = pull_power_svg(curve(lanes=[lane(0.87)]), [], said, width=width)

    assert " ".join(
        texts("<svg xmlns='http://www.w3.org/2000/svg'>" + "".join(lines) + "</svg>")
    ) == " ".join(said)
    assert all(line in svg for line in lines)
    assert max(len(words) for words in texts(svg)) * 6.0 < width
    assert end >= 14.0 + 15.0 * len(lines)


def test_the_ribbon_is_darker_where_the_mixture_is_richer():
    """A pull that goes lean upwards has soot at its beginning and chalk at its end, on the power curve itself."""
    svg = pull_power_svg(curve(lanes=[lane(np.linspace(0.75, 1.05, len(RPM)), reach=0.0)]), [], SAID)
    pieces = kinds(svg, "polygon")
    by_x = sorted(pieces, key=lambda one: float(one.get("points").split(",")[0]))

    assert by_x[0].get("fill") == mixture_colour(0.753)
    assert by_x[-1].get("fill") == mixture_colour(1.047)
    tops = [min(float(pair.split(",")[1]) for pair in one.get("points").split()) for one in by_x]
    assert int(np.argmin(tops)) / len(tops) == pytest.approx(0.6, abs=0.05)  # where the power is greatest


def test_the_ribbon_s_edges_are_the_ends_of_the_interval():
    """An interval of nothing has one colour; a wide one has the rich end below and the lean end above."""
    sure = pull_power_svg(curve(lanes=[lane(0.87, reach=0.0)]), [], SAID)
    unsure = pull_power_svg(curve(lanes=[lane(0.87, reach=0.08)]), [], SAID)

    assert set(fills(sure)) == {mixture_colour(0.87)}
    assert set(fills(unsure)) == {mixture_colour(0.87), mixture_colour(0.95), mixture_colour(0.79)}
    lean, rich = (
        np.mean(
            [
                float(pair.split(",")[1])
                for one in kinds(unsure, "polygon")
                if one.get("fill") == mixture_colour(value)
                for pair in one.get("points").split()
            ]
        )
        for value in (0.95, 0.79)
    )
    assert lean < rich  # higher on the paper


def test_the_ribbon_is_open_where_nothing_was_measured():
    """A missing reading of power parts the curve; a missing lambda leaves the ground, not a colour."""
    whole = along(Frame(0.0, 100.0, 0.0, 100.0, (0.0, 10.0), (0.0, 10.0)), np.arange(11.0), np.arange(11.0))
    values = np.full(11, 0.87)
    values[5] = np.nan

    assert ribbon(whole, values, -2.0, 2.0).count("<polygon") == 8
    assert runs(np.array([True, True, False, True, False, True, True])) == [slice(0, 2), slice(5, 7)]
    assert pull_power_svg(curve(lanes=[lane(0.87)], gaps=range(20, 25)), [], SAID).count(
        "<polygon"
    ) < pull_power_svg(curve(lanes=[lane(0.87)]), [], SAID).count("<polygon")


def test_both_cylinders_lie_side_by_side_and_off_target_is_marked():
    """Two lanes, the first above; where one is off, a line beside the curve and its direction in words."""
    off = [Off(6000.0, 7000.0, "leaner", surely=True, lane="cylinder 2")]
    both = [lane(0.86), lane(0.90, "cylinder 2")]
    svg = pull_power_svg(curve(lanes=both, off=off), [], SAID)
    doubtful = pull_power_svg(curve(lanes=both, off=[replace(off[0], surely=False)]), [], SAID)

    assert "leaner, cylinder 2" in texts(svg)
    assert "0.860 | 0.900" in texts(svg)
    line = next(one for one in kinds(svg, "path") if one.get("stroke") == "var(--caution)")
    unsure = next(one for one in kinds(doubtful, "path") if one.get("stroke") == "var(--caution)")
    assert line.get("stroke-dasharray") is None
    assert unsure.get("stroke-dasharray") is not None
    label = ET.fromstring(svg).get("aria-label")
    assert "Lambda of cylinder 1: 0.860" in label
    assert "35.0 kW at 7000" in label


def test_heat_stands_in_numbers_at_the_same_speeds_and_others_are_thin():
    """Each exhaust thermocouple has a row under the axis; another pull is a line without a ribbon."""
    egt = {"EGT 1": np.linspace(500.0, 700.0, len(RPM)), "EGT 2": np.full(len(RPM), np.nan)}
    svg = pull_power_svg(curve(lanes=[lane(0.87)], egt=egt), [curve("pull 2", top=30.0)], SAID)
    words = texts(svg)

    assert "EGT 1, \N{DEGREE SIGN}C" in words
    assert "620" in words  # at 7000
    assert "pull 2" in "".join(one.text or "" for one in kinds(svg, "title"))


def test_a_held_speed_is_a_point_of_its_own():
    """A diamond at its place, named for those who point at it; the axis reaches as far as it does."""
    svg = pull_power_svg(curve(), [], SAID, held=[(9500.0, 41.0)])
    diamond = kinds(svg, "polygon")[0]

    assert "held at 9500: 41.0 kW" in [one.text for one in kinds(svg, "title")]
    assert float(diamond.get("points").split(",")[0]) < WIDE - 40.0
    assert not kinds(pull_power_svg(curve(), [], SAID), "polygon")


def test_pulls_are_solid_and_numbered_and_what_was_none_is_framed_and_named():
    """On the trace neither is told from the other by colour alone."""
    t = np.linspace(0.0, 100.0, 400)
    parts = [Part(1, "pull", 10.0, 20.0), Part(None, "wheelspin", 40.0, 41.0), Part(2, "pull", 60.0, 80.0)]
    svg = pull_trace_svg((t, 3000.0 + t), (t, t), parts)
    words = texts(svg)

    assert {"1", "2", "wheelspin"} <= set(words)
    solid = [one for one in kinds(svg, "rect") if one.get("fill") == "var(--tone-2)"]
    framed = [one for one in kinds(svg, "rect") if one.get("stroke-dasharray")]
    assert (len(solid), len(framed)) == (2, 1)
    assert float(solid[1].get("width")) == pytest.approx(2.0 * float(solid[0].get("width")), rel=0.02)
    assert "2 pulls and 1 other" in ET.fromstring(svg).get("aria-label")
    assert "throttle" not in texts(pull_trace_svg((t, 3000.0 + t), None, parts))


def group(side, top, reach, number=3):
    """Return a side of a comparison."""
    mean = curve(top=top).kw
    runs = tuple((f"{side} {n}", RPM, mean) for n in range(number))
    return Group(
        side, mean, mean - reach, mean + reach, runs, np.full(len(RPM), 0.85 if side == "before" else 0.9)
    )


def test_the_stronger_side_lies_higher_and_sides_differ_by_more_than_colour():
    """Before is dashed, after is whole; the gain's band lies over zero where it is one."""
    before, after = group("before", 33.0, 0.2), group("after", 35.0, 0.2)
    ones = np.ones(len(RPM))
    gain = Gain(6.0 * ones, 5.0 * ones, 7.0 * ones)
    svg = pull_overlay_svg(RPM, [before, after], gain, SAID)
    thick = [one for one in kinds(svg, "path") if one.get("stroke-width") == "2.6"]
    first = [float(one.get("d").split(",")[1].split("L")[0]) for one in thick]

    assert first[1] < first[0]
    assert thick[0].get("stroke-dasharray") != thick[1].get("stroke-dasharray")
    assert {"before, 3 runs", "after, 3 runs", "gain, %"} <= set(texts(svg))
    assert svg.count("<polygon") == 3
    assert {"0.850", "0.900", "\N{GREEK SMALL LETTER LAMDA} after"} <= set(texts(svg))
    nothing = Gain(*(np.full(len(RPM), np.nan) for _ in range(3)))
    assert "gain, %" not in texts(pull_overlay_svg(RPM, [before, after], nothing, SAID))


def test_a_single_run_has_no_band():
    """Where a side has no interval none is drawn."""
    nan = np.full(len(RPM), np.nan)
    frame = Frame(0.0, 100.0, 0.0, 100.0, (4000.0, 9000.0), (0.0, 40.0))

    assert band(frame, RPM, nan, nan, fill="red") == ""


def fitted(**changed):
    """Return a curve with its top at lambda 0.88."""
    x = np.linspace(0.82, 0.95, 50)
    about = {"best": 0.88, "low": 0.87, "high": 0.89, "flat": (0.85, 0.91), "edge": None} | changed
    return Fitted(x, 34.0 - 300.0 * (x - 0.88) ** 2, **about)


TRIED = [Tried(1, 1, 0.82, 33.0), Tried(2, 1, 0.88, 34.0), Tried(3, 1, 0.95, 32.6)]


def test_the_best_mixture_stands_with_its_interval_and_how_flat_the_top_is():
    """The best, the ends of its interval and the bracket are there in numbers and in place."""
    svg = pull_best_svg(7500.0, TRIED, fitted(), SAID)
    ground = next(one for one in kinds(svg, "rect") if one.get("opacity") == "0.16")

    assert {"best 0.880", "0.870 to 0.890", "within 1 % of the top"} <= set(texts(svg))
    share = float(ground.get("width")) / (WIDE - 16.0 - 48.0)
    assert share == pytest.approx(0.02 / (0.13 * 1.24), rel=0.02)
    assert len(kinds(svg, "circle")) == 3


def test_at_the_edge_no_best_is_told_and_the_warning_is():
    """No number for the best; an arrow to the side where it may lie, and the words."""
    lean = pull_best_svg(7500.0, TRIED, fitted(edge="high"), SAID)
    rich = pull_best_svg(7500.0, TRIED, fitted(edge="low"), SAID)

    for svg, side in ((lean, "lean"), (rich, "rich")):
        assert not any(words.startswith("best 0") for words in texts(svg))
        assert any("may lie beyond" in words for words in texts(svg))
        assert f"at the {side} edge" in ET.fromstring(svg).get("aria-label")
        arrow = next(
            one
            for one in kinds(svg, "line")
            if one.get("stroke") == "var(--caution)" and one.get("y1") == one.get("y2")
        )
        assert (float(arrow.get("x2")) > float(arrow.get("x1"))) == (side == "lean")
    few = pull_best_svg(7500.0, TRIED[:1], None, SAID)
    assert not any("beyond" in words or words.startswith("best") for words in texts(few))


def test_the_ground_is_tinted_where_both_ends_are_known_and_nowhere_else():
    """At the edge, and where one end of the interval is not known, nothing is tinted and no best is told."""
    for changed in ({"edge": "high"}, {"low": None}, {"high": None}):
        svg = pull_best_svg(7500.0, TRIED, fitted(**changed), SAID)
        assert fitted(**changed).bounded is None
        assert not any(one.get("opacity") == "0.16" for one in kinds(svg, "rect"))
        assert not any(words.startswith("best 0") for words in texts(svg))
    assert fitted().bounded == (0.87, 0.89)


@pytest.mark.parametrize("upright", [False, True])
def test_a_strip_of_mixtures_goes_from_soot_to_chalk(upright):
    """Rich is at the left or below, lean at the right or above; the pieces fill the box without a gap."""
    whole = "".join(mixture_strip((10.0, 20.0, 80.0, 40.0), 0.8, 1.0, 10, upright=upright))
    pieces = kinds(f"<svg xmlns='http://www.w3.org/2000/svg'>{whole}</svg>", "rect")
    place, size, begin, length = ("y", "height", 20.0, 40.0) if upright else ("x", "width", 10.0, 80.0)
    starts = [float(one.get(place)) for one in pieces]

    assert [one.get("fill") for one in pieces] == [
        mixture_colour(0.8 + (n + 0.5) * (1.0 - 0.8) / 10) for n in range(10)
    ]
    assert starts == sorted(starts, reverse=upright)
    assert min(starts) == begin
    assert max(starts) + float(pieces[0].get(size)) == pytest.approx(begin + length, abs=0.51)
    assert all(float(one.get(size)) >= length / 10.0 for one in pieces)


NASTY = "A & <b>B</b>"


@pytest.mark.parametrize(
    "draw",
    [
        lambda: pull_power_svg(curve(), [curve(NASTY)], SAID),
        lambda: pull_trace_svg((RPM, RPM), None, [Part(None, NASTY, 5000.0, 6000.0)]),
        lambda: pull_overlay_svg(
            RPM,
            [
                replace(group("before", 33.0, 0.2), runs=((NASTY, RPM, curve().kw),)),
                group("after", 35.0, 0.2),
            ],
            Gain(*(np.ones(len(RPM)) for _ in range(3))),
            SAID,
        ),
        lambda: pull_best_svg(7500.0, [replace(TRIED[0], session=NASTY), *TRIED[1:]], fitted(), SAID),
        lambda: against_svg([Met(NASTY, 1, 0.9, 0.91)], None),
    ],
    ids=["power", "trace", "overlay", "best", "against"],
)
def test_what_a_part_is_called_stays_words(draw):
    """Signs of markup in a name that is pointed at are words: the drawing stays whole, and no element comes of them."""
    svg = draw()

    assert any(NASTY in (one.text or "") for one in kinds(svg, "title"))
    assert not kinds(svg, "b")


def test_mixture_without_power_stands_by_itself_with_target_and_band():
    """Richer is lower; the target is a line; each lane has its own dash."""
    svg = pull_mixture_svg("pull 1", RPM, [lane(0.85), lane(0.90, "cylinder 2")], 0.87)
    lines = [one for one in kinds(svg, "path") if one.get("stroke-width") == "2.2"]
    heights = [float(one.get("d").split(",")[1].split("L")[0]) for one in lines]

    assert heights[0] > heights[1]
    assert lines[0].get("stroke-dasharray") != lines[1].get("stroke-dasharray")
    assert "target 0.87" in texts(svg)
    assert "target" not in " ".join(texts(pull_mixture_svg("pull 1", RPM, [lane(0.85)])))
